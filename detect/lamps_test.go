package detect

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"hidechart/hide"
)

// bumps is a rough surface: its slopes to the east and north in closed form, of sin products
// of two wavelengths.
func bumps(x, y float64) (east, north float64) {
	for _, k := range []float64{0.7, 0.31} {
		east += 0.02 * math.Cos(k*x) * math.Sin(k*y+0.4)
		north += 0.02 * math.Sin(k*x) * math.Cos(k*y+0.4)
	}
	return east, north
}

// lampFrom lights the bumps from (dx, dy), and what is nearer to it by 0.3 per metre more
// (Lambert and the inverse square law, both for small changes).
func lampFrom(dx, dy float64) func(x, y float64) float64 {
	return func(x, y float64) float64 {
		east, north := bumps(x, y)
		return -(east*dx + north*dy) + 0.0003*(x*dx+y*dy)
	}
}

// Whatever sides the lamps stand on, and whatever they are called, their light is read from
// where it comes; a flat hide under lamps that do not fall off keeps the names.
func TestTurnLamps(t *testing.T) {
	for _, stands := range [][2]float64{{1, 1}, {-1, 1}, {1, -1}, {-1, -1}} {
		s := surfaceOf(t, leatherScene{0.002, map[hide.Light]func(x, y float64) float64{hide.Top: plain,
			hide.RakeE: lampFrom(stands[0], 0), hide.RakeN: lampFrom(0, stands[1])}}.input(t))
		assert.Equal(t, [2]float64{signOf(s, hide.RakeE), signOf(s, hide.RakeN)}, stands)

		alone := surfaceOf(t, leatherScene{0.002, map[hide.Light]func(x, y float64) float64{hide.Top: plain,
			hide.RakeE: lampFrom(stands[0], 0)}}.input(t))
		assert.InDelta(t, stands[0], signOf(alone, hide.RakeE), 0)

		opposite := surfaceOf(t, leatherScene{0.002, map[hide.Light]func(x, y float64) float64{hide.Top: plain,
			hide.RakeE: lampFrom(stands[0], 0), hide.RakeW: lampFrom(-stands[0], 0)}}.input(t))
		assert.Equal(t, [2]float64{stands[0], stands[0]}, [2]float64{signOf(opposite, hide.RakeE), signOf(opposite, hide.RakeW)})
	}
	flat := surfaceOf(t, leatherScene{0.002, map[hide.Light]func(x, y float64) float64{hide.Top: plain, hide.RakeE: plain, hide.RakeN: plain}}.input(t))
	assert.Equal(t, [2]float64{1, 1}, [2]float64{signOf(flat, hide.RakeE), signOf(flat, hide.RakeN)})
}

func signOf(s *surface, l hide.Light) float64 {
	for _, lit := range s.lit {
		if lit.light == l {
			return lit.from.sign
		}
	}
	panic(fmt.Sprint("no ", l))
}

// A plane's own gradient.
func TestFallOf(t *testing.T) {
	s := surfaceOf(t, leatherScene{0, map[hide.Light]func(x, y float64) float64{hide.Top: func(x, y float64) float64 { return 0.0004*x - 0.0001*y }}}.input(t))
	assert.InDelta(t, 0.4, s.lit[0].fall[0], 0.01)
	assert.InDelta(t, -0.1, s.lit[0].fall[1], 0.01)
}
