package detect

import (
	"cmp"
	"image"
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/pix"
)

// openHole is a place inside the hide where the table shows.
type openHole struct {
	pixels      []int // of the fine grid, those below half leather and a rim about them
	probability float64
	lights      []hide.Light
	box         image.Rectangle // of a small one
	edge        []float32       // if set, by pixel: 0 where the edge lies, − in the hole
}

// A hole's core must come this near the table's level (share -1): a hole as
// wide as the blur still reaches -0.5. Dark flaws rarely match the table's
// colour that far.
const coreShare = -0.4

// Under back light a hole must let at least this share of the table's light
// through, against leather beside it; translucent spots stay below.
const coreBack = -0.4

// faintHole: where leather and table differ less than so under top light, the shade of a hole's rim
// moves its edge there; light through the hole places it better.
const faintHole = 0.3

// holesOpen finds the places where top shows the table's colour inside the
// hide. With back light, light must come through there as well; what back light
// alone shows (table and leather alike under top) counts too. Without it, nothing is a hole
// where glare brings the leather to the table's brightness.
func (f *Found) holesOpen(g pix.Grid, top share, back *share, p OutlineParams) []openHole {
	lead, light := top, hide.Top
	if back != nil {
		lead, light = *back, hide.Back
	}
	slope := lead.edgeSlope()
	holes := f.smallHoles(g, &lead, light, slope, p)
	for _, part := range f.partsUnder(0, &lead, g) {
		if slices.ContainsFunc(holes, func(h openHole) bool { return part.box.In(h.box) }) {
			continue
		}
		if back == nil && (f.onGlare(part.box, g) || !lead.steepAs(slope, part.box) || !f.standsOut(part.box, &lead, g)) {
			continue
		}
		trust := 1.0
		if back == nil {
			trust = f.trust(f.toneApart(part.box, g))
		}
		if h, ok := judgeHole(part, g, top, back, p); ok && trust > 0 {
			h.probability *= trust
			if back != nil && top.contrast < faintHole {
				h.placeBy(back, 0)
			}
			holes = append(holes, h)
		}
	}
	return holes
}

// Along a hole's border the light rises as steeply as along the hide's: from the table's to the leather's under
// the one blur. A cloud fades, and chalk on a table that is darker than chalk rises further.
const (
	leastSteep = 0.7
	mostSteep  = 1.5
)

// steepAs is true if the share rises about as steeply where it crosses half-way in the box.
func (s *share) steepAs(slope float64, box image.Rectangle) bool {
	here := median(s.slopesIn(box.Inset(-1), 1)) / slope
	return here >= leastSteep && here <= mostSteep
}

// slopesIn are how steeply the share rises, per pixel, where it crosses half-way along the rows, of every
// few rows.
func (s *share) slopesIn(box image.Rectangle, every int) []float64 {
	box = box.Intersect(image.Rect(1, 1, s.w-1, s.h-1))
	var slopes []float64
	for y := box.Min.Y; y < box.Max.Y; y += every {
		for x := box.Min.X; x < box.Max.X; x++ {
			i := y*s.w + x
			if (s.v[i] < 0) != (s.v[i+1] < 0) {
				slopes = append(slopes, math.Hypot(float64(s.v[i+1]-s.v[i]), float64(s.v[i+s.w]-s.v[i-s.w])/2))
			}
		}
	}
	return slopes
}

// edgeSlope is the median along all edges; NaN where there are none.
func (s *share) edgeSlope() float64 { return median(s.slopesIn(image.Rect(0, 0, s.w, s.h), 3)) }

func judgeHole(part *lowPart, g pix.Grid, top share, back *share, p OutlineParams) (openHole, bool) {
	pixel := float64(g.MMPerPX * g.MMPerPX)
	if float64(part.pixels)*pixel < float64(p.MinHole) {
		return openHole{}, false
	}
	var h openHole
	coreTop, coreB := 1.0, 1.0
	box := part.box.Inset(-3).Intersect(image.Rect(0, 0, g.Width, g.Height))
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			h.pixels = append(h.pixels, y*g.Width+x)
		}
	}
	for _, r := range part.runs {
		for i := r.y*g.Width + r.from; i < r.y*g.Width+r.to; i++ {
			coreTop = math.Min(coreTop, float64(top.v[i]))
			if back != nil {
				coreB = math.Min(coreB, float64(back.v[i]))
			}
		}
	}
	h.lights = []hide.Light{hide.Top}
	switch {
	case back == nil:
		h.probability = ramp(coreTop, 0, -0.9, 0.5, 0.9)
		return h, coreTop <= coreShare
	case coreB > coreBack:
		return h, false
	default:
		h.lights = []hide.Light{hide.Top, hide.Back}
		h.probability = ramp(coreB, coreBack, -0.9, 0.7, 0.99)
		return h, true
	}
}

// ramp goes linearly from pa at a to pb at b, and stays there beyond.
func ramp(v, a, b, pa, pb float64) float64 {
	t := math.Min(math.Max((v-a)/(b-a), 0), 1)
	return pa + t*(pb-pa)
}

// attachHoles keeps the traced inner rings that lie in an open hole.
func (f *Found) attachHoles(out *Outline, curves [][]pix.Point, holes []openHole, g pix.Grid, p OutlineParams) {
	owner := map[int]int{}
	for k, h := range holes {
		for _, i := range h.pixels {
			owner[i] = k
		}
	}
	var inner []hide.Ring
	for _, c := range curves {
		if r := tableRing(c, g); -r.SignedArea() >= p.MinHole {
			inner = append(inner, r)
		}
	}
	// the largest first: what lies in a hole already is the table's own pattern
	slices.SortStableFunc(inner, func(a, b hide.Ring) int { return cmp.Compare(a.SignedArea(), b.SignedArea()) })
	for _, r := range inner {
		if slices.ContainsFunc(out.Polygon.Holes, func(h hide.Ring) bool { return within(h, r[0]) }) {
			continue
		}
		k, ok := ownerOf(r, owner, g)
		if !ok || !within(out.Polygon.Outer, r[0]) {
			continue
		}
		out.Polygon.Holes = append(out.Polygon.Holes, simplified(r, p.Simplify/2))
		out.Holes = append(out.Holes, HoleSeen{holes[k].probability, holes[k].lights})
	}
}

// ownerOf is the hole whose pixels any of the ring lies on.
func ownerOf(r hide.Ring, owner map[int]int, g pix.Grid) (int, bool) {
	for _, q := range r {
		if k, ok := owner[clampedIndex(g.ToRaster(q), g)]; ok {
			return k, true
		}
	}
	return 0, false
}

// within is the even-odd rule.
func within(r hide.Ring, q hide.Point) bool {
	in := false
	for i, a := range r {
		b := r[(i+1)%len(r)]
		if (a.Y > q.Y) != (b.Y > q.Y) && q.X < a.X+(q.Y-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
			in = !in
		}
	}
	return in
}
