package detect

import (
	"fmt"
	"math"

	"hidechart/hide"
	"hidechart/pix"
	"hidechart/plane"
)

// How the light's gradient is directed on a candidate and about it, in the candidate's own
// frame, x along it: histograms of oriented gradients (Dalal & Triggs 2005, CVPR). A scratch has all
// of its gradient across it and little beside it; grain that happens to line up has as much
// along it, and the same all round. The pictures are small ones of two scales: 1 mm a pixel about the
// middle, and as coarse as it takes to show the whole.

const (
	pictureSide  = 32
	pictureInner = 8   // pixels a side: the candidate
	pictureOuter = 24  // and what is about it, clear of the picture's border
	wholeShare   = 1.4 // of a candidate's length that the picture of the whole shows
	leastWhole   = 1.5 // mm a pixel of that picture: finer would be the other one again
	coarsest     = 16  // work pixels that a picture's pixel averages at most
)

// toneUnit is the tone, in logarithms of light, below which a picture takes it as it is and
// above which by its logarithm (asinh): twice the grain of a smooth leather.
const toneUnit = 0.01

// A picture's tones are codes, the root of the tone in 127 steps up to mostTone, so that
// the asinh of one is looked up.
const (
	mostTone  = 0.6
	toneSteps = 127
)

var toneOfCode = func() (out [2*toneSteps + 1]float32) {
	for i := range out {
		root := float64(i-toneSteps) / toneSteps
		out[i] = float32(math.Asinh(math.Copysign(root*root*mostTone, root) / toneUnit))
	}
	return out
}()

// pictureTone is the asinh of a tone, in steps; what is no number is taken as mostTone.
func pictureTone(v float32) float32 {
	root := math.Sqrt(math.Abs(float64(v)) / mostTone)
	if !(root <= 1) {
		root = 1
	}
	return toneOfCode[toneSteps+int(math.Round(math.Copysign(root*toneSteps, float64(v))))]
}

// What the histograms are of: the lights, the pictures and the parts of a picture.
const (
	byTop    = iota
	byAcross // the raking light more across the candidate, less top
	byAlong  // the other raking light, less top
	gradientLights
)

const (
	gradientPictures = 2
	gradientParts    = 2 // inner, outer
	gradientSums     = 4 // along, askew, across, the commonest direction's share
	gradientCount    = gradientPictures * gradientLights * gradientParts * gradientSums
)

// gradientWords names the features, in the order in which they are set.
func gradientWords() []string {
	var out []string
	for _, picture := range []string{"%s %s in its middle %s", "%s %s seen whole, %s"} {
		for _, light := range []string{"top light's", "across raking light's", "along raking light's"} {
			for _, part := range []string{"on it", "about it"} {
				for _, sum := range []string{"gradient along", "gradient askew", "gradient across", "one-way share"} {
					out = append(out, fmt.Sprintf(picture, light, sum, part))
				}
			}
		}
	}
	return out
}

// gradients adds them to every candidate.
func (s *surface) gradients(found []candidate) {
	levels := s.toneLevels()
	rows(len(found), func(i int) {
		x := found[i].x[fGradients : fGradients+gradientCount]
		for _, f := range found[i].frames() {
			from := f.level(levels)
			var top picture
			for use, light := range s.gradientLights(f.angle) {
				if light >= 0 {
					p := f.picture(from.tone[light], from.grid)
					if use == byTop {
						top = p
					} else {
						p.subtract(&top)
					}
					p.directions(x)
				}
				x = x[gradientParts*gradientSums:]
			}
		}
	})
}

// toneLevel is the tones of top and raking lights, averaged to larger pixels.
type toneLevel struct {
	grid pix.Grid
	tone []field
}

// toneLevels are pixels once, twice, … as large, each of the sums of the one before.
func (s *surface) toneLevels() []toneLevel {
	var out []toneLevel
	for k := 1; k <= coarsest; k *= 2 {
		out = append(out, toneLevel{s.grid.Scaled(s.grid.MMPerPX * hide.MM(k)), make([]field, len(s.lit))})
	}
	rows(len(s.lit), func(l int) {
		if s.lit[l].light == hide.Back {
			return // gradientLights has none
		}
		sum, count := s.lit[l].tone.blocks(s.in, 2)
		out[0].tone[l] = s.lit[l].tone
		for k := 1; k < len(out); k++ {
			if k > 1 {
				sum, count = sum.halved(), count.halved()
			}
			mean := newField(sum.w, sum.h)
			for i, n := range count.v {
				mean.v[i] = sum.v[i] / max(n, 1)
			}
			out[k].tone[l] = mean
		}
	})
	return out
}

// halved sums blocks of two by two.
func (f field) halved() field {
	out := newField((f.w+1)/2, (f.h+1)/2)
	for y := range f.h {
		to := out.v[y/2*out.w:]
		for x, v := range f.v[y*f.w : (y+1)*f.w] {
			to[x/2] += v
		}
	}
	return out
}

// gradientLights are which of the surface's lights are top and up to two raking ones; -1: there
// is none.
func (s *surface) gradientLights(angle float64) [gradientLights]int {
	sin, cos := math.Sincos(angle)
	across := func(l int) float64 { return math.Abs(s.lit[l].from.y*cos - s.lit[l].from.x*sin) }
	out := [...]int{-1, -1, -1}
	for k, l := range s.lit {
		switch {
		case l.light == hide.Top:
			out[byTop] = k
		case !l.light.Rake():
		case out[byAcross] < 0:
			out[byAcross] = k
		case out[byAlong] >= 0:
		case across(k) > across(out[byAcross]):
			out[byAcross], out[byAlong] = k, out[byAcross]
		default:
			out[byAlong] = k
		}
	}
	return out
}

// pictureFrame is where a picture lies and how it is turned.
type pictureFrame struct {
	middle hide.Point
	angle  float64 // of its x
	pixel  float64 // mm
}

// frames are those of the middle and of the whole.
func (c *candidate) frames() [gradientPictures]pictureFrame {
	r := plane.MinRectangle(c.shape)
	middle := pictureFrame{c.middle(), r.Angle, 1}
	if c.form == lineForm {
		middle.angle = c.direction()
	}
	return [...]pictureFrame{middle, {r.Centre, r.Angle, max(leastWhole, wholeShare*float64(r.Length)/pictureSide)}}
}

// level is the coarsest one whose pixel is no larger than the picture's.
func (f pictureFrame) level(levels []toneLevel) toneLevel {
	k := 0
	for k+1 < len(levels) && float64(levels[k+1].grid.MMPerPX) <= 1.01*f.pixel {
		k++
	}
	return levels[k]
}

// picture holds pictureTones, row by row, y to the left of x.
type picture [pictureSide * pictureSide]float32

// pictureEdge pixels are not read: no gradient needs them.
const pictureEdge = (pictureSide-pictureOuter)/2 - 1

// picture reads a field between its pixels; beyond the raster it is 0.
func (f pictureFrame) picture(from field, g pix.Grid) (out picture) {
	sin, cos := math.Sincos(f.angle)
	const half = (pictureSide - 1) / 2.0
	for i := range out {
		column, row := i%pictureSide, i/pictureSide
		if min(column, row, pictureSide-1-column, pictureSide-1-row) < pictureEdge {
			continue
		}
		x, y := (float64(column)-half)*f.pixel, (float64(row)-half)*f.pixel
		at := g.ToRaster(hide.Point{X: f.middle.X + hide.MM(x*cos-y*sin), Y: f.middle.Y + hide.MM(x*sin+y*cos)})
		left, top := math.Floor(float64(at.X)), math.Floor(float64(at.Y))
		if !(left >= 0 && top >= 0 && left+1 < float64(from.w) && top+1 < float64(from.h)) {
			continue
		}
		u, v, j := float32(float64(at.X)-left), float32(float64(at.Y)-top), int(top)*from.w+int(left)
		above, below := from.v[j]*(1-u)+from.v[j+1]*u, from.v[j+from.w]*(1-u)+from.v[j+from.w+1]*u
		out[i] = pictureTone(above*(1-v) + below*v)
	}
	return out
}

func (p *picture) subtract(other *picture) {
	for i, v := range other {
		p[i] -= v
	}
}

// directionBins of half a turn; a picture and its mirror image are the same, so bins of
// like angle to x are summed but for the commonest one's share.
const directionBins = 6

// tan30 bounds the bins, with its inverse.
const tan30 = 0.57735026918962576

// directions sets the mean gradient along, askew of and across x and the share of the commonest
// direction, for the inner and the outer part.
func (p *picture) directions(x []float64) {
	var sums [gradientParts][directionBins]float32
	const edge, core = (pictureSide - pictureOuter) / 2, (pictureSide - pictureInner) / 2
	for row := edge; row < pictureSide-edge; row++ {
		for column := edge; column < pictureSide-edge; column++ {
			i := row*pictureSide + column
			dx, dy := (p[i+1]-p[i-1])/2, (p[i+pictureSide]-p[i-pictureSide])/2
			bin, size := directionBin(dx, dy), float32(math.Sqrt(float64(dx*dx+dy*dy)))
			sums[1][bin] += size
			if min(row, column) >= core && max(row, column) < pictureSide-core {
				sums[0][bin] += size
			}
		}
	}
	for part, side := range []float32{pictureInner, pictureOuter} {
		var all, most float32
		for b := range sums[part] {
			h := sums[part][b] / (side * side)
			all, most = all+h, max(most, h)
			sums[part][b] = h
		}
		h, to := sums[part], x[part*gradientSums:]
		to[0], to[1], to[2], to[3] = float64(h[0]+h[5]), float64(h[1]+h[4]), float64(h[2]+h[3]), float64(most/(all+0.001))
	}
}

// directionBin of a gradient, whichever way it points.
func directionBin(dx, dy float32) int {
	ax, ay := max(dx, -dx), max(dy, -dy)
	bin := 0
	switch {
	case ay >= ax/tan30:
		bin = 2
	case ay >= ax*tan30:
		bin = 1
	}
	if dx*dy < 0 {
		return directionBins - 1 - bin
	}
	return bin
}
