package detect

import (
	"hidechart/hide"
	"hidechart/plane"
)

// The strokes of a brand are together strokeLengths or more of its length, which two scars that
// cross cannot be and three hardly are, and fill strokeFill of their hull. The ground of a figure
// is groundBreadth of its length or more in breadth: a narrower area is a stroke's own.
const (
	strokeLengths float64 = 2.5
	strokeFill    float64 = 0.12
	groundBreadth float64 = 0.4
)

// withoutLoneStrokes gives a line that was called a stroke of a brand its next likely kind where it makes no figure:
// where no other stroke of its tone lies near, or all of them together are thin lines that cross. A brand is a figure of
// several broad strokes, and a plainer letter, Y or C, one beside a figure.
func withoutLoneStrokes(found []sorted) error {
	var strokes []hide.Defect
	for i, s := range found {
		if s.Kind == hide.Brand {
			s.ID = i
			strokes = append(strokes, s.Defect)
		}
	}
	groups, err := alikeWithin(strokes, always(wholeReach(hide.Brand)))
	if err != nil {
		return err
	}
	var figures []hide.Defect
	var lone [][]hide.Defect
	for _, g := range groups {
		if !isFigure(g, found) {
			lone = append(lone, g)
			continue
		}
		whole, err := wholeOf(g)
		if err != nil {
			return err
		}
		figures = append(figures, whole)
	}
	for _, g := range lone {
		beside, err := besideFigure(g, figures)
		if err != nil {
			return err
		}
		for _, d := range g {
			if !beside {
				found[d.ID].Kind = found[d.ID].next
			}
		}
	}
	return nil
}

// besideFigure is whether most of the strokes lie within figureGap and a figure's length of one, as the next letter of its iron does.
func besideFigure(strokes, figures []hide.Defect) (bool, error) {
	whole, err := wholeOf(strokes)
	if err != nil {
		return false, err
	}
	for _, f := range figures {
		size := plane.MinRectangle(f.Geometry).Length
		if f.Geometry, err = plane.Buffer(f.Geometry, (1+figureGap)*size); err != nil {
			return false, err
		}
		if near, err := mostlyWithin(whole, f); near || err != nil {
			return near, err
		}
	}
	return false, nil
}

// isFigure goes by the sure strokes. It takes their places in found from their ids.
func isFigure(strokes []hide.Defect, found []sorted) bool {
	var all hide.Shape
	var area hide.MM2
	var length hide.MM
	for _, d := range strokes {
		if d.Probability < surePart {
			continue
		}
		if found[d.ID].from.found.form != lineForm && float64(d.Width) >= groundBreadth*float64(d.Length) {
			return true // the figure's ground was found as an area
		}
		all = append(all, d.Geometry...)
		area, length = area+d.Area, length+d.Length
	}
	if len(all) == 0 {
		return false
	}
	reach := plane.MinRectangle(all).Length
	return float64(length) >= strokeLengths*float64(reach) && float64(area) >= strokeFill*float64(plane.ConvexHull(all).Area())
}

// figureGap is how far the figures of one iron stand apart at most, in their mean length: letters and
// numbers stand closer than they are tall (common practice, no source).
const figureGap = 0.7

// joinFigures makes one candidate of the figures of a brand.
func joinFigures(found []hide.Defect) ([]hide.Defect, error) {
	return joined(found, hide.Brand, func(d hide.Defect) hide.MM { return figureGap * plane.MinRectangle(d.Geometry).Length })
}

// A brand is a figure of strokes that fill figureFill of its hull or more; a few
// scars that happen to lie together fill less. What lies within a figure or as near it as its strokes are to
// one another, figureShare of it, is the figure's: a stroke taken for a scar, its ground for a stain, the light
// flank with which second derivatives answer beside a dark stroke, or the light rims of all of them, a smaller figure.
const (
	figureFill  float64 = 0.2
	figureShare float64 = 0.7
)

// withinBrands leaves out what lies within a surer brand.
func withinBrands(found []hide.Defect) ([]hide.Defect, error) {
	var figures []hide.Defect
	for _, d := range found {
		if hull := plane.ConvexHull(d.Geometry); d.Kind == hide.Brand && d.Count > 1 && float64(d.Area) >= figureFill*float64(hull.Area()) {
			var err error
			if d.Geometry, err = plane.Buffer(hull, wholeReach(hide.Brand)); err != nil {
				return nil, err
			}
			figures = append(figures, d)
		}
	}
	var out []hide.Defect
	for _, d := range found {
		within, err := withinAny(d, figures)
		if err != nil {
			return nil, err
		}
		if !within {
			out = append(out, d)
		}
	}
	return out, nil
}

func withinAny(d hide.Defect, figures []hide.Defect) (bool, error) {
	for _, f := range figures {
		if d.Kind == hide.Brand && d.Count > 1 && d.Area >= f.Area || d.Probability > f.Probability {
			continue
		}
		if within, err := mostlyWithin(d, f); within || err != nil {
			return within, err
		}
	}
	return false, nil
}

// mostlyWithin is whether figureShare of d or more lies in f.
func mostlyWithin(d, f hide.Defect) (bool, error) {
	if !boxOf(d.Geometry).overlaps(boxOf(f.Geometry)) {
		return false, nil
	}
	common, err := plane.Intersection(d.Geometry, f.Geometry)
	return err == nil && float64(common.Area()) >= figureShare*float64(d.Area), err
}

// withoutRipples leaves out strokes of brands within a surer loose area: its ripples lie side by side as strokes do.
func withoutRipples(found []hide.Defect) ([]hide.Defect, error) {
	var out []hide.Defect
	for _, d := range found {
		ripple := false
		for _, f := range found {
			if ripple || d.Kind != hide.Brand || f.Kind != hide.Loose || f.Probability <= d.Probability || f.Probability < surePart {
				continue
			}
			var err error
			if ripple, err = mostlyWithin(d, f); err != nil {
				return nil, err
			}
		}
		if !ripple {
			out = append(out, d)
		}
	}
	return out, nil
}
