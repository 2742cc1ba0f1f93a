package detect

import (
	"cmp"
	"slices"

	"hidechart/hide"
	"hidechart/plane"
)

// looseJoin is how far apart ripples of one loose area are found.
const looseJoin hide.MM = 8

// looseLeast is the least loose area: a ripple or two alone are a wrinkle of the
// skin, not slack.
const looseLeast hide.MM2 = 1200

// joinLoose unites the loose candidates that lie within looseJoin of each other: the sure
// ones, and by themselves the doubtful ones.
func joinLoose(found []hide.Defect) ([]hide.Defect, error) {
	var sure, doubtful, out []hide.Defect
	for _, d := range found {
		switch {
		case d.Kind != hide.Loose:
			out = append(out, d)
		case d.Probability >= surePart:
			sure = append(sure, d)
		default:
			doubtful = append(doubtful, d)
		}
	}
	for _, parts := range [][]hide.Defect{sure, doubtful} {
		groups, err := groupsWithin(parts, always(2*looseJoin))
		if err != nil {
			return nil, err
		}
		for _, g := range groups {
			areas, err := looseOf(g)
			if err != nil {
				return nil, err
			}
			out = append(out, areas...)
		}
	}
	return out, nil
}

// looseOf makes loose areas of parts that lie together. Where the ripple's energy was found
// risen, that is the area, and neither single ripples that run out of it nor outlines of tone add anything to it; ripples that lie
// outside, or all parts where no area was found, are closed over looseJoin, and what is narrower
// than a loose area is cut off. Each keeps the highest probability of its parts and the
// lights of that.
func looseOf(parts []hide.Defect) ([]hide.Defect, error) {
	var measured []hide.Shape
	for _, d := range parts {
		if isRisen(d) {
			measured = append(measured, d.Geometry)
		}
	}
	shape, err := plane.Union(measured...)
	if err != nil {
		return nil, err
	}
	var outside []hide.Shape
	for _, d := range parts {
		if measured != nil && formOf(d) == patchForm {
			continue // it tells the tone's reach, not the ripple's
		}
		if !isRisen(d) && shareWithin(d.Geometry, shape) <= coveredShare {
			outside = append(outside, d.Geometry)
		}
	}
	closed, err := closedOver(outside, measured == nil)
	if err != nil {
		return nil, err
	}
	if shape, err = plane.Union(shape, closed); err != nil {
		return nil, err
	}
	var out []hide.Defect
	for _, p := range shape {
		d, err := looseArea(hide.Polygon{Outer: p.Outer}, parts)
		if err != nil {
			return nil, err
		}
		if d.Area >= looseLeast {
			out = append(out, d)
		}
	}
	return out, nil
}

// isRisen is true of an area found by the energy of its ripple.
func isRisen(d hide.Defect) bool { return formOf(d) == looseForm }

// formOf is how a defect was found; -1 where its evidence does not tell.
func formOf(d hide.Defect) form {
	f, ok := d.Evidence[featureWords()[fForm]]
	if !ok {
		return -1
	}
	return form(f)
}

// closedOver unites shapes over gaps of looseJoin, without what a disc of radius looseNeck
// cannot sweep. If it can sweep nothing, all stays or all goes.
func closedOver(shapes []hide.Shape, narrow bool) (hide.Shape, error) {
	if shapes == nil {
		return nil, nil
	}
	all, err := plane.Union(shapes...)
	if err != nil {
		return nil, err
	}
	grown, err := plane.Buffer(all, looseJoin)
	if err != nil {
		return nil, err
	}
	for i := range grown {
		grown[i].Holes = nil
	}
	core, err := plane.Buffer(grown, -looseJoin-looseNeck)
	if err != nil {
		return nil, err
	}
	if len(core) == 0 && narrow {
		return plane.Buffer(grown, -looseJoin)
	}
	return plane.Buffer(core, looseNeck)
}

// looseArea is the flaw of that outline.
func looseArea(p hide.Polygon, parts []hide.Defect) (hide.Defect, error) {
	best, err := likeliestOn(p, parts)
	if err != nil {
		return best, err
	}
	if best.Geometry, err = plane.Simplify(hide.Shape{p}, 1); err != nil {
		return best, err
	}
	r := plane.MinRectangle(best.Geometry)
	best.Area, best.Length, best.Width = best.Geometry.Area(), r.Length, r.Width
	return best, nil
}

// shareWithin is the share of a shape's corners that lie within another.
func shareWithin(s, other hide.Shape) float64 {
	var n, in float64
	for _, p := range s {
		for _, q := range p.Outer {
			n++
			if plane.ContainsShape(other, q) {
				in++
			}
		}
	}
	return in / max(n, 1)
}

// likeliestOn is the likeliest part that lies on the polygon.
func likeliestOn(p hide.Polygon, parts []hide.Defect) (hide.Defect, error) {
	parts = slices.Clone(parts)
	slices.SortStableFunc(parts, func(a, b hide.Defect) int { return cmp.Compare(b.Probability, a.Probability) })
	for _, d := range parts {
		common, err := plane.Intersection(d.Geometry, hide.Shape{p})
		if err != nil {
			return d, err
		}
		if common.Area() > 0 {
			return d, nil
		}
	}
	return parts[0], nil
}
