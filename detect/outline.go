package detect

import (
	"context"
	"math"
	"slices"

	"golang.org/x/sync/errgroup"

	"hidechart/hide"
	"hidechart/pix"
)

// Outline is the hide's edge with its holes as inner rings.
type Outline struct {
	Polygon hide.Polygon
	Holes   []HoleSeen // one per inner ring, in the same order
	EdgeU   hide.MM    // standard uncertainty of the edge's place common to all of it
	Blur    hide.MM    // standard deviation of the photograph's blur at the edge; 0: not known
	Flags   []hide.Flag
}

// HoleSeen says how sure an inner ring is.
type HoleSeen struct {
	Probability float64
	Lights      []hide.Light
}

// Refine places the edge on the fine grid. Blur mixes leather and table in
// linear light, so the edge is where the light crosses half-way between the
// leather's level and the table's, both read beside it; with several channels
// the mixing share is the projection on the line between the two colours.
// fine holds top, and back if there is one; its grid covers the hide with at
// least EdgeBand around. The ring is true to about a tenth of a pixel of the
// photograph where the levels are even.
func (f *Found) Refine(ctx context.Context, fine Photos, p OutlineParams) (Outline, error) {
	if err := fine.check(); err != nil {
		return Outline{}, err
	}
	f.near = f.nearness(p)
	top, back, err := f.bothShares(fine, p)
	if err != nil {
		return Outline{}, err
	}
	out := Outline{}
	edge := top
	if top.contrast < p.MinContrast {
		out.Flags = append(out.Flags, hide.Flag{Code: "faint_edge",
			Text: "leather and table are nearly alike under top light; a table of another colour places the edge better"})
		if back != nil && back.contrast > top.contrast {
			edge = *back
		}
	}
	if err := ctx.Err(); err != nil {
		return Outline{}, err
	}
	holes := f.holesOpen(fine.Grid, top, back, p)
	return f.trace(fine.Grid, edge, holes, out, p)
}

// bothShares are those of top and, if there is one, of back light.
func (f *Found) bothShares(fine Photos, p OutlineParams) (top share, back *share, err error) {
	var group errgroup.Group
	group.Go(func() (err error) {
		top, err = f.shares(hide.Top, fine, p)
		return err
	})
	if _, ok := fine.Lights[hide.Back]; ok {
		group.Go(func() error {
			b, err := f.shares(hide.Back, fine, p)
			back = &b
			return err
		})
	}
	err = group.Wait()
	return top, back, err
}

// share is, per fine pixel, how much of it is leather: +1 leather's level, -1
// the table's, 0 the edge.
type share struct {
	field
	contrast float64 // median relative difference of the two levels along the edge
}

// shares computes the share under one light. Levels live on the coarse grid.
func (f *Found) shares(l hide.Light, fine Photos, p OutlineParams) (share, error) {
	lv, err := f.levels(l, p)
	if err != nil {
		return share{}, err
	}
	g := fine.Grid
	s := share{field: newField(g.Width, g.Height), contrast: lv.contrast}
	im := fine.Lights[l]
	data, n := im.Uint16s(), im.Channels()
	near, look := f.near, newLookup(g, f.grid)
	rows(g.Height, func(y int) {
		row, pixels := s.v[y*g.Width:(y+1)*g.Width], data[y*g.Width*n:(y+1)*g.Width*n]
		var end int
		for x := 0; x < g.Width; x = end {
			at := look.at(x, y)
			for end = x + 1; end < g.Width && look.column[end] == look.column[x]; {
				end++
			}
			switch near[at] {
			case outsideBand:
				for i := x; i < end; i++ {
					row[i] = -1
				}
			case insideBand: // only asked for holes, which are far darker or lighter than a level's step
				inside := lv.step(at, 0, 0)
				for i := x; i < end; i++ {
					row[i] = inside.share(pixels[i*n : i*n+n])
				}
			default:
				for i := x; i < end; i++ {
					between := lv.step(look.above[y]*look.width+look.left[i], look.fromLeft[i], look.fromAbove[y])
					row[i] = between.share(pixels[i*n : i*n+n])
				}
			}
		}
	})
	return s.quieted(f, fine.Grid)
}

func clampedIndex(at pix.Point, g pix.Grid) int {
	x := min(max(int(math.Round(float64(at.X))), 0), g.Width-1)
	y := min(max(int(math.Round(float64(at.Y))), 0), g.Height-1)
	return y*g.Width + x
}

// places of a coarse pixel against the coarse edge
const (
	outsideBand = iota // bare table for sure
	inBand             // the edge may be here
	insideBand         // leather for sure, but for holes
)

func (f *Found) nearness(p OutlineParams) []uint8 {
	grown, errG := grow(f.leather, f.grid, p.EdgeBand)
	shrunk, errS := shrink(f.leather, f.grid, p.EdgeBand)
	out := make([]uint8, len(f.leather))
	if errG != nil || errS != nil {
		return out
	}
	for i := range out {
		switch {
		case shrunk[i]:
			out[i] = insideBand
		case grown[i]:
			out[i] = inBand
		}
	}
	return out
}

// levels are the leather's and the table's linear light per channel on the
// coarse grid.
type levels struct {
	grid           pix.Grid
	leather, table []field
	contrast       float64
}

// levels reads both sides a setback off the edge, in a Gaussian window; where
// no table is near, the table's model stands in for it.
func (f *Found) levels(l hide.Light, p OutlineParams) (levels, error) {
	log, model := f.logs[l], f.table[l]
	in, err := shrink(f.solid, f.grid, p.LevelSetback)
	if err != nil {
		return levels{}, err
	}
	grown, err := grow(f.leather, f.grid, p.LevelSetback)
	if err != nil {
		return levels{}, err
	}
	bare := make([]bool, len(grown))
	for i := range bare {
		bare[i] = !grown[i] && !f.tags[i]
		in[i] = in[i] && !f.tags[i]
	}
	lv := levels{grid: f.grid}
	sigma := hide.PX(p.LevelWindow / f.grid.MMPerPX)
	onLeather, err := newMeanWindow(in, f.grid.Width, sigma)
	if err != nil {
		return levels{}, err
	}
	onTable, err := newMeanWindow(bare, f.grid.Width, sigma)
	if err != nil {
		return levels{}, err
	}
	for c := range log {
		leather, table, err := levelPair(log[c], model.log[c], onLeather, onTable)
		if err != nil {
			return levels{}, err
		}
		lv.leather, lv.table = append(lv.leather, leather), append(lv.table, table)
	}
	lv.contrast = f.contrast(lv)
	return lv, nil
}

// trusted is the share of the window that must be bare table for its own mean
// to count in full against the model's.
const trusted = 0.05

func levelPair(log, model field, onLeather, onTable meanWindow) (leather, table field, err error) {
	in, bare := onLeather.in, onTable.in
	light, err := pix.Exp(log.v)
	if err != nil {
		return leather, table, err
	}
	tableLight, err := pix.Exp(model.v)
	if err != nil {
		return leather, table, err
	}
	linear, flat := newField(log.w, log.h), newField(log.w, log.h)
	rows(log.h, func(y int) {
		for i := y * log.w; i < (y+1)*log.w; i++ {
			if in[i] {
				linear.v[i] = light[i] - logFloor
			}
			if bare[i] { // the table's light over its model: levels out what the model knows
				flat.v[i] = light[i] / tableLight[i]
			}
		}
	})
	leather, err = onLeather.mean(linear)
	if err != nil {
		return leather, table, err
	}
	var whole float64
	var n int
	for i, ok := range in {
		if ok {
			whole += float64(linear.v[i])
			n++
		}
	}
	for i := range leather.v {
		if onLeather.share.v[i] == 0 && n > 0 {
			leather.v[i] = float32(whole / float64(n))
		}
	}
	ratio, err := onTable.mean(flat)
	if err != nil {
		return leather, table, err
	}
	table = newField(log.w, log.h)
	rows(log.h, func(y int) {
		for i := y * log.w; i < (y+1)*log.w; i++ {
			w := math.Min(1, float64(onTable.share.v[i])/trusted)
			r := w*float64(ratio.v[i]) + (1 - w)
			table.v[i] = float32(r*float64(tableLight[i])) - logFloor
		}
	})
	return leather, table, nil
}

// contrast is the median over the coarse edge of |leather − table| / the larger.
func (f *Found) contrast(lv levels) float64 {
	var all []float64
	for i, n := range f.near {
		if n != inBand {
			continue
		}
		var best float64
		for c := range lv.leather {
			a, b := float64(lv.leather[c].v[i]), float64(lv.table[c].v[i])
			best = math.Max(best, math.Abs(a-b)/math.Max(math.Max(a, b), 1))
		}
		all = append(all, best)
	}
	return median(all)
}

// step is the line from the table's colour to the leather's at a place.
type step struct {
	d, mid [3]float32 // per channel: leather less table, and half-way
	scale  float32    // two over the square of its length; 0 where the two are alike
}

// step interpolates the levels from coarse pixel i on.
func (lv levels) step(i int, fx, fy float32) step {
	s := step{}
	var square float32
	for c := range lv.leather {
		a, b := lv.leather[c].v[i], lv.table[c].v[i]
		if fx != 0 || fy != 0 {
			a, b = lv.leather[c].bilinear(i, fx, fy), lv.table[c].bilinear(i, fx, fy)
		}
		s.d[c], s.mid[c] = a-b, (a+b)/2
		square += s.d[c] * s.d[c]
	}
	if square >= 1 {
		s.scale = 2 / square
	}
	return s
}

// share projects the pixel on the line.
func (s *step) share(pixel []uint16) float32 {
	if s.scale == 0 {
		return 1
	}
	dot := s.d[0] * (float32(pixel[0]) - s.mid[0])
	if len(pixel) == 3 {
		dot += s.d[1]*(float32(pixel[1])-s.mid[1]) + s.d[2]*(float32(pixel[2])-s.mid[2])
	}
	return min(max(dot*s.scale, -1), 1)
}

func (f field) bilinear(i int, fx, fy float32) float32 {
	a := f.v[i]*(1-fx) + f.v[i+1]*fx
	b := f.v[i+f.w]*(1-fx) + f.v[i+f.w+1]*fx
	return a*(1-fy) + b*fy
}

// leatherShare is that of pixels surely inside: just leather.
const leatherShare float32 = 0.05

// trace turns the share into rings: pixels surely inside count as leather
// unless a hole was found there; under tag sheets the coarse mask decides.
func (f *Found) trace(g pix.Grid, edge share, holes []openHole, out Outline, p OutlineParams) (Outline, error) {
	near := f.near
	open := map[int]bool{}
	for _, h := range holes {
		for _, i := range h.pixels {
			open[i] = true
		}
	}
	look := newLookup(g, f.grid)
	rows(g.Height, func(y int) {
		for x := range g.Width {
			i, c := y*g.Width+x, look.at(x, y)
			switch {
			case f.tags[c] && near[c] == inBand:
				edge.v[i] = -1
				if f.leather[c] {
					edge.v[i] = 1
				}
			case near[c] == insideBand && edge.v[i] < leatherShare && !open[i]:
				edge.v[i] = leatherShare
			}
		}
	})
	for _, h := range holes {
		h.carve(edge)
	}
	curves, err := pix.IsolinesIn(edge.v, edge.w)
	if err != nil {
		return out, err
	}
	out.Polygon.Outer = simplified(largestRing(curves, g), p.Simplify)
	if len(out.Polygon.Outer) < 3 {
		return out, hide.Faultf(hide.NotMeasurable, "no hide found on the table: its edge could not be traced")
	}
	f.attachHoles(&out, curves, holes, g, p)
	out.Flags = append(f.Flags, out.Flags...)
	out.Blur, out.EdgeU = edgeBlur(edge, g)
	if f.softly {
		out.EdgeU *= softEdgeU
	}
	return out, f.checkEdge(&out)
}

// edgeBlur is the standard deviation of the photograph's blur at the edge, and the standard uncertainty of
// the edge's place that does not average out along it: a thirtieth of the blur's 25–75 % rise. Levels are read
// to about a sixteenth of the step, which moves the half-way point by that share of the rise: 0.028 of the rise, root
// mean square, over nine blurred renders of known edge, and no more on those held
// out (docs/coverage.md). A soft, faint or noisy edge rises slowly and gets a larger one.
func edgeBlur(edge share, g pix.Grid) (blur, u hide.MM) {
	slope := edge.edgeSlope()
	if math.IsNaN(slope) {
		return 0, g.MMPerPX / 2
	}
	// share rises by 2 from table to leather: 1/slope px for a change of 1, and 2/√(2π) in one deviation
	// half-way up
	rise := hide.MM(2/math.Max(slope, 0.02)) * g.MMPerPX
	return rise / hide.MM(math.Sqrt(2*math.Pi)), 0.033 * rise
}

// simplified drops vertices that lie within tolerance of the chord that
// replaces them (Ramer 1972; Douglas & Peucker 1973), from the ring's two
// vertices farthest apart in x.
func simplified(r hide.Ring, tolerance hide.MM) hide.Ring {
	if len(r) < 8 {
		return r
	}
	a, b := 0, 0
	for i, p := range r {
		if p.X < r[a].X {
			a = i
		}
		if p.X > r[b].X {
			b = i
		}
	}
	turned := append(slices.Clone(r[a:]), r[:a]...)
	b = (b - a + len(r)) % len(r)
	turned = append(turned, turned[0])
	keep := make([]bool, len(turned))
	keep[0], keep[b], keep[len(turned)-1] = true, true, true
	split(turned, 0, b, float64(tolerance), keep)
	split(turned, b, len(turned)-1, float64(tolerance), keep)
	var out hide.Ring
	for i, k := range keep[:len(keep)-1] {
		if k {
			out = append(out, turned[i])
		}
	}
	return out
}

func split(p hide.Ring, a, b int, tolerance float64, keep []bool) {
	type span struct{ a, b int }
	stack := []span{{a, b}}
	for len(stack) > 0 {
		s := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		at, far := -1, tolerance
		for i := s.a + 1; i < s.b; i++ {
			if d := chordDistance(p[i], p[s.a], p[s.b]); d > far {
				at, far = i, d
			}
		}
		if at >= 0 {
			keep[at] = true
			stack = append(stack, span{s.a, at}, span{at, s.b})
		}
	}
}

func chordDistance(p, a, b hide.Point) float64 {
	dx, dy := float64(b.X-a.X), float64(b.Y-a.Y)
	px, py := float64(p.X-a.X), float64(p.Y-a.Y)
	length := dx*dx + dy*dy
	if length == 0 {
		return math.Hypot(px, py)
	}
	t := math.Min(math.Max((px*dx+py*dy)/length, 0), 1)
	return math.Hypot(px-t*dx, py-t*dy)
}
