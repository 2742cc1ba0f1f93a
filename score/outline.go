package score

import (
	"image"

	"hidechart/hide"
	"hidechart/pix"
	"hidechart/plane"
)

// outline compares area and outline. Both outlines are polygons, so the
// intersection is exact (GEOS); only the true holes come from the label raster,
// as the union of their pixels.
func (r *Result) outline(chart hide.Chart, t Truth) error {
	r.AreaError = float64((chart.Area.Value - t.Area) / t.Area)
	if chart.Area.U > 0 {
		e := float64((chart.Area.Value - t.Area) / chart.Area.U)
		r.AreaErrorInU = &e
	}
	if len(chart.Outline.Outer) < 3 {
		return nil // no outline: nothing in common
	}
	holes, err := plane.Union(pixelSquares(t, hide.Hole)...)
	if err != nil {
		return err
	}
	genuine, err := plane.Difference(hide.Shape{{Outer: t.Outline}}, holes)
	if err != nil {
		return err
	}
	charted, err := plane.MakeValid(hide.Shape{chart.Outline})
	if err != nil {
		return err
	}
	both, err := plane.Intersection(charted, genuine)
	if err != nil {
		return err
	}
	common := both.Area()
	r.OutlineIoU = float64(common / (charted.Area() + genuine.Area() - common))
	return nil
}

// pixelSquares are the pixels of one kind, each run along a row as a rectangle.
func pixelSquares(t Truth, k hide.Kind) []hide.Shape {
	var out []hide.Shape
	for y := range t.Grid.Height {
		row := t.ID[y*t.Grid.Width : (y+1)*t.Grid.Width]
		for x := 0; x < len(row); x++ {
			first := x
			for x < len(row) && row[x] != 0 && t.Defects[row[x]-1].Kind == k {
				x++
			}
			if x > first {
				out = append(out, rectangle(t.Grid, image.Rect(first, y, x, y+1)))
			}
		}
	}
	return out
}

func rectangle(g pix.Grid, r image.Rectangle) hide.Shape {
	left, right := g.Left+hide.MM(r.Min.X)*g.MMPerPX, g.Left+hide.MM(r.Max.X)*g.MMPerPX
	top, bottom := g.Top-hide.MM(r.Min.Y)*g.MMPerPX, g.Top-hide.MM(r.Max.Y)*g.MMPerPX
	return hide.Shape{{Outer: hide.Ring{{X: left, Y: bottom}, {X: right, Y: bottom}, {X: right, Y: top}, {X: left, Y: top}}}}
}
