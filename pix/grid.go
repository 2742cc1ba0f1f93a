package pix

import (
	"image"
	"math"

	"hidechart/hide"
)

// Grid ties a raster to the table frame. Row 0 is the far edge; pixel (c, r)
// covers the square from Left+c·MMPerPX to Left+(c+1)·MMPerPX and downward
// from Top, so its centre lies half a pixel in.
type Grid struct {
	Left, Top     hide.MM // table position of the raster's upper left corner
	MMPerPX       hide.MM
	Width, Height int
}

// TableGrid covers the table from its near left corner.
func TableGrid(width, height, mmPerPX hide.MM) Grid {
	return Grid{Top: height, MMPerPX: mmPerPX,
		Width: int(math.Round(float64(width / mmPerPX))), Height: int(math.Round(float64(height / mmPerPX)))}
}

// ToTable returns the table position of a raster position.
func (g Grid) ToTable(p Point) hide.Point {
	return hide.Point{X: g.Left + (hide.MM(p.X)+0.5)*g.MMPerPX, Y: g.Top - (hide.MM(p.Y)+0.5)*g.MMPerPX}
}

// ToRaster returns the raster position of a table position.
func (g Grid) ToRaster(p hide.Point) Point {
	return Point{X: hide.PX((p.X-g.Left)/g.MMPerPX - 0.5), Y: hide.PX((g.Top-p.Y)/g.MMPerPX - 0.5)}
}

// Scaled covers the same part of the table with pixels of another size; the
// last row and column may reach over by less than a pixel.
func (g Grid) Scaled(mmPerPX hide.MM) Grid {
	s := float64(g.MMPerPX / mmPerPX)
	return Grid{Left: g.Left, Top: g.Top, MMPerPX: mmPerPX,
		Width: int(math.Ceil(float64(g.Width)*s - 1e-9)), Height: int(math.Ceil(float64(g.Height)*s - 1e-9))}
}

// Crop is the grid of a part of the raster; r is clipped to it.
func (g Grid) Crop(r image.Rectangle) Grid {
	r = r.Intersect(image.Rect(0, 0, g.Width, g.Height))
	return Grid{Left: g.Left + hide.MM(r.Min.X)*g.MMPerPX, Top: g.Top - hide.MM(r.Min.Y)*g.MMPerPX,
		MMPerPX: g.MMPerPX, Width: r.Dx(), Height: r.Dy()}
}

// Around is the smallest part of g, in whole pixels, that holds the ring's
// bounding box widened by margin.
func (g Grid) Around(r hide.Ring, margin hide.MM) Grid {
	box := image.Rectangle{Min: image.Pt(math.MaxInt32, math.MaxInt32), Max: image.Pt(math.MinInt32, math.MinInt32)}
	m := float64(margin / g.MMPerPX)
	for _, p := range r {
		q := g.ToRaster(p)
		box.Min.X = min(box.Min.X, int(math.Floor(float64(q.X)-m)))
		box.Min.Y = min(box.Min.Y, int(math.Floor(float64(q.Y)-m)))
		box.Max.X = max(box.Max.X, int(math.Ceil(float64(q.X)+m))+1)
		box.Max.Y = max(box.Max.Y, int(math.Ceil(float64(q.Y)+m))+1)
	}
	return g.Crop(box)
}
