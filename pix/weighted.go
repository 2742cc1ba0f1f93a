package pix

import (
	"image"

	"hidechart/hide"
)

// AddWeighted adds src times a smooth weight to a part of dst, both U16 with
// the same channels: pixel (x, y) of src goes to at + (x, y); what falls outside dst is
// left out. The weight is F32 with the channels of src, given at every step-th pixel from
// (0, 0) on, bilinear between, and must reach over the last row and column. Sums
// are rounded and cut off at 65535. Error: Invalid for other kinds.
func AddWeighted(dst, src *Image, at image.Point, weight *Image, step int) error {
	ch := src.Channels()
	if dst.Depth() != U16 || src.Depth() != U16 || weight.Depth() != F32 || dst.Channels() != ch || weight.Channels() != ch {
		return hide.Faultf(hide.Invalid, "add: want two 16-bit pictures and a float weight of the same channels")
	}
	if step < 1 || weight.Width() < (src.Width()-1)/step+2 || weight.Height() < (src.Height()-1)/step+2 {
		return hide.Faultf(hide.Invalid, "add: the weight does not cover the picture")
	}
	to, from, w := dst.Uint16s(), src.Uint16s(), weight.Float32s()
	ww := weight.Width() * ch
	part := image.Rect(0, 0, src.Width(), src.Height()).Add(at).Intersect(dst.Bounds()).Sub(at)
	bands(src.Height(), func(first, last int) {
		line := make([]float32, ww)
		for y := max(first, part.Min.Y); y < min(last, part.Max.Y); y++ {
			r, f := y/step, float32(y%step)/float32(step)
			above, below := w[r*ww:(r+1)*ww], w[(r+1)*ww:(r+2)*ww]
			for i := range line {
				line[i] = above[i] + f*(below[i]-above[i])
			}
			base := ((y+at.Y)*dst.Width() + at.X) * ch
			in := from[y*src.Width()*ch:]
			for x := part.Min.X; x < part.Max.X; x++ {
				k, t := x/step*ch, float32(x%step)/float32(step)
				for c := range ch {
					v := line[k+c] + t*(line[k+ch+c]-line[k+c])
					if v > 0 {
						i := base + x*ch + c
						to[i] = uint16(min(float32(to[i])+v*float32(in[x*ch+c])+0.5, 65535))
					}
				}
			}
		}
	})
	return nil
}
