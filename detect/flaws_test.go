package detect

import (
	"crypto/sha256"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
	"hidechart/plane"
)

// leatherScene is a piece of leather, 400 × 300 mm, under some lights, with
// grain of about 2 mm and flaws painted as tones (natural logarithms).
type leatherScene struct {
	grain float64
	tone  map[hide.Light]func(x, y float64) float64
}

func (s leatherScene) input(t *testing.T) Input {
	t.Helper()
	g := pix.TableGrid(400, 300, 0.5)
	in := Input{Photos: Photos{Grid: g, Lights: map[hide.Light]*pix.Image{}},
		Outline: hide.Polygon{Outer: hide.Ring{{X: 5, Y: 5}, {X: 395, Y: 5}, {X: 395, Y: 295}, {X: 5, Y: 295}}}}
	for k, l := range hide.Lights() {
		tone, ok := s.tone[l]
		if !ok {
			continue
		}
		im := pix.New(g.Width, g.Height, pix.U16, 3)
		t.Cleanup(im.Close)
		grain := grainField(t, g, uint64(k)+1, s.grain)
		v := im.Uint16s()
		for i := range g.Width * g.Height {
			p := g.ToTable(pix.Point{X: hide.PX(i % g.Width), Y: hide.PX(i / g.Width)})
			light := 0.2 * math.Exp(float64(grain.v[i])+tone(float64(p.X), float64(p.Y)))
			for c := range 3 {
				v[3*i+c] = uint16(light * white)
			}
		}
		in.Photos.Lights[l] = im
	}
	in.Frame = func() (plane.HideFrame, error) {
		return plane.FrameFrom([2]hide.Point{{X: 5, Y: 150}, {X: 395, Y: 150}}, false, in.Outline)
	}
	return in
}

func grainField(t *testing.T, g pix.Grid, seed uint64, amplitude float64) field {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 11))
	f := newField(g.Width, g.Height)
	for i := range f.v {
		f.v[i] = float32(rng.NormFloat64())
	}
	f, err := f.blurred(1.5)
	require.NoError(t, err)
	gain := float32(amplitude / spread(thinnedValues(f)))
	for i := range f.v {
		f.v[i] *= gain
	}
	return f
}

func thinnedValues(f field) []float64 {
	var out []float64
	for i := 0; i < len(f.v); i += 17 {
		out = append(out, float64(f.v[i]))
	}
	return out
}

func plain(x, y float64) float64 { return 0 }

// stroke is a tone along a segment, falling off as a Gaussian of 0.8 mm.
func stroke(x0, y0, x1, y1, depth float64) func(x, y float64) float64 {
	return func(x, y float64) float64 {
		return depth * math.Exp(-math.Pow(chordDistance(at(x, y), at(x0, y0), at(x1, y1))/0.8, 2)/2)
	}
}

func at(x, y float64) hide.Point { return hide.Point{X: hide.MM(x), Y: hide.MM(y)} }

func surfaceOf(t *testing.T, in Input) *surface {
	t.Helper()
	s, err := newSurface(in.Photos, in.Outline, DefaultParams())
	require.NoError(t, err)
	return s
}

// A line only twice as deep as the grain's own spread is found over its whole length, and
// bare grain gives next to none.
func TestFaintLongLine(t *testing.T) {
	const grain = 0.03
	s := surfaceOf(t, leatherScene{grain, map[hide.Light]func(x, y float64) float64{hide.Top: stroke(120, 80, 280, 190, -2*grain)}}.input(t))
	found, err := s.lineCandidates(DefaultParams())
	require.NoError(t, err)
	require.NotEmpty(t, found)
	const steps = 50
	seen := 0
	for k := range steps {
		share := (float64(k) + 0.5) / steps
		q := at(120+160*share, 80+110*share)
		if slices.ContainsFunc(found, func(c candidate) bool { return gap(&c, q) < 3 }) {
			seen++
		}
	}
	require.GreaterOrEqual(t, seen, steps*6/10)
	bare := surfaceOf(t, leatherScene{grain, map[hide.Light]func(x, y float64) float64{hide.Top: plain}}.input(t))
	chance, err := bare.lineCandidates(DefaultParams())
	require.NoError(t, err)
	require.LessOrEqual(t, len(chance), 2) // on 0.12 m²
}

// Relief shows only under raking light, as a step: a ridge lit from the east is
// light on one side and dark on the other.
func TestReliefLine(t *testing.T) {
	ridge := func(x, y float64) float64 { return 0.1 * (x - 200) / 1.2 * math.Exp(-(x-200)*(x-200)/(2*1.2*1.2)) }
	scene := leatherScene{0.02, map[hide.Light]func(x, y float64) float64{hide.Top: plain, hide.RakeE: func(x, y float64) float64 {
		if y < 80 || y > 220 {
			return 0
		}
		return ridge(x, y)
	}}}
	s := surfaceOf(t, scene.input(t))
	found, err := s.lineCandidates(DefaultParams())
	require.NoError(t, err)
	require.NotEmpty(t, found)
	x := found[0].x
	require.Greater(t, x[fRakeStep], 3*math.Abs(x[fTopTone]))
	require.InDelta(t, 200, float64(found[0].middle().X), 1.5)
}

// Planted spots of 2 mm radius are found at their places and joined to one
// cluster.
func TestBiteCluster(t *testing.T) {
	places := []hide.Point{at(200, 150), at(215, 160), at(225, 140), at(190, 130), at(240, 155)}
	s := surfaceOf(t, leatherScene{0.02, map[hide.Light]func(x, y float64) float64{hide.Top: func(x, y float64) float64 {
		for _, p := range places {
			if d := float64(p.Distance(at(x, y))); d < 2 {
				return -0.25
			}
		}
		return 0
	}}}.input(t))
	lines, err := s.lineCandidates(DefaultParams())
	require.NoError(t, err)
	spots, err := s.spots(DefaultParams())
	require.NoError(t, err)
	found, err := s.spotCandidates(spots, withoutSpotLines(lines, spots), DefaultParams())
	require.NoError(t, err)
	require.NotEmpty(t, found)
	require.Equal(t, len(places), found[0].count)
	require.InEpsilon(t, 5*math.Pi*4, float64(found[0].shape.Area()), 0.5)
}

// A stain with a border is traced; mottling as deep but without one is not.
func TestStainAgainstMottling(t *testing.T) {
	blob := func(x, y float64) float64 { return -0.2 / (1 + math.Exp((math.Hypot(x-140, y-150)-25)/0.7)) }
	soft := func(x, y float64) float64 { return -0.2 * math.Exp(-math.Pow(math.Hypot(x-290, y-150)/25, 2)/2) }
	s := surfaceOf(t, leatherScene{0.02, map[hide.Light]func(x, y float64) float64{hide.Top: func(x, y float64) float64 { return blob(x, y) + soft(x, y) }}}.input(t))
	found, err := s.patches(DefaultParams())
	require.NoError(t, err)
	require.NotEmpty(t, found)
	require.InEpsilon(t, math.Pi*625, float64(found[0].shape.Area()), 0.1)
	require.InDelta(t, 140, float64(plane.MinRectangle(hide.Shape{found[0].shape}).Centre.X), 2)
}

// Ripples of 6 mm under raking light over a part of the leather are found.
func TestLooseArea(t *testing.T) {
	s := surfaceOf(t, leatherScene{0.02, map[hide.Light]func(x, y float64) float64{hide.RakeN: func(x, y float64) float64 {
		return 0.12 * math.Sin(y*2*math.Pi/6+0.3*math.Sin(x/7)) / (1 + math.Exp((math.Hypot(x-110, y-110)-60)/3))
	}}}.input(t))
	found, err := s.looseAreas(DefaultParams())
	require.NoError(t, err)
	require.NotEmpty(t, found)
	require.InEpsilon(t, math.Pi*3600, float64(found[0].shape.Area()), 0.4)
	require.InDelta(t, 110, float64(plane.MinRectangle(hide.Shape{found[0].shape}).Centre.X), 12)
}

// A spot that lets more light through shows under back light, once and where it is, however wide: the
// tone of each falls off as a Gaussian of this deviation in mm.
func TestThinSpotsOfEveryWidth(t *testing.T) {
	for _, wide := range []float64{4, 9, 20} {
		s := surfaceOf(t, leatherScene{0.05, map[hide.Light]func(x, y float64) float64{hide.Back: func(x, y float64) float64 {
			return 0.3 * math.Exp(-math.Pow(math.Hypot(x-200, y-150)/wide, 2)/2)
		}}}.input(t))
		found, err := s.thinSpots(DefaultParams())
		require.NoError(t, err)
		require.NotEmpty(t, found, wide)
		require.True(t, plane.Contains(found[0].shape, at(200, 150)), "the highest score first")
		require.InEpsilon(t, 2.355*wide, float64(plane.MinRectangle(hide.Shape{found[0].shape}).Width), 0.35, "its full width at half its height")
		for _, a := range found[1:] {
			require.False(t, boxOf(hide.Shape{a.shape}).overlaps(boxOf(hide.Shape{found[0].shape})))
		}
	}
}

// The same candidates in the same order on one core and on two.
func TestSameOnAnyNumberOfCores(t *testing.T) {
	in := leatherScene{0.03, map[hide.Light]func(x, y float64) float64{hide.Top: stroke(120, 80, 280, 190, -0.1), hide.RakeE: stroke(100, 200, 300, 210, 0.1)}}.input(t)
	var all [2]string
	for k := range all {
		before := runtime.GOMAXPROCS(k + 1)
		found, err := Candidates(t.Context(), in, DefaultParams())
		require.NoError(t, err)
		runtime.GOMAXPROCS(before)
		for _, c := range found {
			all[k] += fmt.Sprintln(c.Shape, c.Features) // missing features are NaN, which equals nothing
		}
	}
	require.NotEmpty(t, all[0])
	require.Equal(t, sha256.Sum256([]byte(all[0])), sha256.Sum256([]byte(all[1])), "the candidates differ")
}

func TestParamsNameEveryFault(t *testing.T) {
	require.NoError(t, DefaultParams().Validate())
	err := Params{}.Validate()
	require.ErrorIs(t, err, hide.Invalid)
	require.ErrorContains(t, err, "work pixel")
	require.ErrorContains(t, err, "thin score")
}

// Ripples become one loose area; a second outline of a scar goes, the scar stays.
func TestMerged(t *testing.T) {
	box := func(x, y, w, h hide.MM) hide.Shape {
		return hide.Shape{{Outer: hide.Ring{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + h}, {X: x, Y: y + h}}}}
	}
	defect := func(k hide.Kind, p float64, s hide.Shape) hide.Defect {
		return hide.Defect{Kind: k, Probability: p, Geometry: s, Area: s.Area()}
	}
	out, err := merged([]hide.Defect{
		defect(hide.Loose, 0.6, box(0, 0, 100, 4)), defect(hide.Loose, 0.9, box(0, 12, 100, 4)),
		defect(hide.Scar, 0.8, box(20, 5, 40, 3)), defect(hide.Scratch, 0.7, box(22, 5, 36, 3)),
	})
	require.NoError(t, err)
	require.Len(t, out, 2)
	require.Equal(t, hide.Loose, out[0].Kind)
	require.InDelta(t, 0.9, out[0].Probability, 0)
	require.Greater(t, float64(out[0].Area), 1500.0)
	require.Equal(t, hide.Scar, out[1].Kind)
}
