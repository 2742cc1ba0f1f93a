package detect

import (
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/pix"
)

// On a dark table under a dark hide the noise of a coarse pixel is as large as what parts the two, and
// the hide falls to pieces or is not seen, though the eye sees it at a glance: the eye takes means.

// clearTop is the ratio of median distances, leather over threshold, under which single pixels part
// leather and table poorly; a hide that stands out has 3 and more.
const clearTop = 2

// noisyTable is how many of the least spreads a table's coarse pixel has from which leather is sought by means.
const noisyTable = 1.5

// noisy is true if the table's own spread under top light is wide.
func (f *Found) noisy() bool { return slices.Max(f.table[hide.Top].spread) > noisyTable*spreadFloor }

// again is a copy to part hide and table in once more.
func (f *Found) again() *Found {
	g := *f
	g.Flags, g.table = nil, map[hide.Light]tableModel{}
	return &g
}

// Leather by means that lies farther than missedBy from the hide by pixels is leather that those missed; more
// than missedShare of it, and means are right.
const (
	missedBy    hide.MM = 10
	missedShare float64 = 0.005
)

// holdsMoreThan is true if leather is missing from g.
func (f *Found) holdsMoreThan(g *Found) bool {
	near, err := grow(g.leather, g.grid, missedBy)
	if err != nil {
		return false
	}
	var missed, all int
	for i, in := range f.leather {
		if in {
			all++
			if !near[i] {
				missed++
			}
		}
	}
	return float64(missed) > missedShare*float64(all)
}

// softness is the deviation of the window of the means then: noise of a hundred coarse pixels cancels
// out, and the coarse edge stays well within EdgeBand.
const softness hide.MM = 6

// separateSoftly marks what is leather by the mean about each pixel.
func (f *Found) separateSoftly(in OutlineInput, p OutlineParams) error {
	shown := make([]bool, len(f.tags))
	for i := range shown {
		shown[i] = !f.tags[i]
	}
	soft := map[hide.Light][]field{}
	for l, log := range f.logs {
		for _, c := range log {
			smooth, err := c.smoothMean(shown, hide.PX(softness/f.grid.MMPerPX))
			if err != nil {
				return err
			}
			soft[l] = append(soft[l], smooth)
		}
	}
	f.softly = true
	f.Flags = append(f.Flags, hide.Flag{Code: "noisy_edge", Text: "leather and table differ by little more than the photograph's noise: " +
		"the edge is found from means and small holes may be missed; more light, or a table of another tone, shows both better"})
	_, err := f.separateBy(in, soft, f.decideSoftly, p)
	return err
}

// twoKinds is the share of the variance between two classes from which there are two: Otsu's cut of one
// normal distribution has 0.64, of an even one 0.75.
const twoKinds = 0.8

// decideSoftly goes by top light, parted at Otsu's threshold: back light that parts the two is clear. Glare
// is farther from the table than the leather beside it, so what lies under a threshold is parted again while
// there are two kinds in it.
func (f *Found) decideSoftly(distance map[hide.Light]field) (leather []bool, clear float64, err error) {
	d := distance[hide.Top]
	var seen []float64
	for i := 0; i < len(d.v); i += cutEvery {
		if !f.tags[i] {
			seen = append(seen, math.Min(float64(d.v[i]), 2*notTable))
		}
	}
	slices.Sort(seen)
	limit, clear := otsu(seen)
	for limit > notTable/2 {
		n, _ := slices.BinarySearch(seen, limit)
		lower, share := otsu(seen[:n])
		if share < twoKinds {
			break
		}
		limit = lower
	}
	leather, err = beyondHalf(d, math.Max(limit, notTable/2), hide.PX(2*softness/f.grid.MMPerPX))
	if err != nil {
		return nil, 0, err
	}
	for i := range leather {
		leather[i] = leather[i] && !f.tags[i]
	}
	return leather, clear, nil
}

// beyondHalf marks what is farther from the table than limit, and than half of the farthest within reach:
// where a step that was smoothed began.
func beyondHalf(d field, limit float64, reach hide.PX) ([]bool, error) {
	const steps = 4 // of a byte per spread; 64 spreads are beyond all doubt
	im := pix.New(d.w, d.h, pix.U8, 1)
	defer im.Close()
	for i, b := 0, im.Bytes(); i < len(b); i++ {
		b[i] = uint8(min(steps*d.v[i], 255))
	}
	most, err := pix.Dilate(im, reach)
	if err != nil {
		return nil, err
	}
	defer most.Close()
	mask := make([]bool, len(d.v))
	for i, v := range most.Bytes() {
		mask[i] = float64(d.v[i]) > max(limit, float64(v)/(2*steps))
	}
	return mask, nil
}

// softEdgeU is how many times as far off an edge is that was found softly as its blur, contrast and noise explain.
const softEdgeU = 2
