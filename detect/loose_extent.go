package detect

import (
	"math"

	"hidechart/hide"
	"hidechart/pix"
	"hidechart/plane"
)

// A loose area has a soft border: its ripple fades into the leather. It is found where the energy stands out by itself,
// and charted, as a cutter would draw it, as far as the ripple shows at all.

// extentShares of the energy that an area has at its highest above the leather's own are where it is taken to end, the first that makes
// it no more than extentGrowth times as large, but not under extentLeast, in the hide's own spread. Half of it, which would be right
// for what smoothing spreads, leaves a third of the true areas out; where grain is coarse all round, less runs on into it. The
// energy itself is shared, not its logarithm, of which the tails of a strong ripple's filter reach far beyond it.
var extentShares = [3]float64{0.15, 0.25, 0.4}

const (
	extentGrowth = 2
	extentLeast  = 1
)

// extentReach is how far beyond the area found its extent is sought.
const extentReach hide.MM = 100

// risenField is how far the logarithm of the ripple's energy stands out of the hide's own, in its spread; -1 off the leather.
type risenField struct {
	field
	grid   pix.Grid
	spread float64 // of the logarithm
}

// level is where the energy is a share of what it is above the leather's own at a score.
func (f risenField) level(share, score float64) float64 {
	return math.Log1p(share*math.Expm1(score*f.spread)) / f.spread
}

// window is the part on a grid cropped from the field's, less a level.
func (f risenField) window(g pix.Grid, level float32) field {
	left, top := cornerOf(g, f.grid)
	out := newField(g.Width, g.Height)
	for y := range out.h {
		for x := range out.w {
			out.v[y*out.w+x] = -1
			if u, v := left+x, top+y; u >= 0 && v >= 0 && u < f.w && v < f.h {
				out.v[y*out.w+x] = f.v[v*f.w+u] - level
			}
		}
	}
	return out
}

// extent of an area found with a score; itself where none of the shares gives one.
func (f risenField) extent(found hide.Shape, score float64) (hide.Shape, error) {
	for _, share := range extentShares {
		s, err := f.over(max(f.level(share, score), extentLeast), found)
		if err != nil {
			return nil, err
		}
		if s != nil && s.Area() <= extentGrowth*found.Area() {
			return s, nil
		}
	}
	return found, nil
}

// over is the part over a level that most of an area found lies in, closed over and cleared of what is narrower than a
// loose area; nil if it lies in none.
func (f risenField) over(level float64, found hide.Shape) (hide.Shape, error) {
	g := f.grid.Around(found[0].Outer, extentReach)
	curves, err := pix.IsolinesIn(f.window(g, float32(level)).v, g.Width)
	if err != nil {
		return nil, err
	}
	var parts []hide.Shape
	for _, c := range curves {
		if r := tableRing(c, g); r.SignedArea() > 0 {
			parts = append(parts, hide.Shape{{Outer: r}})
		}
	}
	all, err := smoothedOver(parts, looseNeck)
	if err != nil {
		return nil, err
	}
	for _, p := range all {
		common, err := plane.Intersection(hide.Shape{p}, found)
		if err != nil {
			return nil, err
		}
		if common.Area() > found.Area()/2 {
			return hide.Shape{p}, nil
		}
	}
	return nil, nil
}

// smoothedOver unites shapes without their holes, closes them over a radius and opens them by it.
func smoothedOver(shapes []hide.Shape, radius hide.MM) (hide.Shape, error) {
	all, err := plane.Union(shapes...)
	for _, by := range []hide.MM{radius, -2 * radius, radius} {
		if err != nil || len(all) == 0 {
			return nil, err
		}
		for i := range all {
			all[i].Holes = nil
		}
		all, err = plane.Buffer(all, by)
	}
	return all, err
}
