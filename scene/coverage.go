package scene

import (
	"math"

	"hidechart/hide"
	"hidechart/pix"
)

// cover is how much of each pixel polygons cover, 0…1, over a window of a
// picture. Each edge adds its exact signed area to the pixels it crosses; the
// running sum along a row is the coverage (the accumulation buffer used by
// font rasterisers). Rings wound the other way subtract, so the sum of
// disjoint polygons of one sense is right, and their order does not matter.
type cover struct {
	x0, y0, width, height int
	acc                   []float32 // one column more than width: an edge at the right border writes there
}

func newCover(x0, y0, width, height int) *cover {
	return &cover{x0: x0, y0: y0, width: width, height: height, acc: make([]float32, (width+2)*height)}
}

// ring adds a closed polygon in picture coordinates (pixel centres at
// integers).
func (c *cover) ring(points []pix.Point) {
	for i, p := range points {
		q := points[(i+1)%len(points)]
		c.edge(float64(p.X)+0.5-float64(c.x0), float64(p.Y)+0.5-float64(c.y0),
			float64(q.X)+0.5-float64(c.x0), float64(q.Y)+0.5-float64(c.y0))
	}
}

// edge adds one edge, split at rows.
func (c *cover) edge(xa, ya, xb, yb float64) {
	if ya == yb {
		return
	}
	sign := float32(1)
	if ya > yb {
		xa, ya, xb, yb, sign = xb, yb, xa, ya, -1
	}
	slope := (xb - xa) / (yb - ya)
	if ya < 0 {
		xa, ya = xa-ya*slope, 0
	}
	if yb > float64(c.height) {
		yb = float64(c.height)
	}
	for row := int(ya); ya < yb && row < c.height; row++ {
		y1 := math.Min(float64(row+1), yb)
		x1 := xa + (y1-ya)*slope
		c.span(row, xa, x1, sign*float32(y1-ya))
		xa, ya = x1, y1
	}
}

// span spreads the height dy of an edge running from xa to xb within one row.
func (c *cover) span(row int, xa, xb float64, dy float32) {
	line := c.acc[row*(c.width+2) : (row+1)*(c.width+2)]
	w := float64(c.width)
	xa, xb = clamp(xa, 0, w), clamp(xb, 0, w)
	if xa > xb {
		xa, xb = xb, xa
	}
	first, last := int(xa), int(xb)
	if first == last {
		mid := float32((xa+xb)/2 - float64(first))
		line[first] += dy * (1 - mid)
		line[first+1] += dy * mid
		return
	}
	per := float64(dy) / (xb - xa) // height per unit of x
	for i := first; i <= last; i++ {
		a, b := math.Max(xa, float64(i)), math.Min(xb, float64(i+1))
		part := float32(per * (b - a))
		mid := float32((a+b)/2 - float64(i))
		line[i] += part * (1 - mid)
		line[i+1] += part * mid
	}
}

// row returns the coverage of a row of the window in out[:width], 0…1,
// whichever sense the rings are wound in.
func (c *cover) row(row int, out []float32) {
	line := c.acc[row*(c.width+2) : (row+1)*(c.width+2)]
	var sum float32
	for i := range out[:c.width] {
		sum += line[i]
		a := sum
		if a < 0 {
			a = -a
		}
		if a > 1 {
			a = 1
		}
		if a < 1e-5 { // rounding of the running sum
			a = 0
		}
		out[i] = a
	}
}

// toCells puts a ring on the cells of depths (cell centres at integers, y up
// as on the table).
func toCells(r hide.Ring) []pix.Point {
	out := make([]pix.Point, len(r))
	for i, p := range r {
		out[i] = pix.Point{X: hide.PX(float64(p.X)/depthCell - .5), Y: hide.PX(float64(p.Y)/depthCell - .5)}
	}
	return out
}

// onGrid puts a ring on a table raster.
func onGrid(g pix.Grid, r hide.Ring) []pix.Point {
	out := make([]pix.Point, len(r))
	for i, p := range r {
		out[i] = g.ToRaster(p)
	}
	return out
}
