package scene

import (
	"context"
	"image"
	"math"
)

// swatchLamp lights a close-up: one lamp to a side and light from everywhere.
type swatchLamp struct {
	kx, ky     float64 // what a slope along x and y adds to the light
	fall       float64 // relative loss of light across the picture, along the lamp's direction
	mirror     [2]float64
	rough      float64 // width of the highlight's lobe, as slope
	level      float64 // signal of a white surface
	warm       [3]float64
	vignette   float64
	blurSigma  float64
	well, read float64
	seed       uint64
}

func drawSwatchLamp(seed int64) swatchLamp {
	s := stream(seed, "swatch lamp")
	sin, cos := math.Sincos(s.turn())
	steep := s.log(.15, 1.6)
	g := swatchLamp{kx: steep * cos, ky: steep * sin, fall: s.in(0, .3), level: s.in(.75, 1.3), vignette: s.in(0, .2)}
	g.mirror = [2]float64{s.in(.1, .6) * cos, s.in(.1, .6) * sin}
	g.rough = s.log(.08, .3)
	for i := range g.warm {
		g.warm[i] = 1 - s.in(0, .12)
	}
	g.blurSigma, g.well, g.read, g.seed = s.in(.45, 1.1), s.log(5000, 30000), s.in(2, 8), s.Uint64()
	return g
}

// light returns the linear light (r, g, b) of a texel at u, v in −1…1.
func (g swatchLamp) light(t texel, u, v float64) [3]float64 {
	sx, sy := float64(t.sx)/slopeUnit, float64(t.sy)/slopeUnit
	lit := 1 + g.kx*sx + g.ky*sy
	if lit < .25 { // as in hideLight: a soft end at a tenth
		lit = .1 + .15*math.Exp((lit-.25)/.15)
	}
	steep := math.Hypot(g.kx, g.ky)
	e := g.level * (1 - .5*g.fall*(1-(u*g.kx+v*g.ky)/steep)) * (1 - g.vignette*(u*u+v*v)/2)
	dx, dy := g.mirror[0]-sx, g.mirror[1]-sy
	shine := float64(t.shin) / 65535 * math.Exp(-(dx*dx+dy*dy)/(2*g.rough*g.rough))
	var out [3]float64
	for i := range out {
		out[i] = e * g.warm[i] * (lit*float64(t.colour[i])/65535 + shine)
	}
	return out
}

// swatchPhoto shades, blurs, exposes so that the leather comes out at a third
// of the range, adds noise and codes to sRGB.
func (k *skin) swatchPhoto(ctx context.Context, seed int64) (*image.RGBA, error) {
	g := drawSwatchLamp(seed)
	w, h := k.grid.Width, k.grid.Height
	lin := make([]float32, 3*w*h)
	err := bands(ctx, h, func(y int) {
		for x := range w {
			i := y*w + x
			c := g.light(k.tex[i], 2*float64(x)/float64(w)-1, 1-2*float64(y)/float64(h))
			for j, v := range c {
				lin[3*i+j] = float32(v)
			}
		}
	})
	if err != nil {
		return nil, err
	}
	const want = .25 // linear: middle grey and a little, as a camera meters a close-up
	var sum float64
	for _, v := range lin {
		sum += float64(v)
	}
	gain := float32(want * g.level / (sum / float64(len(lin))))
	n := swatchSensor(g)
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	normal := quantiles()
	err = bands(ctx, h, func(y int) { n.swatchRow(lin, gain, y, out, normal) })
	return out, err
}

func swatchSensor(g swatchLamp) sensor {
	n := sensor{well: g.well, read: g.read, seed: g.seed, code: make([]uint8, 65536)}
	sum := float32(0)
	for i := range n.blur {
		n.blur[i] = float32(bell(float64(i) / g.blurSigma))
		sum += n.blur[i] * float32(min(i, 1)+1)
	}
	for i := range n.blur {
		n.blur[i] /= sum
	}
	for i := range n.code {
		n.code[i] = uint8(255*encode(float64(i)/65535) + .5)
	}
	return n
}

// swatchRow blurs and develops one row.
func (n *sensor) swatchRow(lin []float32, gain float32, y int, out *image.RGBA, normal []float32) {
	w, h := out.Rect.Dx(), out.Rect.Dy()
	tall, wide := make([]float32, 3*w), make([]float32, 3*w)
	for d := -blurReach; d <= blurReach; d++ {
		b := gain * n.blur[max(d, -d)]
		row := lin[3*w*min(max(y+d, 0), h-1):][:3*w]
		for i, v := range row {
			tall[i] += b * v
		}
	}
	n.line(tall, wide, w)
	rgb := make([]uint8, 3*w)
	n.noisy(wide, rgb, uint64(y)*uint64(w), normal)
	for x := range w {
		copy(out.Pix[y*out.Stride+4*x:], rgb[3*x:3*x+3])
		out.Pix[y*out.Stride+4*x+3] = 255
	}
}
