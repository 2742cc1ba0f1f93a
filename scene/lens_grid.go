package scene

import (
	"context"
	"math"
)

// gridPX is the spacing of the nodes at which the camera and the light are
// worked out; between them all is linear. With k1 = 0.15 the map's second
// derivative is below 1.5e-4 per pixel, so the error is below 0.0012 px.
const gridPX = 8

// node is what a place in the photograph needs to know of lens and light.
type node struct {
	x, y      float32 // table position seen at the hide's upper surface, mm
	e, kx, ky float32 // light there and its change with slope
}

// lensGrid is the nodes of one light.
type lensGrid struct {
	across int
	nodes  []node
	glints []glint
}

func newLensGrid(ctx context.Context, c *camera, g *lighting, thick float64) (lensGrid, error) {
	lg := lensGrid{across: c.width/gridPX + 2}
	down := c.height/gridPX + 2
	lg.nodes = make([]node, lg.across*down)
	half := math.Hypot(float64(c.width), float64(c.height)) / 2
	err := bands(ctx, down, func(row int) {
		for i := range lg.across {
			px, py := float64(i*gridPX), float64(row*gridPX)
			p := c.ground(px, py, thick)
			e, kx, ky := g.at(float64(p.X), float64(p.Y))
			r := math.Hypot(px-c.cx, py-c.cy) / half
			e *= 1 - g.vignette*r*r
			lg.nodes[row*lg.across+i] = node{float32(p.X), float32(p.Y), float32(e), float32(kx), float32(ky)}
		}
	})
	r, t := &c.r, &c.t
	ox, oy := -(r[0]*t[0] + r[3]*t[1] + r[6]*t[2]), -(r[1]*t[0] + r[4]*t[1] + r[7]*t[2])
	oz := -(r[2]*t[0] + r[5]*t[1] + r[8]*t[2])
	lg.glints = g.glints(ox, c.tableHeight-oy, -oz)
	return lg, err
}

// row interpolates the nodes of a row of the photograph; out holds one node
// per column of the grid.
func (lg lensGrid) row(y int, out []node) {
	y = max(y, 0)
	j := min(y/gridPX, len(lg.nodes)/lg.across-2)
	f := float32(y-j*gridPX) / gridPX
	a, b := lg.nodes[j*lg.across:], lg.nodes[(j+1)*lg.across:]
	for i := range out {
		out[i] = mix(a[i], b[i], f)
	}
}

func mix(a, b node, f float32) node {
	return node{a.x + (b.x-a.x)*f, a.y + (b.y-a.y)*f, a.e + (b.e-a.e)*f, a.kx + (b.kx-a.kx)*f, a.ky + (b.ky-a.ky)*f}
}
