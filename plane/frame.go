package plane

import (
	"math"

	"hidechart/hide"
)

// HideFrame is the frame in which hides are compared.
//
// Backbone: on a whole hide, the axis of mirror symmetry of the contour (its
// two halves laid on each other, legs that one half lacks left out); its ends
// are the outermost places where that line meets the outer contour. On a side,
// the straight line along the cut; its ends are where the contour leaves the
// cut by more than 0.6 % of the hide's length, at the rounded corners of neck and
// tail, so neck and tail may reach a few centimetres beyond u = 0 and 1. The hide is taken
// as lying straight: a backbone that bows is replaced by its chord.
//
// u runs along the backbone from the neck end (0) to the tail end (1). v runs
// across, from the backbone (0) to the edge (±1), positive on the right as seen
// with the head up, the side that faces the camera uppermost; on a side v is 0..1
// whichever half it is. The "edge" is a smooth line along the contour that
// passes outside of every leg and notch, so |v| <= 1 all over the hide, and
// equals 1 only where the contour is smooth; nothing jumps at a leg.
type HideFrame struct {
	Neck, Tail hide.Point // ends of the backbone, table frame
	Side       bool       // a side, cut along the backbone
	// Sure is the probability, 0..1, that backbone and head end are both right.
	// 1 where a person stated them. Below SureEnough, flag head_uncertain.
	Sure float64
	// HeadSure is the probability, 0.5..1, that the head end is right given the line.
	HeadSure float64
	// Symmetry is the overlap of a whole hide with its mirror image
	// (intersection over union); for a side, the share of its length where the cut is
	// near its line. 1 is perfect.
	Symmetry float64

	line    axis    // from the neck towards the tail
	length  float64 // mm
	right   *halfProfile
	left    *halfProfile
	mirror  float64 // side only: +1 or -1, the sign of d on the hide
	outline hide.Polygon
}

// SureEnough is the least Sure for a frame to be used without a flag: one
// wrong head in ten is what a person checking flagged hides can live with.
const SureEnough = 0.9

// frameVertices is the most vertices the search works on; a contour traced at
// 0.5 mm has ten times more than its shape needs.
const frameVertices = 1500

// FindFrame finds the backbone and the head end from the contour alone, and
// whether it is a whole hide or a side. outline: table frame, the outer ring
// counts, holes are ignored. Expected error on the shared captures: 40 mm at
// either end. Errors: Invalid for an outline that is not a polygon, NotMeasurable
// for one without extent. A doubtful frame is no error: see Sure.
func FindFrame(outline hide.Polygon) (HideFrame, error) {
	ring, err := searchRing(outline)
	if err != nil {
		return HideFrame{}, err
	}
	axes, edge := mirrorAxes(ring), findStraightEdge(ring)
	sideSure := logistic(sideOdds(axes[0], edge))
	var best HideFrame
	if sideSure > 0.5 {
		best = sideFrame(edge, outline, ring)
		best.Sure = sideSure
	} else {
		k, sure := chooseAxis(axes)
		best, err = wholeFrame(axes[k], outline, ring)
		best.Sure = sure * (1 - sideSure)
	}
	best.Sure *= best.HeadSure
	return best, err
}

func searchRing(outline hide.Polygon) (hide.Ring, error) {
	s, err := MakeValid(hide.Shape{{Outer: outline.Outer}})
	if err != nil {
		return nil, err
	}
	var ring hide.Ring
	for _, p := range s { // the largest, if a crossing ring fell apart
		if ring == nil || p.Outer.SignedArea() > ring.SignedArea() {
			ring = p.Outer
		}
	}
	if ring == nil || ring.SignedArea() < 1 {
		return nil, hide.Faultf(hide.NotMeasurable, "hide frame: the outline encloses no area")
	}
	if len(ring) > frameVertices {
		ring = resampled(ring, frameVertices)
	}
	return ring, nil
}

// sideOdds are the log-odds that the contour is a side. A side is twice as
// long as wide, its cut lies on a line for nearly its whole length, and it is
// no mirror image of itself. Weights set by hand so that each sign alone decides
// when clear; between them the distribution test counts the mistakes.
func sideOdds(whole mirrorAxis, edge straightEdge) float64 {
	return 14*(edge.cover-0.72) + 4*(edge.extent-1.65) + 12*(0.84-whole.overlap)
}

// chooseAxis picks the backbone among the mirror axes: the best overlap, the
// hide longer along than across it (common practice, no source: a spread
// cattle hide is 1.05 to 1.5 times as long as wide).
func chooseAxis(axes []mirrorAxis) (best int, sure float64) {
	score := func(m mirrorAxis) float64 { return 40*m.overlap + 6*min(0.3, max(-0.3, m.extent-1)) }
	for i := range axes {
		if score(axes[i]) > score(axes[best]) {
			best = i
		}
	}
	sure = 1
	for i := range axes {
		if i != best {
			sure = min(sure, logistic(score(axes[best])-score(axes[i])))
		}
	}
	return best, sure
}

func wholeFrame(m mirrorAxis, outline hide.Polygon, ring hide.Ring) (HideFrame, error) {
	from, to, ok := axisEnds(m.axis, ring)
	if !ok {
		return HideFrame{}, hide.Faultf(hide.NotMeasurable, "hide frame: the axis misses the outline")
	}
	f := HideFrame{Symmetry: m.overlap}
	f.lay(m.table(from, 0), m.table(to, 0), outline, ring)
	f.turnHead(ring)
	return f, nil
}

func sideFrame(e straightEdge, outline hide.Polygon, ring hide.Ring) HideFrame {
	f := HideFrame{Side: true, Symmetry: e.cover}
	f.lay(e.table(e.from, 0), e.table(e.to, 0), outline, ring)
	f.turnHead(ring)
	return f
}

// lay puts the backbone down and measures the halves.
func (f *HideFrame) lay(neck, tail hide.Point, outline hide.Polygon, ring hide.Ring) {
	f.Neck, f.Tail, f.outline = neck, tail, outline
	f.line, f.length = axisThrough(neck, tail), float64(neck.Distance(tail))
	f.mirror = 1
	if _, d := f.line.local(centroid(ring)); f.Side && d < 0 {
		f.mirror = -1
	}
	f.right = newHalf(f.line, f.length, ring, 1)
	f.left = newHalf(f.line, f.length, ring, -1)
}

func (f *HideFrame) halves() []*halfProfile {
	switch {
	case !f.Side:
		return []*halfProfile{f.right, f.left}
	case f.mirror < 0:
		return []*halfProfile{f.left}
	}
	return []*halfProfile{f.right}
}

// turnHead decides which end is the neck and turns the frame round if need be.
func (f *HideFrame) turnHead(ring hide.Ring) {
	odds := headOdds(f.halves(), f.length)
	f.HeadSure = logistic(math.Abs(odds))
	if odds < 0 {
		f.lay(f.Tail, f.Neck, f.outline, ring)
	}
}

// FrameFrom is the frame of a backbone that a person stated, neck end first.
// Errors: Invalid for ends that coincide or are not finite, or an outline that is
// no polygon or does not reach along the backbone.
func FrameFrom(backbone [2]hide.Point, side bool, outline hide.Polygon) (HideFrame, error) {
	ring, err := searchRing(outline)
	if err != nil {
		return HideFrame{}, err
	}
	l := float64(backbone[0].Distance(backbone[1]))
	box := boxOf(ring)
	if size := math.Hypot(box.MaxX-box.MinX, box.MaxY-box.MinY); !(l > leastBackbone*size) || l > size/leastBackbone {
		return HideFrame{}, hide.Faultf(hide.Invalid, "backbone: its ends are %.0f mm apart on a hide of %.0f mm; state neck end and tail end in table millimetres", l, size)
	}
	f := HideFrame{Side: side, Sure: 1, HeadSure: 1, Symmetry: 1}
	f.lay(backbone[0], backbone[1], outline, ring)
	return f, nil
}

// leastBackbone, of the hide's diagonal: a stated backbone shorter than a fifth
// or longer than five times is a slip of the pen or a wrong unit.
const leastBackbone = 0.2

// Length is the length of the backbone.
func (f HideFrame) Length() hide.MM { return hide.MM(f.length) }

// Along is the angle of the backbone, neck to tail, radians from x towards y.
func (f HideFrame) Along() float64 { return f.line.angle() }

// UV gives the place of a table point in the hide frame. Defined everywhere: u
// is clamped to 0..1 (a place ahead of the neck end is at 0), v to ±1 (0..1 on a
// side), so places off the hide take the nearest place's values.
func (f HideFrame) UV(p hide.Point) (u, v float64) {
	s, d := f.line.local(p)
	u = min(1, max(0, s/f.length))
	v = d / f.edgeAt(u, d)
	if f.Side {
		return u, min(1, max(0, v*f.mirror))
	}
	return u, min(1, max(-1, v))
}

// At is the inverse of UV where UV does not clamp. u and v outside their
// ranges are clamped to them.
func (f HideFrame) At(u, v float64) hide.Point {
	u = min(1, max(0, u))
	v = min(1, max(-1, v))
	if f.Side {
		v = max(0, v) * f.mirror
	}
	return f.line.table(u*f.length, v*f.edgeAt(u, v))
}

// edgeAt is the distance from backbone to edge on the half that d's sign says.
func (f HideFrame) edgeAt(u, d float64) float64 {
	if d < 0 {
		return sampleAt(&f.left.edge, u)
	}
	return sampleAt(&f.right.edge, u)
}
