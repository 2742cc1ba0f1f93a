package pipeline

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"hidechart/calibrate"
	"hidechart/hide"
	"hidechart/pix"
)

// whitePatch is the white of a tag's paper as the photograph under top light has it: the
// one thing on the table whose reflectance is known.
type whitePatch struct {
	at    hide.Point // the tag's centre
	light []float64  // linear light per channel, 0 to 1
}

// Where and how the paper is read.
const (
	// The white ring is a cell wide and its middle half a cell off the black square, whose
	// edge has eight cells: a sixteenth of the edge.
	ringMiddle = 1.0 / 16
	// Places along each side that are read: the median of nine is safe from four stains.
	ringPlaces = 9
	// At and above it paper is cut off and says nothing.
	whiteCut = 0.985
	// A cell of fewer pixels lets its neighbours' black in: blur reaches two deviations of 0.8 px.
	leastCellPX = 3.5
)

// whitesIn reads the paper's white beside every tag that has four good corners and is
// neither cut off nor partly covered.
func whitesIn(lin *pix.Exposure, seen []calibrate.Sighting, rig calibrate.Rig) []whitePatch {
	var out []whitePatch
	for _, s := range seen {
		centre, ok := rig.Centres[s.ID]
		if !ok || s.Good != [4]bool{true, true, true, true} || sideOf(s)/calibrate.TagCells < leastCellPX {
			continue
		}
		if light := ringLight(lin, s); slices.Max(light) < whiteCut {
			out = append(out, whitePatch{at: centre, light: light})
		}
	}
	return out
}

func sideOf(s calibrate.Sighting) float64 {
	return math.Hypot(float64(s.Corners[1].X-s.Corners[0].X), float64(s.Corners[1].Y-s.Corners[0].Y))
}

// ringLight is the median light per channel along the middle of the tag's white ring.
func ringLight(lin *pix.Exposure, s calibrate.Sighting) []float64 {
	n := lin.Channels()
	var mid pix.Point
	for _, c := range s.Corners {
		mid.X, mid.Y = mid.X+c.X/4, mid.Y+c.Y/4
	}
	reads := make([][]float64, n)
	for k := range s.Corners {
		a, b := s.Corners[k], s.Corners[(k+1)%4]
		for i := range ringPlaces {
			f := hide.PX(i+1) / (ringPlaces + 1)
			edge := pix.Point{X: a.X + f*(b.X-a.X), Y: a.Y + f*(b.Y-a.Y)}
			half := pix.Point{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2} // outward: from the centre to the side's middle
			x := int(math.Round(float64(edge.X + 2*ringMiddle*(half.X-mid.X))))
			y := int(math.Round(float64(edge.Y + 2*ringMiddle*(half.Y-mid.Y))))
			if x < 0 || y < 0 || x >= lin.Width() || y >= lin.Height() {
				continue
			}
			for c := range n {
				reads[c] = append(reads[c], float64(lin.Light(x, y, c))/65535)
			}
		}
	}
	out := make([]float64, n)
	for c := range reads {
		slices.Sort(reads[c])
		if m := len(reads[c]); m > 0 {
			out[c] = reads[c][m/2]
		}
	}
	return out
}

// Surfaces through the tags' white.
const (
	leastWhites = 4 // a plane has three terms
	// From so many tags on a parabola, whose six terms they fix twice over.
	parabolaWhites = 12
)

// whiteFlat is how the light falls on the table told by the tags' white alone: a
// plane or a parabola in the logarithm. nil: too few tags.
func whiteFlat(whites []whitePatch, rig calibrate.Rig) *calibrate.Flat {
	if len(whites) < leastWhites {
		return nil
	}
	terms := 3
	if len(whites) >= parabolaWhites {
		terms = 6
	}
	const cell = 40 // mm, as FlatField's
	w, h := int(math.Ceil(float64(rig.Width)/cell)), int(math.Ceil(float64(rig.Height)/cell))
	ch := len(whites[0].light)
	out := &calibrate.Flat{Gain: pix.New(w, h, pix.F32, ch), Cell: cell}
	basis := func(p hide.Point) []float64 {
		x, y := 2*float64(p.X/rig.Width)-1, 2*float64(p.Y/rig.Height)-1
		return []float64{1, x, y, x * x, x * y, y * y}[:terms]
	}
	a := mat.NewDense(len(whites), terms, nil)
	for i, p := range whites {
		a.SetRow(i, basis(p.at))
	}
	for c := range ch {
		b := mat.NewVecDense(len(whites), nil)
		for i, p := range whites {
			b.SetVec(i, math.Log(max(p.light[c], 1e-4))) // 1e-4: the dark of an 8-bit photograph
		}
		var x mat.VecDense
		if x.SolveVec(a, b) != nil {
			out.Close()
			return nil
		}
		data, mean := out.Gain.Float32s(), 0.0
		for i := range w * h {
			q := basis(hide.Point{X: (hide.MM(i%w) + .5) * cell, Y: rig.Height - (hide.MM(i/w)+.5)*cell})
			v := 0.0
			for k := range q {
				v += q[k] * x.AtVec(k)
			}
			data[i*ch+c] = float32(math.Exp(v))
			mean += math.Exp(v) / float64(w*h)
		}
		for i := range w * h {
			data[i*ch+c] /= float32(mean)
		}
	}
	return out
}

const (
	// Matt white paper reflects about four fifths of the light (common practice, no source).
	paperWhite = 0.8
	// Farther the picture is not lightened, which would show its noise, nor darkened.
	mostLighter, mostDarker = 4.0, 0.5
)

// whitened scales the gain so that what is divided by it is reflectance, by the tags' white:
// exposure and colour of the lamps drop out of the picture. How the light falls
// comes from the table, which shows it everywhere (gain nil: not known, then from
// the tags). It takes over the gain; without whites it is returned as it is.
func whitened(gain *calibrate.Flat, whites []whitePatch, rig calibrate.Rig) *calibrate.Flat {
	if len(whites) == 0 {
		return gain
	}
	if gain == nil {
		if gain = whiteFlat(whites, rig); gain == nil {
			gain = &calibrate.Flat{Gain: pix.New(1, 1, pix.F32, len(whites[0].light)), Cell: max(rig.Width, rig.Height)}
			for i := range gain.Gain.Float32s() {
				gain.Gain.Float32s()[i] = 1
			}
		}
	}
	ch := gain.Gain.Channels()
	scale, mean := make([]float64, ch), 0.0
	for c := range ch {
		var all []float64
		for _, p := range whites {
			all = append(all, p.light[c]/gainAt(gain, p.at, rig, c))
		}
		slices.Sort(all)
		scale[c] = all[len(all)/2] / paperWhite
		mean += scale[c] / float64(ch)
	}
	held := min(max(mean, 1/mostLighter), 1/mostDarker) / mean
	for i := range gain.Gain.Float32s() {
		gain.Gain.Float32s()[i] *= float32(scale[i%ch] * held)
	}
	return gain
}

// gainAt is the gain of the cell that holds a place of the table.
func gainAt(f *calibrate.Flat, p hide.Point, rig calibrate.Rig, c int) float64 {
	x := min(max(int(p.X/f.Cell), 0), f.Gain.Width()-1)
	y := min(max(int((rig.Height-p.Y)/f.Cell), 0), f.Gain.Height()-1)
	return float64(f.Gain.Float32s()[(y*f.Gain.Width()+x)*f.Gain.Channels()+c])
}
