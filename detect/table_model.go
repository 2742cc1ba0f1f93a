package detect

import (
	"math"
	"sync"

	"golang.org/x/sync/errgroup"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"hidechart/hide"
	"hidechart/pix"
)

// tableModel is what the bare table looks like under one light: per channel the
// natural logarithm of linear light, and the robust spread of the table about it.
type tableModel struct {
	log    []field
	spread []float64
}

// logFloor keeps the logarithm of black finite: 1/1000 of white, about the
// dark noise of an 8-bit photograph decoded to linear light.
const logFloor = 65.535

// logTable holds ln(v + floor) for every value of a 16-bit pixel: looking it up
// is several times as fast as taking the logarithm of tens of millions of pixels.
var logTable = sync.OnceValue(func() *[1 << 16]float32 {
	t := new([1 << 16]float32)
	for v := range t {
		t[v] = float32(math.Log(float64(v) + logFloor))
	}
	return t
})

// logChannels returns ln(linear + floor) per channel.
func logChannels(im *pix.Image) []field {
	n := im.Channels()
	out := make([]field, n)
	for c := range out {
		out[c] = newField(im.Width(), im.Height())
	}
	v, w, table := im.Uint16s(), im.Width(), logTable()
	rows(im.Height(), func(y int) {
		for c := range out {
			from, to := v[y*w*n:(y+1)*w*n], out[c].v[y*w:(y+1)*w]
			for x := range to {
				to[x] = table[from[x*n+c]]
			}
		}
	})
	return out
}

// polynomialOrder of the light's fall-off over the table: order 4 holds a
// vignette (cos⁴) and two off-centre lamps.
const polynomialOrder = 4

// fitSamples thins the fit: 2 mm pixels are far finer than light varies, and
// 8,000 samples fix 15 terms to well under a percent.
const fitSamples = 8000

// polynomials fits ln(light) over the pixels where bare is true, per channel,
// by least squares with two rounds that leave out what lies beyond 3 spreads; the table's
// spread is floor at least.
func polynomials(log []field, bare []bool, floor float64) (tableModel, error) {
	m, at := tableModel{log: make([]field, len(log))}, thinned(bare)
	var group errgroup.Group
	for k, f := range log {
		group.Go(func() (err error) {
			m.log[k], err = polynomial(f, at)
			return err
		})
	}
	if err := group.Wait(); err != nil {
		return m, err
	}
	m.spread = residualSpread(log, m.log, at, floor)
	return m, nil
}

func polynomial(f field, picked []int) (field, error) {
	terms := (polynomialOrder + 1) * (polynomialOrder + 2) / 2
	if len(picked) < 10*terms {
		return field{}, hide.Faultf(hide.NotMeasurable, "too little bare table in view to know its colour: spread the hide clear of the edges")
	}
	var coef *mat.VecDense
	for range 3 {
		var err error
		if coef, err = leastSquares(f, picked, terms); err != nil {
			return field{}, err
		}
		picked = withoutOutliers(f, picked, coef)
	}
	return polynomialField(coef.RawVector().Data, f.w, f.h), nil
}

// polynomialField is the polynomial of the basis on a raster. Along a row it is
// one in x alone (Horner's scheme).
func polynomialField(coef []float64, w, h int) field {
	out := newField(w, h)
	rows(h, func(y int) {
		v := 2*float64(y)/float64(h) - 1
		var of [polynomialOrder + 1]float64 // x^i
		k := 0
		for i := range of {
			p := 1.0
			for j := 0; i+j <= polynomialOrder; j++ {
				of[i] += coef[k] * p
				p *= v
				k++
			}
		}
		at := func(x int) float32 {
			u, sum := 2*float64(x)/float64(w)-1, 0.0
			for i := polynomialOrder; i >= 0; i-- {
				sum = sum*u + of[i]
			}
			return float32(sum)
		}
		row, a := out.v[y*w:(y+1)*w], at(0)
		for x := 0; x < w; x += polynomialNode {
			b := at(x + polynomialNode)
			for i := range min(polynomialNode, w-x) {
				row[x+i] = a + float32(i)/polynomialNode*(b-a)
			}
			a = b
		}
	})
	return out
}

// polynomialNode is how many pixels apart the polynomial is worked out; between it is
// taken as straight, which at 4 of 1500 pixels is off by a 10⁻⁵ of its curvature at most.
const polynomialNode = 4

// thinned lists at most about fitSamples of the pixels where in is true, evenly.
func thinned(in []bool) []int {
	n := 0
	for _, ok := range in {
		if ok {
			n++
		}
	}
	step := max(1, n/fitSamples)
	var out []int
	k := 0
	for i, ok := range in {
		if !ok {
			continue
		}
		if k%step == 0 {
			out = append(out, i)
		}
		k++
	}
	return out
}

func leastSquares(f field, at []int, terms int) (*mat.VecDense, error) {
	a, b := mat.NewDense(len(at), terms, nil), mat.NewVecDense(len(at), nil)
	for r, i := range at {
		basis(a.RawRowView(r), i%f.w, i/f.w, f.w, f.h)
		b.SetVec(r, float64(f.v[i]))
	}
	var coef mat.VecDense
	if err := coef.SolveVec(a, b); err != nil {
		return nil, hide.Wrapf(hide.NotMeasurable, err, "the bare table in view does not fix its light: spread the hide clear of the edges")
	}
	return &coef, nil
}

func withoutOutliers(f field, at []int, coef *mat.VecDense) []int {
	res := make([]float64, len(at))
	row := make([]float64, coef.Len())
	for k, i := range at {
		basis(row, i%f.w, i/f.w, f.w, f.h)
		res[k] = float64(f.v[i]) - floats.Dot(row, coef.RawVector().Data)
	}
	limit := 3 * spread(res)
	var kept []int
	for k, i := range at {
		if math.Abs(res[k]) <= limit {
			kept = append(kept, i)
		}
	}
	return kept
}

// basis writes the monomials of x and y, each from -1 to 1 over the raster.
func basis(row []float64, x, y, w, h int) {
	u, v := 2*float64(x)/float64(w)-1, 2*float64(y)/float64(h)-1
	k, pu := 0, 1.0
	for i := 0; i <= polynomialOrder; i++ {
		p := pu
		for j := 0; i+j <= polynomialOrder; j++ {
			row[k] = p
			p *= v
			k++
		}
		pu *= u
	}
}

// spreadFloor of the table's own variation: 1.5 % of light, so that a noiseless
// picture does not make every JPEG trace a hide.
const spreadFloor = 0.015

func residualSpread(log, model []field, at []int, floor float64) []float64 {
	out := make([]float64, len(log))
	for c := range log {
		res := make([]float64, 0, len(at))
		for _, i := range at {
			res = append(res, float64(log[c].v[i]-model[c].v[i]))
		}
		out[c] = math.Max(spread(res), floor)
	}
	return out
}

// fromEmpty takes the smoothed photograph of the bare table and matches its
// exposure to log on the pixels where bare is true.
func fromEmpty(empty, log []field, bare []bool, floor float64) (tableModel, error) {
	m := tableModel{}
	at := thinned(bare)
	if len(at) == 0 {
		return m, hide.Faultf(hide.NotMeasurable, "no bare table in view")
	}
	for c := range log {
		shift := make([]float64, 0, len(at))
		for _, i := range at {
			shift = append(shift, float64(log[c].v[i]-empty[c].v[i]))
		}
		d := float32(median(shift))
		matched := newField(log[c].w, log[c].h)
		for i, v := range empty[c].v {
			matched.v[i] = v + d
		}
		m.log = append(m.log, matched)
	}
	m.spread = residualSpread(log, m.log, at, floor)
	return m, nil
}

// distance is how many spreads a pixel lies from the bare table, over all
// channels (root of the mean square).
func (m tableModel) distance(log []field) field {
	out := newField(log[0].w, log[0].h)
	rows(out.h, func(y int) {
		for i := y * out.w; i < (y+1)*out.w; i++ {
			var sum float64
			for c := range log {
				d := float64(log[c].v[i]-m.log[c].v[i]) / m.spread[c]
				sum += d * d
			}
			out.v[i] = float32(math.Sqrt(sum / float64(len(log))))
		}
	})
	return out
}
