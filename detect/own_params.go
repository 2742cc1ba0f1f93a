package detect

import "math"

// OwnParams are the settings of the score map. Lengths are pixels of a level
// unless said otherwise: a level is the picture at half the size of the one
// before, so that a length in its pixels is a different one on the leather.
// The figures behind the defaults are in docs/accuracy.md ("Score map").
type OwnParams struct {
	CoarsestPX int // long side of the coarsest level is at least this: below, a flaw is a pixel and the picture a handful of samples
	FinestPX   int // pictures no longer than this are taken whole; longer ones start at half size, where a photograph's own blur and noise end
	LargestPX  int // long side of the finest level of a large photograph: bounds time and memory

	Background float64 // deviation of the Gaussian whose mean is the leather's own colour around a place, as share of the long side
	ColourBlur float64 // deviation of the colour's own blur: takes the sensor's noise off
	Pool       float64 // deviation over which energies are pooled: a few wavelengths of what the level sees
	Smooth     float64 // deviation, on the second finest level, of the last blur of each distance
	Border     int     // pixels along the border whose distances are put back to the picture's own: the filters see a mirror there
	Zones      int     // along the long side, each with its own Gaussian and blended with its neighbours'; 1: the whole picture has one grain

	Trim  float64 // share of pixels kept at each refit: flaws are fewer than what is left out
	Refit int     // refits; the trimmed set no longer changes after about this many

	Colour, Texture, Rough float64 // weights of the three distances of a level: colour, oriented grain, grain of any direction in each colour
	Curve                  float64 // weight of the signed second derivatives of lightness (docs/adr/0027)
	Detrend                bool    // take a robust quadratic off each colour first: the light's fall-off, which a blur cannot follow at the border
}

// DefaultOwnParams returns the settings used unless told otherwise.
func DefaultOwnParams() OwnParams {
	return OwnParams{CoarsestPX: 64, FinestPX: 1024, LargestPX: 2048,
		Background: .25, ColourBlur: 1, Pool: 2.5, Smooth: 3, Border: 6, Zones: 1,
		Trim: .9, Refit: 4, Colour: 1, Texture: 1, Rough: .5, Curve: .3, Detrend: true}
}

// Validate lists every setting out of range.
func (p OwnParams) Validate() error {
	return checks{
		{p.CoarsestPX >= 16 && p.FinestPX >= p.CoarsestPX && p.LargestPX >= p.FinestPX, "level sizes must rise from 16 px: coarsest, finest, largest"},
		{p.Background > 0 && p.Background <= 2, "background must lie between 0 and 2 of the long side"},
		{p.ColourBlur > 0 && p.Pool > 0 && p.Smooth > 0, "blurs must be positive"},
		{p.Border >= 0 && p.Border < 32, "border must lie between 0 and 31 px"},
		{p.Zones >= 1 && p.Zones <= 64, "zones must lie between 1 and 64"},
		{p.Trim > .5 && p.Trim < 1 && p.Refit >= 1, "trim must lie between 0.5 and 1, refits be at least 1"},
		{p.Colour >= 0 && p.Texture >= 0 && p.Rough >= 0 && p.Curve >= 0 && p.Colour+p.Texture+p.Rough > 0, "weights must not be negative, nor those of colour, texture and roughness all zero"},
	}.err("score map settings")
}

// levelSizes are the sizes of the levels, finest first.
func (p OwnParams) levelSizes(w, h int) [][2]int {
	long := max(w, h)
	finest := long
	if long > p.FinestPX {
		finest = min(max(p.FinestPX, long/2), p.LargestPX)
	}
	var out [][2]int
	for side := finest; side >= p.CoarsestPX || len(out) == 0; side /= 2 {
		k := float64(side) / float64(long)
		out = append(out, [2]int{max(1, int(math.Round(float64(w)*k))), max(1, int(math.Round(float64(h)*k)))})
	}
	return out
}
