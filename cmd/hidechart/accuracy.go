package main

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"hidechart/export"
	"hidechart/hide"
	"hidechart/pipeline"
	"hidechart/score"
)

// accuracyFlags say where things are.
type accuracyFlags struct {
	charts, docs string
	neverTuned   []string
	tiles        int
	lights       int
}

// newAccuracy is hidden: it is for developers, called by `make accuracy`.
func newAccuracy() *cobra.Command {
	f := &accuracyFlags{}
	c := &cobra.Command{
		Use:    "accuracy CAPTURE… --charts DIR --docs DIR",
		Short:  "Chart captures whose truth is known and write how right the charts are",
		Hidden: true,
		Args:   cobra.MinimumNArgs(1),
		RunE:   f.run,
	}
	c.Flags().StringVar(&f.charts, "charts", "", "folder for the charts; those done are taken as they are")
	c.Flags().StringVar(&f.docs, "docs", "docs", "folder of accuracy.md, whose tables are replaced, and of accuracy/")
	c.Flags().StringSliceVar(&f.neverTuned, "never-tuned", nil, "articles that nothing was tuned on")
	c.Flags().IntVar(&f.tiles, "pictures", 12, "how many of the worst misses and of the worst false candidates are shown")
	c.Flags().IntVar(&f.lights, "lights", 10, "how many captures with four lights are charted again with lights left out")
	for _, name := range []string{"charts"} {
		if err := c.MarkFlagRequired(name); err != nil {
			panic(err) // the flag is defined above
		}
	}
	return c
}

func (f *accuracyFlags) run(c *cobra.Command, dirs []string) error {
	jobs := make([]pipeline.Job, len(dirs))
	for i, d := range dirs {
		jobs[i] = pipeline.Job{Dir: d}
	}
	seen, refused, err := f.judgeAll(c.Context(), jobs, f.charts)
	if err != nil {
		return err
	}
	dimmed, more, err := f.withoutLights(c.Context(), dirs)
	if err != nil {
		return err
	}
	return f.write(seen, dimmed, append(refused, more...))
}

// judged is a case with what its pictures are cut from.
type judged struct {
	score.Case
	chart  hide.Chart
	truth  score.Truth
	folder string // of the chart
}

func (f *accuracyFlags) judge(r pipeline.Result) (judged, error) {
	chart, err := export.ReadChart(r.Chart)
	if err != nil {
		return judged{}, err
	}
	truth, err := score.ReadTruth(r.Job.Dir)
	if err != nil {
		return judged{}, err
	}
	result, err := score.Compare(chart, truth)
	if err != nil {
		return judged{}, err
	}
	var lights []string
	for _, im := range chart.Capture.Images {
		if im.Light != hide.Empty {
			lights = append(lights, string(im.Light))
		}
	}
	return judged{score.Case{Name: chart.Capture.ID, Lights: strings.Join(lights, ", "),
		Tuned: !slices.Contains(f.neverTuned, result.Article), Result: result}, chart, truth, filepath.Dir(r.Chart)}, nil
}

// Marks in accuracy.md between which the tables stand.
const (
	chartsBegin = "<!-- charts: begin -->"
	chartsEnd   = "<!-- charts: end -->"
)

func (f *accuracyFlags) write(seen []judged, dimmed []score.Case, refused []refusal) error {
	var b bytes.Buffer
	cases := make([]score.Case, len(seen))
	for i, j := range seen {
		cases[i] = j.Case
	}
	if err := score.WriteReport(&b, cases); err != nil {
		return err
	}
	if err := writeLights(&b, dimmed); err != nil {
		return err
	}
	writeRefused(&b, refused)
	folder := filepath.Join(f.docs, "accuracy")
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return hide.Wrapf(hide.Internal, err, "accuracy")
	}
	for _, sheet := range []accuracySheet{
		{"misses.jpg", "The plainest flaws missed", worstMisses(seen, f.tiles)},
		{"false.jpg", "The surest candidates that are no flaw", worstFalse(seen, f.tiles)},
	} {
		if err := sheet.write(folder); err != nil {
			return err
		}
		sheet.list(&b)
	}
	return replaceBetween(filepath.Join(f.docs, "accuracy.md"), chartsBegin, chartsEnd, b.String())
}

// worstMisses are the flaws of the highest contrast that no candidate covers.
func worstMisses(seen []judged, n int) []accuracyTile {
	var all []accuracyTile
	for _, j := range seen {
		for i, o := range j.Result.Truths {
			if o.Found || o.Hidden {
				continue
			}
			box := j.truth.Defects[i].Box
			all = append(all, accuracyTile{folder: j.folder, worst: o.Visibility, at: hide.Point{X: (box.Left + box.Right) / 2, Y: (box.Bottom + box.Top) / 2},
				words: fmt.Sprintf("%s, %s, contrast %.2f, %s", o.Kind.Words(), j.Result.Article, o.Visibility, j.Name)})
		}
	}
	return worstTiles(all, n)
}

func worstFalse(seen []judged, n int) []accuracyTile {
	var all []accuracyTile
	for _, j := range seen {
		for i, o := range j.Result.Candidates {
			if o.False {
				all = append(all, accuracyTile{folder: j.folder, worst: o.Probability, at: firstPoint(j.chart.Defects[i]),
					words: fmt.Sprintf("called %s with %.2f, %s, %s", o.Kind.Words(), o.Probability, j.Result.Article, j.Name)})
			}
		}
	}
	return worstTiles(all, n)
}

func firstPoint(d hide.Defect) hide.Point {
	ring := d.Geometry[0].Outer
	return ring[0]
}

func worstTiles(all []accuracyTile, n int) []accuracyTile {
	slices.SortStableFunc(all, func(a, b accuracyTile) int { return cmp.Compare(b.worst, a.worst) })
	return all[:min(n, len(all))]
}

// replaceBetween writes text between two marks of a file.
func replaceBetween(path, begin, end, text string) error {
	data, err := os.ReadFile(path)
	if err != nil {
		return hide.Wrapf(hide.Unreadable, err, "%s", path)
	}
	before, rest, ok := strings.Cut(string(data), begin)
	_, after, also := strings.Cut(rest, end)
	if !ok || !also {
		return hide.Faultf(hide.Invalid, "%s: the marks %s and %s are missing", path, begin, end)
	}
	return export.WriteFile(path, func(w io.Writer) error {
		_, err := io.WriteString(w, before+begin+"\n"+text+end+after)
		return err
	})
}
