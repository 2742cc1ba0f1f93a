package score

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"hidechart/hide"
)

// Case is one capture of an accuracy report.
type Case struct {
	Name   string
	Lights string // in words, what it was charted from
	Tuned  bool   // its article may have been used in tuning
	Result Result
}

// band of contrast: of a defect against what is usual on its article.
type band struct {
	words    string
	from, to float64
}

func bands() []band {
	return []band{{"under 0.4", 0, 0.4}, {"0.4 to 0.6", 0.4, 0.6}, {"0.6 to 0.8", 0.6, 0.8}, {"0.8 to 1", 0.8, 1}, {"1 and more", 1, math.Inf(1)}}
}

// WriteReport prints the figures of all cases as Markdown tables: over all, for
// articles used in tuning and not, by article, by what lights there were, by kind
// and by contrast. Shares have Wilson's 95 % interval, rates one from resampling
// whole captures.
func WriteReport(w io.Writer, cases []Case) error {
	t := &tables{w: w}
	t.groups("captures", cases, func(Case) string { return "all" })
	t.groups("articles", cases, func(c Case) string {
		if c.Tuned {
			return "used in tuning"
		}
		return "never used in tuning"
	})
	t.groups("article", cases, func(c Case) string { return c.Result.Article })
	t.groups("lights", cases, func(c Case) string { return c.Lights })
	t.kinds(cases)
	t.contrasts(cases)
	t.areas(cases)
	return t.err
}

// WriteLights prints the same figures for the same captures charted with some
// lights left out, one row for each set of lights.
func WriteLights(w io.Writer, cases []Case) error {
	t := &tables{w: w}
	t.groups("the same captures, lights used", cases, func(c Case) string { return c.Lights })
	return t.err
}

type tables struct {
	w   io.Writer
	err error
}

func (t *tables) linef(format string, args ...any) {
	if t.err == nil {
		_, t.err = fmt.Fprintf(t.w, format+"\n", args...)
	}
}

func (t *tables) head(columns ...string) {
	t.linef("\n| %s |", strings.Join(columns, " | "))
	t.linef("|%s", strings.Repeat(" --- |", len(columns)))
}

func (t *tables) groups(title string, cases []Case, of func(Case) string) {
	t.head(title, "captures", "recall", "kind right", "holes found", "holes invented", "false per m²", "false area %", "calibration error")
	var names []string
	results := map[string][]Result{}
	for _, c := range cases {
		name := of(c)
		if results[name] == nil {
			names = append(names, name)
		}
		results[name] = append(results[name], c.Result)
	}
	slices.Sort(names)
	for _, n := range names {
		p := Pool(results[n])
		t.linef("| %s | %d | %s | %s | %s | %d | %s | %s | %s |", n, p.Captures, share(p.Recall), share(p.KindAccuracy), share(p.HoleRecall),
			p.InventedHoles, interval(p.FalsePerM2, 1, 2), interval(p.FalseAreaShare, 100, 2), interval(p.CalibrationErr, 1, 3))
	}
}

func share(i *Interval) string { return interval(i, 1, 2) }

// interval is the value and its interval, times a factor; a dash for none.
func interval(i *Interval, factor float64, digits int) string {
	if i == nil {
		return "–"
	}
	return fmt.Sprintf("%.*f (%.*f–%.*f)", digits, i.Value*factor, digits, i.Low*factor, digits, i.High*factor)
}

func (t *tables) kinds(cases []Case) {
	t.head("kind", "flaws", "recall", "kind right, of those found", "border off, mm", "false candidates called so")
	for _, k := range hide.Kinds() {
		var flaws, found, right, wrong int
		var outcomes []TruthOutcome
		for _, c := range cases {
			for _, o := range c.Result.Truths {
				if o.Kind == k {
					outcomes = append(outcomes, o)
				}
			}
			for _, r := range c.Result.ByKind {
				if r.Kind == k {
					flaws, found, right, wrong = flaws+r.TruthDefects, found+r.Found, right+r.KindRight, wrong+r.FalseCandidates
				}
			}
		}
		off := "–"
		if m := medianOff(outcomes); m != nil {
			off = fmt.Sprintf("%.1f", *m)
		}
		t.linef("| %s | %d | %s | %s | %s | %d |", k.Words(), flaws, share(Wilson(found, flaws)), share(Wilson(right, found)), off, wrong)
	}
}

func (t *tables) contrasts(cases []Case) {
	t.head("contrast against what is usual on the article", "flaws", "recall")
	for _, b := range bands() {
		var flaws, found int
		for _, c := range cases {
			for _, o := range c.Result.Truths {
				if !o.Hidden && o.Visibility >= b.from && o.Visibility < b.to && o.Visibility > 0 {
					flaws++
					if o.Found {
						found++
					}
				}
			}
		}
		t.linef("| %s | %d | %s |", b.words, flaws, share(Wilson(found, flaws)))
	}
}

func (t *tables) areas(cases []Case) {
	var errors []float64
	worst, within, stated := 1.0, 0, 0
	for _, c := range cases {
		errors = append(errors, math.Abs(c.Result.AreaError))
		worst = min(worst, c.Result.OutlineIoU)
		if u := c.Result.AreaErrorInU; u != nil {
			stated++
			if math.Abs(*u) <= 2 {
				within++
			}
		}
	}
	if len(errors) == 0 {
		return
	}
	slices.Sort(errors)
	t.linef("\nArea: median error %.3f %%, worst %.3f %%; within twice the stated uncertainty in %s of the captures; least outline IoU %.4f.",
		100*errors[len(errors)/2], 100*errors[len(errors)-1], share(Wilson(within, stated)), worst)
}
