package detect

import (
	"slices"

	"hidechart/hide"
	"hidechart/plane"
)

// wholeReach is how far apart the parts of one flaw lie: the strokes of a brand
// leave bridges of a finger's breadth, the twigs of a vein meet it within a
// branch's reach, the strokes of a scrape side by side; bites and warts come in clusters, of which a
// line that crosses parts some; the folds of a neck lie side by side. 0: the kind is not joined.
func wholeReach(k hide.Kind) hide.MM {
	switch k {
	case hide.Brand:
		return 15
	case hide.Vein:
		return branchReach
	case hide.Scratch:
		return bundleReach / 2
	case hide.Bites:
		return bitesReach
	case hide.Wart, hide.Wrinkle:
		return handBreadth
	}
	return 0
}

// handBreadth is the widest gap between two folds of one neck and between warts of one crop (common practice, no source).
const handBreadth hide.MM = 100

// bitesReach is companyReach, which is between spots as large as they were found, and what they are drawn smaller by.
const bitesReach = companyReach + 5

// always the same reach.
func always(d hide.MM) func(hide.Defect) hide.MM { return func(hide.Defect) hide.MM { return d } }

// surePart is the probability from which a part joins others: a doubtful one
// must not be made sure by its neighbour.
const surePart = 0.5

// joinWholes makes one candidate of the strokes of a brand, of a vein and its
// branches, of the strokes of a scrape, of the folds of a neck, and of clusters of bites or warts. It keeps the evidence, probability and
// lights of its likeliest part and counts the parts, or the spots of all clusters.
func joinWholes(found []hide.Defect) ([]hide.Defect, error) {
	var err error
	for _, k := range []hide.Kind{hide.Brand, hide.Vein, hide.Scratch, hide.Wrinkle, hide.Bites, hide.Wart} {
		if found, err = joined(found, k, always(wholeReach(k))); err != nil {
			return nil, err
		}
	}
	return found, nil
}

// joined makes wholes of the sure parts of a kind whose gaps are at most the mean of their reaches.
func joined(found []hide.Defect, k hide.Kind, reach func(hide.Defect) hide.MM) ([]hide.Defect, error) {
	var parts, out []hide.Defect
	for _, d := range found {
		if d.Kind == k && d.Probability >= surePart {
			parts = append(parts, d)
		} else {
			out = append(out, d)
		}
	}
	groups, err := alikeWithin(parts, reach)
	if err != nil {
		return nil, err
	}
	for _, g := range groups {
		whole, err := wholeOf(g)
		if err != nil {
			return nil, err
		}
		out = append(out, whole)
	}
	return out, nil
}

// alikeWithin are the groups of the parts darker than the leather beside, and of the others: one
// iron, one vein or one wire leaves one tone, and a dark line across a light one is another flaw;
// open bites, which are dark, stay apart from healed ones. Of warts and folds the tone tells nothing: what
// stands up has a light and a dark side.
func alikeWithin(parts []hide.Defect, reach func(hide.Defect) hide.MM) ([][]hide.Defect, error) {
	var dark, other []hide.Defect
	for _, d := range parts {
		if d.Kind != hide.Wart && d.Kind != hide.Wrinkle && d.Evidence[featureWords()[fTopTone]] < 0 {
			dark = append(dark, d)
		} else {
			other = append(other, d)
		}
	}
	out, err := groupsWithin(dark, reach)
	if err != nil {
		return nil, err
	}
	more, err := groupsWithin(other, reach)
	return append(out, more...), err
}

// groupsWithin are the parts whose gaps are at most the mean of their reaches, by single linkage.
func groupsWithin(parts []hide.Defect, reach func(hide.Defect) hide.MM) ([][]hide.Defect, error) {
	if len(parts) == 0 {
		return nil, nil
	}
	wide := make([]hide.Shape, len(parts))
	err := each(len(parts), func(i int) (err error) {
		wide[i], err = plane.Buffer(parts[i].Geometry, reach(parts[i])/2)
		return err
	})
	if err != nil {
		return nil, err
	}
	all, err := plane.Union(wide...)
	if err != nil {
		return nil, err
	}
	groups := make([][]hide.Defect, len(all))
	for _, d := range parts {
		at := slices.IndexFunc(all, func(p hide.Polygon) bool {
			return plane.Contains(hide.Polygon{Outer: p.Outer}, d.Geometry[0].Outer[0])
		})
		groups[max(at, 0)] = append(groups[max(at, 0)], d)
	}
	return slices.DeleteFunc(groups, func(g []hide.Defect) bool { return len(g) == 0 }), nil
}

func wholeOf(parts []hide.Defect) (hide.Defect, error) {
	best := parts[0]
	if len(parts) == 1 {
		return best, nil
	}
	var shapes []hide.Shape
	var length hide.MM
	spots, strokes := 0, 0
	for _, d := range parts {
		if d.Probability > best.Probability {
			best = d
		}
		shapes = append(shapes, d.Geometry)
		length += d.Length
		spots += d.Count
		strokes += max(d.Count, 1)
	}
	shape, err := plane.Union(shapes...)
	if err != nil {
		return best, err
	}
	best.Geometry, best.Area, best.Count = shape, shape.Area(), strokes
	if best.Kind == hide.Bites || best.Kind == hide.Wart {
		r := plane.MinRectangle(shape)
		best.Count, best.Length, best.Width = spots, r.Length, r.Width
		return best, nil
	}
	best.Length = length // of all strokes or branches together; the width stays that of one
	return best, nil
}
