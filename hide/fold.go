package hide

import (
	"fmt"
	"reflect"
	"slices"
)

// Reviewed is a chart with the decisions of its review folded over it. Every
// later step uses Chart; the rest is for the page of the review.
type Reviewed struct {
	Chart    Chart
	Revision map[int]int // by defect: the last decision on it, also one that is held
	Disputes []Dispute   // held and not yet settled, in the order of the record
	Notes    []Decision  // that hold, in the order of the record
	Stale    int         // decisions about another chart, left out
	NextID   int         // for a new defect: above every id ever used
}

// Dispute is a decision that was made without sight of another on the same
// defect, and says otherwise. The earlier one stands until somebody settles it by
// deciding once more.
type Dispute struct {
	Defect  int    `json:"defect"`
	Held    int    `json:"held"`    // the later decision
	Against int    `json:"against"` // the one before it
	Who     string `json:"who"`     // made the later one
	Act     Act    `json:"act"`     // of the later one
	After   Defect `json:"after"`   // what the later one wants; zero if the defect was to go
}

// Fold lays the decisions of one pass (empty: the review) over a chart whose
// file has the hash sum. The chart that comes in is not changed.
//
// Decisions apply in their order. One that was made before its reviewer saw an
// earlier decision on the same defect is held if it says otherwise: it stays in the
// record, changes nothing and is listed as a dispute until a later decision on
// the defect is made with sight of both. One that names several defects and
// changes each by itself holds or not for each; one that splits, joins or takes back holds or
// not as a whole.
//
// A hole that a review rejects is filled in the outline, one that it adds within the
// outline becomes an inner ring, and the area follows. Decisions about
// another chart are left out and flagged (review_stale), open disputes as well (review_disputed).
// Zones stay those of the chart.
func Fold(c Chart, sum string, decisions []Decision, pass string) Reviewed {
	f := folding{
		now: map[int]Defect{}, by: map[int]Decision{},
		out: Reviewed{Revision: map[int]int{}, NextID: 1},
	}
	for _, d := range c.Defects {
		f.now[d.ID] = d
		f.out.NextID = max(f.out.NextID, d.ID+1)
	}
	for _, d := range decisions {
		for _, x := range d.After { // also of other passes: an id means one thing only
			f.out.NextID = max(f.out.NextID, x.ID+1)
		}
		switch {
		case d.Pass != pass:
		case d.Chart != sum:
			f.out.Stale++
		default:
			f.by[d.Seq] = d
			f.add(d)
		}
	}
	f.out.Chart = f.chart(c)
	return f.out
}

type folding struct {
	now map[int]Defect
	by  map[int]Decision
	out Reviewed
}

func (f *folding) add(d Decision) {
	if note, ok := f.noteOf(d); ok {
		f.out.Notes = slices.DeleteFunc(f.out.Notes, func(n Decision) bool { return n.Seq == note.Seq })
		if d.Act != ActUndo {
			f.out.Notes = append(f.out.Notes, note)
		}
		return
	}
	if !d.pairwise() {
		f.replace(d, d.Before, d.After, d.Seen)
		return
	}
	for i, x := range d.After {
		f.replace(d, d.Before[i:i+1], []Defect{x}, d.Seen[i:i+1])
	}
}

// noteOf is the note that a decision writes, takes back or brings back.
func (f *folding) noteOf(d Decision) (Decision, bool) {
	for d.Act == ActUndo || d.Act == ActRedo {
		of, ok := f.by[d.Of]
		if !ok || of.Seq >= d.Seq {
			return d, false
		}
		d = of // earlier: this ends
	}
	return d, d.Act == ActNote
}

// replace puts after in the place of before, or holds the decision.
func (f *folding) replace(d Decision, before, after []Defect, seen []int) {
	against := 0
	for i, b := range before {
		if f.out.Revision[b.ID] != seen[i] {
			against = max(against, f.out.Revision[b.ID])
		}
	}
	for _, a := range after { // a new id that is already there
		if _, there := f.now[a.ID]; there && !hasID(before, a.ID) {
			against = max(against, f.out.Revision[a.ID], 1)
		}
	}
	if against > 0 && !f.stands(before, after) {
		f.hold(d, against, before, after)
		return
	}
	for _, b := range before {
		delete(f.now, b.ID)
		f.touch(b.ID, d.Seq)
	}
	for _, a := range after {
		f.now[a.ID] = a
		f.touch(a.ID, d.Seq)
	}
}

// touch marks a defect as decided; a dispute on it is settled.
func (f *folding) touch(id, seq int) {
	f.out.Revision[id] = seq
	f.out.Disputes = slices.DeleteFunc(f.out.Disputes, func(x Dispute) bool { return x.Defect == id })
}

// stands tells whether what a decision wants is what there is.
func (f *folding) stands(before, after []Defect) bool {
	for _, b := range before {
		if _, there := f.now[b.ID]; there && !hasID(after, b.ID) {
			return false
		}
	}
	for _, a := range after {
		if now, there := f.now[a.ID]; !there || !reflect.DeepEqual(now, a) {
			return false
		}
	}
	return true
}

func (f *folding) hold(d Decision, against int, before, after []Defect) {
	ids := before
	if len(ids) == 0 {
		ids = after
	}
	for _, b := range ids {
		x := Dispute{Defect: b.ID, Held: d.Seq, Against: against, Who: d.Who, Act: d.Act}
		if i := slices.IndexFunc(after, func(a Defect) bool { return a.ID == b.ID }); i >= 0 {
			x.After = after[i]
		}
		f.out.Disputes = append(f.out.Disputes, x)
		f.out.Revision[b.ID] = d.Seq
	}
}

func hasID(list []Defect, id int) bool {
	return slices.ContainsFunc(list, func(d Defect) bool { return d.ID == id })
}

// chart is the reviewed chart.
func (f *folding) chart(c Chart) Chart {
	was := c.Defects
	c.Defects = make([]Defect, 0, len(f.now))
	for _, d := range f.now {
		c.Defects = append(c.Defects, d)
	}
	slices.SortFunc(c.Defects, func(a, b Defect) int { return a.ID - b.ID })
	before := c.Outline.Area()
	c.Outline = withHoles(c.Outline, was, c.Defects)
	c.Area = c.Area.changed(c.Outline.Area()-before, handHoles(was, c.Defects))
	flags := slices.Clone(c.Flags)
	if f.out.Stale > 0 {
		flags = append(flags, Flag{Code: "review_stale", Text: fmt.Sprintf("%d decisions of the review were made about another chart and are left out: review the hide again", f.out.Stale)})
	}
	if n := len(f.out.Disputes); n > 0 {
		flags = append(flags, Flag{Code: "review_disputed", Text: fmt.Sprintf("%d decisions of the review contradict each other: settle them on the review page", n)})
	}
	c.Flags = flags
	return c
}
