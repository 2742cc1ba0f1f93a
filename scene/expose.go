package scene

import (
	"math"

	"hidechart/hide"
)

// shadeReach is how far, in pixels, a hide's edge throws shade: 15 mm at 24
// megapixels; what is longer is cut.
const shadeReach = 22

// rowCovers is the coverage of one row.
type rowCovers struct{ table, sheet, black, hide, wall []float32 }

// expose returns the linear light of rows y0 to y1 (r, g, b interleaved;
// rows outside the picture repeat its border).
func (st *stage) expose(g lighting, lg lensGrid, y0, y1 int) []float32 {
	w, h := st.cam.width, st.cam.height
	lin := make([]float32, (y1-y0)*w*3)
	top, bottom := max(y0, 0)-shadeReach, min(y1, h)+shadeReach
	b := st.covers(top, bottom)
	body, wall := st.bodies(b, bottom-top)
	nodes := make([]node, lg.across)
	var c rowCovers
	c.table, c.sheet, c.black = make([]float32, w), make([]float32, w), make([]float32, w)
	for y := y0; y < y1; y++ {
		yy := min(max(y, 0), h-1)
		r := yy - top
		b.table.row(r, c.table)
		b.sheet.row(r, c.sheet)
		b.black.row(r, c.black)
		c.hide, c.wall = body[r*w:(r+1)*w], wall[r*w:(r+1)*w]
		lg.row(yy, nodes)
		st.row(g, lg, nodes, c, body, r, lin[(y-y0)*w*3:])
	}
	return lin
}

// bodies returns how much of each pixel is leather and how much is the wall
// of a hole, for all rows of a band.
func (st *stage) bodies(b bandCovers, rows int) (body, wall []float32) {
	w := b.width
	body, wall = make([]float32, w*rows), make([]float32, w*rows)
	if st.skin == nil {
		return body, wall
	}
	above, below := make([]float32, w), make([]float32, w)
	for r := range rows {
		out := body[r*w : (r+1)*w]
		b.outline.row(r, out)
		b.above.row(r, above)
		b.below.row(r, below)
		for x, a := range above {
			if a > 0 {
				out[x] *= 1 - a
				wall[r*w+x] = a - min(a, below[x])
			}
		}
	}
	return body, wall
}

// row shades one row. body holds the leather's coverage of the whole band
// for the shade it throws on the table.
func (st *stage) row(g lighting, lg lensGrid, nodes []node, c rowCovers, body []float32, r int, lin []float32) {
	w := st.cam.width
	tone := [3]float32{}
	for i := range tone {
		tone[i] = float32(g.level * g.colour[i])
	}
	for x := range w {
		n := mix(nodes[x/gridPX], nodes[x/gridPX+1], float32(x%gridPX)/gridPX)
		out := lin[3*x : 3*x+3]
		leather := c.hide[x]
		if g.light == hide.Empty {
			leather = 0
		}
		if leather < 1 {
			st.ground(g, n, c, x, st.shadow(g, n, body, r, x), out)
		}
		if leather > 0 {
			s := st.hideLight(g, lg, n)
			for i := range out {
				out[i] = out[i]*(1-leather) + leather*s[i]
			}
		}
		if c.wall[x] > 0 && g.light != hide.Empty {
			st.wallLight(g, n, c.wall[x], out)
		}
		for i := range out {
			out[i] *= tone[i]
		}
	}
}

// ground is the light from table, tags and floor.
func (st *stage) ground(g lighting, n node, c rowCovers, x int, shade float32, out []float32) {
	t := c.table[x]
	sheet, black := c.sheet[x], c.black[x]
	tex := st.textureAt(n.x, n.y)
	e := n.e * shade
	for i := range out {
		v := float32(st.table.reflect[i]) * tex
		v += sheet * (float32(st.paper) - v)
		v += black * (float32(st.ink) - v)
		out[i] = e * (t*v + (1-t)*float32(st.floor))
	}
	if g.back > 0 && t > 0 {
		box := float32(g.back) * tex * (1 - .5*sheet) * (1 - .97*black) * t
		for i := range out {
			out[i] += box
		}
	}
}

// shadow is the share of light that the hide's edge leaves to the table: a
// long shadow away from a raking lamp, a soft rim elsewhere.
func (st *stage) shadow(g lighting, n node, body []float32, r, x int) float32 {
	if g.light == hide.Empty || st.skin == nil {
		return 1
	}
	w := st.cam.width
	perPX := float32(st.leather.thick / st.mmPerPX)
	// towards the light: the slope's effect is largest away from it
	dx, dy := -n.kx*perPX, n.ky*perPX
	// A shadow shorter than a pixel darkens that share of it only.
	castShare := min(1, float32(math.Hypot(float64(dx), float64(dy))))
	if l := float32(math.Hypot(float64(dx), float64(dy))); l > shadeReach {
		dx, dy = dx*shadeReach/l, dy*shadeReach/l
	}
	at := func(u, v float32) float32 {
		i, j := x+int(math.Round(float64(u))), r+int(math.Round(float64(v)))
		if i < 0 || i >= w || j < 0 || j*w >= len(body) {
			return 0
		}
		return body[j*w+i]
	}
	cast := (at(dx*.25, dy*.25) + at(dx*.5, dy*.5) + at(dx*.75, dy*.75) + at(dx, dy)) / 4
	rim := (at(perPX, 0) + at(-perPX, 0) + at(0, perPX) + at(0, -perPX)) / 4
	return (1 - .7*castShare*cast) * (1 - .3*min(1, perPX)*rim)
}

// hideLight is the light from the leather.
func (st *stage) hideLight(g lighting, lg lensGrid, n node) [3]float32 {
	s := st.skin.sample(n.x, n.y)
	lit := 1 + n.kx*s.sx + n.ky*s.sy
	if lit < .25 { // beyond, ambient and interreflection fill: a soft end at a tenth
		lit = .1 + .15*float32(math.Exp(float64(lit-.25)/.15))
	}
	e := n.e * lit
	spec := float32(0)
	if s.shin > 0 && g.back == 0 {
		spec = s.shin * n.e * shine(lg.glints, n.x, n.y, s.sx, s.sy)
	}
	through := s.pass * float32(g.back)
	p := st.skin.passRGB
	return [3]float32{e*s.r + spec + through*float32(p[0]), e*s.g + spec + through*float32(p[1]), e*s.b + spec + through*float32(p[2])}
}

// wallLight is the cut side of the leather seen inside a hole.
func (st *stage) wallLight(g lighting, n node, share float32, out []float32) {
	for i := range out {
		v := n.e*float32(.35*st.leather.colour[i]+.03) + .15*float32(g.back)
		out[i] += share * (v - out[i])
	}
}
