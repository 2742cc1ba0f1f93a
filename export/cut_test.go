package export

import (
	"encoding/json"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

func boxRing(x0, y0, x1, y1 float64) hide.Ring {
	p := func(x, y float64) hide.Point { return hide.Point{X: hide.MM(x), Y: hide.MM(y)} }
	return hide.Ring{p(x0, y0), p(x1, y0), p(x1, y1), p(x0, y1)}
}

// samplePlan is an invented hide of 2.2 × 1.8 m with two qualities and two pieces,
// one with a cut-out, of known area.
func samplePlan() CutPlan {
	outer := make(hide.Ring, 180)
	for i := range outer {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 180)
		r := 1 + 0.06*math.Cos(8*math.Pi*float64(i)/180*2)
		outer[i] = hide.Point{X: hide.MM(1300 + 1100*r*cos), Y: hide.MM(1100 + 900*r*sin)}
	}
	cut := hide.Shape{{Outer: boxRing(500, 600, 2000, 1600), Holes: []hide.Ring{boxRing(1000, 1000, 1100, 1050)}}}
	piece := hide.Polygon{Outer: boxRing(520, 620, 920, 900), Holes: []hide.Ring{boxRing(600, 700, 650, 750)}}
	grain := [2]hide.Point{{X: 540, Y: 760}, {X: 900, Y: 760}}
	return CutPlan{Hide: "MH-0417-01", Look: "classic", Outline: hide.Polygon{Outer: outer}, Backbone: [2]hide.Point{{X: 200, Y: 1100}, {X: 2400, Y: 1100}}, Cuttable: cut,
		Quality: []QualityArea{{"clean", "clean grain", cut}, {"marked", "healed marks may show", hide.Shape{{Outer: boxRing(500, 1610, 1800, 1700)}}}},
		Pieces:  []CutPiece{{Name: "front", Shape: piece, Grain: &grain}, {Name: "gusset", Turn: 90, Mirror: true, Shape: hide.Polygon{Outer: boxRing(1200, 700, 1300, 1500)}}},
		Notes:   []string{"cuttable 149.5 dm² (10–90 %: 140–152)", "1 whole set"}}
}

func writtenPlan(t *testing.T, name string, write func(io.Writer, CutPlan) error) string {
	t.Helper()
	return written(t, name, hide.Chart{}, func(w io.Writer, _ hide.Chart) error { return write(w, samplePlan()) })
}

// ezdxf 0.18.1 (Debian 12) audits the file without a complaint and finds the rings;
// gdal's areas are those of the plan.
func TestCutDXFAgainstEzdxf(t *testing.T) {
	var audits []dxfAudit
	path := writtenPlan(t, "a.dxf", WriteCutDXF)
	python(t, &audits, "audit_dxf.py", path)
	a := audits[0]
	require.Empty(t, a.Strict.Errors)
	require.Empty(t, a.Strict.Fixes)
	require.Empty(t, a.Recover)
	require.Equal(t, 4, a.Units, "millimetres")
	count := map[string]int{}
	for _, r := range a.Rings {
		count[r.Layer]++
		require.True(t, r.Closed)
	}
	require.Equal(t, map[string]int{"outline": 1, "cuttable": 1, "cuttable holes": 1, "quality clean": 1, "quality marked": 1, "quality holes": 1,
		"pieces": 2, "piece cut-outs": 1}, count)
	areas := ogrAreas(t, path, "SELECT Layer, OGR_GEOM_AREA FROM entities", "Layer")
	require.InDelta(t, 1500*1000, areas["cuttable"][0], 1e-3)
	require.ElementsMatch(t, []float64{400 * 280, 100 * 800}, areas["pieces"])
}

// GeoJSON by gdal: areas with holes taken off; outer rings run counter-clockwise
// (RFC 7946).
func TestCutGeoJSONAgainstGdal(t *testing.T) {
	path := writtenPlan(t, "a.geojson", WriteCutGeoJSON)
	areas := ogrAreas(t, path, "SELECT part, OGR_GEOM_AREA FROM a", "part")
	require.InDelta(t, 1500*1000-100*50, areas["cuttable"][0], 1e-3)
	require.ElementsMatch(t, []float64{400*280 - 50*50, 100 * 800}, areas["piece"])
	require.Len(t, areas["quality"], 2)
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	require.True(t, json.Valid(data))
}

// SVG: the size in mm and the viewBox agree, and the caution is in it.
func TestCutSVG(t *testing.T) {
	data, err := os.ReadFile(writtenPlan(t, "a.svg", WriteCutSVG))
	require.NoError(t, err)
	text := string(data)
	require.Contains(t, text, `id="quality-clean"`)
	require.Contains(t, text, `id="piece-2"`)
	require.Contains(t, text, "mirrored")
	require.Contains(t, text, "close the knife")
	pixels := filepath.Join(t.TempDir(), "a.png")
	svg := filepath.Join(t.TempDir(), "a.svg")
	require.NoError(t, os.WriteFile(svg, data, 0o600))
	outside(t, "rsvg-convert", "-w", "400", "-o", pixels, svg) // librsvg reads it
	require.FileExists(t, pixels)
}

func planFile(t *testing.T, name string, write func(io.Writer, CutPlan, CutOptions) error, o CutOptions) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, sameTwice(t, func(w io.Writer) error { return write(w, samplePlan(), o) }), 0o600))
	return path
}

// poppler's pdftotext finds the words; pdfinfo the page.
func TestCutSheetIsOnePage(t *testing.T) {
	path := planFile(t, "a.pdf", WriteCutSheet, DefaultCutOptions())
	info := string(outside(t, "pdfinfo", path))
	require.Regexp(t, `Pages:\s+1\n`, info)
	require.Regexp(t, `841\.\d+ x 595\.\d+ pts`, info, "A4, lying")
	text := strings.Join(strings.Fields(string(outside(t, "pdftotext", "-layout", path, "-"))), " ")
	for _, want := range []string{"look classic", "scale 1:12.5", "1 × front: 1", "clean (149", "close the knife", "trained person"} {
		require.Contains(t, text, want)
	}
}

// Every part of the hide is on some tile, and each tile says where its corner lies.
func TestCutTilesCoverTheHide(t *testing.T) {
	path := planFile(t, "a.pdf", WriteCutTiles, DefaultCutOptions())
	text := string(outside(t, "pdftotext", path, "-"))
	require.Greater(t, strings.Count(text, "lower left corner at"), 50)
	p := samplePlan()
	size := paperSize{297, 210}
	g := tiling{size: size, b: p.box(), overlap: 15, stepX: 297 - 20 - 15, stepY: 210 - 20 - 15}
	g.cols, g.rows = int(math.Ceil((g.b.maxX-g.b.minX-15)/g.stepX)), int(math.Ceil((g.b.maxY-g.b.minY-15)/g.stepY))
	last := g.area(g.rows-1, g.cols-1)
	require.GreaterOrEqual(t, last.maxX, g.b.maxX)
	require.LessOrEqual(t, last.minY, g.b.minY)
	require.InDelta(t, 15, g.area(0, 0).maxX-g.area(0, 1).minX, 1e-9, "the overlap")
	require.True(t, g.used(p, g.rows/2, g.cols/2), "inside, without an edge")
	require.False(t, g.used(p, 0, 0), "a corner off the hide")
	require.Equal(t, []string{"A1", "Z3", "AA1", "AB2"}, []string{g.name(0, 0), g.name(25, 2), g.name(26, 0), g.name(27, 1)})
}

// The projection is true to scale: a piece's edge lies at its pixel.
func TestCutProjectionIsTrueToScale(t *testing.T) {
	o := DefaultCutOptions()
	o.MMPerPX = 2
	f, err := os.Open(planFile(t, "a.png", WriteCutProjection, o))
	require.NoError(t, err)
	defer f.Close()
	im, err := png.Decode(f)
	require.NoError(t, err)
	b := samplePlan().box()
	left, low := floorTen(b.minX-projectionMargin), floorTen(b.minY-projectionMargin)
	height := float64(im.Bounds().Dy()) * 2
	white := func(x, y float64) bool {
		r, g, bl, _ := im.At(int((x-left)/2), int((height-(y-low))/2)).RGBA()
		return min(r, g, bl) > 0x6000
	}
	require.True(t, white(520, 680), "left edge of the front")
	require.True(t, white(920, 680), "right edge")
	require.False(t, white(570, 680), "between them")
	require.True(t, white(left+30, low+30), "corner mark")
	require.Zero(t, math.Mod(left, 10))
}

func TestCutPlanRefuses(t *testing.T) {
	for _, f := range CutFormats() {
		require.ErrorContains(t, f.Write(io.Discard, CutPlan{}, DefaultCutOptions()), "no outline", f.Name)
	}
	require.ErrorContains(t, WriteCutSheet(io.Discard, samplePlan(), CutOptions{Paper: "B3"}), "A4 or A3")
	require.ErrorContains(t, WriteCutProjection(io.Discard, samplePlan(), CutOptions{MMPerPX: 0.01}), "pixels")
	require.ErrorContains(t, WriteCutTiles(io.Discard, samplePlan(), CutOptions{Paper: "A4", OverlapM: 160}), "overlap")
	_, err := FindCutFormats([]string{"svg", "doc"})
	require.ErrorContains(t, err, `format "doc"`)
}
