package calibrate

import "math"

// Camera is a camera's inner geometry: focal lengths and principal point (px,
// pixel centres at integers) and the lens terms of Brown (1971) in OpenCV's order
// and sign: k radial, p tangential, applied to the undistorted direction.
type Camera struct {
	FX, FY, CX, CY     float64
	K1, K2, P1, P2, K3 float64
	Width, Height      int // of the photographs, px
}

// distort moves an undistorted direction (x/z, y/z). ok is false beyond the
// radius where the radial polynomial turns back: no light from there reaches the
// sensor, though the formula would send it into the frame.
func (c Camera) distort(u, v float64) (x, y float64, ok bool) {
	r2 := u*u + v*v
	radial := 1 + r2*(c.K1+r2*(c.K2+r2*c.K3))
	slope := 1 + r2*(3*c.K1+r2*(5*c.K2+7*r2*c.K3))
	x = u*radial + 2*c.P1*u*v + c.P2*(r2+2*u*u)
	y = v*radial + c.P1*(r2+2*v*v) + 2*c.P2*u*v
	return x, y, slope > 0
}

// pixel is where a direction lands in the photograph.
func (c Camera) pixel(u, v float64) (x, y float64, ok bool) {
	x, y, ok = c.distort(u, v)
	return c.FX*x + c.CX, c.FY*y + c.CY, ok
}

// direction is the inverse of pixel, by Newton's method; a handful of steps
// reach round-off for every lens that a photograph of a table is taken with.
// Pixels beyond the lens's reach, which a lens fitted to tags may have in the
// corners, get a direction near its end.
func (c Camera) direction(px, py float64) (u, v float64) {
	tx, ty := (px-c.CX)/c.FX, (py-c.CY)/c.FY
	off := func(u, v float64) float64 {
		x, y, ok := c.distort(u, v)
		if !ok {
			return math.Inf(1)
		}
		return math.Hypot(x-tx, y-ty)
	}
	least := off(0, 0)
	const steps, halvings = 20, 10
	du, dv := tx, ty
	for range steps {
		nearer := false
		for range halvings { // a whole step may leave the lens's reach, or overshoot at its end
			if e := off(u+du, v+dv); e < least {
				u, v, least, nearer = u+du, v+dv, e, true
				break
			}
			du, dv = du/2, dv/2
		}
		if !nearer || least < 1e-14 {
			break
		}
		du, dv = c.newtonStep(u, v, tx, ty)
	}
	return u, v
}

// newtonStep leads from the direction u, v towards the one that lands at tx, ty.
func (c Camera) newtonStep(u, v, tx, ty float64) (du, dv float64) {
	x, y, _ := c.distort(u, v)
	ex, ey := x-tx, y-ty
	r2 := u*u + v*v
	radial := 1 + r2*(c.K1+r2*(c.K2+r2*c.K3))
	d := 2 * (c.K1 + r2*(2*c.K2+3*r2*c.K3)) // d radial / d r², doubled
	xx := radial + u*u*d + 2*c.P1*v + 6*c.P2*u
	xy := u*v*d + 2*c.P1*u + 2*c.P2*v
	yy := radial + v*v*d + 6*c.P1*v + 2*c.P2*u
	det := xx*yy - xy*xy
	if det == 0 {
		return 0, 0
	}
	return -(yy*ex - xy*ey) / det, -(xx*ey - xy*ex) / det
}

// scaled is the camera for photographs of another size of the same sensor.
func (c Camera) scaled(width, height int) Camera {
	sx, sy := float64(width)/float64(c.Width), float64(height)/float64(c.Height)
	c.FX, c.FY = c.FX*sx, c.FY*sy
	c.CX, c.CY = (c.CX+0.5)*sx-0.5, (c.CY+0.5)*sy-0.5
	c.Width, c.Height = width, height
	return c
}
