package detect

// basins divides the leather where the tone is steepest: each pixel belongs to the
// least steep place that a drop of water put on it runs down to (Cousty et al. 2009,
// IEEE TPAMI 31(8), "Watershed cuts"), so borders lie on crests of the slope.
type basins struct {
	of    []int32 // by pixel: 1 and up; 0 off the leather
	count int32
	w     int
}

func basinsOf(slope field, in []bool) basins {
	b := basins{of: make([]int32, len(in)), w: slope.w}
	var path []int
	for i, ok := range in {
		if !ok || b.of[i] != 0 {
			continue
		}
		path = append(path[:0], i)
		for b.of[i] == 0 {
			down := slope.downhill(in, i)
			if down == i {
				b.count++
				b.of[i] = b.count
			}
			i = down
			path = append(path, i)
		}
		for _, k := range path {
			b.of[k] = b.of[i]
		}
	}
	return b
}

// places lists the pixels of each basin.
func (b basins) places() [][]int32 {
	out := make([][]int32, b.count+1)
	for i, k := range b.of {
		if k != 0 {
			out[k] = append(out[k], int32(i)) //nolint:gosec // a raster
		}
	}
	return out
}

// downhill is the lowest of a pixel and its four neighbours on the leather; of equals the first.
func (f field) downhill(in []bool, i int) int {
	best, x := i, i%f.w
	lower := func(k int) {
		if in[k] && (f.v[k] < f.v[best] || f.v[k] == f.v[best] && k < best) {
			best = k
		}
	}
	if i >= f.w {
		lower(i - f.w)
	}
	if x > 0 {
		lower(i - 1)
	}
	if x < f.w-1 {
		lower(i + 1)
	}
	if i+f.w < len(f.v) {
		lower(i + f.w)
	}
	return best
}

// crossingSpan is how many pixels lie between the two tones that a step is taken of.
const crossingSpan = 3

// side is the border that a region shares with another.
type side struct {
	pixels int32   // pairs of pixels along it
	slope  float64 // sum of the slope along it
}

func (s side) mean() float64 { return s.slope / float64(s.pixels) }

// sides are each basin's borders, by the number of the basin beyond, and the sum of the steps of
// tone that lead out of each. A step is taken from a pixel before the border to one
// behind it, clear of its blur.
func (b basins) sides(slope, tone field, in []bool) (sides []map[int32]side, step []float64) {
	sides, step = make([]map[int32]side, b.count+1), make([]float64, b.count+1)
	for k := range sides {
		sides[k] = map[int32]side{}
	}
	pair := func(before, i, j, behind int) {
		p, q := b.of[i], b.of[j]
		if p == q || p == 0 || q == 0 {
			return
		}
		if !in[before] {
			before = i
		}
		if !in[behind] {
			behind = j
		}
		s := sides[p][q]
		s.pixels++
		s.slope += float64(max(slope.v[i], slope.v[j]))
		sides[p][q], sides[q][p] = s, s
		d := float64(tone.v[behind] - tone.v[before])
		step[p], step[q] = step[p]+d, step[q]-d
	}
	h := len(b.of) / b.w
	for y := 1; y < h-2; y++ {
		for x := 1; x < b.w-2; x++ {
			i := y*b.w + x
			pair(i-1, i, i+1, i+2)
			pair(i-b.w, i, i+b.w, i+2*b.w)
		}
	}
	return sides, step
}
