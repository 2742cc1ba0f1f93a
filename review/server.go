package review

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"strconv"
	"strings"
	"time"

	"hidechart/detect"
	"hidechart/hide"
	filed "hidechart/record" // "record" is the review's own
	"hidechart/yield"
)

// Options of a review server.
type Options struct {
	Dir   string       // folder of charts, or a chart's folder
	Looks []yield.Look // to choose from, the first shown first; at least one
	Token string       // asked of everybody; empty: nothing is asked, for loopback only
	Cache string       // folder for tiles; empty: none are kept between runs
	TLS   bool         // it will be served by HTTPS
	Log   *slog.Logger
	Now   func() time.Time // the clock; nil: the machine's
	// Profiles reads what was learned from reviews, each time it is shown; may be nil.
	Profiles func() ([]*detect.Profile, error)
	Record   *filed.Store // record to show pages of, closed by the caller; nil: none
}

// Server answers the review page and its API.
type Server struct {
	opts  Options
	shelf *shelf
	tiles *pyramids
	looks map[string]yield.Look
	stop  chan struct{} // closed when events shall end
}

// New opens a folder. The caller closes the server. Errors: Invalid, Unreadable.
func New(o Options) (*Server, error) {
	if len(o.Looks) == 0 {
		return nil, hide.Faultf(hide.Invalid, "review: no look to judge by")
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	shelf, err := newShelf(o.Dir, o.Now)
	if err != nil {
		return nil, err
	}
	s := &Server{opts: o, shelf: shelf, tiles: newPyramids(o.Cache), looks: map[string]yield.Look{}, stop: make(chan struct{})}
	for _, l := range o.Looks {
		s.looks[l.Name] = l
	}
	return s, nil
}

// Close lets go of the records and pictures. Call after the last request.
func (s *Server) Close() error {
	s.tiles.close()
	return s.shelf.close()
}

// Handler answers on a listener of that address. Loopback addresses answer to
// their own names only; others to any name, to who has the token. Error: Invalid
// for another address without a token.
func (s *Server) Handler(addr net.Addr) (http.Handler, error) {
	g := &guard{next: s.routes(), token: s.opts.Token, tls: s.opts.TLS}
	tcp, ok := addr.(*net.TCPAddr)
	switch {
	case ok && tcp.IP.IsLoopback():
		g.hosts = map[string]bool{}
		for _, name := range []string{"127.0.0.1", "localhost", "::1", tcp.IP.String()} {
			g.hosts[net.JoinHostPort(name, strconv.Itoa(tcp.Port))] = true
		}
	case s.opts.Token == "":
		return nil, hide.Faultf(hide.Invalid, "%s can be reached from other machines: a token is needed", addr)
	}
	return g, nil
}

// Times that bound a request. Events are written for hours and have none.
const (
	headerTime = 5 * time.Second
	bodyTime   = 30 * time.Second
	idleTime   = 2 * time.Minute
	mostHeader = 16 << 10
	// endTime is how long requests under way may take when the server stops.
	endTime = 5 * time.Second
)

// Serve answers on a listener until ctx is cancelled; then requests under way
// are finished. Errors: those of Handler; Internal.
func (s *Server) Serve(ctx context.Context, l net.Listener, serve func(*http.Server, net.Listener) error) error {
	h, err := s.Handler(l.Addr())
	if err != nil {
		return err
	}
	srv := &http.Server{Handler: h, ReadHeaderTimeout: headerTime, ReadTimeout: bodyTime, IdleTimeout: idleTime, MaxHeaderBytes: mostHeader,
		ErrorLog: slog.NewLogLogger(s.opts.Log.Handler(), slog.LevelDebug)}
	ended := make(chan error, 1)
	go func() { ended <- serve(srv, l) }()
	select {
	case err := <-ended:
		return hide.Wrapf(hide.Internal, err, "serve")
	case <-ctx.Done():
	}
	close(s.stop)
	end, cancel := context.WithTimeout(context.WithoutCancel(ctx), endTime)
	defer cancel()
	if err := srv.Shutdown(end); err != nil {
		return hide.Wrapf(hide.Internal, err, "stop serving")
	}
	if err := <-ended; !errors.Is(err, http.ErrServerClosed) {
		return hide.Wrapf(hide.Internal, err, "serve")
	}
	return nil
}

func (s *Server) routes() http.Handler {
	m := http.NewServeMux()
	m.HandleFunc("GET /{$}", s.front)
	m.HandleFunc("GET /hide/{name}", s.page("hide.html"))
	m.HandleFunc("GET /assets/{file}", s.asset)
	m.HandleFunc("GET /api/charts", s.list)
	m.HandleFunc("GET /api/profile", s.profile)
	m.HandleFunc("GET /api/charts/{name}", s.withChart(s.state))
	m.HandleFunc("GET /api/charts/{name}/summary", s.withChart(s.summary))
	m.HandleFunc("GET /api/charts/{name}/yield", s.withChart(s.yield))
	m.HandleFunc("GET /api/charts/{name}/thumb.jpg", s.withChart(s.thumb))
	m.HandleFunc("GET /api/charts/{name}/tiles/{light}/{level}/{tile}", s.withChart(s.tile))
	m.HandleFunc("GET /api/charts/{name}/events", s.withChart(s.events))
	m.HandleFunc("GET /api/charts/{name}/agreement", s.withChart(s.agreement))
	m.HandleFunc("GET /api/charts/{name}/export/{format}", s.withChart(s.export))
	m.HandleFunc("POST /api/charts/{name}/decisions", s.withChart(s.decide))
	m.HandleFunc("POST /api/charts/{name}/import/{format}", s.withChart(s.importShapes))
	if s.opts.Record != nil {
		s.recordRoutes(m)
	}
	return m
}

// withChart opens the session of the address and turns errors into answers.
func (s *Server) withChart(h func(http.ResponseWriter, *http.Request, *session) error) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		x, err := s.shelf.open(r.PathValue("name"))
		if err == nil {
			err = h(w, r, x)
		}
		if err != nil {
			s.fail(w, r, err)
		}
	}
}

func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	status := statusTable()[hide.KindOf(err)]
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		status = http.StatusRequestEntityTooLarge
	}
	if status == http.StatusInternalServerError {
		s.opts.Log.Error("review", "path", r.URL.Path, "error", err)
	}
	writeFault(w, status, strings.ReplaceAll(err.Error(), s.shelf.dir, "the folder of charts"))
}

// writeFault answers with an error in words.
func writeFault(w http.ResponseWriter, status int, text string) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	data, err := json.Marshal(struct {
		Error string `json:"error"`
	}{text})
	if err != nil {
		return // a text always can be
	}
	_, _ = w.Write(data) // a reader that has gone cannot be told
}

func writeJSON(w http.ResponseWriter, v any) error {
	var b bytes.Buffer
	if err := json.NewEncoder(&b).Encode(v); err != nil { // escapes <, > and &
		return hide.Wrapf(hide.Internal, err, "answer")
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(b.Bytes()) // a reader that has gone cannot be told
	return nil
}

// readJSON reads one JSON value of a limited size with no key unknown. Error: Invalid.
func readJSON(w http.ResponseWriter, r *http.Request, most int64, v any) error {
	if t := r.Header.Get("Content-Type"); !strings.HasPrefix(t, "application/json") {
		return hide.Faultf(hide.Invalid, "want application/json") // what a form of another page cannot send
	}
	e := json.NewDecoder(http.MaxBytesReader(w, r.Body, most))
	e.DisallowUnknownFields()
	if err := e.Decode(v); err != nil {
		return hide.Wrapf(hide.Invalid, err, "request")
	}
	if _, err := e.Token(); !errors.Is(err, io.EOF) {
		return hide.Faultf(hide.Invalid, "request: something follows")
	}
	return nil
}

func passOf(r *http.Request) (string, error) {
	switch p := r.URL.Query().Get("pass"); p {
	case "", blindPass:
		return p, nil
	default:
		return "", hide.Faultf(hide.Invalid, "pass %q is not known", p)
	}
}

func (s *Server) lookOf(name string) (yield.Look, error) {
	if name == "" {
		return s.opts.Looks[0], nil
	}
	l, ok := s.looks[name]
	if !ok {
		return l, hide.Faultf(hide.NotFound, "look %q is not offered here", name)
	}
	return l, nil
}

func numbers(words ...string) ([]int, error) {
	out := make([]int, len(words))
	for i, w := range words {
		n, err := strconv.Atoi(w)
		if err != nil || len(w) > 6 {
			return nil, hide.Faultf(hide.NotFound, "no such tile")
		}
		out[i] = n
	}
	return out, nil
}

// Address is where to open the page of a listener.
func (s *Server) Address(l net.Addr) string {
	scheme := "http"
	if s.opts.TLS {
		scheme = "https"
	}
	query := ""
	if s.opts.Token != "" {
		query = "?token=" + s.opts.Token
	}
	return fmt.Sprintf("%s://%s/%s", scheme, l, query)
}
