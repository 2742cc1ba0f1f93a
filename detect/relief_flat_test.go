package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

// lieScene is a table of 1.6 × 1.4 m with a rectangle of leather, lit by lamps exactly as high
// and far as Lying takes them to be, shaded after Lambert by hand.
type lieScene struct {
	turned hide.Light // shines towards where its name says
	slope  func(x, y float64) (sx, sy float64)
	albedo func(x, y float64) float64
	glare  func(x, y float64) float64 // added under top
}

const (
	lieTestW, lieTestH = 1600.0, 1400.0
	lieTestMM          = 4.0
)

func lieTestOutline() hide.Polygon {
	return hide.Polygon{Outer: hide.Ring{{X: 150, Y: 150}, {X: 1450, Y: 150}, {X: 1450, Y: 1250}, {X: 150, Y: 1250}}}
}

func (s lieScene) lying(t *testing.T, lights ...hide.Light) Lie {
	t.Helper()
	g := pix.TableGrid(lieTestW, lieTestH, lieTestMM)
	photos := Photos{Grid: g, Lights: map[hide.Light]*pix.Image{}}
	defer photos.Close()
	for _, l := range append([]hide.Light{hide.Top}, lights...) {
		im := pix.New(g.Width, g.Height, pix.U16, 1)
		photos.Lights[l] = im
		for i := range im.Uint16s() {
			p := g.ToTable(pix.Point{X: hide.PX(i % g.Width), Y: hide.PX(i / g.Width)})
			im.Uint16s()[i] = uint16(20000 * s.light(l, float64(p.X), float64(p.Y)))
		}
	}
	lie, ok := Lying(photos, lieTestOutline(), [2]hide.MM{lieTestW, lieTestH})
	require.True(t, ok)
	require.Equal(t, lights, lie.Lights)
	return lie
}

func (s lieScene) light(l hide.Light, x, y float64) float64 {
	v := 1.0
	if s.albedo != nil {
		v = s.albedo(x, y)
	}
	if l == hide.Top {
		if s.glare != nil {
			v += s.glare(x, y)
		}
		return v
	}
	d := map[hide.Light][3]float64{hide.RakeE: {1, 0, lieTestW}, hide.RakeW: {-1, 0, lieTestW}, hide.RakeN: {0, 1, lieTestH}, hide.RakeS: {0, -1, lieTestH}}[l]
	if l == s.turned {
		d[0], d[1] = -d[0], -d[1]
	}
	stand := d[2]/2 + 1500
	high := stand * math.Tan(12.7*math.Pi/180)
	away := stand - (x-lieTestW/2)*d[0] - (y-lieTestH/2)*d[1]
	v *= math.Pow(stand/away, 1.3) // the lamp's fall-off
	if s.slope != nil {
		sx, sy := s.slope(x, y)
		v *= max(0.1, 1-(sx*d[0]+sy*d[1])*away/high)
	}
	return v
}

// wave is a sine of a height from trough to crest and a length, along a direction.
func lieWave(height, length, degrees float64) func(x, y float64) (float64, float64) {
	c, s := math.Cos(degrees*math.Pi/180), math.Sin(degrees*math.Pi/180)
	return func(x, y float64) (float64, float64) {
		k := math.Pi * height / length * math.Cos(2*math.Pi*(x*c+y*s)/length)
		return k * c, k * s
	}
}

// Sines of known height: what the band passes of their length is worked by hand.
func TestLyingMeasuresWaves(t *testing.T) {
	pass := func(length float64) float64 {
		k := 2 * math.Pi * math.Pi / (length * length)
		return math.Exp(-k*lieFineMM*lieFineMM) - math.Exp(-k*lieWideMM*lieWideMM)
	}
	for _, c := range []struct {
		name                    string
		height, length, degrees float64
		lights                  []hide.Light
	}{
		{"towards one lamp", 8, 200, 0, []hide.Light{hide.RakeE}},
		{"towards the far lamp", 8, 200, 90, []hide.Light{hide.RakeN}},
		{"opposite lamps", 10, 250, 0, []hide.Light{hide.RakeE, hide.RakeW}},
		{"aslant under crossed lamps", 8, 220, 40, []hide.Light{hide.RakeN, hide.RakeE}},
		{"short", 4, 110, 0, []hide.Light{hide.RakeE, hide.RakeS}},
		{"long", 15, 400, 0, []hide.Light{hide.RakeE}},
	} {
		t.Run(c.name, func(t *testing.T) {
			lie := lieScene{slope: lieWave(c.height, c.length, c.degrees)}.lying(t, c.lights...)
			t.Logf("%.2f mm, %.1f°", float64(lie.Height), lie.Steepest)
			// a third: averaging logarithms keeps more of a trough than of a crest, and the edge cuts
			// waves; the lamps' unknown height leaves a factor of 1.6 in any case
			require.InEpsilon(t, c.height*pass(c.length), float64(lie.Height), 0.34)
			// half the mean square of the sine's slope; squared, the height's third is more
			steep := math.Pi * c.height / c.length * pass(c.length)
			require.InEpsilon(t, steep*steep/4, lie.Shrink, 0.5)
			require.InDelta(t, math.Atan(math.Pi*c.height/c.length*pass(c.length))*180/math.Pi, lie.Steepest, 2.5)
		})
	}
}

// A lamp named by where it shines changes nothing.
func TestLyingUnderATurnedLamp(t *testing.T) {
	s := lieScene{slope: lieWave(8, 220, 40)}
	want := s.lying(t, hide.RakeN, hide.RakeE).Height
	s.turned = hide.RakeE
	require.InEpsilon(t, float64(want), float64(s.lying(t, hide.RakeN, hide.RakeE).Height), 0.1)
}

// Cloudy leather, glare under top and the lamps' own fall-off are no waves.
func TestLyingOfFlatHides(t *testing.T) {
	cloudy := func(x, y float64) float64 { return 0.5 * (1 + 0.16*math.Sin(x/30)*math.Cos(y/25)) }
	glare := func(x, y float64) float64 {
		return 0.8 * math.Exp(-math.Pow(math.Hypot(x-700, y-800)/150, 2)/2)
	}
	for name, s := range map[string]lieScene{"even": {}, "cloudy": {albedo: cloudy}, "glare": {glare: glare}, "both": {albedo: cloudy, glare: glare}} {
		lie := s.lying(t, hide.RakeN, hide.RakeE)
		t.Logf("%s: %.2f mm", name, float64(lie.Height))
		require.Less(t, float64(lie.Height), 2.0, name)
	}
}

// A known miss: crests that run along the only raking light throw no shade.
func TestLyingMissesCrestsAlongTheLight(t *testing.T) {
	s := lieScene{slope: lieWave(12, 200, 90)}
	require.Less(t, float64(s.lying(t, hide.RakeE).Height), 1.0)
	require.Greater(t, float64(s.lying(t, hide.RakeN, hide.RakeE).Height), 8.0)
}

func TestLyingNeedsRakingLight(t *testing.T) {
	g := pix.TableGrid(lieTestW, lieTestH, lieTestMM)
	top := pix.New(g.Width, g.Height, pix.U16, 1)
	defer top.Close()
	_, ok := Lying(Photos{Grid: g, Lights: map[hide.Light]*pix.Image{hide.Top: top}}, lieTestOutline(), [2]hide.MM{lieTestW, lieTestH})
	require.False(t, ok)
}
