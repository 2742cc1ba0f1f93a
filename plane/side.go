package plane

import (
	"math"
	"slices"

	"hidechart/hide"
)

// The straight edge of a side.
const (
	edgeStepDeg  = 1
	edgeBins     = 60    // places along the hide where the edge must be present
	edgeNear     = 0.030 // of the extent: how far the cut may sway from its line
	edgeEndShare = 0.006 // of the extent: leaving the cut by that much ends the backbone; the waves of a knife cut are smaller
	endFrom      = 0.05  // the level of the cut at an end is read from here
	endTo        = 0.20  // to here, of the extent: clear of the rounded corner, before a sway of the cut tells
)

// straightEdge is the best candidate for the cut along the backbone.
type straightEdge struct {
	axis             // along the edge, the hide to the left of it
	cover    float64 // share of the hide's extent along it where the contour keeps near it
	extent   float64 // along over across
	from, to float64 // ends of the edge along the axis
}

// findStraightEdge looks at the contour from every direction for the one from
// which most of its extent lies on a line.
func findStraightEdge(r hide.Ring) straightEdge {
	points := resampled(r, 4*mirrorPoints)
	centre := centroid(r)
	best := straightEdge{cover: -1}
	bestScore := -1.0
	for deg := 0.0; deg < 360; deg += edgeStepDeg {
		e := edgeSeen(newAxis(centre, deg*math.Pi/180), points)
		// the cut is the long side: prefer it to a straight end
		if score := e.cover * min(2, e.extent); score > bestScore {
			best, bestScore = e, score
		}
	}
	return fitEdge(best, points)
}

// edgeSeen moves the axis out to the right until the whole hide lies left of it.
func edgeSeen(a axis, points hide.Ring) straightEdge {
	local := a.locals(points)
	box := boxOf(local)
	length := box.MaxX - box.MinX
	var bins [edgeBins]bool
	for _, p := range local {
		if float64(p.Y)-box.MinY < edgeNear*length {
			bins[min(edgeBins-1, int((float64(p.X)-box.MinX)/length*edgeBins))] = true
		}
	}
	n := 0
	for _, b := range bins {
		if b {
			n++
		}
	}
	a.from = a.table(0, box.MinY)
	return straightEdge{axis: a, cover: float64(n) / edgeBins, extent: length / (box.MaxY - box.MinY)}
}

// fitEdge fits a line to the edge, robustly (least squares, re-weighted by
// Tukey's biweight), and finds where the contour leaves it at both ends.
func fitEdge(e straightEdge, points hide.Ring) straightEdge {
	for k := range 8 {
		local := e.locals(points)
		box := boxOf(local)
		length := box.MaxX - box.MinX
		scale := edgeNear * length
		if k < 3 {
			scale *= 2 // the support line touches the outermost bulge only
		}
		shift, slope := fitLine(local, scale, box.MinX+0.06*length, box.MaxX-0.06*length)
		e.axis = newAxis(e.table(0, shift), e.angle()+math.Atan(slope))
	}
	e.from, e.to = edgeEnds(e.locals(points))
	box := boxOf(e.locals(points))
	e.extent = (box.MaxX - box.MinX) / (box.MaxY - box.MinY)
	return e
}

// edgeEnds are the outermost places, along the line, where the contour still
// keeps the level that the cut has near that end.
func edgeEnds(local hide.Ring) (from, to float64) {
	box := boxOf(local)
	length := box.MaxX - box.MinX
	low := cutLevel(local, box.MinX+endFrom*length, box.MinX+endTo*length)
	high := cutLevel(local, box.MaxX-endTo*length, box.MaxX-endFrom*length)
	from, to = box.MaxX, box.MinX
	for _, p := range local {
		s, d := float64(p.X), float64(p.Y)
		if math.Abs(d-low) <= edgeEndShare*length {
			from = min(from, s)
		}
		if math.Abs(d-high) <= edgeEndShare*length {
			to = max(to, s)
		}
	}
	return min(from, box.MinX+endTo*length), max(to, box.MaxX-endTo*length)
}

// cutLevel is the median offset of the cut between two places along it; 0,
// the line itself, where it has been torn away.
func cutLevel(local hide.Ring, lo, hi float64) float64 {
	var d []float64
	for _, p := range local {
		if s := float64(p.X); s >= lo && s <= hi && math.Abs(float64(p.Y)) < edgeNear*(hi-lo)/(endTo-endFrom) {
			d = append(d, float64(p.Y))
		}
	}
	if len(d) == 0 {
		return 0
	}
	slices.Sort(d)
	return d[len(d)/2]
}

// fitLine fits d = shift + slope·s to the points within scale of the axis, the
// rounded corners at the ends (beyond lo and hi) left out.
func fitLine(local hide.Ring, scale, lo, hi float64) (shift, slope float64) {
	var w0, w1, w2, g0, g1 float64
	for _, p := range local {
		s, d := float64(p.X), float64(p.Y)
		if math.Abs(d) >= scale || s < lo || s > hi {
			continue
		}
		w := 1 - (d/scale)*(d/scale)
		w *= w
		w0, w1, w2 = w0+w, w1+w*s, w2+w*s*s
		g0, g1 = g0+w*d, g1+w*s*d
	}
	det := w0*w2 - w1*w1
	if det <= 1e-9*w0*w2 {
		return 0, 0
	}
	return (g0*w2 - g1*w1) / det, (g1*w0 - g0*w1) / det
}

// axisEnds are the outermost crossings of the axis with the ring, along it.
func axisEnds(a axis, r hide.Ring) (from, to float64, ok bool) {
	xs := crossings(a.locals(r), 0)
	if len(xs) < 2 {
		return 0, 0, false
	}
	return slices.Min(xs), slices.Max(xs), true
}
