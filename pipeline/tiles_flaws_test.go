package pipeline

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/calibrate"
	"hidechart/hide"
	"hidechart/plane"
	"hidechart/scene"
	"hidechart/score"
)

// flawedSide is a side with flaws on a table small enough for a test: a pixel is
// a millimetre on it.
func flawedSide(width int) scene.Spec {
	side := true
	return scene.Spec{Seed: 77, WidthPX: width, TableMM: [2]float64{1500, 1200}, Lights: []hide.Light{hide.Top, hide.Back, hide.RakeN},
		Side: &side, Tags: 20, Defects: 2, Contrast: 2, NoLookAlikes: true}
}

func quarters() scene.Tiling { return scene.Tiling{Across: 2, Up: 2, Overlap: 0.15, Exposure: 0.3} }

// charted is a capture's chart, and how much each photograph makes up of it.
func charted(t *testing.T, dir string) (hide.Chart, calibrate.Mosaic, hide.MM) {
	t.Helper()
	c, err := OpenCapture(dir)
	require.NoError(t, err)
	in, err := readInputs(c, "", DefaultParams())
	require.NoError(t, err)
	m, err := measure(t.Context(), in, DefaultParams(), false, func(string) {})
	require.NoError(t, err)
	defer m.Close()
	require.NoError(t, m.sortDefects())
	return m.toChart("test"), m.fit.Mosaic(), m.height
}

// A hide with flaws in one photograph and in four, each under top, back and
// raking light: the same area and holes; as many flaws found or more; those that stand out
// have their like within a millimetre; none come of the seams. Which kind a flaw is
// given turns on little where it is seen a millimetre coarse, so kinds may differ here and there.
func TestTilesShowTheSameFlaws(t *testing.T) {
	one, four := t.TempDir(), t.TempDir()
	require.NoError(t, scene.Render(t.Context(), flawedSide(1500), one))
	require.NoError(t, scene.RenderTiles(t.Context(), flawedSide(1000), quarters(), four))
	truth, err := score.ReadTruth(four)
	require.NoError(t, err)
	a, _, _ := charted(t, one)
	b, mosaic, height := charted(t, four)
	ra, err := score.Compare(a, truth)
	require.NoError(t, err)
	rb, err := score.Compare(b, truth)
	require.NoError(t, err)
	before, _ := crossing(a, mosaic, height)
	inside, share := crossing(b, mosaic, height)
	l := alike(a.Defects, b.Defects)
	t.Logf("area %+.4f %% and %+.4f %% of the truth; %d and %d of %d flaws found, kind right %.2f and %.2f, %d and %d false; %d of %d that stand out covered, %d of the same kind, median %.2f mm apart; on the %.0f %% of the hide where photographs cross %d of %d candidates, of one photograph %d of %d",
		100*(float64(a.Area.Value/truth.Area)-1), 100*(float64(b.Area.Value/truth.Area)-1), ra.Found, rb.Found, ra.TruthDefects, *ra.KindAccuracy, *rb.KindAccuracy,
		ra.FalseCandidates, rb.FalseCandidates, l.covered, l.n, l.sameKind, l.apart, 100*share, inside, len(b.Defects), before, len(a.Defects))
	require.InDelta(t, 1, float64(b.Area.Value/a.Area.Value), 0.001)
	require.Greater(t, ra.Found, ra.TruthDefects/2)
	// one in ten of what is found lies at the limit of being seen; the four are finer and may show more
	require.GreaterOrEqual(t, rb.Found, ra.Found-3)
	require.LessOrEqual(t, rb.FalseCandidates, ra.FalseCandidates+3)
	require.GreaterOrEqual(t, float64(l.covered), 0.85*float64(l.n))
	// of these few, kinds scatter by a tenth from photograph to photograph: half are the same, and as right but for the
	// chance of counting, two standard errors of the difference of two shares
	require.GreaterOrEqual(t, float64(l.sameKind), 0.5*float64(l.n))
	chance := func(r score.Result) float64 { return *r.KindAccuracy * (1 - *r.KindAccuracy) / float64(r.Found) }
	require.GreaterOrEqual(t, *rb.KindAccuracy, *ra.KindAccuracy-2*math.Sqrt(chance(ra)+chance(rb)))
	require.Less(t, l.apart, 1.5) // a pixel and a half of the coarser photographs
	require.NotEmpty(t, a.Outline.Holes)
	for _, h := range a.Outline.Holes { // the four may show smaller ones besides
		require.True(t, slices.ContainsFunc(b.Outline.Holes, func(o hide.Ring) bool { return ringCentre(h).Distance(ringCentre(o)) < 1 }))
	}
	// no more than one photograph shows there, but for the chance of counting
	require.LessOrEqual(t, float64(inside), float64(before)+3*math.Sqrt(float64(before)+1))
	t.Run("with a lens file", func(t *testing.T) { tilesWithLens(t, four, b.Area) })
	t.Run("from other places", func(t *testing.T) { tilesSwapped(t, four, b.Area) })
}

// coarse is the settings for an area in a second or two.
func coarse() Params {
	p := DefaultParams()
	p.MMPerPX = 1.5
	return p
}

// tilesWithLens measures again with the camera's lens in a file: the area is the
// same within both uncertainties, and no longer said to be from the tags' own lens.
func tilesWithLens(t *testing.T, dir string, without hide.Area) {
	data, err := os.ReadFile(filepath.Join(dir, "camera.1.json"))
	require.NoError(t, err)
	var c struct {
		K    [3][3]float64
		D    [5]float64
		Size [2]int
	}
	require.NoError(t, json.Unmarshal(data, &c))
	lens, err := calibrate.LensFile{SizePX: c.Size,
		Terms: calibrate.LensTerms{FX: c.K[0][0], FY: c.K[1][1], CX: c.K[0][2], CY: c.K[1][2], K1: c.D[0], K2: c.D[1], P1: c.D[2], P2: c.D[3]},
		U:     calibrate.LensTerms{FX: 1, FY: 1, CX: 1, CY: 1, K1: 1e-3, K2: 2e-3, P1: 5e-5, P2: 5e-5}}.Encode()
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "lens.yaml"), lens, 0o600))
	rig, err := os.ReadFile(filepath.Join(dir, "rig.yaml"))
	require.NoError(t, err)
	path := filepath.Join(dir, "rig-lens.yaml")
	require.NoError(t, os.WriteFile(path, append(rig, "lens: lens.yaml\n"...), 0o600))
	capture, err := OpenCapture(dir)
	require.NoError(t, err)
	with, err := MeasureArea(t.Context(), capture, path, coarse())
	require.NoError(t, err)
	t.Logf("area %+.4f %% of that without", 100*(float64(with.Area.Value/without.Value)-1))
	require.InDelta(t, float64(without.Value), float64(with.Area.Value), 2*math.Hypot(float64(without.U), float64(with.Area.U)))
	require.False(t, slices.ContainsFunc(with.Flags, func(f hide.Flag) bool { return f.Code == "lens_from_tags" }))
}

// tilesSwapped measures again with the tiles of back light in another order, so
// that each was taken from another place than top's of its number: it is posed by its own
// tags.
func tilesSwapped(t *testing.T, dir string, before hide.Area) {
	path := func(k int) string { return filepath.Join(dir, tileName(hide.Back, k)+".jpg") }
	require.NoError(t, os.Rename(path(1), path(9)))
	for k := 1; k < 4; k++ {
		require.NoError(t, os.Rename(path(k+1), path(k)))
	}
	require.NoError(t, os.Rename(path(9), path(4)))
	capture, err := OpenCapture(dir)
	require.NoError(t, err)
	after, err := MeasureArea(t.Context(), capture, "", coarse())
	require.NoError(t, err)
	t.Logf("area %+.4f %% of that in top's order", 100*(float64(after.Area.Value/before.Value)-1))
	require.InDelta(t, float64(before.Value), float64(after.Area.Value), 2*float64(before.U))
}

// likenesses sums up how the candidates of one chart that stand out are found in
// another.
type likenesses struct {
	n, covered, sameKind int
	apart                float64 // mm: median distance of the middles of those of one kind, up to 60 mm long
}

func alike(a, b []hide.Defect) likenesses {
	var out likenesses
	var apart []float64
	for _, d := range a {
		if d.Probability < 0.8 {
			continue
		}
		out.n++
		covered, _ := likeness(d, b)
		if covered >= 0.7 {
			out.covered++
		}
		same := slices.DeleteFunc(slices.Clone(b), func(o hide.Defect) bool { return o.Kind != d.Kind })
		if covered, off := likeness(d, same); covered >= 0.5 {
			out.sameKind++
			if d.Length <= 60 { // longer ones are cut into pieces now and then
				apart = append(apart, float64(off))
			}
		}
	}
	slices.Sort(apart)
	if len(apart) > 0 {
		out.apart = apart[len(apart)/2]
	}
	return out
}

// likeness is the share of a defect that others cover within 2 mm, the rule of docs/score.md, and
// how far the nearest of their middles lies from its own.
func likeness(d hide.Defect, others []hide.Defect) (covered float64, off hide.MM) {
	off = hide.MM(math.Inf(1))
	var near []hide.Shape
	for _, o := range others {
		off = min(off, middle(d.Geometry).Distance(middle(o.Geometry)))
		if wide, err := plane.Buffer(o.Geometry, 2); err == nil {
			near = append(near, wide)
		}
	}
	all, err := plane.Union(near...)
	if err != nil {
		return 0, off
	}
	common, err := plane.Intersection(all, d.Geometry)
	if err != nil {
		return 0, off
	}
	return float64(common.Area() / d.Geometry.Area()), off
}

// crossing counts the candidates in the middle of which no photograph makes up
// nearly all, and the share of the hide where that is so.
func crossing(c hide.Chart, m calibrate.Mosaic, height hide.MM) (candidates int, share float64) {
	mixed := func(p hide.Point) bool {
		most := 0.0
		for _, s := range m.Shares(p, height) {
			most = max(most, s)
		}
		return most < 0.98
	}
	for _, d := range c.Defects {
		if mixed(middle(d.Geometry)) {
			candidates++
		}
	}
	n, k := 0.0, 0.0
	for x := hide.MM(0); x < 1500; x += 10 {
		for y := hide.MM(0); y < 1200; y += 10 {
			if p := (hide.Point{X: x, Y: y}); plane.Contains(c.Outline, p) {
				n++
				if mixed(p) {
					k++
				}
			}
		}
	}
	return candidates, k / n
}
