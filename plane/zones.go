package plane

import (
	"math"
	"slices"

	"hidechart/hide"
)

// Borders of the zones. Common practice, no source, but for the shares of the
// area they should give: butt 45–50 %, neck and shoulder 20–25 %, bellies
// 25–30 % (from memory, facts of the trade), met by the mean of the shared captures.
const (
	neckTo     = 0.12 // of the backbone: where the neck widens into the shoulder
	shoulderTo = 0.35 // of the backbone: behind the fore legs
	// the belly is cut off by a straight line along the backbone, at this share
	// of the trunk's median half-width
	bellyFrom = 0.72
	// the flank: this part of the backbone before the hind leg, of the length
	flankLength = 0.13
	// where the hind leg begins when none is seen
	hindDefault = 0.80
	hindFrom    = 0.62 // a leg that begins before is no hind leg
	// a leg: stands out of the body by this much of the length somewhere, and is
	// told from it where it stands out by a tenth of that
	shankLeast = 0.035
	shankEdge  = 0.0035
)

// far is a distance beyond any hide, mm.
const far = 1e5

// zoneCut is one mask that cuts a zone off what the masks before it left.
type zoneCut struct {
	zone hide.Zone
	mask hide.Shape
}

// Zones cuts the hide into zones, in the order of hide.Zones; a zone the hide
// does not have is left out. They cover the outline without its holes
// and do not overlap: their areas add up to its area, but for rounding. One
// zone may be of several polygons.
//
// Neck: to 12 % of the backbone, full width. Shank: the leg beyond the line of
// the body (the contour with everything narrower along the backbone than 22 % of it
// taken off). Shoulder: from the neck to 35 %, butt: from there to the tail, both
// up to the belly line, which runs along the backbone at 72 % of the trunk's
// median half-width. Belly: beyond it. Flank: of the belly, the 13 % of the
// length before the hind leg.
func (f HideFrame) Zones() []hide.ZoneShape {
	rest, err := MakeValid(hide.Shape{f.outline})
	if err != nil {
		return nil // FindFrame and FrameFrom accepted this outline: cannot happen
	}
	parts := map[hide.Zone][]hide.Shape{}
	for _, c := range f.cuts() {
		in, err1 := Intersection(rest, c.mask)
		out, err2 := Difference(rest, c.mask)
		if err1 != nil || err2 != nil {
			continue // the part stays in the rest and ends up in the butt
		}
		parts[c.zone] = append(parts[c.zone], in)
		rest = out
	}
	parts[hide.Butt] = append(parts[hide.Butt], rest)
	var zones []hide.ZoneShape
	for _, z := range hide.Zones() {
		if s, err := Union(parts[z]...); err == nil && len(s) > 0 {
			zones = append(zones, hide.ZoneShape{Zone: z, Geometry: s})
		}
	}
	return zones
}

// ZoneAt is the zone of a place; off the hide, that of the place the masks
// put it in.
func (f HideFrame) ZoneAt(p hide.Point) hide.Zone {
	s, d := f.line.local(p)
	u := s / f.length
	h := f.half(d)
	switch side := math.Abs(d); {
	case h.legAt(u) && side > sampleAt(&h.body, u):
		return hide.Shank
	case u < neckTo:
		return hide.Neck
	case side > bellyFrom*h.width:
		if to := h.hind; u >= to-flankLength && u < to {
			return hide.Flank
		}
		return hide.Belly
	case u < shoulderTo:
		return hide.Shoulder
	}
	return hide.Butt
}

// half is the half of the hide on which d lies. Beyond the cut of a side the
// near half serves.
func (f HideFrame) half(d float64) *halfProfile {
	if f.Side {
		d = f.mirror
	}
	if d < 0 {
		return f.left
	}
	return f.right
}

// cuts are the masks in the order of ZoneAt.
func (f HideFrame) cuts() []zoneCut {
	var cuts []zoneCut
	for _, side := range f.sides() {
		h := f.half(side)
		for _, leg := range h.legs {
			cuts = append(cuts, zoneCut{hide.Shank, f.legMask(h, leg, side)})
		}
	}
	cuts = append(cuts, zoneCut{hide.Neck, f.band(-far, neckTo*f.length, -far, far)})
	for _, side := range f.sides() {
		h := f.half(side)
		from, to := bellyFrom*h.width*side, far*side
		hind := h.hind
		cuts = append(cuts,
			zoneCut{hide.Flank, f.band((hind-flankLength)*f.length, hind*f.length, from, to)},
			zoneCut{hide.Belly, f.band(-far, far, from, to)})
	}
	return append(cuts, zoneCut{hide.Shoulder, f.band(-far, shoulderTo*f.length, -far, far)})
}

func (f HideFrame) sides() []float64 {
	if f.Side {
		return []float64{f.mirror}
	}
	return []float64{1, -1}
}

// band is the rectangle s0..s1 along, d0..d1 across the backbone.
func (f HideFrame) band(s0, s1, d0, d1 float64) hide.Shape {
	r := hide.Ring{f.line.table(s0, d0), f.line.table(s1, d0), f.line.table(s1, d1), f.line.table(s0, d1)}
	return hide.Shape{hide.Polygon{Outer: r}.Oriented()}
}

// leg is a run of knots over which a leg stands out of the body.
type leg struct{ from, to int }

// findLegs lists them from head to tail.
func (h *halfProfile) findLegs(length float64) []leg {
	var out []leg
	for k := 0; k < knots; k++ {
		if h.reach[k]-h.body[k] <= shankEdge*length {
			continue
		}
		l, highest, tip := leg{k, k}, 0.0, k
		for ; k < knots && h.reach[k]-h.body[k] > shankEdge*length; k++ {
			l.to = k
			if d := h.reach[k] - h.body[k]; d > highest {
				highest, tip = d, k
			}
		}
		if highest >= shankLeast*length && float64(min(tip, knots-1-tip)) <= legSearch*(knots-1) {
			out = append(out, l)
		}
	}
	return out
}

// span widens a leg by a knot, in u, for its slope crosses the body's line
// between two knots; at the end of the backbone it goes on beyond.
func (l leg) span() (from, to float64) {
	from, to = float64(l.from-1)/(knots-1), float64(l.to+1)/(knots-1)
	if l.from <= 1 {
		from = -far
	}
	if l.to >= knots-2 {
		to = far
	}
	return from, to
}

func (h *halfProfile) legAt(u float64) bool {
	return slices.ContainsFunc(h.legs, func(l leg) bool {
		from, to := l.span()
		return u >= from && u <= to
	})
}

// hindStart is the u at which the hind leg begins.
func (h *halfProfile) hindStart() float64 {
	for _, l := range h.legs {
		if u := float64(l.from) / (knots - 1); u >= hindFrom {
			return u
		}
	}
	return hindDefault
}

// legMask is everything beyond the body's line over the leg's span.
func (f HideFrame) legMask(h *halfProfile, l leg, side float64) hide.Shape {
	from, to := l.span()
	clamp := func(u float64) float64 { return min(1, max(0, u)) }
	r := hide.Ring{f.line.table(from*f.length, far*side), f.line.table(from*f.length, sampleAt(&h.body, from)*side)}
	for k := int(math.Ceil(clamp(from) * (knots - 1))); k <= int(clamp(to)*(knots-1)); k++ {
		if u := float64(k) / (knots - 1); u > from && u < to {
			r = append(r, f.line.table(u*f.length, h.body[k]*side))
		}
	}
	r = append(r, f.line.table(to*f.length, sampleAt(&h.body, to)*side), f.line.table(to*f.length, far*side))
	return hide.Shape{hide.Polygon{Outer: r}.Oriented()}
}
