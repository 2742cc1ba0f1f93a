package detect

import (
	"math"
	"math/rand/v2"
	"testing"

	"hidechart/hide"
	"hidechart/pix"
)

// tableScene paints a hide on a table straight on a grid: leather where inside
// is positive (distance to the edge in mm), mixed with the table over a blur as a
// lens does, in linear light, with a lamp off centre and noise.
type tableScene struct {
	width, height  hide.MM
	leather, table [3]float64 // linear light, 0 to 1
	inside         func(x, y float64) float64
	blur           float64 // mm
	noise          float64 // relative
	extra          func(x, y float64) float64
}

const white = 65535

func (s tableScene) lamp(x, y float64) float64 {
	dx, dy := x/float64(s.width)-0.6, y/float64(s.height)-0.4
	return 0.8 * math.Exp(-0.7*(dx*dx+dy*dy))
}

func (s tableScene) paint(t *testing.T, g pix.Grid, bare bool) *pix.Image {
	t.Helper()
	rng := rand.New(rand.NewPCG(7, uint64(g.Width)))
	im := pix.New(g.Width, g.Height, pix.U16, 3)
	t.Cleanup(im.Close)
	v := im.Uint16s()
	for r := range g.Height {
		for c := range g.Width {
			p := g.ToTable(pix.Point{X: hide.PX(c), Y: hide.PX(r)})
			x, y := float64(p.X), float64(p.Y)
			share := 0.0
			if !bare {
				share = 0.5 * (1 + math.Erf(s.inside(x, y)/(s.blur*math.Sqrt2)))
			}
			tone := 1.0
			if s.extra != nil && !bare {
				tone = math.Exp(s.extra(x, y))
			}
			for k := range 3 {
				light := s.lamp(x, y) * (share*tone*s.leather[k] + (1-share)*s.table[k]) * (1 + s.noise*rng.NormFloat64())
				v[(r*g.Width+c)*3+k] = uint16(min(max(light, 0), 1) * white)
			}
		}
	}
	return im
}

func (s tableScene) find(t *testing.T, lights ...hide.Light) (*Found, error) {
	t.Helper()
	g := pix.TableGrid(s.width, s.height, 2)
	in := OutlineInput{Coarse: Photos{Grid: g, Lights: map[hide.Light]*pix.Image{}}}
	for _, l := range lights {
		in.Coarse.Lights[l] = s.paint(t, g, l == hide.Empty)
	}
	return Find(t.Context(), in, DefaultOutlineParams())
}

func (s tableScene) outline(t *testing.T, lights ...hide.Light) (Outline, error) {
	t.Helper()
	f, err := s.find(t, lights...)
	if err != nil {
		return Outline{}, err
	}
	fine := Photos{Grid: pix.TableGrid(s.width, s.height, 0.5).Around(f.Outline, 25), Lights: map[hide.Light]*pix.Image{}}
	for _, l := range lights {
		if l != hide.Empty {
			fine.Lights[l] = s.paint(t, fine.Grid, false)
		}
	}
	return f.Refine(t.Context(), fine, DefaultOutlineParams())
}

func discAt(x0, y0, r float64) func(x, y float64) float64 {
	return func(x, y float64) float64 { return r - math.Hypot(x-x0, y-y0) }
}

func darkOnLight() tableScene {
	return tableScene{width: 900, height: 700, leather: [3]float64{0.06, 0.05, 0.05}, table: [3]float64{0.7, 0.7, 0.7},
		inside: discAt(440, 360, 230), blur: 0.5, noise: 0.01}
}

func lightOnDark() tableScene {
	s := darkOnLight()
	s.leather, s.table = [3]float64{0.5, 0.6, 0.65}, [3]float64{0.03, 0.03, 0.03}
	return s
}
