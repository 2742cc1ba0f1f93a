package calibrate

import (
	"math"

	"hidechart/hide"
	"hidechart/pix"
)

// View is a camera above a table: its inner geometry and its pose. A place X of
// the table frame (z up, from the tag plane) lies at R·X + T in the camera's frame
// (x right, y down, z forward; mm).
type View struct {
	Camera Camera
	R      [9]float64 // row by row
	T      [3]float64
}

// Project returns where a place on the table, at height z above the tag plane,
// appears in the photograph. Places behind the camera or beyond the lens's reach
// come out far outside the frame.
func (v View) Project(x, y, z hide.MM) pix.Point {
	px, py := v.project(float64(x), float64(y), float64(z))
	return pix.Point{X: hide.PX(px), Y: hide.PX(py)}
}

const nowhere = -1e6 // outside every frame

func (v View) project(x, y, z float64) (px, py float64) {
	r := &v.R
	cx := r[0]*x + r[1]*y + r[2]*z + v.T[0]
	cy := r[3]*x + r[4]*y + r[5]*z + v.T[1]
	cz := r[6]*x + r[7]*y + r[8]*z + v.T[2]
	if cz <= 0 {
		return nowhere, nowhere
	}
	px, py, ok := v.Camera.pixel(cx/cz, cy/cz)
	if !ok {
		return nowhere, nowhere
	}
	return px, py
}

// Ground returns the place at height z above the tag plane that a pixel shows.
// Rays that never reach that height give NaN.
func (v View) Ground(p pix.Point, z hide.MM) hide.Point {
	a, b := v.Camera.direction(float64(p.X), float64(p.Y))
	r := &v.R
	// in the table frame: ray direction Rᵀ(a, b, 1), camera centre -Rᵀ T
	dx, dy, dz := r[0]*a+r[3]*b+r[6], r[1]*a+r[4]*b+r[7], r[2]*a+r[5]*b+r[8]
	c := v.Centre()
	s := (float64(z) - c[2]) / dz
	if !(s > 0) {
		return hide.Point{X: hide.MM(math.NaN()), Y: hide.MM(math.NaN())}
	}
	return hide.Point{X: hide.MM(c[0] + s*dx), Y: hide.MM(c[1] + s*dy)}
}

// Centre is the camera's position in the table frame, mm; the third is its
// height above the tag plane.
func (v View) Centre() [3]float64 {
	r, t := &v.R, &v.T
	return [3]float64{
		-(r[0]*t[0] + r[3]*t[1] + r[6]*t[2]),
		-(r[1]*t[0] + r[4]*t[1] + r[7]*t[2]),
		-(r[2]*t[0] + r[5]*t[1] + r[8]*t[2]),
	}
}

// Resolution is the mean size of a pixel on the table at a place.
func (v View) Resolution(p hide.Point) hide.MM {
	x0, y0 := v.project(float64(p.X), float64(p.Y), 0)
	x1, y1 := v.project(float64(p.X)+1, float64(p.Y), 0)
	x2, y2 := v.project(float64(p.X), float64(p.Y)+1, 0)
	return hide.MM(1 / math.Sqrt(math.Abs((x1-x0)*(y2-y0)-(x2-x0)*(y1-y0))))
}

// Frame is what the photograph shows of the plane at height z: its border, a
// point every 32nd part of each side, counter-clockwise on the table.
func (v View) Frame(z hide.MM) hide.Polygon {
	const parts = 32 // chords of a border bent by 2 % of its length stray 0.01 %
	w, h := float64(v.Camera.Width)-0.5, float64(v.Camera.Height)-0.5
	corners := [5][2]float64{{-0.5, -0.5}, {-0.5, h}, {w, h}, {w, -0.5}, {-0.5, -0.5}}
	var ring hide.Ring
	for i := range 4 {
		a, b := corners[i], corners[i+1]
		for k := range parts {
			f := float64(k) / parts
			ring = append(ring, v.Ground(pix.Point{X: hide.PX(a[0] + f*(b[0]-a[0])), Y: hide.PX(a[1] + f*(b[1]-a[1]))}, z))
		}
	}
	return hide.Polygon{Outer: ring}
}

// nodeStep is how far apart, in raster pixels, positions are computed exactly;
// linear between. A lens with k1 = -0.3 bends by less than 6·k1·r/f² = 2e-4
// px/px² at r = f/2, f = 3000 px, so the error is below 16²/8 · 2e-4 = 0.006 px.
const nodeStep = 16

// Warp brings a photograph onto a table raster, in the plane at height z above
// the tags, in one resampling. Depth and channels stay; what the photograph does
// not show is 0 (see Frame). The caller closes the result. Error: Invalid when the
// photograph is not of the camera's size or too large.
func (v View) Warp(src *pix.Image, g pix.Grid, z hide.MM, interp pix.Interp) (*pix.Image, error) {
	if err := v.tookIt(src.Width(), src.Height()); err != nil {
		return nil, err
	}
	out, err := pix.Remap(src, g.Width, g.Height, interp, v.rows(g, z))
	if err != nil {
		return nil, hide.Wrapf(hide.Invalid, err, "warp")
	}
	return out, nil
}

// WarpLight is Warp, bilinear, of a photograph read as linear light: U16.
func (v View) WarpLight(src *pix.Exposure, g pix.Grid, z hide.MM) (*pix.Image, error) {
	if err := v.tookIt(src.Width(), src.Height()); err != nil {
		return nil, err
	}
	out, err := src.Remap(g.Width, g.Height, v.rows(g, z))
	if err != nil {
		return nil, hide.Wrapf(hide.Invalid, err, "warp")
	}
	return out, nil
}

// tookIt reports a photograph that is not of the camera's size.
func (v View) tookIt(width, height int) error {
	if width != v.Camera.Width || height != v.Camera.Height {
		return hide.Faultf(hide.Invalid, "warp: the photograph is %d × %d, its camera %d × %d", width, height, v.Camera.Width, v.Camera.Height)
	}
	return nil
}

// rows tells where a row of the raster lies in the photograph.
func (v View) rows(g pix.Grid, z hide.MM) func(row int, xs, ys []float32) {
	return func(row int, xs, ys []float32) { v.fillRow(g, row, float64(z), xs, ys) }
}

func (v View) fillRow(g pix.Grid, row int, z float64, xs, ys []float32) {
	at := func(col int) (x, y float64) {
		p := g.ToTable(pix.Point{X: hide.PX(col), Y: hide.PX(row)})
		return v.project(float64(p.X), float64(p.Y), z)
	}
	x0, y0 := at(0)
	for from := 0; from < len(xs); from += nodeStep {
		x1, y1 := at(from + nodeStep)
		for i := from; i < min(from+nodeStep, len(xs)); i++ {
			f := float64(i-from) / nodeStep
			xs[i], ys[i] = float32(x0+f*(x1-x0)), float32(y0+f*(y1-y0))
		}
		x0, y0 = x1, y1
	}
}
