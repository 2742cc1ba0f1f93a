package scene

import (
	"context"
	"math"

	"hidechart/hide"
	"hidechart/pix"
)

// stage is everything in front of the camera, the same for all lights.
type stage struct {
	cam     *camera
	table   table
	leather leather
	skin    *skin
	floor   float64
	paper   float64 // reflectance of the tag sheets
	ink     float64 // reflectance of their black
	texture []uint8 // the table's own texture, 1 mm a cell, 128 is none
	texW    int

	tableRing, outline     []pix.Point
	sheets, black          [][]pix.Point
	holesAbove, holesBelow [][]pix.Point // rims of the holes at the grain side and at the table
	mmPerPX                float64
}

func newStage(s source, cam *camera, t table, l leather, k *skin, outline hide.Ring, holes []hide.Ring) (*stage, error) {
	st := &stage{cam: cam, table: t, leather: l, skin: k, mmPerPX: cam.mmPerPX(),
		floor: s.log(.02, .12), paper: s.in(.68, .85), ink: s.in(.02, .05)}
	st.tableRing = cam.ring(t.ring(), 0)
	st.outline = cam.ring(outline, l.thick)
	for _, h := range holes {
		st.holesAbove = append(st.holesAbove, cam.ring(h, l.thick))
		st.holesBelow = append(st.holesBelow, cam.ring(h, 0))
	}
	for _, g := range t.tags {
		e := t.sheet()
		st.sheets = append(st.sheets, cam.ring(g.place(rectangle(-e, -e, e, e)), 0))
		rings, err := t.black(g)
		if err != nil {
			return nil, err
		}
		for _, r := range rings {
			st.black = append(st.black, cam.ring(r, 0))
		}
	}
	return st, nil
}

// weave fills the table's texture: fine speckle, clouds, dirt and the seams
// between its panels.
func (st *stage) weave(ctx context.Context) error {
	t := st.table
	st.texW = int(t.width) + 2
	rows := int(t.height) + 2
	st.texture = make([]uint8, st.texW*rows)
	return bands(ctx, rows, func(y int) {
		for x := range st.texW {
			fx, fy := float64(x), float64(y)
			v := .5*value(fx*.8, fy*.8, t.seed) + value(fx/9, fy/9, t.seed+1) + 1.5*value(fx/170, fy/170, t.seed+2)
			v *= t.grain
			for i, at := range t.seams {
				v -= .35 * bell((fx-at-2*value(fy/300, float64(i), t.seed+3))/1.1)
			}
			st.texture[y*st.texW+x] = uint8(clamp(128+v*256+.5, 0, 255))
		}
	})
}

// textureAt is the relative brightness of the table's texture.
func (st *stage) textureAt(x, y float32) float32 {
	ix, iy := int(x), int(y)
	if x < 0 || y < 0 || ix >= st.texW-1 || (iy+1)*st.texW >= len(st.texture)-st.texW {
		return 1
	}
	fx, fy := x-float32(ix), y-float32(iy)
	i := iy*st.texW + ix
	a, b := float32(st.texture[i]), float32(st.texture[i+1])
	c, d := float32(st.texture[i+st.texW]), float32(st.texture[i+st.texW+1])
	return 1 + (a+(b-a)*fx+(c-a+(a-b-c+d)*fx)*fy-128)/256
}

// look is the skin seen at one place, between texels.
type look struct{ sx, sy, r, g, b, pass, shin float32 }

// sample looks up the skin at a table position.
func (k *skin) sample(x, y float32) look {
	mm := float32(k.grid.MMPerPX)
	u := (x-float32(k.grid.Left))/mm - .5
	v := (float32(k.grid.Top)-y)/mm - .5
	u = min(max(u, 0), float32(k.grid.Width)-1.001)
	v = min(max(v, 0), float32(k.grid.Height)-1.001)
	i, j := int(u), int(v)
	fu, fv := u-float32(i), v-float32(j)
	at := j*k.grid.Width + i
	below := min(at+k.grid.Width, len(k.tex)-2)
	w := [4]float32{(1 - fu) * (1 - fv), fu * (1 - fv), (1 - fu) * fv, fu * fv}
	var l look
	for n, t := range [4]*texel{&k.tex[at], &k.tex[at+1], &k.tex[below], &k.tex[below+1]} {
		l.sx += w[n] * float32(t.sx)
		l.sy += w[n] * float32(t.sy)
		l.r += w[n] * float32(t.colour[0])
		l.g += w[n] * float32(t.colour[1])
		l.b += w[n] * float32(t.colour[2])
		l.pass += w[n] * float32(t.pass)
		l.shin += w[n] * float32(t.shin)
	}
	const c, s = 1.0 / 65535, 1.0 / slopeUnit
	return look{l.sx * s, l.sy * s, l.r * c, l.g * c, l.b * c, l.pass * c, l.shin * c}
}

// shine is the highlight's strength at a place with a slope.
func shine(glints []glint, x, y, sx, sy float32) float32 {
	var sum float32
	for _, g := range glints {
		u := (x-float32(g.x))*float32(g.perMM) + sx*float32(g.perSlope)
		v := (y-float32(g.y))*float32(g.perMM) + sy*float32(g.perSlope)
		q := 1 / (1 + u*u + v*v)
		sum += float32(g.power) * q * q * q // a lobe with a long tail, as measured ones have
	}
	return sum
}

// bandCovers is the coverage of a band of rows by all that has an edge.
type bandCovers struct {
	y0, width             int // first row; the covers share it
	table, sheet, black   *cover
	outline, above, below *cover
}

func (st *stage) covers(y0, y1 int) bandCovers {
	w := st.cam.width
	b := bandCovers{y0: y0, width: w}
	fill := func(rings ...[]pix.Point) *cover {
		c := newCover(0, y0, w, y1-y0)
		for _, r := range rings {
			if touches(r, y0, y1) {
				c.ring(r)
			}
		}
		return c
	}
	b.table, b.sheet, b.black = fill(st.tableRing), fill(st.sheets...), fill(st.black...)
	b.outline, b.above, b.below = fill(st.outline), fill(st.holesAbove...), fill(st.holesBelow...)
	return b
}

// touches reports whether a ring reaches into rows y0 to y1.
func touches(r []pix.Point, y0, y1 int) bool {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range r {
		lo, hi = math.Min(lo, float64(p.Y)), math.Max(hi, float64(p.Y))
	}
	return hi >= float64(y0)-1 && lo <= float64(y1)
}
