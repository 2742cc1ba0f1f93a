package yield

import (
	"context"
	"slices"
	"time"

	"hidechart/hide"
)

// Options of Evaluate.
type Options struct {
	Params
	FitCell hide.MM // raster on which pieces are tried, mm
	Sets    int     // sets wanted; 0: as many as fit
	Tries   int     // other orders of the pieces tried, LayoutParams.Tries
	// TimeLimit of that search; 0: none
	TimeLimit time.Duration
	Grades    []GradeRule
}

// DefaultOptions try pieces at 1 mm: a piece loses up to 2 mm of room, less than
// a cutter leaves.
func DefaultOptions() Options {
	return Options{Params: DefaultParams(), FitCell: 1, Tries: DefaultLayoutParams().Tries}
}

// Result is what a hide yields under a look, as `hidechart yield --json` prints
// it. docs/yield.md describes every key.
type Result struct {
	Hide          string        `json:"hide"`
	Look          string        `json:"look"`
	AreaMM2       Range         `json:"area_mm2"`
	CuttableMM2   Range         `json:"cuttable_mm2"`
	CuttableShare Range         `json:"cuttable_share"`
	Band          string        `json:"band"`
	Zones         []ZoneResult  `json:"zones"`
	Refused       []int         `json:"refused_by"`
	RefusedChance float64       `json:"refused_chance"`
	LookFirst     []Worth       `json:"look_first"`
	Unmet         []string      `json:"unmet"`
	Grades        []Graded      `json:"grades,omitempty"`
	Pieces        []PieceResult `json:"pieces,omitempty"`
	Sets          *int          `json:"sets,omitempty"`
	SetsRange     *Range        `json:"sets_range,omitempty"`
	Used          *float64      `json:"used_share,omitempty"` // of the cuttable area, in pieces of the layout
	// Substance where pieces were laid, by the map of the readings.
	Substance []PieceSubstance `json:"substance,omitempty"`
	Warnings  []string         `json:"warnings,omitempty"`
	Files     []string         `json:"files,omitempty"` // cut plans written
}

// ZoneResult is the cuttable part of a zone.
type ZoneResult struct {
	Zone        hide.Zone `json:"zone"`
	AreaMM2     hide.MM2  `json:"area_mm2"`
	CuttableMM2 hide.MM2  `json:"cuttable_mm2"`
	Share       float64   `json:"cuttable_share"`
}

// PieceResult is what a hide offers a piece.
type PieceResult struct {
	Piece      string   `json:"piece"`
	Count      int      `json:"count"`    // in a set
	AreaMM2    hide.MM2 `json:"area_mm2"` // of one
	FitsMM2    hide.MM2 `json:"fits_mm2"` // leather that it can reach
	FitsRange  Range    `json:"fits_range_mm2"`
	Placed     int      `json:"placed"`      // in the layout
	Beside     int      `json:"beside"`      // of these, beyond the whole sets
	UpperBound int      `json:"upper_bound"` // no layout holds more of it alone
	Note       string   `json:"note,omitempty"`
}

// Evaluate computes everything that the command prints for one chart, folded.
// pieces may be nil. Errors: those of Cuttable, LayOut and the pieces' looks.
func Evaluate(ctx context.Context, chart hide.Chart, look Look, pieces *Pieces, o Options) (Result, *Layout, error) {
	cut, err := Cuttable(chart, look, o.Params)
	if err != nil {
		return Result{}, nil, err
	}
	return EvaluateCut(ctx, chart, cut, pieces, o)
}

// EvaluateCut is Evaluate for a look that was cut already.
func EvaluateCut(ctx context.Context, chart hide.Chart, cut Cut, pieces *Pieces, o Options) (Result, *Layout, error) {
	r := Result{Hide: chart.Capture.ID, Look: cut.Look, AreaMM2: cut.HideMM2, CuttableMM2: cut.CuttableMM2, CuttableShare: cut.CuttableShare,
		Band: BandWord(cut.CuttableShare.Median), Refused: orEmpty(cut.Refused), RefusedChance: cut.RefusedChance,
		LookFirst: orEmpty(cut.LookFirst), Unmet: orEmpty(cut.Unmet), Zones: []ZoneResult{}}
	for _, z := range cut.Zones {
		r.Zones = append(r.Zones, ZoneResult{z.Zone, z.Area, z.Cuttable, z.Share})
	}
	for _, rule := range o.Grades {
		g, err := GradeHide(chart, rule, o.Likely)
		if err != nil {
			return Result{}, nil, err
		}
		r.Grades = append(r.Grades, g)
	}
	if pieces == nil {
		return r, nil, nil
	}
	r.Warnings = pieces.Warnings
	layout, err := r.tryPieces(ctx, chart, cut, *pieces, o)
	return r, layout, err
}

func orEmpty[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

// tryPieces fills in the pieces' part.
func (r *Result) tryPieces(ctx context.Context, chart hide.Chart, cut Cut, pieces Pieces, o Options) (*Layout, error) {
	boards, looks, err := boardsFor(chart, cut, pieces.List, o)
	if err != nil {
		return nil, err
	}
	most := o.Sets
	for i, p := range pieces.List {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		reach, err := boards[i].reachParts(p, looks)
		if err != nil {
			return nil, err
		}
		x := PieceResult{Piece: p.Name, Count: p.Count, AreaMM2: p.Area(), FitsMM2: reach.Usable, UpperBound: reach.UpperBound, Note: noteOn(p, chart, reach)}
		if x.FitsRange, err = boards[i].cut.fitsRange(p, boards[i], reach.Usable); err != nil {
			return nil, err
		}
		r.Pieces = append(r.Pieces, x)
		if sets := max(1, reach.UpperBound/p.Count); most == 0 || sets < most {
			most = sets
		}
	}
	plain := make([]*Board, len(boards))
	for i, b := range boards {
		plain[i] = b.Board
	}
	params := LayoutParams{Gap: pieces.Gap, MostSets: most, FillUp: o.Sets == 0, Tries: o.Tries, Seed: o.Seed, TimeLimit: o.TimeLimit, Looks: looks}
	layout, err := LayOut(plain, pieces.List, params)
	if err != nil {
		return nil, err
	}
	for i := range r.Pieces {
		r.Pieces[i].Placed, r.Pieces[i].Beside = layout.CountOf(i), layout.ExtraOf(i)
	}
	r.Substance = placedSubstance(chart, pieces.List, layout)
	r.Sets, r.Used = &layout.Sets, &layout.Used
	if layout.Stopped {
		r.Warnings = append(r.Warnings, words("the search for a better layout was ended by its time limit after %d tries: another run may differ", layout.Tried))
	}
	params.MostSets = o.Sets // a drawing may hold more than the charted state could
	sets, err := setsRange(boards, looks, pieces, params, layout.Sets)
	if err != nil {
		return nil, err
	}
	r.SetsRange = &sets
	return &layout, nil
}

// lookBoard is the board of a look and what it was cut from.
type lookBoard struct {
	*Board
	cut Cut
}

// boardsFor gives each piece the board of its look, and the boards of all looks by
// name, on one grid; the hide's look has the name "".
func boardsFor(chart hide.Chart, cut Cut, list []Piece, o Options) ([]lookBoard, map[string]*Board, error) {
	names, cuts := []string{""}, []Cut{cut}
	need := func(name, by string) error {
		if slices.Contains(names, name) {
			return nil
		}
		look, err := FindLook(name)
		if err != nil {
			return hide.Wrapf(hide.KindOf(err), err, "piece %q", by)
		}
		c, err := Cuttable(chart, look, o.Params)
		names, cuts = append(names, name), append(cuts, c)
		return err
	}
	for _, p := range list {
		if err := need(p.Look, p.Name); err != nil {
			return nil, nil, err
		}
		for _, part := range p.Parts {
			if err := need(part.Look, p.Name); err != nil {
				return nil, nil, err
			}
		}
	}
	regions := make([]hide.Shape, len(cuts))
	for i, c := range cuts {
		regions[i] = c.Region
	}
	boards, err := NewBoards(chart.Outline, regions, o.FitCell, chart.Backbone)
	if err != nil {
		return nil, nil, err
	}
	looks := map[string]*Board{}
	for i, n := range names {
		looks[n] = boards[i]
	}
	out := make([]lookBoard, len(list))
	for i, p := range list {
		k := slices.Index(names, p.Look)
		out[i] = lookBoard{boards[k], cuts[k]}
	}
	return out, looks, nil
}

// noteOn says in words why a piece does not fit, or what its thickness asks.
func noteOn(p Piece, chart hide.Chart, reach PieceFit) string {
	w, h := p.Size()
	box, _ := boxOf(hide.Shape{chart.Outline})
	diagonal := box.Min.Distance(box.Max)
	switch {
	case max(w, h) > diagonal:
		return words("larger than the hide: %.0f mm long, the hide measures %.0f mm from corner to corner", max(w, h), diagonal)
	case reach.Usable == 0 && reach.UpperBound == 0:
		return "fits nowhere at the allowed turns"
	case reach.Usable == 0:
		return "no place was found; a finer raster may find one"
	}
	for _, s := range chart.Capture.Substance {
		if fit := FitSubstance(s.MM, p.Substance); fit != Fits {
			return words("%s: a reading of %.2f mm (%s), the piece asks for %g–%g mm", fit, s.MM, placeWords(s), p.Substance[0], p.Substance[1])
		}
	}
	return ""
}
