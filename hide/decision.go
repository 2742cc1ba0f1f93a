package hide

import (
	"slices"
	"time"
	"unicode/utf8"
)

// DecisionFormat names the version of a line of the record of decisions.
const DecisionFormat = "hidechart review 1"

// Act is what a reviewer did.
type Act string

// The acts. Each changes the defects it names, but for note.
const (
	ActConfirm Act = "confirm" // it is a flaw
	ActReject  Act = "reject"  // it is none
	ActKind    Act = "kind"    // it is one of another kind
	ActOpen    Act = "open"    // it is open, or healed
	ActRedraw  Act = "redraw"  // its shape is another
	ActSplit   Act = "split"   // it is several
	ActMerge   Act = "merge"   // several are one
	ActAdd     Act = "add"     // one was not found
	ActKeep    Act = "keep"    // of two opinions the one that stands is right
	ActNote    Act = "note"    // words, on a flaw or on the hide
	ActUndo    Act = "undo"    // takes back the decision Of
	ActRedo    Act = "redo"    // takes back the undo Of
)

// Acts lists every act.
func Acts() []Act {
	return []Act{ActConfirm, ActReject, ActKind, ActOpen, ActRedraw, ActSplit, ActMerge, ActAdd, ActKeep, ActNote, ActUndo, ActRedo}
}

// Limits of a decision: a line of the record is read whole into memory.
const (
	mostWho  = 80    // runes; a name fits
	mostText = 2000  // runes; a note is a few sentences
	mostSets = 10000 // defects in one decision: every candidate of the worst hide
)

// Decision is one line of the record of a review: who decided what, when, on
// which chart, and the defects before and after. A decision holds the whole
// of what it changes, so that folding needs no geometry and the record can be read
// without the program. Coordinates are table millimetres.
type Decision struct {
	Format string    `json:"format"`
	Seq    int       `json:"seq"` // place in the record, from 1
	Key    string    `json:"key"` // chosen by who decided: the same key sent again is recorded once
	At     time.Time `json:"at"`  // UTC, by the clock of the machine that keeps the record
	Who    string    `json:"who"`
	Pass   string    `json:"pass,omitempty"` // empty: the review; else the name of a blind one, which changes no chart
	Chart  string    `json:"chart_sha256"`   // of the bytes of chart.json
	Act    Act       `json:"act"`
	Of     int       `json:"of,omitempty"` // undo, redo: the decision taken back
	// Seen is, for each of Before, the decision on it that the reviewer saw
	// last (0: none). If there is a later one, this decision is held; see Fold.
	Seen   []int    `json:"seen"`
	Before []Defect `json:"before"`
	After  []Defect `json:"after"`
	Text   string   `json:"text,omitempty"`
}

// Check tells whether a decision can be what it says, apart from any chart.
// Error: Invalid.
func (d Decision) Check() error {
	switch {
	case d.Format != DecisionFormat:
		return Faultf(Invalid, "decision: format %q, want %q", d.Format, DecisionFormat)
	case d.Seq < 1:
		return Faultf(Invalid, "decision: seq %d, want 1 or more", d.Seq)
	case !slices.Contains(Acts(), d.Act):
		return Faultf(Invalid, "decision %d: act %q is not known", d.Seq, d.Act)
	case d.Who == "" || utf8.RuneCountInString(d.Who) > mostWho:
		return Faultf(Invalid, "decision %d: who: want 1 to %d characters", d.Seq, mostWho)
	case utf8.RuneCountInString(d.Text) > mostText:
		return Faultf(Invalid, "decision %d: text: at most %d characters", d.Seq, mostText)
	case len(d.Seen) != len(d.Before):
		return Faultf(Invalid, "decision %d: seen %d, before %d: want one for each", d.Seq, len(d.Seen), len(d.Before))
	case len(d.Before) > mostSets || len(d.After) > mostSets:
		return Faultf(Invalid, "decision %d: more than %d defects", d.Seq, mostSets)
	case (d.Act == ActUndo || d.Act == ActRedo) && (d.Of < 1 || d.Of >= d.Seq):
		return Faultf(Invalid, "decision %d: of %d: want an earlier decision", d.Seq, d.Of)
	}
	return d.checkDefects()
}

func (d Decision) checkDefects() error {
	for _, side := range [][]Defect{d.Before, d.After} {
		ids := map[int]bool{}
		for _, x := range side {
			if x.ID < 1 || ids[x.ID] || !x.Kind.Valid() || len(x.Geometry) == 0 || !(x.Probability >= 0 && x.Probability <= 1) {
				return Faultf(Invalid, "decision %d: defect %d: id twice or below 1, unknown kind, no shape, or probability outside 0–1", d.Seq, x.ID)
			}
			switch x.Status {
			case Candidate, Confirmed, Rejected, Added:
			default:
				return Faultf(Invalid, "decision %d: defect %d: status %q", d.Seq, x.ID, x.Status)
			}
			ids[x.ID] = true
		}
	}
	return nil
}

// pairwise tells whether a decision changes each defect by itself, so that
// it can hold for one and not for another.
func (d Decision) pairwise() bool {
	return len(d.Before) == len(d.After) &&
		slices.EqualFunc(d.Before, d.After, func(a, b Defect) bool { return a.ID == b.ID })
}
