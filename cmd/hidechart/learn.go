package main

import (
	"cmp"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"hidechart/detect"
	"hidechart/export"
	"hidechart/hide"
)

// profileEnding of the files that learn writes and chart reads.
const profileEnding = ".profile.json"

func newLearn() *cobra.Command {
	var out string
	var asJSON bool
	c := &cobra.Command{
		Use:   "learn CHART… --out DIR",
		Short: "Learn from reviewed charts: one profile for each article",
		Long: `Reads charts with their reviews and fits, for each article by itself, how much
more or less likely a candidate is than the program thought, by what was measured
of it. DIR/<article>.profile.json is then used by: hidechart chart --profiles DIR.
A profile that gains nothing on hides left out, or of fewer than five hides,
is written but changes nothing; its file says so and gives the figures.`,
		Example: "  hidechart learn charts/* --out profiles",
		Args:    cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			learned, err := learn(args, out)
			if err != nil {
				return err
			}
			if asJSON {
				return writeJSON(c.OutOrStdout(), learned)
			}
			return writeLearned(c.OutOrStdout(), learned)
		},
	}
	c.Flags().StringVar(&out, "out", "", "folder for the profiles, made if missing (needed)")
	c.Flags().BoolVar(&asJSON, "json", false, "print the profiles as JSON")
	if err := c.MarkFlagRequired("out"); err != nil {
		panic(err) // the flag is defined above
	}
	return c
}

// learn writes a profile for each article of the reviewed charts.
func learn(paths []string, out string) ([]*detect.Profile, error) {
	hides := map[string][]detect.ReviewedHide{}
	for _, path := range paths {
		c, err := export.ReadReviewed(path)
		if err != nil {
			return nil, err
		}
		if c.Capture.Article == "" {
			return nil, hide.Faultf(hide.Invalid, "%s: its capture.yaml names no article, so nothing can be learned for one", path)
		}
		hides[c.Capture.Article] = append(hides[c.Capture.Article], detect.ReviewedHide{ID: c.Capture.ID, Defects: c.Defects})
	}
	if err := os.MkdirAll(out, 0o755); err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "profiles")
	}
	var learned []*detect.Profile
	written := map[string]string{}
	for _, article := range slices.Sorted(maps.Keys(hides)) {
		p, err := detect.Learn(article, hides[article])
		if err != nil {
			return nil, err
		}
		path := filepath.Join(out, export.SafeName(article)+profileEnding)
		if other, ok := written[path]; ok {
			return nil, hide.Faultf(hide.Conflict, "articles %q and %q would share the file %s: name them apart", other, article, path)
		}
		written[path] = article
		if err := export.WriteFile(path, func(w io.Writer) error { return writeJSON(w, p) }); err != nil {
			return nil, err
		}
		learned = append(learned, p)
	}
	return learned, nil
}

func writeLearned(w io.Writer, learned []*detect.Profile) error {
	for _, p := range learned {
		_, err := fmt.Fprintf(w, "%s: %d hides, %d candidates decided; %s\n  on hides left out, as many real ones kept (%d): false ones %d before, %d after\n",
			p.Article, p.Hides, p.Decided, p.Why, p.Was.Real, p.Was.False, p.Gain.False)
		if err != nil {
			return hide.Wrapf(hide.Internal, err, "print")
		}
	}
	return nil
}

// readProfiles of a folder, by article; none for an empty name.
func readProfiles(dir string) ([]*detect.Profile, error) {
	if dir == "" {
		return nil, nil
	}
	if _, err := os.Stat(dir); err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "profiles")
	}
	paths, err := filepath.Glob(filepath.Join(dir, "*"+profileEnding))
	if err != nil {
		return nil, hide.Wrapf(hide.Invalid, err, "profiles")
	}
	var out []*detect.Profile
	for _, path := range paths {
		data, err := os.ReadFile(path)
		if err != nil {
			return nil, hide.Wrapf(hide.Unreadable, err, "profile")
		}
		p, err := detect.DecodeProfile(data)
		if err != nil {
			return nil, hide.Wrapf(hide.Invalid, err, "%s", path)
		}
		out = append(out, p)
	}
	slices.SortStableFunc(out, func(a, b *detect.Profile) int { return cmp.Compare(a.Article, b.Article) })
	return out, nil
}
