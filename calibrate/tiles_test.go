package calibrate

import (
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

// largeRig is a table of 5 × 3 m with tags along its border, about every metre.
func largeRig() Rig {
	r := Rig{Width: 5000, Height: 3000, TagEdge: 120, Centres: map[int]hide.Point{}}
	for i := range 6 {
		x := hide.MM(100 + 4800*float64(i)/5)
		r.Centres[i], r.Centres[6+i] = hide.Point{X: x, Y: 100}, hide.Point{X: x, Y: 2900}
	}
	for i := range 2 {
		y := hide.MM(1000 + 1000*float64(i))
		r.Centres[12+i], r.Centres[14+i] = hide.Point{X: 100, Y: y}, hide.Point{X: 4900, Y: y}
	}
	return r
}

// fourViews are one camera's over the quarters of that table, each seen with a
// tenth of its side to spare.
func fourViews(rnd *rand.Rand) Mosaic {
	one := someCamera(rnd)
	var m Mosaic
	for i := range 4 {
		v := one
		v.R = product(rotation([3]float64{0.03 * rnd.NormFloat64(), 0.03 * rnd.NormFloat64(), 0.02 * rnd.NormFloat64()}), [9]float64{1, 0, 0, 0, -1, 0, 0, 0, -1})
		at := [3]float64{1250 + 2500*float64(i%2), 750 + 1500*float64(1-i/2), 0}
		v.T = [3]float64{}
		for r := range 3 {
			for k := range 3 {
				v.T[r] -= v.R[3*r+k] * at[k]
			}
		}
		v.T[2] += v.Camera.FX * 2950 / 6000 * (1 + 0.03*rnd.NormFloat64())
		m = append(m, v)
	}
	return m
}

// tilesOf is what the views show of the rig, each tag's error the same in all.
func tilesOf(m Mosaic, rig Rig, rnd *rand.Rand, cornerPX, tagMM float64) []Tile {
	moved := map[int]hide.Point{}
	for _, id := range rig.IDs() {
		moved[id] = hide.Point{X: hide.MM(tagMM * rnd.NormFloat64()), Y: hide.MM(tagMM * rnd.NormFloat64())}
	}
	var out []Tile
	for _, v := range m {
		t := Tile{Size: image.Pt(v.Camera.Width, v.Camera.Height)}
		for _, id := range rig.IDs() {
			s, inside := Sighting{ID: id, Good: [4]bool{true, true, true, true}}, true
			for k, q := range rig.Corners(id) {
				p := v.Project(q.X+moved[id].X, q.Y+moved[id].Y, 0)
				inside = inside && p.X > 2 && p.Y > 2 && p.X < hide.PX(v.Camera.Width-2) && p.Y < hide.PX(v.Camera.Height-2)
				s.Corners[k] = pix.Point{X: p.X + hide.PX(cornerPX*rnd.NormFloat64()), Y: p.Y + hide.PX(cornerPX*rnd.NormFloat64())}
				s.SD[k] = hide.PX(max(cornerPX, 0.01))
			}
			if inside {
				t.Seen = append(t.Seen, s)
			}
		}
		out = append(out, t)
	}
	return out
}

func tileName(i int) string { return fmt.Sprintf("top.%d", i+1) }

// A hide's outline in the middle of the table, farthest from the tags, brought
// through the true cameras and back through the fitted ones. The bound is the
// requirement's tenth of a percent, and the stated uncertainty must cover what is found.
func TestTilesAreaAndItsUncertainty(t *testing.T) {
	rig := largeRig()
	ring := hide.Ring{{X: 700, Y: 500}, {X: 4300, Y: 500}, {X: 4300, Y: 2500}, {X: 700, Y: 2500}}
	for _, tagMM := range []float64{0, 0.3} {
		const runs = 5
		rnd := newRand(11)
		in, rms, us, seam, alone := 0, 0.0, 0.0, 0.0, 0.0
		for range runs {
			truth := fourViews(rnd)
			tiles := tilesOf(truth, rig, rnd, 0.05, tagMM)
			got, fit, err := SolveTiles(rig, tiles, nil, DefaultParams(), tileName)
			require.NoError(t, err)
			area := float64(truth.sightOf(densified(ring)).back(got).SignedArea())/float64(ring.SignedArea()) - 1
			u := fit.AreaU(hide.Polygon{Outer: ring})
			if math.Abs(area) <= 2*u {
				in++
			}
			var single []View
			for _, tile := range tiles {
				v, _, err := Solve(rig, tile.Size, tile.Seen, nil, DefaultParams())
				require.NoError(t, err)
				single = append(single, v)
			}
			rms, us = rms+area*area/runs, us+u/runs
			seam, alone = seam+seamMM(truth, got)/runs, alone+seamMM(truth, single)/runs
			require.LessOrEqual(t, math.Abs(area), 0.001)
		}
		t.Logf("tags placed to %.1f mm: area error rms %.4f %%, stated u %.4f %%, within 2u %d of %d; in the overlap %.2f mm apart (each photograph by itself %.2f)",
			tagMM, 100*math.Sqrt(rms), 100*us, in, runs, seam, alone)
		require.GreaterOrEqual(t, in, runs-1) // 95 % expected of each; two of five misses come once in 50 times
		require.Less(t, seam, alone, "one lens for all joins better than one for each")
	}
}

// seamMM is how far apart two photographs put the same place, mean over the
// crossing of the table's middle.
func seamMM(truth Mosaic, got []View) float64 {
	sum, n := 0.0, 0.0
	for x := 500; x <= 4500; x += 250 {
		p := hide.Point{X: hide.MM(x), Y: 1500}
		var at []hide.Point
		for i, v := range truth {
			if truth.Shares(p, 0)[i] > 0 {
				at = append(at, got[i].Ground(v.Project(p.X, p.Y, 0), 0))
			}
		}
		for i := 1; i < len(at); i++ {
			sum, n = sum+float64(at[i].Distance(at[0])), n+1
		}
	}
	return sum / n
}
