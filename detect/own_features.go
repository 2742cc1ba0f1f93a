package detect

import (
	"math"

	"hidechart/hide"
	"hidechart/pix"
)

// vectors are feature planes of one expert.
type vectors struct {
	planes []field
	colour bool
	soft   bool    // has no part in outlines: it reaches beyond a flaw's edge
	least  float32 // what a distance counts as at least, in medians
	weight float64
}

// experts measures the level and returns its distances on the map's raster, and
// sharp ones on another unless that has no size.
func (l ownLevel) experts(size, sharp [2]int, p OwnParams) ([]expert, error) {
	if p.Detrend {
		for k, f := range l.planes {
			flat, err := l.detrended(f)
			if err != nil {
				return nil, err
			}
			l.planes[k] = flat
		}
	}
	all, err := l.features(p)
	if err != nil {
		return nil, err
	}
	var out []expert
	for _, v := range all {
		d, err := l.distance(v.planes, p)
		if err != nil {
			return nil, err
		}
		l.evenBorder(d, p.Border)
		e := expert{colour: v.colour, least: v.least, weight: v.weight}
		if sharp[0] > 0 && !v.soft {
			if e.sharp, err = l.sharpened(d, sharp); err != nil {
				return nil, err
			}
		}
		if d, err = onMap(d, size, p.Smooth); err != nil {
			return nil, err
		}
		if middle := median(sampled(d.v, maskTo(l.in, l.planes[0].w, l.planes[0].h, size))); middle > 0 {
			for i := range d.v {
				d.v[i] /= float32(middle)
			}
		}
		e.distance = d
		out = append(out, e)
	}
	return out, nil
}

// sharpened is the logarithm of distances in units of their median, on a finer
// raster.
func (l ownLevel) sharpened(d field, size [2]int) (field, error) {
	middle := math.Max(median(sampled(d.v, l.in)), 1e-9)
	log := newField(d.w, d.h)
	for i, v := range d.v {
		log.v[i] = float32(math.Log(math.Max(float64(v)/middle, ownFloor)))
	}
	return log.resized(size[0], size[1])
}

// features are the level's four vectors of planes.
func (l ownLevel) features(p OwnParams) ([]vectors, error) {
	colour := vectors{colour: true, least: ownFloor, weight: p.Colour}
	rough := vectors{least: ownFloor, weight: p.Rough}
	texture := vectors{least: ownFloor, weight: p.Texture}
	for k, f := range l.planes {
		r, err := f.offBackground(p)
		if err != nil {
			return nil, err
		}
		colour.planes = append(colour.planes, r)
		g, err := f.structure(p.Pool)
		if err != nil {
			return nil, err
		}
		fine, err := f.roughness(p.Pool)
		if err != nil {
			return nil, err
		}
		rough.planes = append(rough.planes, g.isotropic(), logPlane(fine, energyFloor/10))
		if k == 0 {
			texture.planes = g.oriented()
			lap, err := f.laplacianEnergy(p.Pool)
			if err != nil {
				return nil, err
			}
			texture.planes = append(texture.planes, logPlane(lap, energyFloor/10))
		}
	}
	curve, err := l.curvature(p.Curve)
	if err != nil {
		return nil, err
	}
	var out []vectors
	for _, v := range []vectors{colour, texture, rough, curve} {
		if v.weight > 0 {
			out = append(out, v)
		}
	}
	return out, nil
}

// offBackground is the blurred plane less its wide mean. The mean is taken on
// a raster of backgroundPX, which holds all there is of it.
func (f field) offBackground(p OwnParams) (field, error) {
	const backgroundPX = 64 // deviation is then 16 px at the default: blur and interpolation lose under 1 %
	near, err := f.blurred(hide.PX(p.ColourBlur))
	if err != nil {
		return field{}, err
	}
	k := math.Min(1, backgroundPX/float64(max(f.w, f.h)))
	small, err := f.resized(max(2, int(math.Round(k*float64(f.w)))), max(2, int(math.Round(k*float64(f.h)))))
	if err != nil {
		return field{}, err
	}
	if small, err = small.blurred(hide.PX(p.Background * float64(max(small.w, small.h)))); err != nil {
		return field{}, err
	}
	wide, err := small.resized(f.w, f.h)
	if err != nil {
		return field{}, err
	}
	for i := range near.v {
		near.v[i] -= wide.v[i]
	}
	return near, nil
}

// resized scales a field: averaging when smaller, bilinear when larger.
func (f field) resized(w, h int) (field, error) {
	if w == f.w && h == f.h {
		return field{w, h, append([]float32(nil), f.v...)}, nil
	}
	im := f.image()
	defer im.Close()
	out, err := pix.Resize(im, w, h)
	if err != nil {
		return field{}, err
	}
	defer out.Close()
	return fieldOf(out), nil
}

// energyFloor is added to energies before the logarithm, in (log signal per
// Sobel unit)²: a gradient of 1e-4 of the signal a pixel, under any sensor's
// noise; it keeps a plain picture from minus infinity.
const energyFloor = 1e-7

// structure is the pooled outer product of the gradient (the structure tensor
// of Förstner & Gülch 1987, Bigün & Granlund 1987): xx, yy and xy.
type structure struct{ xx, yy, xy field }

// structure takes 3×3 Sobel gradients (unnormalised: eight times the slope),
// mirrored at the border, and pools their products.
func (f field) structure(pool float64) (structure, error) {
	xx, yy, xy := newField(f.w, f.h), newField(f.w, f.h), newField(f.w, f.h)
	rows(f.h, func(y int) {
		up, mid, down := f.row(y-1), f.row(y), f.row(y+1)
		for x := range f.w {
			a, b := mirrored(x-1, f.w), mirrored(x+1, f.w)
			gx := up[b] - up[a] + 2*(mid[b]-mid[a]) + down[b] - down[a]
			gy := down[a] - up[a] + 2*(down[x]-up[x]) + down[b] - up[b]
			i := y*f.w + x
			xx.v[i], yy.v[i], xy.v[i] = gx*gx, gy*gy, gx*gy
		}
	})
	var s structure
	var err error
	if s.xx, err = xx.blurred(hide.PX(pool)); err != nil {
		return s, err
	}
	if s.yy, err = yy.blurred(hide.PX(pool)); err != nil {
		return s, err
	}
	s.xy, err = xy.blurred(hide.PX(pool))
	return s, err
}

// row is a row of the field, mirrored beyond its ends.
func (f field) row(y int) []float32 {
	y = mirrored(y, f.h)
	return f.v[y*f.w : (y+1)*f.w]
}

// mirrored folds an index one beyond the ends back in, without repeating the
// end (as pix.Gaussian does).
func mirrored(i, n int) int {
	switch {
	case i < 0:
		return min(1, n-1)
	case i >= n:
		return max(n-2, 0)
	}
	return i
}

// oriented are the log energies of the gradient along 0, 45, 90 and 135°.
func (s structure) oriented() []field {
	var out []field
	for k := range 4 {
		sin, cos := math.Sincos(float64(k) * math.Pi / 4)
		cc, ss, sc := float32(cos*cos), float32(sin*sin), float32(2*sin*cos)
		f := newField(s.xx.w, s.xx.h)
		for i := range f.v {
			f.v[i] = cc*s.xx.v[i] + ss*s.yy.v[i] + sc*s.xy.v[i]
		}
		out = append(out, logPlane(f, energyFloor))
	}
	return out
}

// isotropic is the log energy of the gradient in any direction.
func (s structure) isotropic() field {
	f := newField(s.xx.w, s.xx.h)
	for i := range f.v {
		f.v[i] = s.xx.v[i] + s.yy.v[i]
	}
	return logPlane(f, energyFloor)
}

// logPlane replaces energies by their logarithm; rounding below 0 counts as 0.
func logPlane(f field, floor float64) field {
	rows(f.h, func(y int) {
		for i := y * f.w; i < (y+1)*f.w; i++ {
			f.v[i] = float32(math.Log(math.Max(float64(f.v[i]), 0) + floor))
		}
	})
	return f
}

// laplacianEnergy is the pooled square of the five-point Laplacian.
func (f field) laplacianEnergy(pool float64) (field, error) {
	out := f.laplacian()
	for i, v := range out.v {
		out.v[i] = v * v
	}
	return out.blurred(hide.PX(pool))
}

// laplacian is the five-point Laplacian, mirrored at the border.
func (f field) laplacian() field {
	out := newField(f.w, f.h)
	rows(f.h, func(y int) {
		up, mid, down := f.row(y-1), f.row(y), f.row(y+1)
		for x := range f.w {
			out.v[y*f.w+x] = up[x] + down[x] + mid[mirrored(x-1, f.w)] + mid[mirrored(x+1, f.w)] - 4*mid[x]
		}
	})
	return out
}

// roughDeviation is the blur that roughness is measured against, in pixels of
// the level: it leaves wavelengths of 2 to about 8 pixels, the octaves that the next level no longer sees.
const roughDeviation = 1.5

// roughness is the pooled square of what a small blur takes away.
func (f field) roughness(pool float64) (field, error) {
	soft, err := f.blurred(roughDeviation)
	if err != nil {
		return field{}, err
	}
	for i := range soft.v {
		d := f.v[i] - soft.v[i]
		soft.v[i] = d * d
	}
	return soft.blurred(hide.PX(pool))
}
