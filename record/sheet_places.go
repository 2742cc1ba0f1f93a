package record

import (
	"context"
	"database/sql"
	"fmt"
	"maps"
	"slices"

	"hidechart/hide"
	"hidechart/record/stats"
)

// sheetPlaces folds the hides of a supplier or a lot into the hide frame. A
// month has no maps: its hides come from everywhere.
func (s *Store) sheetPlaces(ctx context.Context, out *hide.Sheet) error {
	if out.Scope.Month != "" {
		return nil
	}
	for _, form := range []string{hide.WholeForm, hide.SideForm} {
		f, err := s.folded(ctx, out.Scope, form)
		if err != nil {
			return err
		}
		var tested []stats.KindMap
		for _, kind := range hide.Kinds() {
			m := f.kinds[kind]
			if m == nil || sum(m.Marks[:]) == 0 {
				continue
			}
			tested = append(tested, *m)
			left, right := f.lean[kind][0], f.lean[kind][1]
			out.Maps = append(out.Maps, hide.HeatMap{Form: form, Kind: kind, Hides: f.hides, Across: stats.GridV, Along: stats.GridU,
				Marks: slices.Clone(m.Marks[:]), Outline: f.outline, Left: left, Right: right, SidesP: stats.SignTest(left, right)})
		}
		for _, p := range stats.Places(tested, f.outline) {
			out.Places = append(out.Places, sheetPlace(form, p))
		}
	}
	return nil
}

func sum(v []int) int {
	n := 0
	for _, x := range v {
		n += x
	}
	return n
}

func sheetPlace(form string, p hide.Place) hide.SheetPlace {
	zone := zoneAt(p.U, p.V)
	return hide.SheetPlace{Form: form, Zone: zone, Place: p,
		Text: fmt.Sprintf("%s, %s: on %d of %d hides, %.1f expected by chance", p.Kind.Words(), PlaceWords(form, zone, p.U, p.V), p.Hides, p.Of, p.Expected)}
}

// PlaceWords says where a place lies: zone, half, and how far along the backbone.
func PlaceWords(form string, zone hide.Zone, u, v float64) string {
	half := ""
	switch {
	case form != hide.WholeForm:
	case v < -0.15: // nearer to the backbone than a hand's breadth it is on it
		half = " left"
	case v > 0.15:
		half = " right"
	default:
		half = " on the backbone"
	}
	return fmt.Sprintf("%s%s, %.0f %% of the way from neck to tail", zone, half, 100*u)
}

// zoneAt names the zone of a place on the standard outline, which has no legs: neck
// to 12 % of the backbone, shoulder to 35 %, belly beyond 72 % of the half width, of
// it the flank before the hind leg. These are the lines that plane.HideFrame draws on each
// hide by its own shape, so a place near a line may carry its neighbour's name.
func zoneAt(u, v float64) hide.Zone {
	const neckTo, shoulderTo, bellyFrom, flankFrom, flankTo = 0.12, 0.35, 0.72, 0.67, 0.80
	switch {
	case u < neckTo:
		return hide.Neck
	case max(v, -v) > bellyFrom && u >= flankFrom && u < flankTo:
		return hide.Flank
	case max(v, -v) > bellyFrom:
		return hide.Belly
	case u < shoulderTo:
		return hide.Shoulder
	}
	return hide.Butt
}

// fold is a group's hides of one form in the hide frame.
type fold struct {
	hides   int
	outline hide.HalfWidths
	kinds   map[hide.Kind]*stats.KindMap
	lean    map[hide.Kind]*[2]int // hides with more on the left, on the right
}

func newFold(form string) *fold {
	f := &fold{kinds: map[hide.Kind]*stats.KindMap{}, lean: map[hide.Kind]*[2]int{}, outline: stats.Even(form == hide.SideForm)}
	for _, k := range hide.Kinds() {
		f.kinds[k], f.lean[k] = &stats.KindMap{Kind: k, Times: map[int]int{}}, &[2]int{}
	}
	return f
}

// folded reads the sums of places; a lot, which has none of its own, is added up
// from its hides.
func (s *Store) folded(ctx context.Context, sc hide.SheetScope, form string) (*fold, error) {
	f := newFold(form)
	if sc.Lot != "" {
		return f, s.foldLot(ctx, sc, form, f)
	}
	where, args := scope(hide.SheetScope{Supplier: sc.Supplier, Article: sc.Article}, "")
	where = " x JOIN suppliers s ON s.id = x.supplier_id JOIN articles a ON a.id = x.article_id WHERE x.form = ? AND " + where
	args = append([]any{form}, args...)
	err := s.each(ctx, func(r *sql.Rows) error {
		var kind hide.Kind
		var cell, hides, marks int
		if err := r.Scan(&kind, &cell, &hides, &marks); err != nil {
			return err
		}
		if m := f.kinds[kind]; m != nil && cell >= 0 && cell < stats.Cells {
			m.Hides[cell], m.Marks[cell] = hides, marks
		}
		return nil
	}, "SELECT x.kind, x.cell, SUM(x.hides), SUM(x.marks) FROM place_sums"+where+" GROUP BY x.kind, x.cell", args...)
	if err != nil {
		return nil, err
	}
	err = s.each(ctx, func(r *sql.Rows) error {
		var kind hide.Kind
		var marks, lean, hides int
		if err := r.Scan(&kind, &marks, &lean, &hides); err != nil {
			return err
		}
		f.times(kind, marks, lean, hides)
		return nil
	}, "SELECT x.kind, x.marks, x.lean, SUM(x.hides) FROM times_sums"+where+" GROUP BY x.kind, x.marks, x.lean", args...)
	if err != nil {
		return nil, err
	}
	shape := map[int][]int64{}
	err = s.each(ctx, func(r *sql.Rows) error {
		var step int
		v := make([]int64, 3)
		if err := r.Scan(&step, &v[0], &v[1], &v[2]); err != nil {
			return err
		}
		shape[step] = v
		return nil
	}, "SELECT x.step, SUM(x.hides), SUM(x.left_sum), SUM(x.right_sum) FROM shape_sums"+where+" GROUP BY x.step", args...)
	f.shaped(form, shape)
	return f, err
}

func (f *fold) times(kind hide.Kind, marks, lean, hides int) {
	m := f.kinds[kind]
	if m == nil || hides == 0 {
		return
	}
	m.Times[marks] += hides
	if lean < 0 {
		f.lean[kind][0] += hides
	} else if lean > 0 {
		f.lean[kind][1] += hides
	}
}

// shaped sets the outline from the sums of half widths.
func (f *fold) shaped(form string, shape map[int][]int64) {
	if len(shape) == 0 || shape[0] == nil || shape[0][0] == 0 {
		return
	}
	f.hides = int(shape[0][0])
	f.outline = hide.HalfWidths{}
	for _, step := range slices.Sorted(maps.Keys(shape)) {
		v := shape[step]
		n := 1e4 * float64(v[0])
		f.outline.Right = append(f.outline.Right, float64(v[2])/n)
		if form == hide.WholeForm {
			f.outline.Left = append(f.outline.Left, float64(v[1])/n)
		}
	}
}

// foldLot adds up a lot's hides as book does for a supplier's.
func (s *Store) foldLot(ctx context.Context, sc hide.SheetScope, form string, f *fold) error {
	rows, err := s.lotRows(ctx, sc, form)
	if err != nil {
		return err
	}
	shape := map[int][]int64{}
	for _, h := range rows {
		one := h.row.sums()
		for k, v := range one.place {
			m := f.kinds[hide.Kind(k.kind)]
			m.Hides[k.cell] += int(v[0])
			m.Marks[k.cell] += int(v[1])
		}
		for k, v := range one.times {
			f.times(hide.Kind(k.kind), k.marks, k.lean, int(v[0]))
		}
		for k, v := range one.shape {
			if shape[k] == nil {
				shape[k] = make([]int64, 3)
			}
			for i := range v {
				shape[k][i] += v[i]
			}
		}
	}
	f.shaped(form, shape)
	return nil
}

// lotHide is a hide of a lot with its marks.
type lotHide struct {
	name string
	row  row
}

func (s *Store) lotRows(ctx context.Context, sc hide.SheetScope, form string) ([]lotHide, error) {
	where, args := scope(sc, "h.month")
	args = append(args, form)
	var out []lotHide
	at := map[int64]int{}
	err := s.each(ctx, func(r *sql.Rows) error {
		var id int64
		h := lotHide{row: row{zones: map[string]int64{}}}
		if err := r.Scan(&id, &h.name, &h.row.form, &h.row.shape, &h.row.area); err != nil {
			return err
		}
		at[id] = len(out)
		out = append(out, h)
		return nil
	}, "SELECT h.id, h.name, h.form, h.shape, h.area_mm2"+fromHides+where+" AND h.form = ? ORDER BY h.id", args...)
	if err != nil {
		return nil, err
	}
	err = s.each(ctx, func(r *sql.Rows) error {
		var id int64
		var p placed
		if err := r.Scan(&id, &p.kind, &p.zone, &p.area, &p.placed, &p.u, &p.v); err != nil {
			return err
		}
		if i, ok := at[id]; ok {
			out[i].row.marks = append(out[i].row.marks, p)
		}
		return nil
	}, "SELECT d.hide_id, d.kind, d.zone, d.area_mm2, d.placed, d.u, d.v FROM defects d WHERE d.counts = 1 AND d.hide_id IN (SELECT h.id"+fromHides+where+" AND h.form = ?) ORDER BY d.hide_id, d.n", args...)
	return out, err
}

// natural are the kinds that nature puts in one place on every hide, more closely
// than the grid of places can tell: neck wrinkles, veins, looseness in the flanks. No
// machine makes them.
func natural(k hide.Kind) bool { return k == hide.Wrinkle || k == hide.Vein || k == hide.Loose }

// leastHabit is the number of marks on a supplier's other lots from which they tell
// where that supplier's hides carry them anyway, as a brand; such a place is the supplier's, and its
// sheet names it.
const leastHabit = 20

// sheetRepeats looks for the same mark from hide to hide of a lot.
func (s *Store) sheetRepeats(ctx context.Context, out *hide.Sheet) error {
	if out.Scope.Lot == "" {
		return nil
	}
	limit := (1 - stats.Level) / float64(len(hide.Kinds()))
	for _, form := range []string{hide.WholeForm, hide.SideForm} {
		rows, err := s.lotRows(ctx, out.Scope, form)
		if err != nil || len(rows) < 3 { // below three hides there is no pattern
			if err != nil {
				return err
			}
			continue
		}
		own, err := s.folded(ctx, out.Scope, form)
		if err != nil {
			return err
		}
		others, err := s.folded(ctx, hide.SheetScope{}, form)
		if err != nil {
			return err
		}
		lotsOf, err := s.folded(ctx, hide.SheetScope{Supplier: out.Lots[0].Supplier}, form)
		if err != nil {
			return err
		}
		for _, kind := range hide.Kinds() {
			back := others.kinds[kind].Marks
			for c := range back {
				back[c] -= own.kinds[kind].Marks[c]
			}
			if natural(kind) {
				continue
			}
			marks, zones := marksOf(rows, kind)
			expected := stats.Background(back, own.outline)
			if habit := lotsOf.kinds[kind].Marks; sum(habit[:])-sum(own.kinds[kind].Marks[:]) >= leastHabit {
				for c := range habit {
					habit[c] -= own.kinds[kind].Marks[c]
				}
				expected = stats.Either(expected, stats.Background(habit, own.outline))
			}
			for _, a := range stats.Repeats(marks, expected, own.outline, limit) {
				out.Repeats = append(out.Repeats, sheetRepeat(form, kind, rows, zones, a))
			}
		}
	}
	return nil
}

func marksOf(rows []lotHide, kind hide.Kind) (marks []stats.Mark, zones []string) {
	for i, h := range rows {
		for _, m := range h.row.marks {
			if m.placed && m.kind == string(kind) {
				marks, zones = append(marks, stats.Mark{Hide: i, U: m.u, V: m.v}), append(zones, m.zone)
			}
		}
	}
	return marks, zones
}

func sheetRepeat(form string, kind hide.Kind, rows []lotHide, zones []string, a stats.Again) hide.SheetRepeat {
	r := hide.SheetRepeat{Form: form, Kind: kind, U: a.U, V: a.V, Of: len(rows), Expected: a.Expected, P: a.P}
	votes := map[string]int{}
	for _, m := range a.Marks {
		votes[zones[m]]++
		if votes[zones[m]] > votes[string(r.Zone)] {
			r.Zone = hide.Zone(zones[m])
		}
	}
	for _, h := range a.Hides {
		r.Hides = append(r.Hides, rows[h].name)
	}
	r.Text = fmt.Sprintf("%s at one place, %s: %d of %d hides of the lot, %.1f expected by chance (p = %.3f): %s",
		kind.Words(), PlaceWords(form, r.Zone, r.U, r.V), len(r.Hides), r.Of, r.Expected, r.P, cause(kind))
	return r
}

// cause is what to look for when a kind comes back at one place.
func cause(k hide.Kind) string {
	switch k {
	case hide.Scar, hide.Bites, hide.Wart, hide.Brand:
		return "made before death, so look for a custom of one farm"
	}
	return "look for a fault of a machine, a knife, a tool or a rack"
}
