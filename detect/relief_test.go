package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// shaded is how a lamp at (dx, dy) lights the Gaussian ridge y = x·tan(angle) + …
// through (200, 150): minus its slope along the lamp's direction (Woodham 1980,
// small slopes), computed here from the ridge's derivative.
func shaded(angle, height, dx, dy float64) func(x, y float64) float64 {
	const sigma = 1.3
	nx, ny := -math.Sin(angle), math.Cos(angle)
	return func(x, y float64) float64 {
		d := (x-200)*nx + (y-150)*ny
		along := (x-200)*math.Cos(angle) + (y-150)*math.Sin(angle)
		if math.Abs(along) > 60 {
			return 0
		}
		slope := -d / sigma / sigma * height * math.Exp(-d*d/(2*sigma*sigma))
		return -slope * (nx*dx + ny*dy)
	}
}

func lineOf(angle float64) []hide.Point {
	var out []hide.Point
	for q := -56.0; q <= 56; q += 2 {
		out = append(out, at(200+q*math.Cos(angle), 150+q*math.Sin(angle)))
	}
	return out
}

// Crossed lights tell a ridge from a furrow whatever way it runs, and give the
// same slope for all ways; colour has none.
func TestReliefFromCrossedLights(t *testing.T) {
	const height, sigma = 0.15, 1.3
	steepest := height / sigma * math.Exp(-0.5) // of a Gaussian, at one sigma
	for _, angle := range []float64{0, 0.4, math.Pi / 4, 1.2, math.Pi / 2, 2.5} {
		for _, sign := range []float64{1, -1} {
			s := surfaceOf(t, leatherScene{0.001, map[hide.Light]func(x, y float64) float64{hide.Top: plain,
				hide.RakeE: shaded(angle, sign*height, 1, 0), hide.RakeN: shaded(angle, sign*height, 0, 1)}}.input(t))
			got := s.reliefOf(lineOf(angle), 1)
			assert.InEpsilon(t, sign*steepest, got, 0.15, "angle %v", angle) // the 1 mm raster blurs it
		}
	}
	dark := func(x, y float64) float64 { return -0.2 * math.Exp(-(y-150)*(y-150)/2) }
	s := surfaceOf(t, leatherScene{0.001, map[hide.Light]func(x, y float64) float64{hide.Top: dark, hide.RakeE: dark, hide.RakeN: dark}}.input(t))
	beside := lineOf(0)
	for k := range beside {
		beside[k].Y += 0.8
	}
	for _, line := range [][]hide.Point{lineOf(0), beside} {
		assert.InDelta(t, 0, s.reliefOf(line, 1), 0.004, "colour has no slope, however well it is followed")
	}
	flat := surfaceOf(t, leatherScene{0.001, map[hide.Light]func(x, y float64) float64{hide.Top: dark}}.input(t))
	assert.True(t, math.IsNaN(flat.reliefOf(lineOf(0), 1)), "no raking light")
}

// Opposite lights see a raised spot from both sides.
func TestReliefOfSpot(t *testing.T) {
	dome := func(sign, dx float64) func(x, y float64) float64 {
		return func(x, y float64) float64 {
			return sign * dx * (x - 200) / 9 * 0.3 * math.Exp(-((x-200)*(x-200)+(y-150)*(y-150))/18)
		}
	}
	for _, sign := range []float64{1, -1} {
		s := surfaceOf(t, leatherScene{0.001, map[hide.Light]func(x, y float64) float64{hide.Top: plain,
			hide.RakeE: dome(sign, 1), hide.RakeW: dome(sign, -1)}}.input(t))
		got := s.reliefOfSpot(spot{at: at(200, 150), radius: 4})
		assert.Greater(t, sign*got, 0.03)
	}
	dark := func(x, y float64) float64 { return -0.2 * math.Exp(-((x-200)*(x-200)+(y-150)*(y-150))/18) }
	s := surfaceOf(t, leatherScene{0.001, map[hide.Light]func(x, y float64) float64{hide.Top: dark, hide.RakeE: dark, hide.RakeN: dark}}.input(t))
	assert.InDelta(t, 0, s.reliefOfSpot(spot{at: at(201.5, 150), radius: 4}), 0.004, "colour, found a little beside its middle")
}

// A ridge is bright on one side and dark on the other: its line is put between
// them, and its ribbon is as wide as the ridge at half its height.
func TestRibbonOfRidge(t *testing.T) {
	const sigma = 1.3
	s := surfaceOf(t, leatherScene{0.003, map[hide.Light]func(x, y float64) float64{hide.Top: plain,
		hide.RakeE: shaded(0.7, 0.15, 1, 0), hide.RakeN: shaded(0.7, 0.15, 0, 1)}}.input(t))
	found, err := s.lineCandidates(DefaultParams())
	require.NoError(t, err)
	require.Len(t, found, 1, "its flanks are no lines of their own")
	c := found[0]
	assert.Positive(t, c.x[fRelief])
	assert.InDelta(t, 2.355*sigma, float64(c.width), 1.1) // full width of a Gaussian at half its height
	for _, p := range c.line {
		if math.Abs((float64(p.X)-200)*math.Cos(0.7)+(float64(p.Y)-150)*math.Sin(0.7)) > 50 {
			continue // averaging along the line draws its ends out
		}
		d := (float64(p.X)-200)*-math.Sin(0.7) + (float64(p.Y)-150)*math.Cos(0.7)
		assert.InDelta(t, 0, d, 1, "the issue's millimetre")
	}
}

// A circular arc of half angle a over its chord 2r·sin a has the height r(1 − cos a).
func TestCourseOfArc(t *testing.T) {
	const r, half = 100.0, 0.4
	var arc []hide.Point
	for k := range 41 {
		a := -half + 2*half*float64(k)/40
		arc = append(arc, at(r*math.Sin(a), r*math.Cos(a)))
	}
	got := courseOf(arc)
	assert.InEpsilon(t, (1-math.Cos(half))/(2*math.Sin(half)), got.bow, 0.03)
	assert.Less(t, float64(got.wave), 0.2)
	assert.InDelta(t, 1.5*half, got.turn, 0.02, "middles of the outer quarters are 3/4 of the whole angle apart")
	straight := courseOf([]hide.Point{at(0, 0), at(10, 5), at(20, 10), at(30, 15), at(40, 20)})
	assert.InDelta(t, 0, straight.bow+float64(straight.wave)+straight.turn, 1e-9)
}

// A patch of one step all round against a slope that only fades.
func TestRim(t *testing.T) {
	s := surfaceOf(t, leatherScene{0.002, map[hide.Light]func(x, y float64) float64{hide.Top: func(x, y float64) float64 {
		step := -0.2 / (1 + math.Exp((math.Hypot(x-130, y-150)-25)/0.5))
		return step + 0.001*(x-200)/10
	}}}.input(t))
	sharp := s.rimOf(disc(at(130, 150), 25))
	assert.InDelta(t, -0.2, sharp.step, 0.03)
	assert.InDelta(t, 1, sharp.steady, 0.01)
	cloud := s.rimOf(disc(at(290, 150), 25))
	assert.Less(t, math.Abs(cloud.step), 0.01)
	assert.Less(t, cloud.even, sharp.even/3)
}

// localRank against numbers sorted by hand: the median of 1 to 9 is 5.
func TestLocalRank(t *testing.T) {
	f, in := newField(3, 3), make([]bool, 9)
	for i := range f.v {
		f.v[i], in[i] = float32(9-i), true
	}
	assert.InDelta(t, 5, f.localRank(in, 1, 0.5).v[4], 0)
	assert.InDelta(t, 1, f.localRank(in, 1, 0).v[4], 0)
	in[8] = false // the 1
	assert.InDelta(t, 2, f.localRank(in, 1, 0).v[4], 0)
	assert.InDelta(t, 0, f.localRank(in, 1, 0).v[8], 0)
}

// A deep scratch across quiet leather is no loose area.
func TestScratchIsNotLoose(t *testing.T) {
	s := surfaceOf(t, leatherScene{0.02, map[hide.Light]func(x, y float64) float64{
		hide.Top: stroke(60, 60, 340, 240, -0.6), hide.RakeN: stroke(60, 60, 340, 240, -0.6)}}.input(t))
	found, err := s.looseAreas(DefaultParams())
	require.NoError(t, err)
	assert.Empty(t, found)
}
