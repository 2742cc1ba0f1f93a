package calibrate

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"hidechart/hide"
)

// DriftEntry is what one chart says of the table and its camera.
type DriftEntry struct {
	Name  string
	When  time.Time
	Noted bool            // When is from the capture's note, not from the file
	Rig   string          // hash of the rig file
	Tags  map[int]hide.MM // residual of each tag, median over lights
	Aim   *hide.Aim       // what the camera looks at; nil: the chart does not say
	Moved []string        // texts of the chart's own flags tag_moved and light_moved
}

// AllTags stands for the median of all tags where a tag's id is asked for.
const AllTags = -1

var noteDay = regexp.MustCompile(`\b(\d{4}-\d{2}-\d{2})(?:[T ](\d{2}:\d{2}))?\b`)

// NewDriftEntry reads a chart. The day is the first one in the capture's note,
// written as ISO 8601 does (2026-03-31, or 2026-03-31 14:05); without one it is
// fileTime. Charts hold no other date.
func NewDriftEntry(name string, c hide.Chart, fileTime time.Time) DriftEntry {
	e := DriftEntry{Name: name, When: fileTime, Rig: c.Frame.RigSHA256, Tags: map[int]hide.MM{}, Aim: c.Frame.Aim}
	if m := noteDay.FindStringSubmatch(c.Capture.Note); m != nil {
		form, text := time.DateOnly, m[1]
		if m[2] != "" {
			form, text = time.DateOnly+" 15:04", m[1]+" "+m[2]
		}
		if t, err := time.Parse(form, text); err == nil {
			e.When, e.Noted = t, true
		}
	}
	lights := map[int][]float64{}
	for _, t := range c.Tags {
		lights[t.ID] = append(lights[t.ID], float64(t.ResidualMM))
	}
	for id, v := range lights {
		e.Tags[id] = hide.MM(middle(v))
	}
	for _, f := range c.Flags {
		if f.Code == "tag_moved" || f.Code == "light_moved" {
			e.Moved = append(e.Moved, f.Text)
		}
	}
	return e
}

func middle(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	v = slices.Clone(v)
	slices.Sort(v)
	n := len(v)
	return (v[(n-1)/2] + v[n/2]) / 2
}

// DriftParams are the settings of Drift.
type DriftParams struct {
	FalseEvery float64 // charts from one false alarm to the next, all tags together (> 10); default 500: about two years of one chart a working day
	Allowance  float64 // k of the CUSUM, deviations (0 to 2); default 0.5: tuned to a shift of one deviation (Page 1954)
}

// DefaultDriftParams returns the defaults.
func DefaultDriftParams() DriftParams { return DriftParams{FalseEvery: 500, Allowance: 0.5} }

// Validate lists what is wrong with the settings.
func (p DriftParams) Validate() error {
	var faults []error
	if !(p.FalseEvery > 10 && p.FalseEvery < 1e9) {
		faults = append(faults, hide.Faultf(hide.Invalid, "false alarm: one in %g charts is not between 10 and 1e9", p.FalseEvery))
	}
	if !(p.Allowance > 0 && p.Allowance <= 2) {
		faults = append(faults, hide.Faultf(hide.Invalid, "allowance: %g is not above 0 and at most 2", p.Allowance))
	}
	return errors.Join(faults...)
}

// DriftLog is a table's history.
type DriftLog struct {
	Entries []DriftEntry  // by time, then name
	Series  []DriftSeries // all tags first, then by ascending id
	Alarms  []DriftAlarm  // in the order they were raised, then by series
	Camera  []CameraMove  // where it began to look elsewhere, in order
	Limit   float64       // h of the CUSUM, deviations
	Rigs    []int         // entries from which another rig file holds
}

// DriftSeries is one tag's residual over time, or that of all.
type DriftSeries struct {
	Tag    int       // or AllTags
	Values []hide.MM // one for each entry; NaN where the tag was not seen
}

// DriftAlarm says that a level has changed.
type DriftAlarm struct {
	Tag           int     // or AllTags
	At            int     // entry that raised it
	Since         int     // entry from which the level is most likely another
	Before, After hide.MM // medians
}

// String says it for people.
func (a DriftAlarm) String() string {
	way := "rose"
	if a.After < a.Before {
		way = "fell"
	}
	if a.Tag == AllTags {
		return fmt.Sprintf("all tags: residuals %s from %.2f to %.2f mm: focus, zoom, lens or the table's boards have changed", way, float64(a.Before), float64(a.After))
	}
	return fmt.Sprintf("tag %d: residual %s from %.2f to %.2f mm: the tag or its board has moved", a.Tag, way, float64(a.Before), float64(a.After))
}

// Drift orders the charts by time and looks for changes of level, in each tag's
// residual and in the median of all. Each value becomes a normal score of its
// rank among all values of its series so far (sequential ranks: McDonald 1990, A
// CUSUM procedure based on sequential ranks, Naval Research Logistics 37), which
// are independent and of one known distribution whatever that of the residuals;
// two one-sided CUSUMs (Page 1954) run over them. Their limit h is such that all
// tags together raise one false alarm in FalseEvery charts, by Siegmund's (1985)
// approximation for normal scores; short histories raise fewer, as the rank of an
// early value cannot be extreme. After an alarm, and where the rig file changes,
// a series starts anew. The camera's place is fitted anew in every capture, so one
// that was only shifted leaves no trace in the residuals and does no harm; it is
// told by what the middle of its picture looks at (Camera).
//
// Error: Invalid for settings or when no chart has a tag.
func Drift(entries []DriftEntry, p DriftParams) (DriftLog, error) {
	if err := p.Validate(); err != nil {
		return DriftLog{}, err
	}
	log := DriftLog{Entries: slices.Clone(entries)}
	slices.SortStableFunc(log.Entries, func(a, b DriftEntry) int {
		if c := a.When.Compare(b.When); c != 0 {
			return c
		}
		return strings.Compare(a.Name, b.Name)
	})
	for i := 1; i < len(log.Entries); i++ {
		if log.Entries[i].Rig != log.Entries[i-1].Rig {
			log.Rigs = append(log.Rigs, i)
		}
	}
	log.Camera = cameraMoves(log.Entries, log.Rigs)
	log.Series = driftSeries(log.Entries)
	if len(log.Series) == 0 {
		return log, hide.Faultf(hide.Invalid, "drift: no chart holds a tag's residual")
	}
	log.Limit = cusumLimit(p.FalseEvery*2*float64(len(log.Series)), p.Allowance)
	for _, s := range log.Series {
		log.Alarms = append(log.Alarms, s.alarms(log.Rigs, log.Limit, p.Allowance)...)
	}
	slices.SortStableFunc(log.Alarms, func(a, b DriftAlarm) int { return a.At - b.At })
	return log, nil
}

func driftSeries(entries []DriftEntry) []DriftSeries {
	byTag := map[int][]hide.MM{}
	blank := func() []hide.MM {
		v := make([]hide.MM, len(entries))
		for i := range v {
			v[i] = hide.MM(math.NaN())
		}
		return v
	}
	all := blank()
	for i, e := range entries {
		var v []float64
		for id, r := range e.Tags {
			if byTag[id] == nil {
				byTag[id] = blank()
			}
			byTag[id][i] = r
			v = append(v, float64(r))
		}
		all[i] = hide.MM(middle(v))
	}
	if len(byTag) == 0 {
		return nil
	}
	out := []DriftSeries{{Tag: AllTags, Values: all}}
	ids := []int{}
	for id := range byTag {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	for _, id := range ids {
		out = append(out, DriftSeries{Tag: id, Values: byTag[id]})
	}
	return out
}

// siegmundShift is what the overshoot of a normal walk adds to each limit
// (Siegmund 1985, Sequential Analysis, ch. X: 2·0.583).
const siegmundShift = 1.166

// cusumLength is the mean number of values between false alarms of a one-sided
// CUSUM over standard normal values.
func cusumLength(h, k float64) float64 {
	b := 2 * k * (h + siegmundShift)
	return (math.Exp(b) - b - 1) / (2 * k * k)
}

// cusumLimit inverts cusumLength by halving.
func cusumLimit(length, k float64) float64 {
	lo, hi := 0.0, 100/k
	for range 100 {
		mid := (lo + hi) / 2
		if cusumLength(mid, k) < length {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// lookAhead is how many charts after an alarm help to date the change, where
// there are some: enough to tell it from a chance run before it, too few to hold the
// next change as a rule.
const lookAhead = 15

// alarms runs both CUSUMs.
func (s DriftSeries) alarms(restarts []int, limit, k float64) []DriftAlarm {
	var out []DriftAlarm
	start := 0 // of the history that ranks are taken in
	var up, down float64
	for i := range s.Values {
		if slices.Contains(restarts, i) {
			start, up, down = i, 0, 0
		}
		u, ok := s.score(start, i)
		if !ok {
			continue
		}
		up, down = max(0, up+u-k), max(0, down-u-k)
		if up <= limit && down <= limit {
			continue
		}
		end := min(i+1+lookAhead, len(s.Values))
		for _, r := range restarts {
			if r > i {
				end = min(end, r)
			}
		}
		since := s.split(start, end)
		if since > i {
			since, end = s.split(start, i+1), i+1
		}
		out = append(out, DriftAlarm{Tag: s.Tag, At: i, Since: since,
			Before: s.level(start, since), After: s.level(since, end)})
		start, up, down = since, 0, 0 // the new level is the reference from here on
	}
	return out
}

// split is where values most likely changed their level: the largest
// standardised statistic of Mann and Whitney over all splits (Hawkins & Deng 2010, A
// nonparametric change-point control chart, Journal of Quality Technology 42:165).
func (s DriftSeries) split(from, to int) int {
	best, most := to-1, -1.0
	for at := from + 1; at < to; at++ {
		sum := 0.0
		for _, a := range s.Values[from:at] {
			for _, b := range s.Values[at:to] {
				switch { // no case for NaN
				case a < b:
					sum++
				case a > b:
					sum--
				}
			}
		}
		z := math.Abs(sum) / math.Sqrt(float64(at-from)*float64(to-at)) // the rest of its deviation is the same for all splits
		if z > most {
			best, most = at, z
		}
	}
	return best
}

// score is the normal score of a value's rank in the history; ties share ranks.
func (s DriftSeries) score(start, i int) (float64, bool) {
	v := float64(s.Values[i])
	if math.IsNaN(v) {
		return 0, false
	}
	n, rank := 0.0, 0.0
	for _, w := range s.Values[start : i+1] {
		switch w := float64(w); {
		case math.IsNaN(w):
			continue
		case w < v:
			rank++
		case w == v:
			rank += 0.5
		}
		n++
	}
	return distuv.UnitNormal.Quantile(rank / n), true
}

func (s DriftSeries) level(from, to int) hide.MM {
	var v []float64
	for _, w := range s.Values[from:to] {
		if !math.IsNaN(float64(w)) {
			v = append(v, float64(w))
		}
	}
	return hide.MM(middle(v))
}
