package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"hidechart/hide"
	"hidechart/pipeline"
	"hidechart/score"
)

// lightSet is a set of lights that the same captures are charted with once more.
type lightSet struct {
	words   string
	without []hide.Light
}

// lightSets leave out one light, all raking ones, and all but top.
func lightSets() []lightSet {
	return []lightSet{
		{"all", nil},
		{"without back", []hide.Light{hide.Back}},
		{"without rake-n", []hide.Light{hide.RakeN}},
		{"without rake-e", []hide.Light{hide.RakeE}},
		{"without raking lights", []hide.Light{hide.RakeN, hide.RakeE}},
		{"top alone", []hide.Light{hide.Back, hide.RakeN, hide.RakeE}},
	}
}

// withoutLights charts the first captures that have back and two crossed raking
// lights with each of the lightSets; Lights of the cases is the set's words.
func (f *accuracyFlags) withoutLights(ctx context.Context, dirs []string) ([]score.Case, []refusal, error) {
	var full []string
	for _, d := range dirs {
		if hasLights(d, hide.Top, hide.Back, hide.RakeN, hide.RakeE) && len(full) < f.lights {
			full = append(full, d)
		}
	}
	var cases []score.Case
	var refused []refusal
	for _, set := range lightSets() {
		folder := filepath.Join(f.charts, "lights", strings.ReplaceAll(set.words, " ", "-"))
		jobs := make([]pipeline.Job, len(full))
		for i, d := range full {
			jobs[i] = pipeline.Job{Dir: filepath.Join(folder, "captures", filepath.Base(d))}
			if err := linkCapture(d, jobs[i].Dir, set.without); err != nil {
				return nil, nil, err
			}
		}
		judged, no, err := f.judgeAll(ctx, jobs, folder)
		if err != nil {
			return nil, nil, err
		}
		for _, r := range no {
			refused = append(refused, refusal{r.name + ", " + set.words, r.why})
		}
		for _, j := range judged {
			j.Lights = set.words
			cases = append(cases, j.Case)
		}
	}
	return cases, refused, nil
}

// refusal is a capture that cannot be measured and is not charted.
type refusal struct{ name, why string }

// judgeAll charts captures and judges the charts; what is refused is told apart.
func (f *accuracyFlags) judgeAll(ctx context.Context, jobs []pipeline.Job, out string) ([]judged, []refusal, error) {
	sum, err := pipeline.Run(ctx, jobs, pipeline.Options{Out: out, Params: pipeline.DefaultParams(), Version: version, Log: slog.Default()})
	if err != nil {
		return nil, nil, err
	}
	var seen []judged
	var refused []refusal
	for _, r := range sum.Results {
		if r.Err != nil && hide.KindOf(r.Err) == hide.NotMeasurable {
			refused = append(refused, refusal{filepath.Base(r.Job.Dir), r.Err.Error()})
			continue
		}
		if r.Err != nil {
			return nil, nil, hide.Wrapf(hide.KindOf(r.Err), r.Err, "%s", r.Job.Dir)
		}
		one, err := f.judge(r)
		if err != nil {
			return nil, nil, err
		}
		seen = append(seen, one)
	}
	return seen, refused, nil
}

func hasLights(dir string, lights ...hide.Light) bool {
	return !slices.ContainsFunc(lights, func(l hide.Light) bool {
		_, err := os.Stat(filepath.Join(dir, string(l)+".jpg"))
		return err != nil
	})
}

// linkCapture makes a folder of the capture's files but for some lights, by hard
// links: nothing is copied and nothing of the capture is changed.
func linkCapture(from, to string, without []hide.Light) error {
	if err := os.MkdirAll(to, 0o755); err != nil {
		return hide.Wrapf(hide.Internal, err, "%s", to)
	}
	files, err := os.ReadDir(from)
	if err != nil {
		return hide.Wrapf(hide.Unreadable, err, "%s", from)
	}
	for _, e := range files {
		light := hide.Light(strings.TrimSuffix(e.Name(), filepath.Ext(e.Name())))
		if e.IsDir() || slices.Contains(without, light) {
			continue
		}
		err := os.Link(filepath.Join(from, e.Name()), filepath.Join(to, e.Name()))
		if err != nil && !os.IsExist(err) {
			return hide.Wrapf(hide.Internal, err, "%s", to)
		}
	}
	return nil
}

// writeRefused lists what was not charted, in no table above.
func writeRefused(w io.Writer, all []refusal) {
	for _, r := range all {
		_, _ = fmt.Fprintf(w, "\nRefused, and in no figure above: %s: %s.\n", r.name, r.why)
	}
}

// writeLights prints the table of the sets, if any captures were charted so.
func writeLights(w io.Writer, cases []score.Case) error {
	if len(cases) == 0 {
		return nil
	}
	return score.WriteLights(w, cases)
}
