package calibrate

import (
	"fmt"
	"image"
	"math"
	"slices"

	"hidechart/hide"
)

// Tile is one of several photographs of a table, by its tags.
type Tile struct {
	Size image.Point
	Seen []Sighting // as FindTags returns them
}

// tiles are the photographs of one table, fitted together.
type tiles struct {
	states []solution
	cov    [][]float64 // inner geometry, then the pose of each photograph
	mosaic Mosaic
}

// SolveTiles poses several photographs of one table, each by its own tags (at
// least four), together: where all are of one size they are taken to be one
// camera's, and the lens, where there is no lens file, is fitted to the tags of all;
// a tag that two of them show is one tag with one error of place. Photographs of
// several sizes are fitted each by itself. The views come in the order of the
// tiles; Fit.Tags number them from 1. Errors: as Solve, naming the photograph as
// name does. Flags: as Solve, once for all, and tiles_disagree where tags that two photographs
// show lie apart.
func SolveTiles(rig Rig, in []Tile, lens *Lens, p Params, name func(tile int) string) ([]View, Fit, error) {
	problems, states, unknown, err := eachTile(rig, in, lens, p, name)
	if err != nil {
		return nil, Fit{}, err
	}
	t := &tiles{states: states}
	if sameSizes(in) && len(in) > 1 {
		if states, err = oneCamera(rig, in, problems, states, p); err != nil {
			return nil, Fit{}, err
		}
		if t.states, t.cov, err = newJoint(problems).settle(states); err != nil {
			return nil, Fit{}, err
		}
	} else {
		t.cov = apartCov(states)
	}
	for i := range t.states {
		t.mosaic = append(t.mosaic, t.states[i].view())
	}
	fit, err := t.report(rig, problems, name)
	if err != nil {
		return nil, Fit{}, err
	}
	fit.Flags = t.flags(fit, problems, unknown, lens == nil, name)
	return t.mosaic, fit, nil
}

// eachTile fits every photograph by itself: a start for the fit of all, and the
// place where too few tags or wrong ones are told.
func eachTile(rig Rig, in []Tile, lens *Lens, p Params, name func(int) string) (problems []*problem, states []solution, unknown []int, err error) {
	for i, t := range in {
		pr, s, strange, err := settled(rig, t.Size, t.Seen, lens, p)
		if err == nil {
			err = pr.contradiction(pr.report(s))
		}
		if err != nil {
			return nil, nil, nil, hide.Wrapf(hide.NotMeasurable, err, "%s", name(i))
		}
		problems, states, unknown = append(problems, pr), append(states, s), append(unknown, strange...)
	}
	slices.Sort(unknown)
	return problems, states, slices.Compact(unknown), nil
}

func sameSizes(in []Tile) bool {
	for _, t := range in {
		if t.Size != in[0].Size {
			return false
		}
	}
	return true
}

// oneCamera brings all photographs to one lens, that of the photograph which
// knows its focal length best, and to one error of each tag: the start of the fit
// of all.
func oneCamera(rig Rig, in []Tile, problems []*problem, states []solution, p Params) ([]solution, error) {
	best := 0
	for i := range states {
		if states[i].cov[pFocal][pFocal] < states[best].cov[pFocal][pFocal] {
			best = i
		}
	}
	held := &Lens{Camera: states[best].camera()} // no uncertainty: held
	out := make([]solution, len(in))
	scatter, turn, size := 0.0, 0.0, 0.0
	for i, t := range in {
		_, s, _, err := settled(rig, t.Size, t.Seen, held, p)
		if err != nil {
			return nil, err
		}
		out[i] = s
		own, n := &states[i], float64(len(in))
		scatter, turn, size = scatter+own.tagU*own.tagU/n, turn+own.turnU*own.turnU/n, size+own.print/n
	}
	own := map[int]tagError{}
	for i := range out {
		s := &out[i]
		s.inner, s.k3, s.noise = states[best].inner, states[best].k3, states[i].noise
		s.tagU, s.turnU, s.print = math.Sqrt(scatter), math.Sqrt(turn), size
		for k, seen := range problems[i].seen {
			if e, ok := own[seen.ID]; ok {
				s.tags[k] = e
			} else {
				own[seen.ID] = s.tags[k]
			}
		}
	}
	return out, nil
}

// apartCov is the covariance of photographs fitted each by itself: the first's
// lens stands for all.
func apartCov(states []solution) [][]float64 {
	n := innerN + perPose*len(states)
	cov := make([][]float64, n)
	for i := range cov {
		cov[i] = make([]float64, n)
	}
	at := func(tile, i int) int {
		if i >= pFocal {
			return i - pFocal
		}
		return innerN + perPose*tile + i
	}
	for t, s := range states {
		for i := range cameraN {
			for k := range cameraN {
				if t == 0 || i < pFocal && k < pFocal {
					cov[at(t, i)][at(t, k)] = s.cov[i][k]
				}
			}
		}
	}
	return cov
}

// report sums the tiles up.
func (t *tiles) report(rig Rig, problems []*problem, name func(int) string) (Fit, error) {
	first := t.states[0]
	f := Fit{tiles: t, state: first, PrintScale: math.Exp(first.print)}
	good, moved := map[int]bool{}, map[int]bool{}
	square, n := 0.0, 0.0
	box := hide.Ring{{X: 1e9, Y: 1e9}, {X: -1e9, Y: -1e9}}
	for i, pr := range problems {
		one := t.one(i)
		own := pr.report(one)
		if err := pr.contradiction(own); err != nil {
			return Fit{}, hide.Wrapf(hide.NotMeasurable, err, "%s", name(i))
		}
		for _, tag := range own.Tags {
			tag.Tile = i + 1
			f.Tags = append(f.Tags, tag)
			c := rig.Centres[tag.ID]
			box[0].X, box[0].Y, box[1].X, box[1].Y = min(box[0].X, c.X), min(box[0].Y, c.Y), max(box[1].X, c.X), max(box[1].Y, c.Y)
			good[tag.ID] = good[tag.ID] || !slices.Contains(own.Moved, tag.ID)
			moved[tag.ID] = moved[tag.ID] || slices.Contains(own.Moved, tag.ID)
		}
		square, n = square+own.RMSPX*own.RMSPX*float64(own.Inliers), n+float64(own.Inliers)
		f.HeightU = max(f.HeightU, own.HeightU)
		f.TagU = max(f.TagU, own.TagU)
	}
	f.RMSPX = math.Sqrt(square / n)
	for _, id := range rig.IDs() {
		switch {
		case moved[id]:
			f.Moved = append(f.Moved, id)
		case good[id]:
			f.Inliers++
		}
	}
	hull := hide.Ring{box[0], {X: box[1].X, Y: box[0].Y}, box[1], {X: box[0].X, Y: box[1].Y}}
	total := f.areaU(hull, true) / 2
	f.ScaleU = f.areaU(hull, false) / 2
	f.LensU = math.Sqrt(max(0, total*total-f.ScaleU*f.ScaleU))
	return f, nil
}

// one is a tile's solution with its own part of the covariance.
func (t *tiles) one(tile int) solution {
	s := t.states[tile]
	s.cov = make([][]float64, cameraN)
	at := func(i int) int {
		if i >= pFocal {
			return i - pFocal
		}
		return innerN + perPose*tile + i
	}
	for i := range s.cov {
		s.cov[i] = make([]float64, cameraN)
		for k := range s.cov[i] {
			s.cov[i][k] = t.cov[at(i)][at(k)]
		}
	}
	return s
}

// fewInTile is the number of tags below which none of a photograph's own could
// be told to have moved.
const fewInTile = 5

// apartMM is how far the same tag may lie apart in two photographs before a
// doubled edge could be taken for a flaw: the width of a fine scratch.
const apartMM = 1.0

func (t *tiles) flags(f Fit, problems []*problem, unknown []int, fitted bool, name func(int) string) []hide.Flag {
	var out []hide.Flag
	flag := func(code string, value float64, unit, format string, args ...any) {
		out = append(out, hide.Flag{Code: code, Text: fmt.Sprintf(format, args...), Value: value, Unit: unit})
	}
	p := problems[0].p
	if f.Inliers < p.FewTags {
		flag("few_tags", float64(f.Inliers), "tags", "measured from %d tags; %d or more halve the uncertainty", f.Inliers, p.FewTags)
	}
	for i, pr := range problems {
		if n := len(pr.seen); n < fewInTile {
			flag("few_tags", float64(n), "tags", "%s shows only %d tags: that one of them has moved could not be seen; let each photograph show %d or more", name(i), n, fewInTile)
		}
	}
	for _, id := range f.Moved {
		worst := hide.MM(0)
		for _, tag := range f.Tags {
			if tag.ID == id {
				worst = max(worst, tag.ResidualMM)
			}
		}
		flag("tag_moved", float64(worst), "mm", "tag %d lies %.1f mm from its place in rig.yaml; it was left out", id, float64(worst))
	}
	if hidden := t.hidden(problems); len(hidden) > 0 {
		flag("tag_hidden", float64(len(hidden)), "tags", "tags of rig.yaml in the picture but not seen: %s", idList(hidden))
	}
	if len(unknown) > 0 {
		flag("tag_unknown", float64(len(unknown)), "tags", "tags seen that rig.yaml does not list: %s", idList(unknown))
	}
	if fitted {
		flag("lens_from_tags", 200*f.LensU, "percent", "no lens file: the lens was fitted to this capture's tags and adds %s to the area's uncertainty", percentWords(200*f.LensU))
	}
	if a, b, mm := t.apart(problems); mm > apartMM {
		flag("tiles_disagree", mm, "mm", "%s and %s put the tags that both show %.1f mm apart: lines there may look double; give a lens file, or more tags", name(a), name(b), mm)
	}
	return out
}

// hidden lists the tags that no photograph shows though one of them should.
func (t *tiles) hidden(problems []*problem) []int {
	var in, seen []int
	for i, pr := range problems {
		in = append(in, pr.hidden(t.states[i])...)
		seen = append(seen, idsOf(pr.seen)...)
	}
	slices.Sort(in)
	return slices.DeleteFunc(slices.Compact(in), func(id int) bool { return slices.Contains(seen, id) })
}

// apart is the pair of photographs that put their common tags farthest apart,
// by the median of the corners, mm.
func (t *tiles) apart(problems []*problem) (a, b int, mm float64) {
	for i := range problems {
		for k := i + 1; k < len(problems); k++ {
			var d []float64
			for _, s := range problems[i].seen {
				for _, q := range problems[k].seen {
					for c := range 4 {
						if s.ID == q.ID && s.Good[c] && q.Good[c] {
							d = append(d, float64(t.mosaic[i].Ground(s.Corners[c], 0).Distance(t.mosaic[k].Ground(q.Corners[c], 0))))
						}
					}
				}
			}
			if m := median(d); m > mm {
				a, b, mm = i, k, m
			}
		}
	}
	return a, b, mm
}

// areaU is Fit.areaU for several photographs: each vertex is seen by those that
// make up the merged picture there, by their shares.
func (t *tiles) areaU(r hide.Ring, withLens bool) float64 {
	r = densified(r)
	seen := t.mosaic.sightOf(r)
	whole := math.Abs(float64(r.SignedArea()))
	if whole == 0 || t.cov == nil {
		return 0
	}
	area := func(views []View) float64 { return math.Abs(float64(seen.back(views).SignedArea())) }
	grad := make([]float64, len(t.cov))
	for i := range grad {
		plus, minus, h := t.stepped(i, 1), t.stepped(i, -1), t.step(i)
		grad[i] = (area(plus) - area(minus)) / (2 * h) / whole
	}
	cov := t.cov
	if !withLens {
		cov = t.lensHeld()
	}
	sum := 0.0
	for i := range grad {
		for k := range grad {
			sum += grad[i] * grad[k] * cov[i][k]
		}
	}
	return math.Sqrt(max(0, sum))
}

// step of an unknown's numeric derivative, and what it belongs to.
func (t *tiles) step(i int) float64 {
	h := t.states[0].differences()
	if i < innerN {
		return h[pFocal+i]
	}
	return h[(i-innerN)%perPose]
}

// stepped are the views after a step of one unknown, forward or back.
func (t *tiles) stepped(i int, sign float64) []View {
	d := make([]float64, cameraN)
	out := slices.Clone(t.mosaic)
	if i >= innerN {
		tile := (i - innerN) / perPose
		d[(i-innerN)%perPose] = sign * t.step(i)
		s := t.states[tile].stepped(d)
		out[tile] = s.view()
		return out
	}
	d[pFocal+i] = sign * t.step(i)
	for k := range t.states {
		s := t.states[k].stepped(d)
		out[k] = s.view()
	}
	return out
}

// lensHeld is the covariance when the lens terms (k1 and on) are known: they are
// moved behind the rest first.
func (t *tiles) lensHeld() [][]float64 {
	const from, terms = pK1 - pFocal, cameraN - pK1
	n := len(t.cov)
	order := make([]int, 0, n)
	for i := range n {
		if i < from || i >= from+terms {
			order = append(order, i)
		}
	}
	for i := range terms {
		order = append(order, from+i)
	}
	moved := make([][]float64, n)
	for i := range moved {
		moved[i] = make([]float64, n)
		for k := range moved[i] {
			moved[i][k] = t.cov[order[i]][order[k]]
		}
	}
	moved = held(moved, n-terms)
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, n)
	}
	for i := range n {
		for k := range n {
			out[order[i]][order[k]] = moved[i][k]
		}
	}
	return out
}
