package scene

import (
	"math"

	"hidechart/hide"
)

// place is a point of the hide frame before it is laid on the table: x along
// the backbone from the neck, y to the animal's left, millimetres.
type place struct{ x, y float64 }

// flankParams are the proportions of one half, relative to the length of the
// backbone. Ranges by eye from photographs of whole hides, no source.
type flankParams struct {
	neck, body               float64
	headStyle, tailStyle     int
	fore, hind               limb
	front, pit, belly, flank float64
	bellyAt, flankAt         float64
	butt                     float64
}

// limb is a shank: where it leaves the body and how it points.
type limb struct{ at, width, length, lean, taper float64 }

func drawFlank(s source) flankParams {
	return flankParams{
		neck: s.in(.07, .18), body: s.in(.30, .42),
		headStyle: s.count(0, 3), tailStyle: s.count(0, 3),
		fore:  limb{s.in(.22, .29), s.in(.05, .11), s.in(.02, .17), s.in(-.7, .35), s.in(.4, 1)},
		hind:  limb{s.in(.80, .87), s.in(.06, .12), s.in(.02, .19), s.in(-.35, .75), s.in(.4, 1)},
		front: s.in(.66, .88), pit: s.in(.74, .92), belly: s.in(.92, 1.08), flank: s.in(.76, .93),
		bellyAt: s.in(.44, .60), flankAt: s.in(.69, .75), butt: s.in(.48, .74),
	}
}

// jitter makes the other half: alike, not the same.
func (f flankParams) jitter(s source, amount float64) flankParams {
	j := func(v *float64) { *v *= 1 + s.in(-amount, amount) }
	for _, v := range []*float64{&f.body, &f.front, &f.pit, &f.belly, &f.flank, &f.bellyAt, &f.butt, &f.neck,
		&f.fore.at, &f.fore.width, &f.hind.width} {
		j(v)
	}
	for _, l := range []*limb{&f.fore, &f.hind} {
		l.length = math.Max(0.01, l.length*(1+s.in(-4, 4)*amount))
		l.lean += s.in(-3, 3) * amount
	}
	return f
}

// controls are the corners of one half from the neck to the tail, in units
// of the backbone's length.
func (f flankParams) controls() []place {
	out := f.head()
	out = append(out, place{(0.13 + f.fore.at) / 2 * .98, f.body * f.front})
	out = append(out, f.fore.corners(f.body*f.front, f.body*f.pit)...)
	out = append(out,
		place{f.fore.at + f.fore.width*.5 + .05, f.body * f.pit},
		place{f.bellyAt - .06, f.body * (f.belly + f.pit) / 2},
		place{f.bellyAt, f.body * f.belly},
		place{(f.bellyAt + f.flankAt) / 2, f.body * (f.belly + f.flank) / 2},
		place{f.flankAt, f.body * f.flank})
	out = append(out, f.hind.corners(f.body*f.flank, f.body*f.butt*1.1)...)
	out = append(out, place{.955, f.body * f.butt * .8}, place{.985, f.body * f.butt * .42})
	return append(out, f.tail()...)
}

// head is the neck end: cut straight, with cheeks, rounded, or cut aslant.
func (f flankParams) head() []place {
	n := f.neck
	switch f.headStyle {
	case 0:
		return []place{{0, 0}, {.004, n * .7}, {.012, n}, {.07, n * 1.03}, {.12, n * 1.12}}
	case 1:
		return []place{{.01, 0}, {-.012, n * .5}, {-.005, n * .9}, {.03, n * 1.3}, {.07, n * 1.2}, {.12, n * 1.1}}
	case 2:
		return []place{{0, 0}, {.004, n * .35}, {.03, n * .8}, {.08, n}, {.13, n * 1.2}}
	default:
		return []place{{0, 0}, {.02, n * .6}, {.045, n * 1.1}, {.09, n * 1.25}, {.13, n * 1.3}}
	}
}

// tail is the tail end: none, a strip, a notch or a long root.
func (f flankParams) tail() []place {
	switch f.tailStyle {
	case 0:
		return []place{{1, .03}, {1.002, 0}}
	case 1:
		return []place{{1, .022}, {1.05, .014}, {1.055, 0}}
	case 2:
		return []place{{1.006, .05}, {1, .02}, {.985, 0}}
	default:
		return []place{{1.0, .035}, {1.025, .018}, {1.03, 0}}
	}
}

// corners are the four of a shank: two at its root, two at its tip.
func (l limb) corners(front, back float64) []place {
	sin, cos := math.Sincos(l.lean)
	root := (front + back) / 2
	tip := place{l.at + l.length*sin, root + l.length*cos + .03}
	half := l.width / 2
	t := half * l.taper
	return []place{
		{l.at - half, front + .01},
		{tip.x - t*cos, tip.y + t*sin},
		{tip.x + t*cos, tip.y - t*sin},
		{l.at + half, back + .01},
	}
}

// drawContour draws the closed contour of a hide with a backbone of length
// mm; a side has the backbone itself as its straight edge (y = 0). The result
// is simple; the fallback after twenty tries has no tears.
func drawContour(s source, length float64, side bool) []place {
	for try := 0; ; try++ {
		p := s.contourTry(length, side, try < 20)
		if isSimple(p) || try > 60 {
			return p
		}
	}
}

func (s source) contourTry(length float64, side, tears bool) []place {
	left := drawFlank(s)
	half := scaled(left.controls(), length)
	rounds := s.count(2, 4)
	var p []place
	if side {
		p = open(half, rounds)
		p = append(p, backEdge(s, p[len(p)-1], p[0])...)
	} else {
		right := scaled(left.jitter(s, s.in(.02, .07)).controls(), length)
		for i := range right {
			right[i].y = -right[i].y
		}
		p = append(p, half...)
		for i := len(right) - 2; i > 0; i-- { // the ends are on the backbone, shared
			p = append(p, right[i])
		}
		p = closed(p, rounds)
	}
	p = resample(p, 3)
	p = roughen(s, p, side)
	if tears {
		p = tear(s, p, side)
	}
	return p
}

func scaled(p []place, k float64) []place {
	out := make([]place, len(p))
	for i, q := range p {
		out[i] = place{q.x * k, q.y * k}
	}
	return out
}

// backEdge is the knife's way along the backbone of a side, tail to neck.
func backEdge(s source, from, to place) []place {
	seed, amp := s.noiseSeed(), s.log(.5, 7)
	n := int(math.Abs(from.x-to.x) / 3)
	var out []place
	for i := 1; i < n; i++ {
		t := float64(i) / float64(n)
		x := from.x + (to.x-from.x)*t
		ends := math.Min(1, 20*math.Min(t, 1-t))
		out = append(out, place{x, from.y + (to.y-from.y)*t + ends*amp*wave(x/s0wave, seed, 3)})
	}
	return out
}

// s0wave is the wavelength, mm, of a hand-guided knife's wander (by eye).
const s0wave = 350

// closed rounds a closed polygon by corner cutting (Chaikin 1974).
func closed(p []place, rounds int) []place {
	for range rounds {
		out := make([]place, 0, 2*len(p))
		for i, a := range p {
			b := p[(i+1)%len(p)]
			out = append(out, between(a, b, .25), between(a, b, .75))
		}
		p = out
	}
	return p
}

// open rounds a polyline and keeps its ends.
func open(p []place, rounds int) []place {
	for range rounds {
		out := []place{p[0]}
		for i := 0; i+1 < len(p); i++ {
			out = append(out, between(p[i], p[i+1], .25), between(p[i], p[i+1], .75))
		}
		out = append(out, p[len(p)-1])
		p = out
	}
	return p
}

func between(a, b place, t float64) place { return place{a.x + (b.x-a.x)*t, a.y + (b.y-a.y)*t} }

// resample returns points about gap mm apart along a closed curve.
func resample(p []place, gap float64) []place {
	var out []place
	for i, a := range p {
		b := p[(i+1)%len(p)]
		n := max(1, int(math.Round(math.Hypot(b.x-a.x, b.y-a.y)/gap)))
		for k := range n {
			out = append(out, between(a, b, float64(k)/float64(n)))
		}
	}
	return out
}

// isSimple reports whether a closed curve does not cross itself. Segments
// are sorted into square cells; only those in a common cell are compared.
func isSimple(p []place) bool {
	const cell = 12 // mm, a few segments each
	grid := map[[2]int][]int{}
	for i, a := range p {
		b := p[(i+1)%len(p)]
		for x := int(math.Floor(math.Min(a.x, b.x) / cell)); x <= int(math.Floor(math.Max(a.x, b.x)/cell)); x++ {
			for y := int(math.Floor(math.Min(a.y, b.y) / cell)); y <= int(math.Floor(math.Max(a.y, b.y)/cell)); y++ {
				for _, j := range grid[[2]int{x, y}] {
					if j+1 != i && (j != 0 || i != len(p)-1) && crosses(a, b, p[j], p[(j+1)%len(p)]) {
						return false
					}
				}
				grid[[2]int{x, y}] = append(grid[[2]int{x, y}], i)
			}
		}
	}
	return true
}

func crosses(a, b, c, d place) bool {
	turn := func(a, b, c place) float64 { return (b.x-a.x)*(c.y-a.y) - (b.y-a.y)*(c.x-a.x) }
	return (turn(a, b, c) > 0) != (turn(a, b, d) > 0) && (turn(c, d, a) > 0) != (turn(c, d, b) > 0)
}

// laid turns the contour, moves it onto the table and winds it
// counter-clockwise; coordinates are rounded to 0.01 mm, as truth.json holds.
func laid(p []place, lay layout) hide.Ring {
	out := make(hide.Ring, len(p))
	for i, q := range p {
		t := lay.toTable(q)
		out[i] = hide.Point{X: hide.MM(math.Round(float64(t.X)*100) / 100), Y: hide.MM(math.Round(float64(t.Y)*100) / 100)}
	}
	if out.SignedArea() < 0 {
		for i, j := 0, len(out)-1; i < j; i, j = i+1, j-1 {
			out[i], out[j] = out[j], out[i]
		}
	}
	return out
}
