package export

import (
	"image/color"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"hidechart/hide"
)

// relative luminance and contrast as WCAG 2.1 defines them.
func luminance(c [3]float64) float64 { return 0.2126*c[0] + 0.7152*c[1] + 0.0722*c[2] }

func contrast(a, b color.RGBA) float64 {
	x, y := luminance(linear(a)), luminance(linear(b))
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

func linear(c color.RGBA) [3]float64 {
	f := func(v uint8) float64 {
		s := float64(v) / 255
		if s <= 0.04045 { // IEC 61966-2-1
			return s / 12.92
		}
		return math.Pow((s+0.055)/1.055, 2.4)
	}
	return [3]float64{f(c.R), f(c.G), f(c.B)}
}

// Every mark is a colour between black edges within a white halo. On leather
// from black to white something of it has the contrast that WCAG 2.1, success criterion
// 1.4.11, asks of graphics (3 : 1), and the colour itself has it against its edges.
func TestMarksStandOutOnAnyLeather(t *testing.T) {
	for _, k := range hide.Kinds() {
		assert.GreaterOrEqual(t, contrast(kindColour(k), black), 3.0, k)
	}
	assert.GreaterOrEqual(t, contrast(white, black), 7.0)
	for v := range 256 {
		leather := color.RGBA{uint8(v), uint8(v), uint8(v), 255}
		assert.GreaterOrEqual(t, max(contrast(leather, white), contrast(leather, black)), 3.0)
	}
}

// Machado, Oliveira and Fernandes (2009), "A physiologically-based model for simulation of color
// vision deficiency", IEEE TVCG 15:1291, table 1, severity 1.0 (matrices from memory).
var deficiencies = map[string][3][3]float64{
	"protanopia":   {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
	"deuteranopia": {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}},
	"none":         {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
}

// lab is CIE L*a*b* of linear sRGB (D65; CIE 15:2004).
func lab(c [3]float64) [3]float64 {
	x := (0.4124*c[0] + 0.3576*c[1] + 0.1805*c[2]) / 0.9505
	y := 0.2126*c[0] + 0.7152*c[1] + 0.0722*c[2]
	z := (0.0193*c[0] + 0.1192*c[1] + 0.9505*c[2]) / 1.089
	f := func(v float64) float64 {
		if v > 216.0/24389 {
			return math.Cbrt(v)
		}
		return (24389.0/27*v + 16) / 116
	}
	return [3]float64{116*f(y) - 16, 500 * (f(x) - f(y)), 200 * (f(y) - f(z))}
}

// The seven colours stay apart for the common deficiencies: 10 units of CIE 1976 difference, about
// four times a just noticeable one (2.3: Mahy et al. 1994, from memory).
func TestColoursStayApartForColourBlindEyes(t *testing.T) {
	colours := map[color.RGBA]bool{}
	for _, k := range hide.Kinds() {
		colours[kindColour(k)] = true
	}
	assert.Len(t, colours, 7)
	for name, m := range deficiencies {
		for a := range colours {
			for b := range colours {
				if a != b {
					p, q := lab(seen(m, a)), lab(seen(m, b))
					d := math.Hypot(math.Hypot(p[0]-q[0], p[1]-q[1]), p[2]-q[2])
					assert.Greater(t, d, 10.0, "%s: %v %v", name, a, b)
				}
			}
		}
	}
}

func seen(m [3][3]float64, c color.RGBA) [3]float64 {
	in := linear(c)
	var out [3]float64
	for i := range out {
		out[i] = min(max(m[i][0]*in[0]+m[i][1]*in[1]+m[i][2]*in[2], 0), 1)
	}
	return out
}

// Any two symbols differ in shape: drawn in black at the legend's size, more than a
// sixth of the pixels of the two together differ.
func TestSymbolsDifferInShape(t *testing.T) {
	for _, a := range hide.Kinds() {
		for _, b := range hide.Kinds() {
			if a == b {
				continue
			}
			x, y := inked(a), inked(b)
			both, differ := 0, 0
			for i := range x {
				if x[i] || y[i] {
					both++
				}
				if x[i] != y[i] {
					differ++
				}
			}
			assert.Greater(t, float64(differ)/float64(both), 1.0/6, "%s and %s", a, b)
		}
	}
}

func inked(k hide.Kind) []bool {
	b := blankBrush(80, 80)
	b.symbol(k, spot{40, 40}, 34)
	out := make([]bool, 80*80)
	for i := range out {
		c := b.im.RGBAAt(i%80, i/80)
		out[i] = int(c.R)+int(c.G)+int(c.B) < 720
	}
	return out
}
