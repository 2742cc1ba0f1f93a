package score

// levels of a 16-bit score.
const levels = 1 << 16

// curve holds what every threshold does to one or more maps, exactly: a score
// has only 65,536 values, so a count for each is the whole distribution.
type curve struct {
	defect, sound []float64 // pixels by score
	region        []float64 // by score: each defect pixel ÷ size of its region
	regions       int
}

func newCurve() *curve {
	return &curve{defect: make([]float64, levels), sound: make([]float64, levels), region: make([]float64, levels)}
}

// add counts a map; regions are its connected defect regions.
func (c *curve) add(m Map, regions [][]int) {
	for i, s := range m.Score {
		if m.Defect[i] {
			c.defect[s]++
		} else {
			c.sound[s]++
		}
	}
	for _, r := range regions {
		for _, i := range r {
			c.region[m.Score[i]] += 1 / float64(len(r))
		}
	}
	c.regions += len(regions)
}

// auroc is the area under the receiver operating characteristic: the chance that
// a defect pixel scores above a sound one, ties counting half (Mann–Whitney
// U ÷ n₁n₂; Hanley & McNeil 1982). Nil without pixels of both sorts.
func (c *curve) auroc() *float64 {
	var u, defects, sound float64
	for s := range levels {
		u += c.defect[s] * (sound + c.sound[s]/2)
		defects += c.defect[s]
		sound += c.sound[s]
	}
	if defects == 0 || sound == 0 {
		return nil
	}
	v := u / (defects * sound)
	return &v
}

// aupro is the area under the per-region overlap curve up to the given
// false-positive rate, divided by it (Bergmann et al. 2021, "The MVTec Anomaly
// Detection Dataset", IJCV 129, section 5.1): for each threshold the mean, over
// all defect regions, of the share of the region above it, against the share of
// sound pixels above it. Trapezoids between neighbouring thresholds; the last
// one is cut at the limit by linear interpolation. Nil without pixels of both
// sorts.
func (c *curve) aupro(limit float64) *float64 {
	sound := sum(c.sound)
	if c.regions == 0 || sound == 0 {
		return nil
	}
	var area, x, y float64
	for s := levels - 1; s >= 0 && x < limit; s-- {
		nx, ny := x+c.sound[s]/sound, y+c.region[s]/float64(c.regions)
		if nx > limit {
			ny = y + (ny-y)*(limit-x)/(nx-x)
			nx = limit
		}
		area += (nx - x) * (y + ny) / 2
		x, y = nx, ny
	}
	v := area / limit
	return &v
}

// threshold is the lowest score at which at most the given share of sound pixels
// scores that much or more; levels when even the highest is too many.
func (c *curve) threshold(share float64) int {
	left := share * sum(c.sound)
	s := levels
	for s > 0 && c.sound[s-1] <= left {
		s--
		left -= c.sound[s]
	}
	return s
}

func sum(v []float64) float64 {
	var t float64
	for _, x := range v {
		t += x
	}
	return t
}

// regionsOf are the connected parts (eight neighbours, as the per-region overlap
// is commonly counted) of the mask: pixel indices, in raster order of each
// part's first pixel.
func regionsOf(mask []bool, width int) [][]int {
	seen := make([]bool, len(mask))
	var out [][]int
	for i, in := range mask {
		if in && !seen[i] {
			out = append(out, connected(mask, seen, i, width))
		}
	}
	return out
}

// connected collects the part of the mask around pixel i and marks it seen.
func connected(mask, seen []bool, i, width int) []int {
	height := len(mask) / width
	part := []int{i}
	seen[i] = true
	for n := 0; n < len(part); n++ {
		x, y := part[n]%width, part[n]/width
		for v := max(y-1, 0); v <= min(y+1, height-1); v++ {
			for u := max(x-1, 0); u <= min(x+1, width-1); u++ {
				if k := v*width + u; mask[k] && !seen[k] {
					seen[k] = true
					part = append(part, k)
				}
			}
		}
	}
	return part
}
