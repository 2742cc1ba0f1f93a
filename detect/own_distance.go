package detect

import (
	"math"

	"hidechart/hide"
)

// distance is the Mahalanobis distance of every pixel to the picture's own
// Gaussian, or to those of the zones around it, blended bilinearly.
func (l ownLevel) distance(planes []field, p OwnParams) (field, error) {
	w, h := planes[0].w, planes[0].h
	nx, ny := zoneCounts(w, h, p.Zones)
	fits := make([]gaussian, nx*ny)
	for zy := range ny {
		for zx := range nx {
			g, err := l.zoneFit(planes, [2]int{zx, zy}, [2]int{nx, ny}, p)
			if err != nil {
				return field{}, err
			}
			fits[zy*nx+zx] = g
		}
	}
	out := newField(w, h)
	rows(h, func(y int) {
		x := make([]float64, len(planes))
		for c := range w {
			i := y*w + c
			for k, f := range planes {
				x[k] = float64(f.v[i])
			}
			out.v[i] = float32(blended(fits, x, (float64(c)+.5)/float64(w), (float64(y)+.5)/float64(h), nx, ny))
		}
	})
	return out, nil
}

// zoneCounts are the zones along x and y, as square as they come.
func zoneCounts(w, h, along int) (nx, ny int) {
	long := float64(max(w, h))
	return max(1, int(math.Round(float64(along)*float64(w)/long))), max(1, int(math.Round(float64(along)*float64(h)/long)))
}

// zoneFit fits to a window of twice the zone's size around its middle; to the
// whole picture where that holds too little leather.
func (l ownLevel) zoneFit(planes []field, z, n [2]int, p OwnParams) (gaussian, error) {
	w, h := planes[0].w, planes[0].h
	x0, x1 := window(z[0], n[0], w)
	y0, y1 := window(z[1], n[1], h)
	x := l.rowsOf(planes, x0, x1, y0, y1)
	if len(x)/len(planes) < ownLeast && n != [2]int{1, 1} {
		x = l.rowsOf(planes, 0, w, 0, h)
	}
	return fitGaussian(x, len(planes), p.Trim, p.Refit)
}

func window(z, n, size int) (from, to int) {
	if n == 1 {
		return 0, size
	}
	step := float64(size) / float64(n)
	return max(0, int((float64(z)-.5)*step)), min(size, int((float64(z)+1.5)*step))
}

// rowsOf samples the feature vectors of a window of the leather.
func (l ownLevel) rowsOf(planes []field, x0, x1, y0, y1 int) []float64 {
	w := planes[0].w
	pixels := (x1 - x0) * (y1 - y0)
	every := max(1, pixels/gaussSamples)
	var out []float64
	for k := 0; k < pixels; k += every {
		i := (y0+k/(x1-x0))*w + x0 + k%(x1-x0)
		if l.in != nil && !l.in[i] {
			continue
		}
		for _, f := range planes {
			out = append(out, float64(f.v[i]))
		}
	}
	return out
}

// blended is the distance to the up to four zones around a place (0 to 1),
// weighted bilinearly.
func blended(fits []gaussian, x []float64, u, v float64, nx, ny int) float64 {
	if nx*ny == 1 {
		return math.Sqrt(fits[0].squared(x))
	}
	ix, fx := betweenZones(u, nx)
	iy, fy := betweenZones(v, ny)
	var d float64
	for _, c := range [4]struct {
		x, y int
		w    float64
	}{{ix, iy, (1 - fx) * (1 - fy)}, {ix + 1, iy, fx * (1 - fy)}, {ix, iy + 1, (1 - fx) * fy}, {ix + 1, iy + 1, fx * fy}} {
		if c.w > 0 {
			d += c.w * math.Sqrt(fits[c.y*nx+c.x].squared(x))
		}
	}
	return d
}

func betweenZones(u float64, n int) (int, float64) {
	at := math.Min(math.Max(u*float64(n)-.5, 0), float64(n-1))
	i := min(int(at), max(n-2, 0))
	return i, at - float64(i)
}

// evenBorder divides the distances along the border, pixel row by pixel row
// inward, by how much their median exceeds the picture's: filters that meet a
// mirror there see other statistics. A flaw along more than half the border
// would be taken for the mirror's work.
func (l ownLevel) evenBorder(d field, reach int) {
	depth := l.borderDepth(d.w, d.h, reach)
	middle := median(sampled(d.v, l.in))
	for r := range reach {
		var v []float64
		for i, q := range depth {
			if q == uint8(r) {
				v = append(v, float64(d.v[i]))
			}
		}
		if len(v) == 0 {
			continue
		}
		k := float32(median(v) / middle)
		if !(k > 1) {
			continue
		}
		for i, q := range depth {
			if q == uint8(r) {
				d.v[i] /= k
			}
		}
	}
}

// borderDepth is the distance in pixels (eight neighbours) to the nearest pixel
// outside the picture or the leather, less one; reach where it is more, 255
// outside the leather.
func (l ownLevel) borderDepth(w, h, reach int) []uint8 {
	out := make([]uint8, w*h)
	for i := range out {
		x, y := i%w, i/w
		out[i] = uint8(min(x, y, w-1-x, h-1-y, reach))
		if l.in != nil && !l.in[i] {
			out[i] = 255
		}
	}
	if l.in == nil {
		return out
	}
	for step := range reach { // grows one pixel a step
		for i := range out {
			if out[i] != 255 && int(out[i]) > step && l.nextTo(out, i, w, h, step) {
				out[i] = uint8(step)
			}
		}
	}
	return out
}

// nextTo says whether a neighbour lies one step nearer to the outside.
func (l ownLevel) nextTo(depth []uint8, i, w, h, step int) bool {
	x, y := i%w, i/w
	for v := max(y-1, 0); v <= min(y+1, h-1); v++ {
		for u := max(x-1, 0); u <= min(x+1, w-1); u++ {
			q := depth[v*w+u]
			if step == 0 && q == 255 || step > 0 && int(q) == step-1 {
				return true
			}
		}
	}
	return false
}

// onMap brings a level's distances to the map's raster and blurs them there.
func onMap(d field, size [2]int, smooth float64) (field, error) {
	out, err := d.resized(size[0], size[1])
	if err != nil {
		return field{}, err
	}
	return out.blurred(hide.PX(smooth))
}
