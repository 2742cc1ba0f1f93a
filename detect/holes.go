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
}

// A hole's core must come this near the table's level (share -1): a hole as
// wide as the blur still reaches -0.5. Dark flaws rarely match the table's
// colour that far.
const coreShare = -0.4

// Under back light a hole must let at least this share of the table's light
// through, against leather beside it; translucent spots stay below.
const coreBack = -0.4

// holesOpen finds the places where top shows the table's colour inside the
// hide. With back light, light must come through there as well; what back light
// alone shows (table and leather alike under top) counts too. Without it, nothing is a hole
// where glare brings the leather to the table's brightness.
func (f *Found) holesOpen(g pix.Grid, top share, back *share, p OutlineParams) []openHole {
	lead := top
	if back != nil {
		lead = *back
	}
	mask := pix.New(g.Width, g.Height, pix.U8, 1)
	defer mask.Close()
	b := mask.Bytes()
	near, look := f.nearness(p), newLookup(g, f.grid)
	rows(g.Height, func(y int) {
		for x := range g.Width {
			if i := y*g.Width + x; lead.v[i] < 0 && near[look.at(x, y)] != outsideBand {
				b[i] = 255
			}
		}
	})
	labels, parts, err := pix.Parts(mask)
	if err != nil {
		return nil
	}
	defer labels.Close()
	outside := f.outsideLabels(labels, g)
	var holes []openHole
	for _, part := range parts {
		if outside[part.Label] || back == nil && f.onGlare(part, g) {
			continue
		}
		if h, ok := judgeHole(labels.Int32s(), part, g, top, back, p); ok {
			holes = append(holes, h)
		}
	}
	return holes
}

// outsideLabels are the parts that reach out of the hide.
func (f *Found) outsideLabels(labels *pix.Image, g pix.Grid) map[int32]bool {
	out := map[int32]bool{}
	v, look := labels.Int32s(), newLookup(g, f.grid)
	last := int32(-1)
	for y := range g.Height {
		for x := range g.Width {
			if n := v[y*g.Width+x]; n != last && !f.leather[look.at(x, y)] {
				out[n] = true
				last = n
			}
		}
	}
	return out
}

func judgeHole(labels []int32, part pix.Part, g pix.Grid, top share, back *share, p OutlineParams) (openHole, bool) {
	pixel := float64(g.MMPerPX * g.MMPerPX)
	if float64(part.Pixels)*pixel < float64(p.MinHole) {
		return openHole{}, false
	}
	var h openHole
	coreTop, coreB := 1.0, 1.0
	box := part.Box.Inset(-3).Intersect(image.Rect(0, 0, g.Width, g.Height))
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			i := y*g.Width + x
			h.pixels = append(h.pixels, i)
			if labels[i] != part.Label {
				continue
			}
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
		q := g.ToRaster(r[0])
		k, ok := owner[clampedIndex(q, g)]
		if !ok || !within(out.Polygon.Outer, r[0]) {
			continue
		}
		out.Polygon.Holes = append(out.Polygon.Holes, simplified(r, p.Simplify/2))
		out.Holes = append(out.Holes, HoleSeen{holes[k].probability, holes[k].lights})
	}
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
