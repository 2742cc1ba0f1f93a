package calibrate

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"hidechart/hide"
)

func wavyRing(x, y, r float64, n int) hide.Ring {
	out := make(hide.Ring, n)
	for i := range out {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		k := r * (1 + 0.1*math.Cos(5*2*math.Pi*float64(i)/float64(n)))
		out[i] = hide.Point{X: hide.MM(x + k*c), Y: hide.MM(y + k*s)}
	}
	return out
}

// The one ring has the polygon's area, holes taken off, to what thinning costs,
// and no more vertices than the derivatives are taken over.
func TestKeyholedHasThePolygonsArea(t *testing.T) {
	var p hide.Polygon
	for _, n := range []int{4, 70, 3000} {
		p = hide.Polygon{Outer: wavyRing(1600, 1300, 1000, n)}
		if n == 4 {
			p.Outer = hide.Ring{{X: 100, Y: 100}, {X: 3000, Y: 100}, {X: 3000, Y: 2400}, {X: 100, Y: 2400}}
		}
		for k := range 30 { // more than are counted
			p.Holes = append(p.Holes, wavyRing(1300+float64(k%6)*120, 1000+float64(k/6)*120, 4+5*float64(k%7), 40))
		}
		r := keyholed(p)
		require.LessOrEqual(t, len(r), mostVertices)
		require.Equal(t, r, densified(r))
		require.InDelta(t, 1, float64(r.SignedArea())/float64(p.Area()), 0.01, n)
	}
}

// Against Monte Carlo (JCGM 101:2008, 7): cameras drawn from the fit's covariance, the
// polygon with its holes brought to the table by each. 2000 draws have a standard
// deviation to 1.6 %; three times that.
func TestHolesCountInTheAreaParts(t *testing.T) {
	rnd := newRand(61)
	v, rig := someCamera(rnd), gridRig(8)
	_, fit, err := Solve(rig, frame, sightings(v, rig, rnd, 0.05, 0.1), nil, DefaultParams())
	require.NoError(t, err)
	p := hide.Polygon{Outer: wavyRing(1650, 1300, 1000, 200)}
	without := fit.AreaU(p)
	p.Holes = []hide.Ring{wavyRing(1900, 1300, 600, 200)}
	p = p.Oriented()
	with := fit.AreaU(p)
	drawn := drawnAreaU(t, fit, p, rnd)
	t.Logf("u of the area without the hole %.5f %%, with it %.5f %%, drawn %.5f %%", 100*without, 100*with, 100*drawn)
	require.InDelta(t, 1, with/drawn, 0.05)
	require.Greater(t, math.Abs(without/drawn-1), 0.1, "the hole is no small matter here")
}

// drawnAreaU is the relative standard deviation of the area over cameras drawn.
func drawnAreaU(t *testing.T, fit Fit, p hide.Polygon, rnd *rand.Rand) float64 {
	t.Helper()
	flat := make([]float64, 0, cameraN*cameraN)
	h := fit.state.differences() // the unknowns' scales
	for i := range cameraN {
		for k := range cameraN {
			flat = append(flat, fit.state.cov[i][k]/h[i]/h[k])
		}
	}
	var root mat.Cholesky
	require.True(t, root.Factorize(mat.NewSymDense(cameraN, flat)))
	var l mat.TriDense
	root.LTo(&l)
	here := fit.state.view()
	const small = 1e-4 // of the deviations: focal length and height go far together, on a line that is straight only nearby
	var areas []float64
	for range 2000 {
		z, d := make([]float64, cameraN), make([]float64, cameraN)
		for i := range z {
			z[i] = rnd.NormFloat64()
		}
		for i := range d {
			for k := range i + 1 {
				d[i] += l.At(i, k) * z[k] * h[i] * small
			}
		}
		stepped := fit.state.stepped(d)
		w := stepped.view()
		var area hide.MM2
		for _, r := range append([]hide.Ring{p.Outer}, p.Holes...) {
			out := make(hide.Ring, len(r))
			for i, q := range r {
				out[i] = w.Ground(here.Project(q.X, q.Y, 0), 0)
			}
			area += out.SignedArea()
		}
		areas = append(areas, float64(area))
	}
	mean, sd := stat.MeanStdDev(areas, nil)
	return sd / mean / small
}
