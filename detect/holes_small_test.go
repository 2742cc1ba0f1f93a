package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

// blurredDisc is how much of a disc a Gaussian blur leaves at a place: the sum over the disc's points, a
// tenth of a millimetre apart.
func blurredDisc(x0, y0, r, sigma float64) func(x, y float64) float64 {
	const step = 0.2
	return func(x, y float64) float64 {
		if math.Hypot(x-x0, y-y0) > r+5*sigma {
			return 0
		}
		var sum float64
		for u := -r + step/2; u < r; u += step {
			for v := -r + step/2; v < r; v += step {
				if u*u+v*v <= r*r {
					a, b := x-x0-u, y-y0-v
					sum += math.Exp(-(a*a + b*b) / (2 * sigma * sigma))
				}
			}
		}
		return sum * step * step / (2 * math.Pi * sigma * sigma)
	}
}

// withHole opens so much of the leather at each place.
func (s tableScene) withHole(open func(x, y float64) float64) tableScene {
	leather := s.inside
	s.inside = func(x, y float64) float64 {
		share := 0.5 * (1 + math.Erf(leather(x, y)/(s.blur*math.Sqrt2))) * (1 - open(x, y))
		return s.blur * math.Sqrt2 * math.Erfinv(2*min(max(share, 1e-9), 1-1e-9)-1)
	}
	return s
}

// Round holes from 3 mm on are found, each with its area, though the blur is so wide that the smallest is
// not half as deep as the table.
func TestSmallHolesUnderBlur(t *testing.T) {
	for name, s := range map[string]tableScene{"dark on light": darkOnLight(), "light on dark": lightOnDark()} {
		for _, r := range []float64{1.5, 2, 3, 4} {
			t.Run(name, func(t *testing.T) {
				s.blur = 1.3
				o, err := s.withHole(blurredDisc(400, 300, r, s.blur)).outline(t, hide.Top)
				require.NoError(t, err)
				require.Len(t, o.Holes, 1, "radius %g", r)
				require.GreaterOrEqual(t, o.Holes[0].Probability, 0.5)
				require.InEpsilon(t, math.Pi*r*r, -float64(o.Polygon.Holes[0].SignedArea()), 0.15)
			})
		}
	}
}

// Marks three tenths to six tenths as far from the leather as the table is are no holes, however small they are.
func TestMarksUnderBlurAreNoHoles(t *testing.T) {
	for _, depth := range []float64{0.3, 0.45, 0.6} {
		for _, r := range []float64{2.5, 3, 4} {
			s := lightOnDark()
			s.blur = 1.3
			mark := blurredDisc(400, 300, r, s.blur)
			o, err := s.withHole(func(x, y float64) float64 { return depth * mark(x, y) }).outline(t, hide.Top)
			require.NoError(t, err)
			require.Empty(t, o.Holes, "%g of the step, radius %g", depth, r)
		}
	}
}

// What a leather shows by the dozen is its own, and a hole among it is not told from it.
func TestPocksAreNoHoles(t *testing.T) {
	s := lightOnDark()
	s.blur = 1.3
	o, err := s.withHole(func(x, y float64) float64 {
		near := func(v float64) float64 { return 20 * math.Round(v/20) }
		u, v := near(x), near(y)
		if math.Hypot(u-440, v-360) > 90 {
			return 0
		}
		return blurredDisc(u, v, 1.6, s.blur)(x, y)
	}).outline(t, hide.Top)
	require.NoError(t, err)
	require.Empty(t, o.Holes)
}

// Light that comes through a small hole finds it as well.
func TestSmallHoleByBackLight(t *testing.T) {
	s := darkOnLight()
	s.blur = 1.3
	o, err := s.withHole(blurredDisc(400, 300, 2, s.blur)).outline(t, hide.Top, hide.Back)
	require.NoError(t, err)
	require.Len(t, o.Holes, 1)
	require.Equal(t, []hide.Light{hide.Top, hide.Back}, o.Holes[0].Lights)
	require.InEpsilon(t, math.Pi*4, -float64(o.Polygon.Holes[0].SignedArea()), 0.15)
}

// Chalk far lighter than the table, and a cloud that fades into its tone, are no holes, though both are as
// light as the table or lighter; a hole of the same size is one.
func TestWhatIsNotAsSteepAsTheEdge(t *testing.T) {
	s := darkOnLight()
	s.table, s.blur = [3]float64{0.2, 0.2, 0.2}, 0.9
	hole := blurredDisc(400, 300, 6, s.blur)
	for name, extra := range map[string]func(x, y float64) float64{
		"chalk": func(x, y float64) float64 { return math.Log(1 + 15*hole(x, y)) },
		"cloud": func(x, y float64) float64 {
			a, b := x-400, y-300
			return 1.5 * math.Exp(-(a*a+b*b)/(2*15*15))
		},
	} {
		marked := s
		marked.extra = extra
		o, err := marked.outline(t, hide.Top)
		require.NoError(t, err)
		require.Empty(t, o.Holes, name)
	}
	o, err := s.withHole(hole).outline(t, hide.Top)
	require.NoError(t, err)
	require.Len(t, o.Holes, 1)
}

// A table a tenth darker than the leather under top light, where the shade of the hole's rim reaches 3 mm out:
// back light says where the edge is.
func TestHoleOnATableLikeTheLeather(t *testing.T) {
	top, back := lightOnDark(), darkOnLight()
	top.table = [3]float64{0.4, 0.5, 0.55}
	leather, hole := top.inside, discAt(400, 300, 8)
	inside := func(x, y float64) float64 { return math.Min(leather(x, y), -hole(x, y)) }
	top.inside, back.inside = inside, inside
	top.extra = func(x, y float64) float64 {
		if hole(x, y) > -3 {
			return -0.25
		}
		return 0
	}
	painted := func(g pix.Grid) Photos {
		return Photos{Grid: g, Lights: map[hide.Light]*pix.Image{hide.Top: top.paint(t, g, false), hide.Back: back.paint(t, g, false)}}
	}
	f, err := Find(t.Context(), OutlineInput{Coarse: painted(pix.TableGrid(top.width, top.height, 2))}, DefaultOutlineParams())
	require.NoError(t, err)
	o, err := f.Refine(t.Context(), painted(pix.TableGrid(top.width, top.height, 0.5).Around(f.Outline, 25)), DefaultOutlineParams())
	require.NoError(t, err)
	require.Len(t, o.Holes, 1)
	require.InEpsilon(t, math.Pi*64, -float64(o.Polygon.Holes[0].SignedArea()), 0.03)
}
