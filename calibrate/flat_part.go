package calibrate

import (
	"math"

	"hidechart/hide"
	"hidechart/pix"
)

// Part is the gain over a part of the table whose raster begins right of and
// below the corner of the one that the gain was found on, mm, for Flatten. The caller closes
// it.
func (f *Flat) Part(right, down, width, height hide.MM) *Flat {
	w, h := max(1, int(math.Ceil(float64(width/f.Cell)))), max(1, int(math.Ceil(float64(height/f.Cell))))
	ch := f.Gain.Channels()
	out := pix.New(w, h, pix.F32, ch)
	src, dst := f.Gain.Float32s(), out.Float32s()
	at := func(x, y, c int) float64 {
		x, y = min(max(x, 0), f.Gain.Width()-1), min(max(y, 0), f.Gain.Height()-1)
		return float64(src[(y*f.Gain.Width()+x)*ch+c])
	}
	for y := range h {
		v := float64(y) + float64(down/f.Cell)
		y0 := int(math.Floor(v))
		fy := v - float64(y0)
		for x := range w {
			u := float64(x) + float64(right/f.Cell)
			x0 := int(math.Floor(u))
			fx := u - float64(x0)
			for c := range ch {
				top := at(x0, y0, c) + fx*(at(x0+1, y0, c)-at(x0, y0, c))
				low := at(x0, y0+1, c) + fx*(at(x0+1, y0+1, c)-at(x0, y0+1, c))
				dst[(y*w+x)*ch+c] = float32(top + fy*(low-top))
			}
		}
	}
	return &Flat{Gain: out, Cell: f.Cell}
}
