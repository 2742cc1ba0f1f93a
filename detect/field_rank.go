package detect

import (
	"hidechart/hide"
	"hidechart/pix"
)

// localRank is, where in is true, the value below which a share of those within a
// square of this half side there lie; elsewhere 0. A half is the median.
func (f field) localRank(in []bool, half hide.PX, share float64) field {
	out := newField(f.w, f.h)
	n := max(1, int(half+0.5))
	rows(f.h, func(y int) {
		window := make([]float64, 0, (2*n+1)*(2*n+1))
		for x := range f.w {
			if !in[y*f.w+x] {
				continue
			}
			window = window[:0]
			for v := max(0, y-n); v <= min(f.h-1, y+n); v++ {
				for u := max(0, x-n); u <= min(f.w-1, x+n); u++ {
					if in[v*f.w+u] {
						window = append(window, float64(f.v[v*f.w+u]))
					}
				}
			}
			k := int(share * float64(len(window)-1))
			pix.SelectRank(window, k)
			out.v[y*f.w+x] = float32(window[k])
		}
	})
	return out
}
