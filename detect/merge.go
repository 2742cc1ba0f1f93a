package detect

import (
	"cmp"
	"slices"

	"hidechart/hide"
	"hidechart/plane"
)

// coveredShare of a candidate under more likely ones makes it part of them.
const coveredShare = 0.5

// merged joins what lies on one another: the ripples of a loose area become the
// area, the strokes of a brand or a scrape and the branches of a vein one flaw,
// and a candidate more than half under more likely ones is left out. The most
// likely come first.
func merged(found []hide.Defect) ([]hide.Defect, error) {
	found, err := joinLoose(found)
	if err != nil {
		return nil, err
	}
	if found, err = joinWholes(found); err != nil {
		return nil, err
	}
	if found, err = withinBrands(found); err != nil {
		return nil, err
	}
	if found, err = withoutRipples(found); err != nil {
		return nil, err
	}
	if found, err = joinFigures(found); err != nil {
		return nil, err
	}
	slices.SortStableFunc(found, func(a, b hide.Defect) int { return cmp.Compare(b.Probability, a.Probability) })
	var out []hide.Defect
	for _, d := range found {
		hidden, err := underOthers(d, out)
		if err != nil {
			return nil, err
		}
		if !hidden {
			out = append(out, d)
		}
	}
	return out, nil
}

// underOthers is true if most of the defect lies under those of its own kind of
// ground: a scar in a loose area stays, a second outline of the scar does not.
func underOthers(d hide.Defect, others []hide.Defect) (bool, error) {
	box := boxOf(d.Geometry)
	var near []hide.Shape
	for _, o := range others {
		if (o.Kind == hide.Loose) == (d.Kind == hide.Loose) && box.overlaps(boxOf(o.Geometry)) {
			near = append(near, o.Geometry)
		}
	}
	if near == nil {
		return false, nil
	}
	cover, err := plane.Union(near...)
	if err != nil {
		return false, err
	}
	common, err := plane.Intersection(d.Geometry, cover)
	if err != nil {
		return false, err
	}
	return common.Area() > coveredShare*d.Area, nil
}

type box struct{ left, bottom, right, top hide.MM }

func boxOf(s hide.Shape) box {
	first := s[0].Outer[0]
	b := box{first.X, first.Y, first.X, first.Y}
	for _, p := range s {
		for _, q := range p.Outer {
			b.left, b.right = min(b.left, q.X), max(b.right, q.X)
			b.bottom, b.top = min(b.bottom, q.Y), max(b.top, q.Y)
		}
	}
	return b
}

func (b box) overlaps(o box) bool {
	return b.left <= o.right && o.left <= b.right && b.bottom <= o.top && o.bottom <= b.top
}

// within is true if the boxes' gap is at most reach in each direction.
func (b box) within(o box, reach hide.MM) bool {
	return box{b.left - reach, b.bottom - reach, b.right + reach, b.top + reach}.overlaps(o)
}
