package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"hidechart/detect"
	"hidechart/hide"
	"hidechart/review"
	"hidechart/yield"
)

// reviewFlags are the flags of `hidechart review`.
type reviewFlags struct {
	port      int
	listen    string
	token     string
	cert, key string
	looks     []string
	cache     string
	noCache   bool
	profiles  string
	record    string
}

func newReview() *cobra.Command {
	f := &reviewFlags{}
	c := &cobra.Command{
		Use:   "review DIR",
		Short: "Review charts in the browser on this machine",
		Long: `Serves the charts of a folder on this machine and prints the address to open in a
browser. A reviewer confirms, rejects, renames and draws flaws; each decision
is appended to review.jsonl beside the chart and is on the disk before the page shows it
as saved. The chart itself is never changed; every later step reads both.

It can be reached from this machine only. --listen opens it to the network: then a
token is asked of everybody, and without --cert and --key whoever listens on the network
can read it and what is sent.

A chart supports an inspector and does not replace one.`,
		Example: "  hidechart review charts",
		Args:    cobra.ExactArgs(1),
		RunE:    f.run,
	}
	c.Flags().IntVar(&f.port, "port", 8344, "port on this machine; 0: any that is free")
	c.Flags().StringVar(&f.listen, "listen", "", "address and port to be reached at from other machines, for example 192.168.1.20:8344")
	c.Flags().StringVar(&f.token, "token", "", "token to ask for with --listen; default: a new one each time")
	c.Flags().StringVar(&f.cert, "cert", "", "certificate for HTTPS, PEM")
	c.Flags().StringVar(&f.key, "key", "", "its private key, PEM")
	c.Flags().StringSliceVar(&f.looks, "look", yield.LookNames(), "looks to choose from: names or files, the first shown first")
	c.Flags().StringVar(&f.cache, "cache", "", "folder that tiles are kept in; default: the user's cache folder")
	c.Flags().BoolVar(&f.noCache, "no-cache", false, "keep no tiles between runs")
	c.Flags().StringVar(&f.record, "record", "", "record to show hides, lots and suppliers of (see hidechart records)")
	c.Flags().StringVar(&f.profiles, "profiles", "", "folder of profiles that hidechart learn wrote, to show what they changed")
	return c
}

func (f *reviewFlags) run(c *cobra.Command, args []string) error {
	addr, err := f.address()
	if err != nil {
		return err
	}
	o := review.Options{Dir: args[0], Token: f.token, TLS: f.cert != "", Log: slog.Default(), Cache: f.cache}
	if f.record != "" {
		store, err := openRecord(c.Context(), f.record, false)
		if err != nil {
			return err
		}
		defer func() { _ = store.Close() }() // only read
		o.Record = store
	}
	for _, name := range f.looks {
		l, err := yield.FindLook(name)
		if err != nil {
			return err
		}
		o.Looks = append(o.Looks, l)
	}
	if f.profiles != "" {
		o.Profiles = func() ([]*detect.Profile, error) { return readProfiles(f.profiles) }
	}
	if o.Cache == "" && !f.noCache {
		if base, err := os.UserCacheDir(); err == nil { // without one tiles are made anew each time
			o.Cache = filepath.Join(base, "hidechart", "tiles")
		}
	}
	if f.noCache {
		o.Cache = ""
	}
	if f.listen != "" && o.Token == "" {
		o.Token = review.NewToken()
	}
	return f.serve(c, o, addr)
}

// leastToken characters: 64 bits of hexadecimal.
const leastToken = 16

func (f *reviewFlags) address() (string, error) {
	switch {
	case (f.cert == "") != (f.key == ""):
		return "", usagef("--cert and --key go together")
	case f.token != "" && len(f.token) < leastToken:
		return "", usagef("--token: at least %d characters", leastToken)
	case f.listen == "":
		if f.port < 0 || f.port > 65535 {
			return "", usagef("--port %d: want 0 to 65535", f.port)
		}
		return fmt.Sprintf("127.0.0.1:%d", f.port), nil
	}
	if _, _, err := net.SplitHostPort(f.listen); err != nil {
		return "", usagef("--listen %q: want ADDRESS:PORT", f.listen)
	}
	return f.listen, nil
}

func (f *reviewFlags) serve(c *cobra.Command, o review.Options, addr string) error {
	s, err := review.New(o)
	if err != nil {
		return err
	}
	l, err := (&net.ListenConfig{}).Listen(c.Context(), "tcp", addr)
	if err != nil {
		if strings.Contains(err.Error(), "in use") {
			return hide.Faultf(hide.Conflict, "%s is in use, by another review perhaps: choose another --port", addr)
		}
		return hide.Wrapf(hide.Internal, err, "listen on %s", addr)
	}
	if err := tell(c.OutOrStdout(), c.ErrOrStderr(), s, l.Addr(), o); err != nil {
		return err
	}
	err = s.Serve(c.Context(), l, func(srv *http.Server, l net.Listener) error {
		if f.cert != "" {
			return srv.ServeTLS(l, f.cert, f.key)
		}
		return srv.Serve(l)
	})
	if closed := s.Close(); err == nil {
		err = closed
	}
	if err == nil && c.Context().Err() == context.Canceled {
		return nil // stopped by the user: nothing is left undone
	}
	return err
}

// tell prints the address, and what it means to be open to the network.
func tell(out, errOut io.Writer, s *review.Server, addr net.Addr, o review.Options) error {
	if tcp, ok := addr.(*net.TCPAddr); ok && !tcp.IP.IsLoopback() {
		text := "WARNING: other machines can reach this. Whoever has the address below can see the charts and decide in anybody's name; give it to reviewers only.\n"
		if !o.TLS {
			text += "WARNING: without --cert and --key nothing is encrypted: whoever listens on the network can read the token.\n"
		}
		if _, err := io.WriteString(errOut, text); err != nil {
			return hide.Wrapf(hide.Internal, err, "print the warning")
		}
	}
	if _, err := fmt.Fprintln(out, s.Address(addr)); err != nil {
		return hide.Wrapf(hide.Internal, err, "print the address")
	}
	return nil
}
