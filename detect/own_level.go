package detect

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"hidechart/hide"
	"hidechart/pix"
)

// ownLevel is one level of the pyramid: lightness and, of a colour picture,
// two opponent colours, all logarithmic, so that light drops out of the colours.
type ownLevel struct {
	planes []field
	in     []bool // leather; nil: all
}

// ownDark is added before the logarithm, in 255ths of full signal: noise of a
// dark picture must not count as colour. Three times the read noise of a
// phone's 8-bit picture.
const ownDark = 8

// finestLevel brings a picture to the finest level's size.
func finestLevel(im *pix.Image, in []bool, size [2]int) (ownLevel, error) {
	scale := 1.0
	if im.Depth() == pix.U16 {
		scale = 255.0 / 65535
	}
	small, err := shrunkFloat(im, size, scale)
	if err != nil {
		return ownLevel{}, err
	}
	defer small.Close()
	return ownLevel{planes: opponents(small), in: maskTo(in, im.Width(), im.Height(), size)}, nil
}

// pyramid makes the levels of the given sizes, the first from the level itself.
// Each is the mean of the one before: of logarithms, which differs from the logarithm of the
// mean by the grain's own variance, the same all over. Where there is no leather, its mean
// nearby stands, so that nothing of a table comes in.
func (l ownLevel) pyramid(sizes [][2]int) ([]ownLevel, error) {
	var out []ownLevel
	for k, s := range sizes {
		next := ownLevel{in: maskTo(l.in, l.planes[0].w, l.planes[0].h, s)}
		from := l
		if k > 0 {
			from = out[k-1]
		}
		for _, f := range from.planes {
			small, err := f.resized(s[0], s[1])
			if err != nil {
				return nil, err
			}
			next.planes = append(next.planes, small)
		}
		if err := next.fill(); err != nil {
			return nil, err
		}
		out = append(out, next)
	}
	return out, nil
}

// shrunkFloat scales a picture to a size in float, values 0 to 255.
func shrunkFloat(im *pix.Image, s [2]int, scale float64) (*pix.Image, error) {
	small, err := pix.Resize(im, s[0], s[1]) // in the picture's own depth: a rounding of 0.3 of its steps, a quarter of the memory
	if err != nil {
		return nil, err
	}
	defer small.Close()
	return pix.Float(small, scale)
}

// opponents are log lightness, red against green, and blue against both.
func opponents(im *pix.Image) []field {
	w, h, v := im.Width(), im.Height(), im.Float32s()
	if im.Channels() == 1 {
		l := newField(w, h)
		rows(h, func(y int) {
			for i := y * w; i < (y+1)*w; i++ {
				l.v[i] = logOf(v[i])
			}
		})
		return []field{l}
	}
	out := []field{newField(w, h), newField(w, h), newField(w, h)}
	rows(h, func(y int) {
		for i := y * w; i < (y+1)*w; i++ {
			b, g, r := logOf(v[3*i]), logOf(v[3*i+1]), logOf(v[3*i+2])
			out[0].v[i], out[1].v[i], out[2].v[i] = (r+g+b)/3, r-g, b-(r+g)/2
		}
	})
	return out
}

func logOf(v float32) float32 { return float32(math.Log(float64(v) + ownDark)) }

// maskTo samples the mask at the middles of a smaller raster's pixels.
func maskTo(in []bool, w, h int, s [2]int) []bool {
	if in == nil {
		return nil
	}
	out := make([]bool, s[0]*s[1])
	for y := range s[1] {
		v := min(int((float64(y)+.5)*float64(h)/float64(s[1])), h-1)
		for x := range s[0] {
			u := min(int((float64(x)+.5)*float64(w)/float64(s[0])), w-1)
			out[y*s[0]+x] = in[v*w+u]
		}
	}
	return out
}

// fill puts the mean of the leather nearby where there is none, so that filters
// see no edge there.
func (l *ownLevel) fill() error {
	if l.in == nil {
		return nil
	}
	for k, f := range l.planes {
		whole := mean(sampled(f.v, l.in))
		for i := range f.v {
			if !l.in[i] {
				f.v[i] = float32(whole)
			}
		}
		near, share, err := f.localMean(l.in, 4) // px: wider than the filters' reach matters little, the rest is the whole's mean
		if err != nil {
			return err
		}
		for i := range f.v {
			if !l.in[i] && share.v[i] > 0 {
				f.v[i] = near.v[i]
			}
		}
		l.planes[k] = f
	}
	return nil
}

func mean(v []float64) float64 {
	var t float64
	for _, x := range v {
		t += x
	}
	return t / math.Max(float64(len(v)), 1)
}

// detrended takes a quadratic surface off a plane, fitted to the four fifths
// nearest to it (least trimmed squares by concentration steps; Rousseeuw & Van
// Driessen 2006).
func (l ownLevel) detrended(f field) (field, error) {
	const samples, keep, steps = 8000, .8, 5 // samples: the surface has six terms
	var at []int
	for i := 0; i < len(f.v); i += max(1, len(f.v)/samples) {
		if l.in == nil || l.in[i] {
			at = append(at, i)
		}
	}
	c := make([]float64, 6)
	kept := at
	for range steps {
		if len(kept) < 60 {
			break
		}
		var err error
		if c, err = quadratic(f, kept); err != nil {
			return f, err
		}
		off := make([]float64, len(at))
		for k, i := range at {
			off[k] = math.Abs(float64(f.v[i]) - surfaceAt(c, f, i))
		}
		limit := quantile(append([]float64(nil), off...), keep)
		kept = kept[:0:0]
		for k, i := range at {
			if off[k] <= limit {
				kept = append(kept, i)
			}
		}
	}
	out := newField(f.w, f.h)
	rows(f.h, func(y int) {
		for i := y * f.w; i < (y+1)*f.w; i++ {
			out.v[i] = f.v[i] - float32(surfaceAt(c, f, i))
		}
	})
	return out, nil
}

// terms are 1, x, y, x², xy, y² with x and y from −1 to 1.
func terms(f field, i int) [6]float64 {
	x, y := 2*float64(i%f.w)/float64(f.w)-1, 2*float64(i/f.w)/float64(f.h)-1
	return [6]float64{1, x, y, x * x, x * y, y * y}
}

func surfaceAt(c []float64, f field, i int) float64 {
	t := terms(f, i)
	return c[0] + c[1]*t[1] + c[2]*t[2] + c[3]*t[3] + c[4]*t[4] + c[5]*t[5]
}

// quadratic solves the normal equations; the terms are of order one, so that
// they are well conditioned unless the leather is a line.
func quadratic(f field, at []int) ([]float64, error) {
	a, b := mat.NewSymDense(6, nil), mat.NewVecDense(6, nil)
	for _, i := range at {
		t := terms(f, i)
		for r := range t {
			for k := r; k < len(t); k++ {
				a.SetSym(r, k, a.At(r, k)+t[r]*t[k])
			}
			b.SetVec(r, b.AtVec(r)+t[r]*float64(f.v[i]))
		}
	}
	for r := range 6 {
		a.SetSym(r, r, a.At(r, r)+1e-9*float64(len(at)))
	}
	var ch mat.Cholesky
	if !ch.Factorize(a) {
		return nil, hide.Faultf(hide.NotMeasurable, "score map: the leather in the picture is too narrow")
	}
	var c mat.VecDense
	if err := ch.SolveVecTo(&c, b); err != nil {
		return nil, hide.Wrapf(hide.NotMeasurable, err, "score map: fit the light")
	}
	return c.RawVector().Data, nil
}
