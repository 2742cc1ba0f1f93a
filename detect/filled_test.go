package detect

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
	"hidechart/plane"
)

// A pixel is filled just where its centre, taken by itself, lies in the ring, also of a ring that
// reaches out of the raster.
func TestFilled(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for range 40 {
		g := pix.TableGrid(60, 40, 0.7)
		n, c := 3+rnd.IntN(40), at(70*rnd.Float64(), 50*rnd.Float64())
		var ring hide.Ring
		for k := range n { // a star, so that no edges cross
			angle, r := 2*math.Pi*float64(k)/float64(n), 3+30*rnd.Float64()
			ring = append(ring, at(float64(c.X)+r*math.Cos(angle), float64(c.Y)+r*math.Sin(angle)))
		}
		in := filled(ring, g)
		for i, got := range in {
			p := g.ToTable(pix.Point{X: hide.PX(i % g.Width), Y: hide.PX(i / g.Width)})
			require.Equal(t, plane.Contains(hide.Polygon{Outer: ring}, p), got, "%v in %v", p, ring)
		}
	}
}
