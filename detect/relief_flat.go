package detect

import (
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/pix"
)

// Lie is how a hide lies on the table, as raking lights tell it.
type Lie struct {
	Height   hide.MM // of its highest wave, from trough to crest
	Steepest float64 // largest slope beside it, degrees
	At       hide.Point
	Shrink   float64      // share by which waves make the whole hide look smaller, as far as these lights tell
	Lights   []hide.Light // that tell it
}

// Measures of the waves of a hide.
const (
	// Cells of a fortieth of the longest wave: grain, pores and fine flaws are averaged away.
	lieCellMM = 10.0
	// Kept off the hide's edge and holes: it curls, and throws shade.
	lieEdgeMM = 25.0
	// Of a cell so much must be leather that is neither cut off nor black.
	lieCellShare = 0.5
	// The shade of waves up to 400 mm stays whole to 12 % when the mean within
	// this deviation is taken off (1 − exp(−2π²·120²/400²) = 0.83 of a sine); what
	// is wider is the lamps' own fall-off.
	lieWideMM = 120.0
	// Waves shorter than 40 mm are wrinkles and flaws of the leather, not of how it lies:
	// a Gaussian mean of this deviation leaves 8 % of a sine of 40 mm.
	lieFineMM = 14.0
	// Raking lamps stand 8° to 20° above the table's middle (common practice, no
	// source): 12.7° has the geometric mean of their cotangents, so that heights are
	// right to a factor of 1.6 whichever it is.
	lieLampDeg = 12.7
	// They stand about so far beyond the table's edge; the light falls the flatter the
	// farther a place lies from them.
	lieLampBeyondMM = 1500.0
	// Trough and crest of one wave lie within this window: the longest wave.
	lieWindowMM = 400.0
	// A tenth of a thousandth of full scale is under half a step of an 8-bit photograph near black.
	lieDarkest, lieLightest = 60, 65000
)

// Lying measures the waves of a hide from its shading under raking lights: a slope
// towards a lamp that stands low is lighter by the cotangent of the lamp's height
// (Lambert). photos hold top and one raking light or more; outline is the hide; tableMM is
// the table's width and height. What changes the colour of leather shows under
// top too, what shines there does not show under the raking light: of the two
// readings the smaller is believed. Slopes of all lights together give the height by least squares in
// the frequency plane (Frankot & Chellappa 1988). The lamps' height is not known, so
// height and slope are right within a factor of about 1.6; a wave whose crest
// runs along the only raking light is not seen. False: no raking light, or too little leather.
func Lying(photos Photos, outline hide.Polygon, tableMM [2]hide.MM) (Lie, bool) {
	g := lieGrid(photos.Grid, outline)
	inside := lieInside(g, outline)
	top, ok := photos.Lights[hide.Top]
	if !ok {
		return Lie{}, false
	}
	level := lieLevels(top, photos.Grid, g, inside)
	var lie Lie
	var slopes []lieSlope
	for _, l := range hide.Lights() {
		im, ok := photos.Lights[l]
		if !ok || !l.Rake() {
			continue
		}
		s, ok := lieShade(lieLevels(im, photos.Grid, g, inside), level, g)
		if !ok {
			continue
		}
		slopes = append(slopes, s.lamp(l, slopes, g, tableMM))
		lie.Lights = append(lie.Lights, l)
	}
	if len(slopes) == 0 {
		return Lie{}, false
	}
	lie.measure(slopes, g)
	return lie, true
}

// lieGrid is the raster of cells over the outline's box.
func lieGrid(fine pix.Grid, outline hide.Polygon) pix.Grid {
	return fine.Scaled(lieCellMM).Around(outline.Outer, lieEdgeMM)
}

// lieInside are the cells that lie lieEdgeMM or more inside the outline and off its holes.
func lieInside(g pix.Grid, outline hide.Polygon) []bool {
	out, all := make([]float64, g.Width*g.Height), make([]bool, g.Width*g.Height)
	for i := range all {
		all[i] = true
	}
	rings := append([]hide.Ring{outline.Outer}, outline.Holes...)
	for y := range g.Height {
		at := g.ToTable(pix.Point{Y: hide.PX(y)}).Y
		var xs []float64
		for _, r := range rings {
			for i, a := range r {
				b := r[(i+1)%len(r)]
				if (a.Y > at) != (b.Y > at) {
					xs = append(xs, float64(g.ToRaster(hide.Point{X: a.X + (at-a.Y)/(b.Y-a.Y)*(b.X-a.X), Y: at}).X))
				}
			}
		}
		slices.Sort(xs)
		for k := 0; k+1 < len(xs); k += 2 {
			for x := max(0, int(math.Ceil(xs[k]))); x <= min(g.Width-1, int(xs[k+1])); x++ {
				out[y*g.Width+x] = 1
			}
		}
	}
	out = lieExtreme(out, all, g.Width, g.Height, int(math.Ceil(lieEdgeMM/lieCellMM)), -1)
	for i, v := range out {
		all[i] = v > 0
	}
	return all
}

// lieLevels is the logarithm of each cell's mean light, NaN where it is not leather or
// cannot be told.
func lieLevels(im *pix.Image, fine, g pix.Grid, inside []bool) []float64 {
	out := make([]float64, len(inside))
	data, n := im.Uint16s(), im.Channels()
	rows(g.Height, func(y int) {
		for x := range g.Width {
			i := y*g.Width + x
			out[i] = math.NaN()
			if inside[i] {
				out[i] = lieLevel(data, n, fine, lieBox(fine, g, x, y))
			}
		}
	})
	return out
}

// lieBox is the part of the fine raster that a cell covers: first and past-last columns and rows.
func lieBox(fine, g pix.Grid, x, y int) [4]int {
	a := fine.ToRaster(g.ToTable(pix.Point{X: hide.PX(x) - 0.5, Y: hide.PX(y) - 0.5}))
	b := fine.ToRaster(g.ToTable(pix.Point{X: hide.PX(x) + 0.5, Y: hide.PX(y) + 0.5}))
	return [4]int{int(math.Ceil(float64(a.X))), int(math.Ceil(float64(a.Y))), int(math.Ceil(float64(b.X))), int(math.Ceil(float64(b.Y)))}
}

func lieLevel(data []uint16, n int, fine pix.Grid, box [4]int) float64 {
	var sum float64
	var seen, all int
	for y := box[1]; y < box[3]; y += lieEvery {
		for x := box[0]; x < box[2]; x += lieEvery {
			all++
			if x < 0 || y < 0 || x >= fine.Width || y >= fine.Height {
				continue
			}
			px := data[(y*fine.Width+x)*n:][:n]
			light, cut := 0.0, false
			for _, v := range px {
				light += float64(v)
				cut = cut || v >= lieLightest
			}
			if !cut {
				sum, seen = sum+light/float64(n), seen+1
			}
		}
	}
	if seen == 0 || float64(seen) < lieCellShare*float64(all) || sum < lieDarkest*float64(seen) {
		return math.NaN()
	}
	return math.Log(sum / float64(seen))
}

// lieEvery thins the pixels looked at: on the finest raster, 0.5 mm, a hundred of a cell are enough.
const lieEvery = 2

// lieSlope is the surface's slope towards a lamp, cell by cell, 0 where not known.
type lieSlope struct {
	dx, dy float64 // direction to the lamp on the table, x right, y up
	v      []float64
	seen   []bool
}

// lieShade is how much lighter a cell is than its surroundings because it
// faces the lamp, relative.
func lieShade(rake, top []float64, g pix.Grid) (lieSlope, bool) {
	ratio, alone := make([]float64, len(rake)), slices.Clone(rake)
	for i := range rake {
		ratio[i] = rake[i] - top[i]
		if math.IsNaN(ratio[i]) {
			alone[i] = math.NaN()
		}
	}
	a, okA := lieBand(ratio, g)
	b, okB := lieBand(alone, g)
	if !okA || !okB {
		return lieSlope{}, false
	}
	s := lieSlope{v: make([]float64, len(rake)), seen: make([]bool, len(rake))}
	for i := range s.v {
		s.seen[i] = !math.IsNaN(ratio[i])
		if s.seen[i] && a[i]*b[i] > 0 {
			s.v[i] = math.Copysign(min(math.Abs(a[i]), math.Abs(b[i])), a[i])
		}
	}
	return s, s.relative(g)
}

// lamp turns shade into slope for the lamps of a raking light, on the other side than their name
// says if crossed ones before show so (lamps.go says how). All turned would give the same heights.
func (s lieSlope) lamp(l hide.Light, before []lieSlope, g pix.Grid, tableMM [2]hide.MM) lieSlope {
	x, y := towards(l)
	out := s.from(x, y, g, tableMM)
	if out.against(before, g) {
		return s.from(-x, -y, g, tableMM)
	}
	return out
}

// from is the slope if the lamps stand in direction (x, y).
func (s lieSlope) from(x, y float64, g pix.Grid, tableMM [2]hide.MM) lieSlope {
	far := float64(tableMM[0])/2*math.Abs(x) + float64(tableMM[1])/2*math.Abs(y)
	stand := far + lieLampBeyondMM
	high := stand * math.Tan(lieLampDeg*math.Pi/180)
	out := lieSlope{dx: x, dy: y, v: make([]float64, len(s.v)), seen: s.seen}
	for i, v := range s.v {
		p := g.ToTable(pix.Point{X: hide.PX(i % g.Width), Y: hide.PX(i / g.Width)})
		away := stand - (float64(p.X-tableMM[0]/2)*x + float64(p.Y-tableMM[1]/2)*y)
		// lit towards the lamp: the surface falls towards it
		out.v[i] = v * -high / away
	}
	return out
}

// against is true if the slopes contradict those under crossed lamps: a surface has no curl.
func (s lieSlope) against(before []lieSlope, g pix.Grid) bool {
	var sum, squareA, squareB float64
	change := func(a, along lieSlope, i int) float64 { // rows run down
		return (a.v[i+1]-a.v[i-1])*along.dx + (a.v[i-g.Width]-a.v[i+g.Width])*along.dy
	}
	for _, o := range before {
		if o.dx*s.dx+o.dy*s.dy != 0 {
			continue // not crossed
		}
		for i := g.Width + 1; i < len(s.v)-g.Width-1; i++ {
			a, b := change(s, o, i), change(o, s, i)
			sum, squareA, squareB = sum+a*b, squareA+a*a, squareB+b*b
		}
	}
	return sum < -leastLikeness*math.Sqrt(squareA*squareB)
}

// relative turns logarithms of shade into shade against the mean around, which must be that
// of the light itself: the mean of logarithms lies below it, by a sixth where waves
// halve the light, and waves would come out too high and tilted.
func (s lieSlope) relative(g pix.Grid) bool {
	f := newField(g.Width, g.Height)
	for i, v := range s.v {
		f.v[i] = float32(math.Exp(v))
	}
	mean, _, err := f.localMean(s.seen, 2*lieWideMM/lieCellMM) // wider than any wave
	if err != nil {
		return false
	}
	for i := range s.v {
		if s.seen[i] {
			s.v[i] = float64(f.v[i]/mean.v[i]) - 1
		}
	}
	return true
}
