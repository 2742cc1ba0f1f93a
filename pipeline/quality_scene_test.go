package pipeline

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/calibrate"
	"hidechart/hide"
	"hidechart/pix"
	"hidechart/scene"
)

// qualityCodes are the flags that tell of a bad photograph.
func qualityCodes() []string {
	return []string{"blurred", "clipped", "dark", "uneven", "tag_hidden", "tag_moved", "near_frame", "not_flat", "few_tags", "light_moved",
		"camera_unchecked", "tag_unknown", "white_clipped"}
}

// qualityFlags are those of a capture's flags, by code.
func qualityFlags(flags []hide.Flag) map[string]hide.Flag {
	out := map[string]hide.Flag{}
	for _, f := range flags {
		if slices.Contains(qualityCodes(), f.Code) {
			out[f.Code] = f
		}
	}
	return out
}

// faultCase is a fault, the flag that it must raise and the figure's truth.
type faultCase struct {
	name, code   string
	fault        scene.Fault
	edit         func(t *testing.T, dir string)
	value, share float64 // share of value by which the figure may be off
	text         string
	with         []string // flags that the fault raises as well
	short        bool
}

// One hide photographed with every fault: each raises its flag with a figure
// near the truth, and no other; the capture without a fault raises none.
func TestFaultsRaiseTheirFlags(t *testing.T) {
	u, err := scene.NewStudio(t.Context(), faultySpec())
	require.NoError(t, err)
	dir := t.TempDir()
	clean := takeMeasured(t, u, scene.Fault{}, dir)
	require.Empty(t, qualityFlags(clean.Flags), "without a fault")
	for _, c := range faultCases(t, u, clean, dir) {
		t.Run(c.name, func(t *testing.T) {
			if testing.Short() && !c.short {
				t.Skip("short")
			}
			dir := t.TempDir()
			if c.fault.Lights == nil {
				c.fault.Lights = []hide.Light{hide.Top}
			}
			got := takeEdited(t, u, c.fault, c.edit, dir)
			flags := qualityFlags(got.Flags)
			require.Contains(t, flags, c.code)
			f := flags[c.code]
			t.Logf("%s: %.2f %s, true %.2f", c.code, f.Value, f.Unit, c.value)
			require.InEpsilon(t, c.value, f.Value, c.share)
			require.Contains(t, f.Text, c.text)
			for code := range flags {
				require.Contains(t, append(c.with, c.code), code, f.Text)
			}
		})
	}
}

// Beyond what can be measured the fault is named.
func TestOverexposedIsNamed(t *testing.T) {
	if testing.Short() {
		t.Skip("short")
	}
	u, err := scene.NewStudio(t.Context(), faultySpec())
	require.NoError(t, err)
	dir := t.TempDir()
	require.NoError(t, u.Take(t.Context(), scene.Fault{Exposure: 4, Lights: []hide.Light{hide.Top}}, dir))
	c, err := OpenCapture(dir)
	require.NoError(t, err)
	_, err = MeasureArea(t.Context(), c, "", DefaultParams())
	require.ErrorIs(t, err, hide.NotMeasurable)
	require.ErrorContains(t, err, "overexposed")
}

// faultySpec is a small table, so that tags are large in small photographs.
func faultySpec() scene.Spec {
	no := false
	return scene.Spec{Seed: 20, WidthPX: 1200, TableMM: [2]float64{1800, 1400}, Tags: 12, Article: "aniline tan", Table: "black", Side: &no, Defects: -1, NoLookAlikes: true,
		Lights: []hide.Light{hide.Top, hide.RakeN, hide.RakeE}}
}

// takeMeasured photographs with a fault and measures.
func takeMeasured(t *testing.T, u *scene.Studio, f scene.Fault, dir string) AreaMeasured {
	t.Helper()
	return takeEdited(t, u, f, nil, dir)
}

func takeEdited(t *testing.T, u *scene.Studio, f scene.Fault, edit func(*testing.T, string), dir string) AreaMeasured {
	t.Helper()
	require.NoError(t, u.Take(t.Context(), f, dir))
	if edit != nil {
		edit(t, dir)
	}
	c, err := OpenCapture(dir)
	require.NoError(t, err)
	p := DefaultParams()
	p.MMPerPX, p.CoarseMMPerPX = 1.2, 3 // flags need no finer raster, and it takes a quarter of the time
	m, err := MeasureArea(t.Context(), c, "", p)
	require.NoError(t, err)
	return m
}

func faultCases(t *testing.T, u *scene.Studio, clean AreaMeasured, cleanDir string) []faultCase {
	pixel := u.PixelMM()
	tags := u.Tags()
	middle := centreOf(u.Outline())
	papers := paperLights(t, clean, u, cleanDir)
	white := papers[len(papers)/2]
	cut := 0
	for _, v := range papers {
		if 2.5*v >= 1 {
			cut++
		}
	}
	lamp := [3]float64{-300, 900, 1000}
	hill := scene.Wave{At: middle, Height: 15, Width: 60, Length: 60}
	fold := scene.Wave{At: middle, Height: 20, Width: 45, Length: 300, TurnDeg: 50}
	glare := 120.0 // mm, radius
	all := []hide.Light{hide.Top, hide.RakeN, hide.RakeE}
	return []faultCase{
		// the pixel's own square is part of the blur: 1/12 px²
		{name: "out of focus", code: "blurred", fault: scene.Fault{BlurPX: 2.2}, value: math.Sqrt(2.2*2.2+1./12) * pixel, share: 0.1, text: "focus", short: true},
		// a box of n pixels has the variance (n² − 1)/12; the lens's own 0.4 px comes on top. The
		// band beside a tag's edge is no wider here than the smear: read too high
		{name: "shaken", code: "blurred", fault: scene.Fault{ShakePX: 6}, value: math.Sqrt(35./12+.2) * pixel, share: 0.7, text: "moved while the shutter"},
		{name: "underexposed", code: "dark", fault: scene.Fault{Exposure: 0.15}, value: 100 * 0.15 * white, share: 0.1, text: "expose longer", short: true},
		// one bare lamp: light falls with the cube of the distance over its height (Lambert, inverse squares)
		{name: "one lamp", code: "uneven", fault: scene.Fault{Lamp: &lamp, Exposure: 0.3}, value: 100 * evenness(lamp, tags), share: 0.05, with: []string{"dark"}},
		{name: "glare", code: "clipped", edit: func(t *testing.T, dir string) { whiten(t, dir, clean, middle, glare) },
			value: 100 * math.Pi * glare * glare / float64(clean.Outline.Area()), share: 0.08, text: "overexposed"},
		{name: "overexposed", code: "white_clipped", fault: scene.Fault{Exposure: 2.5}, value: float64(cut), share: 0.13, with: []string{"clipped"}},
		{name: "covered tags", code: "tag_hidden", fault: scene.Fault{Covered: []int{1, 6}}, value: 2, share: 1e-9, text: "1, 6"},
		{name: "few tags", code: "few_tags", fault: scene.Fault{Covered: []int{4, 5, 6, 7, 8, 9, 10}}, value: 5, share: 1e-9, with: []string{"tag_hidden"}},
		{name: "tag moved", code: "tag_moved", fault: scene.Fault{Moved: map[int]hide.Point{5: {X: 3, Y: -4}}}, value: 5, share: 0.05, text: "tag 5", short: true},
		{name: "near the border", code: "near_frame", fault: scene.Fault{NearMM: 14}, value: 14, share: 0.05, with: []string{"few_tags"}},
		{name: "camera pushed", code: "light_moved", fault: scene.Fault{Lights: []hide.Light{hide.Top, hide.RakeE}, Pushed: map[hide.Light]float64{hide.RakeE: 12}}, value: 12, share: 0.05, text: "rake-e"},
		// the lamps' height is not known: a factor of 2 either way
		{name: "hill", code: "not_flat", fault: scene.Fault{Lights: all, Waves: []scene.Wave{hill}}, value: hill.Height, share: 0.5, text: "rake-n and rake-e", short: true},
		{name: "fold", code: "not_flat", fault: scene.Fault{Lights: all, Waves: []scene.Wave{fold}}, value: fold.Height, share: 0.5},
	}
}

// centreOf is the mean of a ring's vertices.
func centreOf(r hide.Ring) hide.Point {
	var c hide.Point
	for _, p := range r {
		c.X, c.Y = c.X+p.X/hide.MM(len(r)), c.Y+p.Y/hide.MM(len(r))
	}
	return c
}

// evenness is the least light at a tag against the most.
func evenness(lamp [3]float64, tags map[int]hide.Point) float64 {
	near, far := math.Inf(1), 0.0
	for _, p := range tags {
		d := math.Sqrt(math.Pow(lamp[0]-float64(p.X), 2) + math.Pow(lamp[1]-float64(p.Y), 2) + lamp[2]*lamp[2])
		near, far = min(near, d), max(far, d)
	}
	q := near / far
	return q * q * q
}

// paperLights are the linear light, of full scale, of the tag sheets' white as the photograph has
// it, a pixel of each tag's rim, sorted.
func paperLights(t *testing.T, m AreaMeasured, u *scene.Studio, dir string) []float64 {
	im := decoded(t, filepath.Join(dir, "top.jpg"))
	data, err := os.ReadFile(filepath.Join(dir, rigName))
	require.NoError(t, err)
	rig, err := calibrate.ParseRig(data)
	require.NoError(t, err)
	var all []float64
	for _, c := range u.Tags() {
		at := m.View.Project(c.X, c.Y+rig.TagEdge*9/16, 0) // the middle of the white ring
		r, g, b, _ := im.At(int(at.X+.5), int(at.Y+.5)).RGBA()
		all = append(all, .2126*linearOf(r)+.7152*linearOf(g)+.0722*linearOf(b)) // ITU-R BT.709
	}
	slices.Sort(all)
	return all
}

// linearOf decodes sRGB (IEC 61966-2-1).
func linearOf(v uint32) float64 {
	s := float64(v) / 65535
	if s <= 0.04045 {
		return s / 12.92
	}
	return math.Pow((s+.055)/1.055, 2.4)
}

func decoded(t *testing.T, path string) image.Image {
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	im, err := jpeg.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	return im
}

// whiten paints a glare: a disc on the hide that is cut off.
func whiten(t *testing.T, dir string, m AreaMeasured, at hide.Point, radius float64) {
	path := filepath.Join(dir, "top.jpg")
	src := decoded(t, path)
	im := image.NewRGBA(src.Bounds())
	draw.Draw(im, im.Rect, src, image.Point{}, draw.Src)
	for y := range im.Rect.Dy() {
		for x := range im.Rect.Dx() {
			p := m.View.Ground(pix.Point{X: hide.PX(x), Y: hide.PX(y)}, m.Height)
			if float64(p.Distance(at)) <= radius {
				im.Set(x, y, color.RGBA{R: 255, G: 230, B: 190, A: 255}) // leather keeps some of its hue
			}
		}
	}
	var out bytes.Buffer
	require.NoError(t, jpeg.Encode(&out, im, &jpeg.Options{Quality: 95}))
	require.NoError(t, os.WriteFile(path, out.Bytes(), 0o600))
}
