package detect

import (
	"math"

	"hidechart/hide"
)

// A pixel over a hidden tag looks like leather within likeLeather robust spreads
// of the hide's own tone and colour, a spread being at least leastTone: paper and
// ink are farther from all but white or black leather, whose cells then vanish in
// the smoothing over cellBlur, wider than half a cell of a 120 mm tag.
const (
	likeLeather         = 3.0
	leastTone           = 0.06 // natural logarithm of light
	cellBlur    hide.MM = 8
)

// overTags decides the pixels of tags that top does not show whole: where the
// hide lies over a tag, its leather is in view and need not be guessed. value is
// what bridge made of the leather round the tags; only what touches leather
// there is looked at.
func (f *Found) overTags(value []float32, under []int) error {
	log := f.logs[hide.Top]
	var middle, unit []float64
	at := thinned(f.leather)
	if len(at) == 0 {
		return nil
	}
	for _, c := range log {
		v := make([]float64, 0, len(at))
		for _, i := range at {
			v = append(v, float64(c.v[i]))
		}
		m := median(v)
		for k := range v {
			v[k] -= m
		}
		middle, unit = append(middle, m), append(unit, math.Max(spread(v), leastTone))
	}
	like := newField(f.grid.Width, f.grid.Height)
	for i, in := range f.leather {
		if in {
			like.v[i] = 1
		}
	}
	for _, i := range under {
		like.v[i] = 0
		if alike(log, middle, unit, i) {
			like.v[i] = 1
		}
	}
	smooth, err := like.blurred(hide.PX(cellBlur / f.grid.MMPerPX))
	if err != nil {
		return err
	}
	for _, i := range under {
		if !f.covered[i] && value[i] > 0.01 {
			f.leather[i] = smooth.v[i] >= 0.5
		}
	}
	return nil
}

func alike(log []field, middle, unit []float64, i int) bool {
	var sum float64
	for c := range log {
		d := (float64(log[c].v[i]) - middle[c]) / unit[c]
		sum += d * d
	}
	return sum <= likeLeather*likeLeather*float64(len(log))
}
