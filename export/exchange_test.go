package export

import (
	"bytes"
	"encoding/json"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/plane"
)

func sampleLights(mmPerPX hide.MM) Lights {
	return Lights{Format: LightsFormat, Hide: "H", Left: 431.5, Top: 2050.25, MMPerPX: mmPerPX, Width: int(2400 / mmPerPX), Height: int(1700 / mmPerPX),
		Pictures: []LightPicture{{hide.Top, LightFile(hide.Top), strings.Repeat("3d", 32)}, {hide.RakeE, LightFile(hide.RakeE), strings.Repeat("4e", 32)}}}
}

// Written and read back, every shape, kind, status and number is equal, at
// several scales of the picture.
func TestWebAnnotationsComeBackEqual(t *testing.T) {
	for _, scale := range []hide.MM{0.5, 0.7, 0.3, 1.3} {
		c, l := settled(sampleChart("H & Söhne <1>")), sampleLights(scale)
		c.Defects[3].Status, c.Defects[4].Status = hide.Rejected, hide.Confirmed
		var b bytes.Buffer
		require.NoError(t, WriteWebAnnotations(&b, c, l))
		got, err := ReadWebAnnotations(b.Bytes(), l)
		require.NoError(t, err)
		require.Len(t, got, len(c.Defects))
		for i, d := range c.Defects {
			assert.Equal(t, Annotated{Defect: d.ID, Kind: d.Kind, Status: d.Status, Open: d.Open, Shape: d.Geometry}, got[i], "%s at %g", d.Kind, scale)
		}
	}
}

// The keys are those of the W3C Recommendation "Web Annotation Data Model" (23 February
// 2017): 3.1 an annotation has exactly this @context, an id, the type Annotation, 0 or more bodies and a target;
// 3.2.4 TextualBody; 3.3.5 motivations; 4.2.8 SvgSelector with its SVG in value; the picture named by RFC 6920, whose
// section 8.1 gives "ni:///sha-256;…" with base64url without padding.
func TestWebAnnotationFollowsTheRecommendation(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, WriteWebAnnotations(&b, sampleChart("H"), sampleLights(0.5)))
	var page map[string]any
	require.NoError(t, json.Unmarshal(b.Bytes(), &page))
	context, ok := page["@context"].([]any)
	require.True(t, ok)
	assert.Equal(t, "http://www.w3.org/ns/anno.jsonld", context[0])
	assert.Equal(t, "AnnotationPage", page["type"])
	items, ok := page["items"].([]any)
	require.True(t, ok)
	for _, it := range items {
		a, ok := it.(map[string]any)
		require.True(t, ok)
		assert.Equal(t, "Annotation", a["type"])
		assert.NotEmpty(t, a["id"])
		assert.Contains(t, []any{"classifying", "identifying", "tagging"}, a["motivation"])
		target, ok := a["target"].(map[string]any)
		require.True(t, ok)
		assert.Regexp(t, `^ni:///sha-256;[A-Za-z0-9_-]{43}$`, target["source"])
		selector, ok := target["selector"].(map[string]any)
		require.True(t, ok)
		assert.Equal(t, "SvgSelector", selector["type"])
		assert.Contains(t, selector["value"], `<svg xmlns="http://www.w3.org/2000/svg">`)
	}
	// RFC 6920, section 8.1: the hash of "Hello World!"
	name, err := pictureName("7f83b1657ff1fc53b92dc18148a1d65dfc2d4b1fa3d677284addd200126d9069")
	require.NoError(t, err)
	assert.Equal(t, "ni:///sha-256;f4OxZX_x_FO5LcGBSKHWXfwtSx-j1ncoSt3SABJtkGk", name)
}

// SVG from outside gives numbers and nothing else.
func TestSelectorFromOutside(t *testing.T) {
	g := sampleLights(1).Grid()
	s, err := readSelector(`<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"><script>alert(2)</script><a href="javascript:alert(3)"><rect x="10" y="20" width="30" height="40" onclick="x()"/></a>
		<image href="http://evil.example/x.png"/><foreignObject><body onload="y()"/></foreignObject><style>*{background:url(http://evil.example)}</style></svg>`, g)
	require.NoError(t, err)
	require.Len(t, s, 1)
	assert.InDelta(t, 30*40, float64(s.Area()), 1e-6)
	s, err = readSelector(`<svg><path d="M0 0h100v100h-100z M40 40v20h20v-20z"/><circle cx="300" cy="300" r="50"/></svg>`, g)
	require.NoError(t, err)
	assert.InDelta(t, 100*100-20*20+3.14159265*50*50, float64(s.Area()), 0.0005*8000, "a circle of 180 corners is 0.02 % small")
	for name, bad := range map[string]string{
		"entities":     `<!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;">]><svg><path d="&b;"/></svg>`,
		"transform":    `<svg><g transform="scale(2)"><rect width="5" height="5"/></g></svg>`,
		"nothing":      `<svg><text>hello</text></svg>`,
		"no xml":       `<svg><path d="M0 0`,
		"far":          `<svg><path d="M0 0L1e300 0L0 1e300z"/></svg>`,
		"not a number": `<svg><path d="M0 0LNaN 0L0 5z"/></svg>`,
	} {
		_, err := readSelector(bad, g)
		require.ErrorIs(t, err, hide.Invalid, name)
	}
}

// Polygons come back equal; a shape with a hole, written as runs, comes back as
// the outline of the same pixels, and once more gives the same runs.
func TestCOCOComesBackEqual(t *testing.T) {
	c, l := settled(sampleChart("H")), sampleLights(0.5)
	var b bytes.Buffer
	require.NoError(t, WriteCOCO(&b, c, l))
	got, err := ReadCOCO(b.Bytes(), l)
	require.NoError(t, err)
	require.Len(t, got, len(c.Defects))
	holes := 0
	for i, d := range c.Defects {
		a := got[i]
		assert.Equal(t, []any{d.ID, d.Kind, d.Status, d.Open}, []any{a.Defect, a.Kind, a.Status, a.Open})
		if len(d.Geometry[0].Holes) == 0 {
			assert.Equal(t, d.Geometry, a.Shape, d.Kind)
			continue
		}
		holes++
		want := maskOf(d.Geometry, l.Grid())
		assert.Equal(t, want.counts(), maskOf(a.Shape, l.Grid()).counts(), d.Kind)
		assert.Len(t, a.Shape[0].Holes, 1)
		assert.InDelta(t, float64(d.Geometry.Area()), float64(a.Shape.Area()), 0.02*float64(d.Geometry.Area()), "pixels of 0.25 mm²")
	}
	assert.Greater(t, holes, 3)
}

// The example of the data set's own tools (cocoapi, PythonAPI/pycocotools/mask.py, at its head): the mask
// [0 0 1 1 1 0 1] is [2 3 1 1], and [1 1 1 1 1 1 0] is [0 6 1]. The compressed text and its runs are from those tools'
// tests (from memory: size 9 × 10, "61X13mN000`0"), which says that from the fourth number on each is the difference to the one two before.
func TestRunLengthsOfTheDataSet(t *testing.T) {
	for _, x := range []struct{ bits, counts []int }{
		{[]int{0, 0, 1, 1, 1, 0, 1}, []int{2, 3, 1, 1}},
		{[]int{1, 1, 1, 1, 1, 1, 0}, []int{0, 6, 1}},
	} {
		m, err := maskFrom(x.counts, 1, 7)
		require.NoError(t, err)
		bits := make([]int, 7)
		for _, r := range m.runs {
			for i := r.from; i < r.to; i++ {
				bits[i] = 1
			}
		}
		assert.Equal(t, x.bits, bits)
		assert.Equal(t, x.counts, m.counts())
	}
	got, err := countsFromText("61X13mN000`0")
	require.NoError(t, err)
	assert.Equal(t, []int{6, 1, 40, 4, 5, 4, 5, 4, 21}, got)
}

// Runs of any mask, read and written, are the same; over column ends as well.
func TestRunLengthsOfAnyMask(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		w, h := 1+r.IntN(7), 1+r.IntN(7)
		var counts []int
		for left := w * h; left > 0; {
			n := 1 + r.IntN(left)
			if len(counts) == 0 && r.IntN(2) == 0 {
				n = 0
			}
			counts = append(counts, n)
			left -= n
		}
		m, err := maskFrom(counts, w, h)
		require.NoError(t, err)
		assert.Equal(t, counts, m.counts())
		if len(m.runs) == 0 {
			continue
		}
		l := sampleLights(1)
		l.Width, l.Height = w, h
		s, err := m.shape(l.Grid())
		require.NoError(t, err)
		assert.InDelta(t, m.area(), float64(s.Area()), 1e-6)
		for _, p := range s {
			require.NoError(t, plane.IsValid(p))
		}
		assert.Equal(t, counts, maskOf(s, l.Grid()).counts())
	}
}

func TestAnnotationsThatCannotBe(t *testing.T) {
	l := sampleLights(0.5)
	for name, bad := range map[string]string{
		"not json":      `{`,
		"other type":    `{"type":"Collection"}`,
		"other picture": `{"type":"Annotation","body":{"type":"TextualBody","value":"scar","purpose":"tagging"},"target":{"source":"ni:///sha-256;x","selector":{"type":"SvgSelector","value":"<svg><rect width=\"5\" height=\"5\"/></svg>"}}}`,
		"other kind":    `{"type":"Annotation","body":{"type":"TextualBody","value":"dent","purpose":"tagging"},"target":{"source":"urn:sha256:` + strings.Repeat("3d", 32) + `","selector":{"type":"SvgSelector","value":"<svg><rect width=\"5\" height=\"5\"/></svg>"}}}`,
		"a box":         `{"type":"Annotation","body":{"type":"TextualBody","value":"scar","purpose":"tagging"},"target":{"source":"urn:sha256:` + strings.Repeat("3d", 32) + `","selector":{"type":"FragmentSelector","value":"xywh=0,0,5,5"}}}`,
	} {
		_, err := ReadWebAnnotations([]byte(bad), l)
		require.ErrorIs(t, err, hide.Invalid, name)
	}
	for name, bad := range map[string]string{
		"no image": `{"images":[],"annotations":[]}`,
		"runs":     `{"images":[{"id":1,"sha256":"` + strings.Repeat("3d", 32) + `"}],"categories":[{"id":1,"name":"scar"}],"annotations":[{"image_id":1,"category_id":1,"segmentation":{"counts":[5,-1],"size":[3400,4800]}}]}`,
		"size":     `{"images":[{"id":1,"sha256":"` + strings.Repeat("3d", 32) + `"}],"categories":[{"id":1,"name":"scar"}],"annotations":[{"image_id":1,"category_id":1,"segmentation":{"counts":[6],"size":[2,3]}}]}`,
	} {
		_, err := ReadCOCO([]byte(bad), l)
		require.ErrorIs(t, err, hide.Invalid, name)
	}
}

func FuzzReadSelector(f *testing.F) {
	g := sampleLights(0.5).Grid()
	for _, seed := range []string{`<svg><path d="M0 0h100v100z"/></svg>`, `<svg><path d="M0 0A5 5 0 0 1 9 9C1 2 3 4 5 6Q1 2 3 4z"/></svg>`, `<svg><circle r="1e9"/></svg>`, `<svg><polygon points="0,0 5,0 5,5"/></svg>`} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, svg string) {
		s, err := readSelector(svg, g)
		if err == nil && len(s) == 0 {
			t.Skip("an empty area")
		}
	})
}

func FuzzReadCOCO(f *testing.F) {
	l := sampleLights(100)
	for _, seg := range []string{`[[0,0,5,0,5,5]]`, `{"counts":[100,5,303],"size":[17,24]}`, `{"counts":"61X13mN000` + "`" + `0","size":[17,24]}`} {
		f.Add([]byte(`{"images":[{"id":1,"sha256":"` + strings.Repeat("3d", 32) + `"}],"categories":[{"id":1,"name":"scar"}],"annotations":[{"image_id":1,"category_id":1,"segmentation":` + seg + `}]}`))
	}
	f.Fuzz(func(_ *testing.T, data []byte) { _, _ = ReadCOCO(data, l) })
}

func FuzzParseReview(f *testing.F) {
	f.Add([]byte("{\"format\":\"hidechart review 1\",\"seq\":1,\"who\":\"A\",\"act\":\"note\",\"text\":\"x\"}\n"))
	f.Add([]byte("{}\n{"))
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := ParseReview(data)
		if err == nil && int(r.Good)+len(r.Damaged) != len(data) {
			t.Fatalf("%d bytes whole, %d damaged, of %d", r.Good, len(r.Damaged), len(data))
		}
		hide.Fold(sampleChart("H"), "", r.Decisions, "")
	})
}
