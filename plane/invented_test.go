package plane

import (
	"math"
	"math/rand/v2"
	"slices"

	"hidechart/hide"
)

// invented is a hide-like contour with the truth about its backbone.
type invented struct {
	outline    hide.Polygon
	neck, tail hide.Point
	side       bool
}

// The invented contours vary as real ones do (common practice, no source, with
// photographs of spread cattle, calf and buffalo hides in mind): long necks,
// cheeks left on, necks cut off at the shoulder; hind legs before, at and behind the
// tail end; a pointed, round or strip-like tail; legs cut short or gone on
// one half only; a bowed backbone, halves of unequal width, ragged edges.

type traits struct {
	length, width          float64 // mm, half-width of the trunk
	foreAt, foreOut        float64 // of the length: place of the fore leg, how far it stands out
	foreWide, foreLean     float64
	hindAt, hindOut        float64
	hindWide, hindLean     float64
	neckWide, neckFlare    float64 // half-width at the end, of the trunk's; growth up to the shoulder
	cheeks                 float64
	shoulder, armpit       float64 // half-widths, of the trunk's
	belly, bellyAt, flank  float64
	rump, tailWide, tailIn float64
}

func between(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

func drawTraits(r *rand.Rand) traits {
	t := traits{length: between(r, 1300, 2700)}
	t.width = t.length * between(r, 0.29, 0.42)
	t.foreAt, t.foreOut = between(r, 0.17, 0.29), between(r, 0.05, 0.17)
	t.foreWide, t.foreLean = between(r, 0.05, 0.10), between(r, -0.08, 0.04)
	t.hindAt, t.hindOut = between(r, 0.78, 0.93), between(r, 0.06, 0.20)
	t.hindWide, t.hindLean = between(r, 0.05, 0.11), between(r, -0.03, 0.10)
	t.neckWide, t.neckFlare = between(r, 0.22, 0.50), between(r, 0.02, 0.14)
	if r.Float64() < 0.25 {
		t.cheeks = between(r, 0, 0.12)
	}
	if r.Float64() < 0.12 { // neck cut off at the shoulder
		t.foreAt, t.neckWide = between(r, 0.10, 0.16), between(r, 0.4, 0.65)
	}
	t.shoulder, t.armpit = between(r, 0.80, 1.0), between(r, 0.82, 1.0)
	t.belly, t.bellyAt, t.flank = between(r, 0.97, 1.15), between(r, 0.42, 0.62), between(r, 0.82, 1.0)
	t.rump, t.tailWide, t.tailIn = between(r, 0.55, 0.85), between(r, 0.05, 0.30), between(r, 0.0, 0.05)
	return t
}

// jitter makes the other half differ.
func (t traits) jitter(r *rand.Rand) traits {
	for _, f := range []*float64{&t.width, &t.foreOut, &t.hindOut, &t.foreWide, &t.hindWide, &t.neckWide, &t.shoulder, &t.armpit, &t.belly, &t.flank, &t.rump, &t.tailWide} {
		*f *= between(r, 0.95, 1.05)
	}
	for _, f := range []*float64{&t.foreAt, &t.hindAt, &t.foreLean, &t.hindLean, &t.bellyAt} {
		*f += between(r, -0.012, 0.012)
	}
	for _, f := range []*float64{&t.foreOut, &t.hindOut} {
		if r.Float64() < 0.12 {
			*f *= between(r, 0, 0.5) // shank cut off
		}
	}
	return t
}

// half is the contour from neck end to tail end, u and d in mm.
func (t traits) half() []hide.Point {
	w := t.width / t.length
	fore, hind := t.foreAt, t.hindAt
	c := [][2]float64{
		{0, 0}, {0.002, t.neckWide * w * 0.6}, {0.012, (t.neckWide + t.cheeks) * w}, {0.05, (t.neckWide + t.cheeks*0.6) * w},
		{max(0.06, fore-0.11), (t.neckWide + t.neckFlare) * w},
		{fore - t.foreWide, t.shoulder * w * 0.85},
		{fore - t.foreWide*0.55 + t.foreLean*0.6, w*t.shoulder + t.foreOut*0.7}, {fore - t.foreWide*0.3 + t.foreLean, w*t.shoulder + t.foreOut},
		{fore + t.foreWide*0.3 + t.foreLean, w*t.shoulder + t.foreOut*0.98}, {fore + t.foreWide*0.55 + t.foreLean*0.5, w*t.armpit + t.foreOut*0.4},
		{fore + t.foreWide*1.1, t.armpit * w}, {t.bellyAt, t.belly * w}, {hind - t.hindWide*1.5, t.flank * w},
		{hind - t.hindWide*0.6 + t.hindLean*0.5, w*t.flank + t.hindOut*0.45}, {hind - t.hindWide*0.35 + t.hindLean, w*t.flank + t.hindOut*0.96},
		{hind + t.hindWide*0.3 + t.hindLean, w*t.flank + t.hindOut}, {hind + t.hindWide*0.6 + t.hindLean*0.6, w*t.flank + t.hindOut*0.5},
		{min(0.975, hind+t.hindWide*0.9), t.rump * w}, {1 - 0.25*(1-hind), (t.rump*0.4 + t.tailWide*0.5) * w},
		{1 - t.tailIn*0.3, t.tailWide * w}, {1, 0},
	}
	return spline(c, t.length)
}

// spline runs a centripetal-like Catmull-Rom curve through the control points.
func spline(c [][2]float64, scale float64) []hide.Point {
	var out []hide.Point
	get := func(i int) [2]float64 { return c[min(len(c)-1, max(0, i))] }
	for i := range len(c) - 1 {
		p0, p1, p2, p3 := get(i-1), get(i), get(i+1), get(i+2)
		for k := range 20 {
			x := float64(k) / 20
			var q [2]float64
			for a := range 2 {
				m1, m2 := (p2[a]-p0[a])*0.35, (p3[a]-p1[a])*0.35
				q[a] = p1[a]*(2*x*x*x-3*x*x+1) + m1*(x*x*x-2*x*x+x) + p2[a]*(3*x*x-2*x*x*x) + m2*(x*x*x-x*x)
			}
			out = append(out, pointAt(q[0]*scale, q[1]*scale))
		}
	}
	return append(out, pointAt(c[len(c)-1][0]*scale, c[len(c)-1][1]*scale))
}

// waves is smooth noise along a curve, several wavelengths.
func waves(r *rand.Rand, amplitude float64) func(x float64) float64 {
	type wave struct{ k, phase, a float64 }
	var all []wave
	for _, k := range []float64{3, 7, 13, 29, 61, 113} {
		all = append(all, wave{k * between(r, 0.8, 1.25), between(r, 0, 2*math.Pi), amplitude * between(r, 0.3, 1) * math.Pow(3/k, 0.6)})
	}
	return func(x float64) float64 {
		var sum float64
		for _, w := range all {
			sum += w.a * math.Sin(w.k*2*math.Pi*x+w.phase)
		}
		return sum
	}
}

func inventHide(seed uint64) invented {
	r := rand.New(rand.NewPCG(seed, 7))
	t := drawTraits(r)
	side := r.Float64() < 0.35
	ring := hide.Ring(t.half())
	if side {
		ring = cutEdge(r, ring, t.length)
	} else {
		other := t.jitter(r).half()
		slices.Reverse(other)
		for _, p := range other[1 : len(other)-1] {
			ring = append(ring, pointAt(float64(p.X), -float64(p.Y)))
		}
	}
	ring = roughen(r, ring, t.length)
	h := invented{neck: pointAt(0, 0), tail: pointAt(t.length, 0), side: side}
	if !side {
		from, to, _ := axisEnds(newAxis(hide.Point{}, 0), ring)
		h.neck, h.tail = pointAt(from, 0), pointAt(to, 0)
	}
	h.place(r, ring, t.length)
	return h
}

// cutEdge closes a half with the cut along the backbone, a little wavy.
func cutEdge(r *rand.Rand, half hide.Ring, length float64) hide.Ring {
	wave := waves(r, 0.002*length)
	for k := 59; k > 0; k-- {
		x := float64(k) / 60
		half = append(half, pointAt(x*length, wave(x)))
	}
	return half
}

// roughen bows the backbone and makes the edge ragged.
func roughen(r *rand.Rand, ring hide.Ring, length float64) hide.Ring {
	ring = resampled(ring, 1500)
	bow := length * between(r, -0.012, 0.012)
	dx, dy := waves(r, between(r, 0.0005, 0.004)*length), waves(r, between(r, 0.0005, 0.004)*length)
	out := make(hide.Ring, len(ring))
	for i, p := range ring {
		x, u := float64(i)/float64(len(ring)), float64(p.X)/length
		out[i] = pointAt(float64(p.X)+dx(x), float64(p.Y)+dy(x)+bow*(4*u*(1-u)-0.5))
	}
	return out
}

func (h *invented) place(r *rand.Rand, ring hide.Ring, length float64) {
	a := newAxis(pointAt(between(r, 0, 3000), between(r, 0, 2500)), between(r, -math.Pi, math.Pi))
	flip := 1.0
	if r.Float64() < 0.5 {
		flip = -1
	}
	put := func(p hide.Point) hide.Point { return a.table(float64(p.X), flip*float64(p.Y)) }
	h.outline = hide.Polygon{Outer: mappedRing(ring, put)}.Oriented()
	h.neck, h.tail = put(h.neck), put(h.tail)
}
