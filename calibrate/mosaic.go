package calibrate

import (
	"image"
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/pix"
	"hidechart/plane"
)

// Mosaic is the views of several photographs that show one table between them.
type Mosaic []View

// tileInset is left off a photograph's border, mm: the shares of the photographs
// are worked out at places up to shareMM apart and straight between them, and must have come
// to nothing before the picture ends.
const (
	tileInset = 12
	shareMM   = 8
	// frameInset is what is left off where nothing else shows the table: beyond
	// it a share may already run out.
	frameInset = tileInset + 1.5*shareMM
)

// sharePower shapes the crossing from one photograph to the next: half-way it
// is even, and with the distances to the borders at 3 to 1 the farther one has 99 %.
// The crossing is thus as wide as the overlap allows for light, and so narrow
// that two pictures half a pixel apart blur each other over a third of it only.
const sharePower = 4

// Shares is how much of the merged picture each photograph makes up at a place
// at height z, summing to 1; all 0 where none shows it. A photograph counts by
// its distance to its own border, to the fourth power, and by its pixels per area there.
func (m Mosaic) Shares(p hide.Point, z hide.MM) []float64 {
	out := make([]float64, len(m))
	m.shares(p, z, out)
	return out
}

func (m Mosaic) shares(p hide.Point, z hide.MM, out []float64) {
	sum := 0.0
	for i, v := range m {
		out[i] = 0
		q := v.Project(p.X, p.Y, z)
		c := v.Camera
		inside := min(float64(q.X), float64(q.Y), float64(c.Width)-1-float64(q.X), float64(c.Height)-1-float64(q.Y))
		if inside <= 0 {
			continue
		}
		res := float64(v.Resolution(p))
		if mm := inside*res - tileInset; mm > 0 {
			out[i] = math.Pow(mm, sharePower) / (res * res)
			sum += out[i]
		}
	}
	if sum > 0 {
		for i := range out {
			out[i] /= sum
		}
	}
}

// Frame is what the photographs show between them of the plane at height z,
// clipped to the table: one polygon without holes when there is no gap. Error:
// NotMeasurable when they fall into parts, naming a place between.
func (m Mosaic) Frame(z hide.MM, table hide.Polygon) (hide.Polygon, error) {
	frames := make([]hide.Shape, len(m))
	for i, v := range m {
		frames[i] = hide.Shape{v.inset(z)}
	}
	all, err := plane.Union(frames...)
	if err != nil {
		return hide.Polygon{}, err
	}
	if all, err = plane.Intersection(all, hide.Shape{table}); err != nil {
		return hide.Polygon{}, err
	}
	if len(all) == 1 {
		return all[0], nil
	}
	if len(all) == 0 {
		return hide.Polygon{}, hide.Faultf(hide.NotMeasurable, "the photographs show nothing of the table")
	}
	a, b := nearest(all[0].Outer, all[1].Outer)
	return hide.Polygon{}, hide.Faultf(hide.NotMeasurable, "the photographs leave a gap of %.0f mm between them near (%.0f, %.0f) mm: let each lap over its neighbours by a fifth",
		float64(a.Distance(b)), float64(a.X+b.X)/2, float64(a.Y+b.Y)/2)
}

// inset is the part of a photograph's frame that it surely counts in.
func (v View) inset(z hide.MM) hide.Polygon {
	f := v.Frame(z)
	c := v.Camera
	for i, p := range f.Outer {
		q := v.Project(p.X, p.Y, z)
		d := hide.PX(frameInset / float64(v.Resolution(p)))
		q.X = min(max(q.X, d), hide.PX(c.Width)-1-d)
		q.Y = min(max(q.Y, d), hide.PX(c.Height)-1-d)
		f.Outer[i] = v.Ground(q, z)
	}
	return f
}

func nearest(a, b hide.Ring) (p, q hide.Point) {
	best := hide.MM(math.Inf(1))
	for _, s := range a {
		for _, t := range b {
			if d := s.Distance(t); d < best {
				best, p, q = d, s, t
			}
		}
	}
	return p, q
}

// mosaicSight is where each vertex of a ring lies in each photograph, with its
// share.
type mosaicSight struct {
	ring  hide.Ring
	at    [][]pix.Point
	share [][]float64
}

// back brings the vertices back to the table through other views of the same
// photographs.
func (s mosaicSight) back(views []View) hide.Ring {
	out := make(hide.Ring, len(s.ring))
	for i, p := range s.ring {
		var q hide.Point
		sum := 0.0
		for k, share := range s.share[i] {
			if share > 0 {
				g := views[k].Ground(s.at[i][k], 0)
				q.X, q.Y, sum = q.X+hide.MM(share)*g.X, q.Y+hide.MM(share)*g.Y, sum+share
			}
		}
		if sum == 0 {
			q = p // no photograph shows it
		}
		out[i] = q
	}
	return out
}

func (m Mosaic) sightOf(r hide.Ring) mosaicSight {
	s := mosaicSight{ring: r}
	for _, p := range r {
		at := make([]pix.Point, len(m))
		for i, v := range m {
			at[i] = v.Project(p.X, p.Y, 0)
		}
		s.at, s.share = append(s.at, at), append(s.share, m.Shares(p, 0))
	}
	return s
}

// Warp brings a tile's photograph onto a table raster in the plane at height z,
// as View.Warp does, and adds its share to the merged picture; what it does not
// show stays. light evens the photographs out: nil leaves them as they are. out has the
// photograph's channels and is U16. Error: Invalid for other kinds or sizes.
func (m Mosaic) Warp(out *pix.Image, tile int, src *pix.Exposure, g pix.Grid, z hide.MM, light *Balance) error {
	v := m[tile]
	step := max(1, min(nodeStep, int(shareMM/float64(g.MMPerPX))))
	at, part := v.part(g, z, step)
	if part.Width < 1 || part.Height < 1 {
		return nil
	}
	warped, err := v.WarpLight(src, part, z)
	if err != nil {
		return err
	}
	defer warped.Close()
	w := m.weights(tile, part, step, z, light, src.Channels())
	defer w.Close()
	return pix.AddWeighted(out, warped, at, w, step)
}

// part is what of a raster a photograph may show: a part that begins at a
// multiple of step, so that the shares of all photographs are worked out at the same places
// and sum to 1 between them as well.
func (v View) part(g pix.Grid, z hide.MM, step int) (image.Point, pix.Grid) {
	frame := v.Frame(z).Outer
	if slices.ContainsFunc(frame, func(p hide.Point) bool { return math.IsNaN(float64(p.X)) }) {
		return image.Point{}, g // it looks over the horizon
	}
	part := g.Around(frame, 0)
	x := int(math.Round(float64((part.Left-g.Left)/g.MMPerPX))) / step * step
	y := int(math.Round(float64((g.Top-part.Top)/g.MMPerPX))) / step * step
	return image.Pt(x, y), g.Crop(image.Rect(x, y, x+part.Width+step, y+part.Height+step))
}

// weights are a tile's shares times its light factors at every step-th pixel of
// the raster, from pixel 0 on, one column and row beyond its end.
func (m Mosaic) weights(tile int, g pix.Grid, step int, z hide.MM, light *Balance, channels int) *pix.Image {
	w, h := (g.Width-1)/step+2, (g.Height-1)/step+2
	out := pix.New(w, h, pix.F32, channels)
	data := out.Float32s()
	inParallel(h, func(y int) {
		shares := make([]float64, len(m))
		for x := range w {
			p := g.ToTable(pix.Point{X: hide.PX(x * step), Y: hide.PX(y * step)})
			m.shares(p, z, shares)
			if shares[tile] == 0 {
				continue
			}
			for c := range channels {
				f := 1.0
				if light != nil {
					f = light.factor(tile, c, m[tile].radius(m[tile].Project(p.X, p.Y, z)))
				}
				data[(y*w+x)*channels+c] = float32(shares[tile] * f)
			}
		}
	})
	return out
}

// Raised is where a ring's places in the photographs lie on the plane at z, when
// the ring was measured at height from: each place by the photographs that make
// up the merged picture there.
func (m Mosaic) Raised(r hide.Ring, from, z hide.MM) hide.Ring {
	out := make(hide.Ring, len(r))
	for i, p := range r {
		for k, share := range m.Shares(p, from) {
			if share > 0 {
				q := m[k].Ground(m[k].Project(p.X, p.Y, from), z)
				out[i].X, out[i].Y = out[i].X+hide.MM(share)*q.X, out[i].Y+hide.MM(share)*q.Y
			}
		}
	}
	return out
}

// Mosaic is the views of several photographs fitted together; nil of one.
func (f Fit) Mosaic() Mosaic {
	if f.tiles == nil {
		return nil
	}
	return f.tiles.mosaic
}
