package plane

import (
	"math"
	"slices"

	"hidechart/hide"
)

// How the mirror axis is searched. Lengths are relative to the square root of
// the outline's area, so a calf and an ox are treated alike.
const (
	cellShare    = 0.012 // bitmap cell: 2 % of a shank's width is enough to rank axes
	angleStepDeg = 2     // half the width of the overlap's peak, measured on the shared captures
	offsetStep   = 0.025 // the overlap falls by about 3 % per step
	offsetSteps  = 5     // ± 12 % : the axis passes near the centre of area even with a shank gone
	axesKept     = 3     // best peaks refined on the contour
	peakApartDeg = 15    // two peaks closer than that are one
	mirrorPoints = 360   // contour points aligned with their reflection: one per 2-3 cm
)

// mirrorAxis is a candidate for the backbone of a whole hide.
type mirrorAxis struct {
	axis
	overlap float64 // intersection over union of the hide and its mirror image
	extent  float64 // along over across
}

// bitmap is the hide on a coarse grid, for overlaps only.
type bitmap struct {
	x0, y0, cell float64
	w, h         int
	in           []bool
	points       []hide.Point // centres of the cells inside
}

func newBitmap(r hide.Ring, cell float64) bitmap {
	box := boxOf(r)
	b := bitmap{x0: box.MinX, y0: box.MinY, cell: cell,
		w: int((box.MaxX-box.MinX)/cell) + 1, h: int((box.MaxY-box.MinY)/cell) + 1}
	b.in = make([]bool, b.w*b.h)
	for row := range b.h {
		y := b.y0 + (float64(row)+0.5)*cell
		xs := crossings(r, y)
		for i := 0; i+1 < len(xs); i += 2 {
			for col := max(0, int(math.Ceil((xs[i]-b.x0)/cell-0.5))); col < b.w; col++ {
				x := b.x0 + (float64(col)+0.5)*cell
				if x > xs[i+1] {
					break
				}
				b.in[row*b.w+col] = true
				b.points = append(b.points, pointAt(x, y))
			}
		}
	}
	return b
}

// crossings are the x at which the ring crosses a horizontal line, sorted.
func crossings(r hide.Ring, y float64) []float64 {
	var xs []float64
	for i, a := range r {
		b := r[(i+1)%len(r)]
		if (float64(a.Y) > y) != (float64(b.Y) > y) {
			xs = append(xs, float64(a.X)+float64(b.X-a.X)*(y-float64(a.Y))/float64(b.Y-a.Y))
		}
	}
	slices.Sort(xs)
	return xs
}

func (b *bitmap) has(p hide.Point) bool {
	c, r := int(math.Floor((float64(p.X)-b.x0)/b.cell)), int(math.Floor((float64(p.Y)-b.y0)/b.cell))
	return c >= 0 && r >= 0 && c < b.w && r < b.h && b.in[r*b.w+c]
}

// overlap is the intersection over union of the hide and its mirror image.
func (b *bitmap) overlap(a axis) float64 {
	both := 0
	for _, p := range b.points {
		if b.has(a.mirror(p)) {
			both++
		}
	}
	return float64(both) / float64(2*len(b.points)-both)
}

// mirrorAxes finds the best axes of mirror symmetry, best overlap first, each
// refined on the contour. Source: reflection symmetry by self-registration
// (Cicconet, Hildebrand & Elliott 2017); the robust refinement is iterated
// closest points (Besl & McKay 1992) under Tukey's weight.
func mirrorAxes(r hide.Ring) []mirrorAxis {
	size := math.Sqrt(math.Abs(float64(r.SignedArea())))
	centre := centroid(r)
	bits := newBitmap(r, cellShare*size)
	var found []mirrorAxis
	for deg := 0.0; deg < 180; deg += angleStepDeg {
		best := mirrorAxis{overlap: -1}
		turned := newAxis(centre, deg*math.Pi/180)
		for k := -offsetSteps; k <= offsetSteps; k++ {
			a := turned
			a.from = turned.table(0, float64(k)*offsetStep*size)
			if o := bits.overlap(a); o > best.overlap {
				best = mirrorAxis{axis: a, overlap: o}
			}
		}
		found = append(found, best)
	}
	slices.SortStableFunc(found, func(p, q mirrorAxis) int { return compareDown(p.overlap, q.overlap) })
	index := NewEdgeIndex(resampled(r, 2*mirrorPoints))
	var out []mirrorAxis
	for _, m := range found {
		if len(out) == axesKept || slices.ContainsFunc(out, func(o mirrorAxis) bool { return betweenLines(o.axis, m.axis) < peakApartDeg*math.Pi/180 }) {
			continue
		}
		m.axis = refineMirror(m.axis, index, size)
		m.overlap = bits.overlap(m.axis)
		m.extent = extentRatio(m.axis, r)
		out = append(out, m)
	}
	return out
}

func compareDown(a, b float64) int {
	switch {
	case a > b:
		return -1
	case a < b:
		return 1
	}
	return 0
}

// betweenLines is the angle between two undirected lines, 0 to π/2.
func betweenLines(a, b axis) float64 {
	return math.Acos(min(1, math.Abs(a.dx*b.dx+a.dy*b.dy)))
}

func extentRatio(a axis, r hide.Ring) float64 {
	box := boxOf(a.locals(r))
	return (box.MaxX - box.MinX) / (box.MaxY - box.MinY)
}

// Scales of Tukey's biweight while the axis is refined, relative to the
// hide's size: wide enough first to pull a coarse axis in, at the end narrow enough
// that a missing or folded shank has no say.
func tukeyScales() []float64 {
	return []float64{0.15, 0.15, 0.12, 0.12, 0.09, 0.09, 0.07, 0.07, 0.06, 0.06, 0.06, 0.06, 0.06, 0.06}
}

// refineMirror aligns the contour with its reflection.
func refineMirror(a axis, edge *EdgeIndex, size float64) axis {
	for _, scale := range tukeyScales() {
		dShift, dAngle := mirrorStep(a, edge, scale*size)
		from := a.table(0, dShift)
		a = newAxis(from, a.angle()+dAngle)
	}
	return a
}

// mirrorStep is one weighted Gauss-Newton step for the axis's shift across and
// its turn. A mirrored point moves by 2 across for a shift of 1, and by 2·s
// across for a turn, s its place along; the residual is taken along the line
// to the nearest contour point.
func mirrorStep(a axis, edge *EdgeIndex, scale float64) (shift, turn float64) {
	var hss, hst, htt, gs, gt float64
	for i := 0; i < len(edge.ring); i += 2 {
		m := a.mirror(edge.ring[i])
		q, gap := edge.Nearest(m)
		r := float64(gap)
		if r >= scale || r == 0 {
			continue
		}
		w := 1 - (r/scale)*(r/scale)
		w *= w
		s, d := a.local(m)
		sq, dq := a.local(q)
		nx, ny := (sq-s)/r, (dq-d)/r // unit vector to the contour, in axis coordinates
		js := 2 * ny
		jt := 2 * (ny*s - nx*d)
		hss += w * js * js
		hst += w * js * jt
		htt += w * jt * jt
		gs += w * js * r
		gt += w * jt * r
	}
	det := hss*htt - hst*hst
	if det <= 1e-9*hss*htt {
		return 0, 0
	}
	return (gs*htt - gt*hst) / det, (gt*hss - gs*hst) / det
}
