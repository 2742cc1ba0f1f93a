package detect

import (
	"cmp"
	"iter"
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/pix"
	"hidechart/plane"
)

// FlawParams are the settings of tracing flaws in a score map. Scores are in the
// map's unit. The figures behind the defaults are in docs/accuracy.md.
type FlawParams struct {
	Seed   float32  // a flaw's highest score is at least this
	Follow float32  // and it reaches down to this
	Share  float32  // or to this share of its highest score, if more: the map's blur spreads strong flaws
	Least  hide.MM2 // smaller pieces and holes are left out
	Most   int      // the highest only
}

// DefaultFlawParams returns the settings used unless told otherwise.
func DefaultFlawParams() FlawParams {
	return FlawParams{Seed: 8, Follow: 5, Share: .35, Least: .2, Most: 500}
}

// Validate lists every setting out of range.
func (p FlawParams) Validate() error {
	return checks{
		{p.Follow > 0 && p.Seed >= p.Follow, "seed must not lie below follow, which must be positive"},
		{p.Share >= 0 && p.Share < 1, "share must lie between 0 and 1"},
		{p.Least >= 0 && p.Most > 0, "least must not be negative, most be positive"},
	}.err("swatch settings")
}

// Flaw is a place of a close-up that is unlike the rest, in millimetres from the
// picture's lower left corner, y up.
type Flaw struct {
	Shape         hide.Shape // one polygon, or several of a cluster
	Length, Width hide.MM    // of the smallest rectangle around it
	Score         float64    // highest in it
	Mean          float64    // over it
	Colour        float64    // share of the score that is colour, 0 to 1
}

// Flaws traces the places of a map whose score stands out, the highest first.
// width and height are the picture's in pixels, of mmPerPX each. A stretch of
// the score that is above Follow somewhere connected (eight neighbours) with one above Seed is
// a flaw (hysteresis; Canny 1986). Errors: Invalid for bad settings.
func (m OwnMap) Flaws(width, height int, mmPerPX hide.MM, p FlawParams) ([]Flaw, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	if !(mmPerPX > 0) || width < 1 || height < 1 {
		return nil, hide.Faultf(hide.Invalid, "swatch: %d × %d pixels of %v mm", width, height, mmPerPX)
	}
	g := pix.Grid{Top: hide.MM(height) * mmPerPX, MMPerPX: hide.MM(width) * mmPerPX / hide.MM(m.Width), Width: m.Width, Height: m.Height}
	labels, parts, err := m.partsAbove(p.Follow, g)
	if err != nil {
		return nil, err
	}
	defer labels.Close()
	var out []Flaw
	for _, part := range parts {
		f, ok, err := m.flaw(labels.Int32s(), part, g, p)
		if err != nil {
			return nil, err
		}
		if ok {
			out = append(out, f)
		}
	}
	slices.SortStableFunc(out, func(a, b Flaw) int { return cmp.Compare(b.Score, a.Score) })
	return out[:min(len(out), p.Most)], nil
}

func (m OwnMap) partsAbove(level float32, g pix.Grid) (*pix.Image, []pix.Part, error) {
	in := make([]bool, len(m.Score))
	for i, v := range m.Score {
		in[i] = v >= level
	}
	mask := maskImage(in, g)
	defer mask.Close()
	return pix.Parts(mask)
}

// flaw measures one part and traces it.
func (m OwnMap) flaw(labels []int32, part pix.Part, g pix.Grid, p FlawParams) (Flaw, bool, error) {
	var f Flaw
	peak := float32(0)
	for i := range m.within(labels, part) {
		peak = max(peak, m.Score[i])
	}
	if peak < p.Seed {
		return f, false, nil
	}
	var core []int
	var score, colour float64
	for i := range m.within(labels, part) {
		if m.Score[i] >= max(p.Follow, p.Share*peak) {
			core = append(core, i)
			score += float64(m.Score[i])
			colour += math.Max(float64(m.Colour[i]), 0) / math.Max(float64(max(m.Colour[i], 0)+max(m.Texture[i], 0)), 1e-6)
		}
	}
	shape, err := m.trace(core, g, p)
	if err != nil || len(shape) == 0 {
		return f, false, err
	}
	r := plane.MinRectangle(shape)
	n := float64(len(core))
	return Flaw{Shape: shape, Length: r.Length, Width: r.Width, Score: float64(peak), Mean: score / n, Colour: colour / n}, true, nil
}

// within are the map's indices of a part, in raster order.
func (m OwnMap) within(labels []int32, part pix.Part) iter.Seq[int] {
	return func(yield func(int) bool) {
		for y := part.Box.Min.Y; y < part.Box.Max.Y; y++ {
			for x := part.Box.Min.X; x < part.Box.Max.X; x++ {
				if i := y*m.Width + x; labels[i] == part.Label && !yield(i) {
					return
				}
			}
		}
	}
}

// A score's probability of being a flaw: logistic in the logarithm of the
// highest score, fitted to the candidates of half the rendered swatches and half the
// fabric photographs (docs/accuracy.md, "Score map"); even at 13.5.
const (
	flawOffset = -11.19
	flawSlope  = 4.30
)

// Probability that the place is a flaw and no chance of the grain.
func (f Flaw) Probability() float64 {
	return 1 / (1 + math.Exp(-flawOffset-flawSlope*math.Log(math.Max(f.Score, 1e-3))))
}

// Full is the score at every pixel of a picture of the given size, bilinear between the
// map's pixels.
func (m OwnMap) Full(width, height int) ([]float32, error) {
	f, err := field{m.Width, m.Height, m.Score}.resized(width, height)
	return f.v, err
}
