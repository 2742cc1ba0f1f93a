package detect

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"hidechart/hide"
	"hidechart/pix"
	"hidechart/plane"
)

// burnt is two strokes 6 mm wide and 3 mm apart, joined at the top: what a line 15 mm wide covers.
func burnt(x, y float64) bool {
	return math.Abs(x-200) < 7.5 && math.Abs(x-200) > 1.5 && y > 100 && y < 180 || math.Abs(x-200) < 7.5 && y >= 172 && y < 180
}

// brandSurface is leather with that brand as a tone under every light, or sunken by a soft flank.
func brandSurface(t *testing.T, tone, depth float64, lights ...hide.Light) *surface {
	t.Helper()
	g := pix.TableGrid(400, 300, 1)
	s := &surface{grid: g, in: slices.Repeat([]bool{true}, g.Width*g.Height)}
	share := newField(g.Width, g.Height) // of the pixel that is burnt
	for i := range share.v {
		p := g.ToTable(pix.Point{X: hide.PX(i % g.Width), Y: hide.PX(i / g.Width)})
		for k := range 64 {
			if burnt(float64(p.X)+float64(k%8)/8-0.4375, float64(p.Y)+float64(k/8)/8-0.4375) {
				share.v[i] += 1.0 / 64
			}
		}
	}
	flank, err := share.blurred(0.8)
	require.NoError(t, err)
	for k, l := range lights {
		f := grainField(t, g, uint64(k)+3, 0.02)
		dx, dy := towards(l)
		for i := range f.v {
			x, y := i%g.Width, i/g.Width
			if x == 0 || y == 0 || x == g.Width-1 || y == g.Height-1 {
				continue
			}
			east, north := flank.v[i+1]-flank.v[i-1], flank.v[i-g.Width]-flank.v[i+g.Width]
			f.v[i] += float32(tone)*share.v[i] + float32(depth)*(east*float32(dx)+north*float32(dy)) // the far flank of a groove faces the lamp
		}
		lit := litSurface{light: l, tone: f}
		if l.Rake() {
			lit.from = lampSide{x: dx, y: dy, sign: 1}
		}
		s.lit = append(s.lit, lit)
	}
	return s
}

// asFound is one line over both strokes, drawn too wide.
func asFound(t *testing.T) hide.Shape {
	t.Helper()
	shape, err := plane.RibbonFrom([]hide.Point{at(200, 97), at(200, 183)}, 19)
	require.NoError(t, err)
	return shape
}

// offBurnt is the area that a shape and the strokes do not share, mm².
func offBurnt(shape hide.Shape) float64 {
	n := 0
	for x := 180.25; x < 220; x += 0.5 {
		for y := 80.25; y < 200; y += 0.5 {
			if burnt(x, y) != plane.ContainsShape(shape, at(x, y)) {
				n++
			}
		}
	}
	return float64(n) / 4
}

// Strokes are drawn one by one, by tone alone and by depth alone, though they were found as one line over both: six tenths of a
// millimetre along their border of 350 mm.
func TestFigureOfABrand(t *testing.T) {
	found := asFound(t)
	require.Greater(t, offBurnt(found), 550.0)
	for name, s := range map[string]*surface{
		"dark, by top light":    brandSurface(t, -0.15, 0, hide.Top),
		"light, by top light":   brandSurface(t, 0.15, 0, hide.Top),
		"sunken, crossed lamps": brandSurface(t, 0, 0.3, hide.Top, hide.RakeN, hide.RakeE),
		"sunken and dark":       brandSurface(t, -0.06, 0.3, hide.Top, hide.Back, hide.RakeN, hide.RakeE),
	} {
		out, err := s.figure(found)
		require.NoError(t, err)
		assert.Less(t, offBurnt(out), 225.0, name)
		require.NotEmpty(t, out)
		assert.Less(t, len(out[0].Outer), 150, "simplified")
	}
}

// Grain does not part into strokes and leather, nor does what lies off the leather.
func TestFigureInGrain(t *testing.T) {
	found := asFound(t)
	for _, lights := range [][]hide.Light{{hide.Top}, {hide.Top, hide.RakeN, hide.RakeE}} {
		s := brandSurface(t, 0, 0, lights...)
		out, err := s.figure(found)
		require.NoError(t, err)
		assert.Equal(t, found, out)
		clear(s.in)
		out, err = s.figure(found)
		require.NoError(t, err)
		assert.Equal(t, found, out)
	}
}

// What is called a brand all over a hide stays as it was found.
func TestFigureTooLarge(t *testing.T) {
	found := hide.Shape{{Outer: hide.Ring{at(0, 0), at(900, 0), at(900, 5), at(0, 5)}}}
	out, err := brandSurface(t, -0.15, 0, hide.Top).figure(found)
	require.NoError(t, err)
	assert.Equal(t, found, out)
}

// Fisher 1936, "The use of multiple measurements in taxonomic problems", tables II, III and V: iris versicolor less iris setosa, 50 plants of
// each (values from memory; they solve one another).
func TestFisherOwnExample(t *testing.T) {
	within := mat.NewSymDense(4, []float64{
		19.1434, 9.0356, 9.7634, 3.2394,
		9.0356, 11.8658, 4.6232, 2.4746,
		9.7634, 4.6232, 12.2978, 3.8794,
		3.2394, 2.4746, 3.8794, 2.4604,
	})
	versicolor := class{n: 50, mean: []float64{5.936, 2.770, 4.260, 1.326}, vary: within}
	setosa := class{n: 50, mean: []float64{5.006, 3.428, 1.462, 0.246}, vary: mat.NewSymDense(4, nil)} // its sums are in those
	direction, ok := versicolor.against(setosa)
	require.True(t, ok)
	for k, want := range []float64{-0.0311511, -0.1839075, 0.2221044, 0.3147370} {
		assert.InDelta(t, want, direction[k]/100, 1e-6) // his are of sums, ours of means of 100
	}
}
