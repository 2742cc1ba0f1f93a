package scene

import (
	"encoding/json"
	"math"

	"hidechart/hide"
	"hidechart/pix"
)

// camera is a pinhole camera with two radial and two tangential terms (Brown
// 1966, in OpenCV's order) over the table. Its world frame is x right, y down
// (from the far edge), z into the table.
type camera struct {
	fx, fy, cx, cy float64
	k1, k2, p1, p2 float64
	r              [9]float64 // row-major, table to camera
	t              [3]float64
	width, height  int
	tableHeight    float64 // mm: y down = tableHeight − y up
}

// project returns where the camera sees a point of the table frame at a
// height above the table, pixel centres at integers.
func (c *camera) project(p hide.Point, above float64) pix.Point {
	x, y, z := float64(p.X), c.tableHeight-float64(p.Y), -above
	r, t := &c.r, &c.t
	zc := r[6]*x + r[7]*y + r[8]*z + t[2]
	a := (r[0]*x + r[1]*y + r[2]*z + t[0]) / zc
	b := (r[3]*x + r[4]*y + r[5]*z + t[1]) / zc
	u, v := c.distort(a, b)
	return pix.Point{X: hide.PX(c.fx*u + c.cx), Y: hide.PX(c.fy*v + c.cy)}
}

// leastSlope is how much farther out a direction lands for each step outward,
// at least. Beyond where the lens terms fall below it (far outside every picture) they
// no longer mean anything, and would fold what lies beside a picture into it.
const leastSlope = 0.2

// distort sends a direction through the lens.
func (c *camera) distort(a, b float64) (u, v float64) {
	q := a*a + b*b
	if most := c.reach(); q > most {
		f := math.Sqrt(most / q)
		u, v = c.distort(a*f, b*f)
		return u + leastSlope*a*(1-f), v + leastSlope*b*(1-f)
	}
	radial := 1 + q*(c.k1+q*c.k2)
	return a*radial + 2*c.p1*a*b + c.p2*(q+2*a*a), b*radial + c.p1*(q+2*b*b) + 2*c.p2*a*b
}

// reach is the square of the radius at which a step outward falls to leastSlope:
// the first root of 1 + 3·k1·q + 5·k2·q² = leastSlope.
func (c *camera) reach() float64 {
	if c.k1 >= 0 && c.k2 >= 0 {
		return math.Inf(1)
	}
	half, room := 1.5*c.k1, 1-leastSlope
	d := half*half - 5*c.k2*room
	if d < 0 {
		return math.Inf(1)
	}
	if q := room / (-half + math.Sqrt(d)); q > 0 {
		return q * (1 - 1e-9) // so that the recursion ends
	}
	return math.Inf(1)
}

// ground returns the point at a height above the table that a pixel sees.
func (c *camera) ground(px, py, above float64) hide.Point {
	u, v := (px-c.cx)/c.fx, (py-c.cy)/c.fy
	a, b := u, v
	for range 12 { // fixed point; contracts by about 3·k1·r² ≤ 0.2 a round
		du, dv := c.distort(a, b)
		a, b = a+u-du, b+v-dv
	}
	r, t := &c.r, &c.t
	// camera centre and ray in the table frame: −Rᵀt and Rᵀ(a, b, 1)
	ox := -(r[0]*t[0] + r[3]*t[1] + r[6]*t[2])
	oy := -(r[1]*t[0] + r[4]*t[1] + r[7]*t[2])
	oz := -(r[2]*t[0] + r[5]*t[1] + r[8]*t[2])
	dx, dy, dz := r[0]*a+r[3]*b+r[6], r[1]*a+r[4]*b+r[7], r[2]*a+r[5]*b+r[8]
	k := (-above - oz) / dz
	return hide.Point{X: hide.MM(ox + k*dx), Y: hide.MM(c.tableHeight - (oy + k*dy))}
}

// ring projects a closed curve at a height above the table. Edges are split
// to pieces of at most 20 mm, over which the lens bends a line by less than
// 0.002 px.
func (c *camera) ring(r hide.Ring, above float64) []pix.Point {
	out := make([]pix.Point, 0, len(r))
	for i, p := range r {
		q := r[(i+1)%len(r)]
		n := int(math.Ceil(float64(p.Distance(q)) / 20))
		for k := range max(n, 1) {
			f := hide.MM(float64(k) / float64(max(n, 1)))
			out = append(out, c.project(hide.Point{X: p.X + (q.X-p.X)*f, Y: p.Y + (q.Y-p.Y)*f}, above))
		}
	}
	return out
}

// mmPerPX is the size of a pixel on the table at the picture's middle.
func (c *camera) mmPerPX() float64 {
	a := c.ground(c.cx, c.cy, 0)
	return float64(a.Distance(c.ground(c.cx+1, c.cy, 0)))
}

// drawCamera hangs a camera over the table so that all of it is seen.
func drawCamera(s source, spec Spec, t table) *camera {
	w := float64(spec.WidthPX)
	c := &camera{width: spec.WidthPX, height: spec.heightPX(), tableHeight: t.height}
	c.fx = w * s.in(0.62, 0.98)
	c.fy = c.fx * (1 + s.in(-0.002, 0.002))
	c.cx = (w-1)/2 + w*s.in(-0.008, 0.008)
	c.cy = (float64(c.height)-1)/2 + w*s.in(-0.006, 0.006)
	c.k1, c.k2 = s.in(-0.15, 0.05), s.in(-0.02, 0.02)
	c.p1, c.p2 = s.in(-6e-4, 6e-4), s.in(-6e-4, 6e-4)
	tilt := func() float64 { return s.in(-spec.tilt(), spec.tilt()) * math.Pi / 180 }
	c.r = rotation(tilt(), tilt(), tilt())
	aimX, aimY := t.width*s.in(0.47, 0.53), t.height*s.in(0.47, 0.53)
	fill := s.in(0.86, 0.97)
	c.stand(aimX, aimY, c.fx*t.width/(fill*w))
	for range 200 { // away, 1 % a time, until the table is inside
		if c.sees(t) {
			break
		}
		c.stand(aimX, aimY, c.distanceAlong()*1.01)
	}
	return c
}

// stand puts the camera so that its axis meets the table at the aim from a
// distance.
func (c *camera) stand(aimX, aimY, distance float64) {
	for i := range 3 {
		c.t[i] = -(c.r[3*i]*aimX + c.r[3*i+1]*aimY)
	}
	c.t[2] += distance
}

func (c *camera) distanceAlong() float64 {
	aim := c.ground(c.cx, c.cy, 0)
	x, y := float64(aim.X), c.tableHeight-float64(aim.Y)
	return c.r[6]*x + c.r[7]*y + c.t[2]
}

// sees reports whether the whole table is at least 1 % inside the picture.
func (c *camera) sees(t table) bool {
	m := 0.01 * float64(c.width)
	for _, p := range c.ring(t.ring(), 0) {
		if float64(p.X) < m || float64(p.Y) < m || float64(p.X) > float64(c.width)-m || float64(p.Y) > float64(c.height)-m {
			return false
		}
	}
	return true
}

// rotation turns about x, then y, then z.
func rotation(ax, ay, az float64) [9]float64 {
	sx, cx := math.Sincos(ax)
	sy, cy := math.Sincos(ay)
	sz, cz := math.Sincos(az)
	return [9]float64{
		cz * cy, cz*sy*sx - sz*cx, cz*sy*cx + sz*sx,
		sz * cy, sz*sy*sx + cz*cx, sz*sy*cx - cz*sx,
		-sy, cy * sx, cy * cx,
	}
}

// MarshalJSON writes camera.json: K, D (k1, k2, p1, p2, k3), R, t, size.
func (c *camera) MarshalJSON() ([]byte, error) {
	r := c.r
	return json.Marshal(struct {
		K    [3][3]float64 `json:"K"`
		D    [5]float64    `json:"D"`
		R    [3][3]float64 `json:"R"`
		T    [3]float64    `json:"t"`
		Size [2]int        `json:"size"`
	}{
		K: [3][3]float64{{c.fx, 0, c.cx}, {0, c.fy, c.cy}, {0, 0, 1}},
		D: [5]float64{c.k1, c.k2, c.p1, c.p2, 0},
		R: [3][3]float64{{r[0], r[1], r[2]}, {r[3], r[4], r[5]}, {r[6], r[7], r[8]}},
		T: c.t, Size: [2]int{c.width, c.height},
	})
}
