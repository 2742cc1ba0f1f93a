package detect

import (
	"errors"
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

// softFloors are least spreads of a table that means are tried with: a table that is even all over shows a
// dark hide at a third of a percent of light, another its own dirt.
var softFloors = [...]float64{spreadFloor, 0.006, 0.004, 0.0025}

// partSoftly seeks the hide in means and keeps the largest that its outline's edge bears out. What single
// pixels show is kept if it stands out and means find no more; refused is why they show no hide.
func (f *Found) partSoftly(plain view, refused error, doubtful bool, p OutlineParams) error {
	soft, err := f.softView(plain)
	if err != nil {
		return err
	}
	pixels := *f
	var best *Found
	if refused == nil && !doubtful {
		best = &pixels
	}
	for _, soft.floor = range softFloors {
		g := pixels.again()
		switch err := g.separateSoftly(soft, plain, p); {
		case errors.Is(err, hide.NotMeasurable):
			continue // no hide with this spread
		case err != nil:
			return err
		}
		if best == nil || g.borneOut(p) > best.borneOut(p) && (best != &pixels || g.holdsMoreThan(&pixels)) {
			best = g
		}
	}
	if best == nil {
		return refused
	}
	*f = *best
	return nil
}

// mostBorne is the share of an outline without an edge from which it counts as little as can be, and
// leastBorne how little that is: what is small is not preferred for the edge it has all round.
const (
	mostBorne  = 0.3
	leastBorne = 0.2
)

// borneOut is how large a hide is across, less for what of its coarse outline shows no edge.
func (f *Found) borneOut(p OutlineParams) float64 {
	return math.Sqrt(math.Abs(float64(f.Outline.SignedArea()))) * max(1-f.edgeless(f.Outline, p.EdgeBand)/mostBorne, leastBorne)
}

// softView is what means show: their brightness and, apart from it, their colour. Shade and the lamp's fall-off
// change the one and not the other.
func (f *Found) softView(plain view) (view, error) {
	soft := view{logs: map[hide.Light][]field{}, empty: byHue(plain.empty)}
	for l, log := range plain.logs {
		means, err := f.smoothed(log, softness)
		if err != nil {
			return view{}, err
		}
		soft.logs[l] = byHue(means)
	}
	return soft, nil
}

// byHue turns red, green and blue, as logarithms, to brightness, red against blue, and green against
// both, at right angles, so that noise stays as large (the axes of own_level.go do not: there each is in a unit of its own).
func byHue(log []field) []field {
	if len(log) != 3 {
		return log
	}
	root2, root3, root6 := float32(math.Sqrt2), float32(math.Sqrt(3)), float32(math.Sqrt(6))
	out := make([]field, len(log))
	for c := range out {
		out[c] = newField(log[0].w, log[0].h)
	}
	for i, r := range log[0].v {
		g, b := log[1].v[i], log[2].v[i]
		out[0].v[i] = (r + g + b) / root3
		out[1].v[i] = (r - b) / root2
		out[2].v[i] = (2*g - r - b) / root6
	}
	return out
}

// separateSoftly finds the hide by the mean about each pixel, and fits the plain table beside it.
func (f *Found) separateSoftly(soft, plain view, p OutlineParams) error {
	f.softly = true
	f.Flags = append(f.Flags, hide.Flag{Code: "noisy_edge", Text: "leather and table differ by little more than the photograph's noise: " +
		"the edge is found from means and small holes may be missed; more light, or a table of another tone, shows both better"})
	if _, err := f.separateBy(soft, f.decideSoftly, p); err != nil {
		return err
	}
	bare, err := f.bareBeside(p)
	if err != nil {
		return err
	}
	if _, err = f.distances(plain, bare); err != nil {
		return err
	}
	if err := f.keepHide(p); err != nil {
		return err
	}
	return f.checkFrame()
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
