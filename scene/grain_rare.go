package scene

import "math"

// The grains below are drawn articles' only: no named article has one, and what has been learned
// on the others alone takes them for flaws (docs/adr/0047).

// drawRarer changes the grain of a drawn article to one of those that named articles lack.
func (a *article) drawRarer(s source) {
	switch {
	case s.chance(.4):
		a.name, a.surface = "drawn domed", domed
		a.cellMM, a.slope, a.valley = s.between(1.2, 5, 1.2, 2.2), s.between(.04, .14, 1.5, 3), s.in(0, .4)
	case s.chance(.33):
		a.name, a.surface = "drawn creased", creased
		a.cellMM, a.slope, a.valley = s.between(2, 7, 1.2, 2), s.between(.03, .1, 1.5, 3), s.in(.02, .3)
	case s.chance(.5):
		a.name, a.surface = "drawn pored", pored
		a.cellMM, a.slope, a.valley = s.between(1.2, 4.5, 1.2, 2), s.between(.02, .08, 1.5, 3), s.in(.03, .4)
	default:
		a.name, a.surface = "drawn rough", rough
		a.cellMM, a.slope, a.valley = s.between(.8, 2.6, 1.2, 2.2), s.between(.03, .1, 1.5, 3), s.in(0, .1)
	}
}

// dome is a pebble of its own size, with plain leather between it and the next: leather that was
// shrunk or milled long.
func (g grain) dome(x, y, size, clear float64, seed uint32) (h, valley float64) {
	f1, _, id := cells(x/size, y/size, seed, 1)
	radius := .35 + .4*float64(id>>12&0xff)/255
	up := math.Sqrt(math.Max(0, 1-f1*f1/radius/radius))
	return size * g.steep * clear * g.depth(id) * radius * up, clear * (1 - up)
}

// crease is a net of fine lines, deep in one place and lost in the next.
func (g grain) crease(x, y, size, clear float64, seed uint32) (h, valley float64) {
	n := value(x/size, y/size, seed) + .35*value(2.3*x/size, 2.3*y/size, seed+1)
	line := bell(n/.06) * clamp(.4+1.5*value(x/size/6, y/size/6, seed+2), 0, 1)
	return -.3 * size * g.steep * clear * line, clear * line
}

// pore is one of many strewn at random, more in one place than in the next.
func (g grain) pore(x, y, size, clear float64, seed uint32) (h, valley float64) {
	f1, _, id := cells(x/size, y/size, seed, 1)
	if float64(id&0xff)/255 > .45+.5*value(x/size/9, y/size/9, seed+1) {
		return 0, 0
	}
	deep := clear * g.depth(id) * step(.26, .06, f1)
	return -.4 * size * g.steep * deep, math.Min(1, deep)
}

// roughness has waves of every length down to the raster's.
func (g grain) roughness(x, y, size, clear float64, seed uint32) (h, valley float64) {
	n := fractal(x/size, y/size, seed, 3, .6)
	return .5 * size * g.steep * clear * n, clear * clamp(.4-.6*n, 0, 1)
}
