package detect

import (
	"hidechart/hide"
	"hidechart/plane"
)

// A line besideShare of which lies within besideReach of one at least besideFold
// as strong is that one's lit or shaded flank, or its rim; so is one within twice
// the reach of a line twice as strong again, an echo of averaging at the coarser
// pixels.
const (
	besideReach hide.MM = 6
	besideShare float64 = 0.6
	besideFold  float64 = 2
)

// withoutDoubles drops a candidate most of which lies on stronger ones, the same
// line found at two scales, or beside a much stronger one. The strongest come
// first.
func (s *surface) withoutDoubles(found []candidate) ([]candidate, error) {
	order := byEvidence(found)
	sides, err := s.sidesOf(found)
	if err != nil {
		return nil, err
	}
	taken := make([]bool, len(s.in))
	beside := make([]float32, len(s.in)) // the strongest mean response of the lines near
	var out []candidate
	for _, k := range order {
		c := found[k]
		pixels := sides[k][0]
		var double, flank int
		for _, i := range pixels {
			if taken[i] {
				double++
			}
		}
		for _, q := range c.line {
			if float64(beside[clampedIndex(s.grid.ToRaster(q), s.grid)]) > besideFold*c.x[fMean] {
				flank++
			}
		}
		if len(pixels) == 0 || 2*double > len(pixels) || float64(flank) > besideShare*float64(len(c.line)) {
			continue
		}
		for _, i := range pixels {
			taken[i] = true
		}
		for fold := 1; fold <= 2; fold++ {
			for _, i := range sides[k][fold] {
				beside[i] = max(beside[i], float32(c.x[fMean])/float32(fold))
			}
		}
		out = append(out, c)
	}
	return out, nil
}

// sidesOf are the pixels of each line, those within besideReach of it and those within twice that.
func (s *surface) sidesOf(found []candidate) ([][3][]int, error) {
	out := make([][3][]int, len(found))
	return out, each(len(found), func(k int) error {
		out[k][0] = s.pixels(found[k].shape)
		for fold := 1; fold <= 2; fold++ {
			near, err := plane.RibbonFrom(found[k].line, 2*hide.MM(fold)*besideReach)
			if err != nil {
				return err
			}
			out[k][fold] = s.pixels(near)
		}
		return nil
	})
}
