package calibrate

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"

	"hidechart/hide"
	"hidechart/pix"
)

// FlatParams are the settings of FlatField.
type FlatParams struct {
	Cell   hide.MM `yaml:"cell_mm"`   // the gain is computed per square of this side
	Smooth hide.MM `yaml:"smooth_mm"` // deviation of the Gaussian that follows what the polynomial leaves
}

// DefaultFlatParams returns the settings for lamps: between cells of 40 mm the light of a lamp two metres away
// strays from a straight line by under (40 mm / 2 m)²/8 = 0.005 %; what changes
// within 80 mm is the table's own dirt, not the lamps.
func DefaultFlatParams() FlatParams { return FlatParams{Cell: 40, Smooth: 80} }

// Validate lists what is wrong with the settings.
func (p FlatParams) Validate() error {
	var faults []string
	if !(p.Cell >= 1 && p.Cell <= 200) {
		faults = append(faults, fmt.Sprintf("cell_mm: %g is not between 1 and 200", float64(p.Cell)))
	}
	if !(p.Smooth >= p.Cell && p.Smooth <= 2000) {
		faults = append(faults, fmt.Sprintf("smooth_mm: %g is not between cell_mm and 2000", float64(p.Smooth)))
	}
	if len(faults) > 0 {
		return hide.Faultf(hide.Invalid, "flat field settings: %s", strings.Join(faults, "; "))
	}
	return nil
}

// Constants of the flat field.
const (
	cellShare     = 0.25  // of a cell's pixels must be bare table
	clippedLevel  = 65000 // at and above it light is cut off (an 8-bit 255 is 65535, a 254 is 64960)
	fullCoverage  = 0.9   // of the cells: nothing to carry over, six degrees follow two lamps to 0.5 %
	wideCoverage  = 0.5   // of the cells: enough to carry a quartic over the rest
	leastCoverage = 0.03  // of the cells: below it even a plane is a guess
	trustKernel   = 0.2   // of a whole kernel's weight: with less the polynomial decides
	flatRange     = 1.5   // how far beyond the seen range extrapolated light may go
	outlierReach  = 4.685 // Tukey, 95 % efficiency (Huber 1981)
	leastScatter  = 0.02  // a lamp's own shape may stray that far from the polynomial
)

// Flat is how unevenly light falls on the table.
type Flat struct {
	Gain *pix.Image // F32, a value per cell and channel, mean 1; row 0 at the far edge
	Cell hide.MM    // side of a cell; the first one begins at the raster's corner
}

// Close frees the gain.
func (f *Flat) Close() {
	if f != nil {
		f.Gain.Close()
	}
}

// FlatField finds how unevenly the light falls on the table from a photograph of
// it on the table raster (linear light, U16; the `empty` light, or any light's own
// bare table). mask (U8, same size) is not zero where bare table is seen: no tags,
// no hide, nothing outside the photograph. The gain has mean 1 over the table, so
// that dividing by it keeps the exposure. A robust polynomial in the logarithm (degree 6, 4 or 2 by how much of the
// table is seen) carries it over what is hidden; a Gaussian mean of what that
// leaves follows the lamps where the table is seen. The caller closes it. Errors:
// Invalid for wrong kinds; NotMeasurable when under 3 % of the table is seen.
func FlatField(table, mask *pix.Image, mmPerPX hide.MM, p FlatParams) (*Flat, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	if table.Depth() != pix.U16 || mask.Depth() != pix.U8 || mask.Channels() != 1 || mask.Bounds() != table.Bounds() || !(mmPerPX > 0) {
		return nil, hide.Faultf(hide.Invalid, "flat field: want 16-bit linear light and an 8-bit mask of the same size")
	}
	cell := max(1, int(math.Round(float64(p.Cell/mmPerPX))))
	w, h := (table.Width()+cell-1)/cell, (table.Height()+cell-1)/cell
	out := pix.New(w, h, pix.F32, table.Channels())
	dst, seen := out.Float32s(), make([]bool, table.Channels())
	inParallel(len(seen), func(c int) {
		var gain []float64
		gain, seen[c] = smoothLight(cellLevels(table, mask, cell, c), w, h, float64(p.Smooth)/(float64(cell)*float64(mmPerPX)))
		for i, g := range gain {
			dst[i*len(seen)+c] = float32(g)
		}
	})
	if slices.Contains(seen, false) {
		out.Close()
		return nil, hide.Faultf(hide.NotMeasurable, "flat field: too little of the bare table is seen; add an empty photograph")
	}
	return &Flat{Gain: out, Cell: hide.MM(cell) * mmPerPX}, nil
}

// cellLevels is the mean light of each cell's bare pixels, NaN where too few.
func cellLevels(table, mask *pix.Image, cell, channel int) []float64 {
	width, height := table.Width(), table.Height()
	w, h := (width+cell-1)/cell, (height+cell-1)/cell
	out := make([]float64, w*h)
	data, bare, ch := table.Uint16s(), mask.Bytes(), table.Channels()
	for cy := range h {
		for cx := range w {
			x1, y1 := min(width, (cx+1)*cell), min(height, (cy+1)*cell)
			var sum, n float64
			for y := cy * cell; y < y1; y++ {
				for x := cx * cell; x < x1; x++ {
					i := y*width + x
					if v := data[i*ch+channel]; bare[i] != 0 && v < clippedLevel {
						sum, n = sum+float64(v), n+1
					}
				}
			}
			out[cy*w+cx] = math.NaN()
			if n >= cellShare*float64((x1-cx*cell)*(y1-cy*cell)) && sum > 0 {
				out[cy*w+cx] = sum / n
			}
		}
	}
	return out
}

// smoothLight turns cell levels into a gain of mean 1.
func smoothLight(level []float64, w, h int, sigma float64) ([]float64, bool) {
	logs := make([]float64, len(level))
	seen, lo, hi := 0, math.Inf(1), math.Inf(-1)
	for i, v := range level {
		logs[i] = math.Log(v)
		if !math.IsNaN(v) {
			seen++
			lo, hi = min(lo, logs[i]), max(hi, logs[i])
		}
	}
	share := float64(seen) / float64(len(level))
	if share < leastCoverage || seen < 12 { // 12: twice a parabola's terms
		return nil, false
	}
	degree := 2
	switch {
	case share >= fullCoverage:
		degree = 6
	case share >= wideCoverage:
		degree = 4
	}
	surface, weight, ok := robustSurface(logs, w, h, degree)
	if !ok {
		return nil, false
	}
	rest := smoothRest(logs, surface, weight, w, h, sigma)
	mean := 0.0
	out := make([]float64, len(level))
	reach := math.Log(flatRange)
	for i := range out {
		out[i] = math.Exp(min(max(surface[i]+rest[i], lo-reach), hi+reach))
		mean += out[i] / float64(len(out))
	}
	for i := range out {
		out[i] /= mean
	}
	return out, true
}

// terms of a polynomial of two variables up to a degree, at (x, y) in -1 to 1.
func terms(x, y float64, degree int) []float64 {
	var out []float64
	for d := range degree + 1 {
		for k := range d + 1 {
			out = append(out, math.Pow(x, float64(d-k))*math.Pow(y, float64(k)))
		}
	}
	return out
}

// robustSurface fits the polynomial with Tukey's weights and returns it at every
// cell, with each cell's weight.
func robustSurface(logs []float64, w, h, degree int) (surface, weight []float64, ok bool) {
	basis := make([][]float64, len(logs))
	weight = make([]float64, len(logs))
	for i := range logs {
		basis[i] = terms(2*(float64(i%w)+0.5)/float64(w)-1, 2*(float64(i/w)+0.5)/float64(h)-1, degree)
		if !math.IsNaN(logs[i]) {
			weight[i] = 1
		}
	}
	surface = make([]float64, len(logs))
	const rounds = 6 // the weights change by under 1 % after four
	for range rounds {
		n := len(basis[0])
		sums, right := make([]float64, n*n), make([]float64, n)
		for i, q := range basis {
			if weight[i] == 0 {
				continue
			}
			for j := range n {
				right[j] += weight[i] * q[j] * logs[i]
				for k := j; k < n; k++ { // the upper triangle is what SymDense reads
					sums[j*n+k] += weight[i] * q[j] * q[k]
				}
			}
		}
		a, b := mat.NewSymDense(n, sums), mat.NewVecDense(n, right)
		var c mat.Cholesky
		x := mat.NewVecDense(n, nil)
		if !c.Factorize(a) || c.SolveVecTo(x, b) != nil {
			return nil, nil, false
		}
		var r []float64
		for i, q := range basis {
			surface[i] = 0
			for j := range q {
				surface[i] += x.AtVec(j) * q[j]
			}
			if !math.IsNaN(logs[i]) {
				r = append(r, math.Abs(logs[i]-surface[i]))
			}
		}
		reach := outlierReach * max(1.4826*median(r), leastScatter)
		for i := range weight {
			u := (logs[i] - surface[i]) / reach
			weight[i] = 0
			if math.Abs(u) < 1 { // NaN, unseen, is not
				weight[i] = (1 - u*u) * (1 - u*u)
			}
		}
	}
	return surface, weight, true
}

// smoothRest is the normalised Gaussian mean of what the surface leaves, drawn
// to zero where little is seen.
func smoothRest(logs, surface, weight []float64, w, h int, sigma float64) []float64 {
	num, den := make([]float64, len(logs)), make([]float64, len(logs))
	for i := range logs {
		if weight[i] > 0 {
			num[i], den[i] = weight[i]*(logs[i]-surface[i]), weight[i]
		}
	}
	num, den = blurred(num, w, h, sigma), blurred(den, w, h, sigma)
	for i := range num {
		num[i] /= max(den[i], trustKernel)
	}
	return num
}

// blurred is a Gaussian mean that counts nothing beyond the border.
func blurred(v []float64, w, h int, sigma float64) []float64 {
	reach := int(math.Ceil(3 * sigma)) // 0.3 % of the kernel is beyond
	k := make([]float64, 2*reach+1)
	sum := 0.0
	for i := range k {
		k[i] = math.Exp(-float64((i-reach)*(i-reach)) / (2 * sigma * sigma))
		sum += k[i]
	}
	pass := func(src []float64, n, lines, step, jump int) []float64 {
		out := make([]float64, len(src))
		for l := range lines {
			for i := range n {
				s := 0.0
				for j := max(0, i-reach); j <= min(n-1, i+reach); j++ {
					s += k[j-i+reach] / sum * src[l*jump+j*step]
				}
				out[l*jump+i*step] = s
			}
		}
		return out
	}
	return pass(pass(v, w, h, 1, w), h, w, w, 1)
}

// Flatten divides a picture on the table raster by the gain: linear light, U16,
// of any resolution that starts at the same corner; the gain has its channels or
// one; bilinear between the cells' middles. Light above full scale is cut off. The
// caller closes the result. Error: Invalid for other kinds.
func (f *Flat) Flatten(im *pix.Image, mmPerPX hide.MM) (*pix.Image, error) {
	return f.flattened(pix.Divide, im, mmPerPX)
}

// FlattenForEye is Flatten, coded for the eye: sRGB, U8.
func (f *Flat) FlattenForEye(im *pix.Image, mmPerPX hide.MM) (*pix.Image, error) {
	return f.flattened(pix.DivideForEye, im, mmPerPX)
}

func (f *Flat) flattened(divide func(im, field *pix.Image, cellPX float64) (*pix.Image, error), im *pix.Image, mmPerPX hide.MM) (*pix.Image, error) {
	out, err := divide(im, f.Gain, float64(f.Cell/mmPerPX))
	if err != nil {
		return nil, hide.Wrapf(hide.Invalid, err, "flatten")
	}
	return out, nil
}
