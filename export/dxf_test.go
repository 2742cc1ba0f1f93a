package export

import (
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// dxfAudit is what testdata/audit_dxf.py prints for a file.
type dxfAudit struct {
	Version, Form string
	Units         int
	Strict        struct{ Errors, Fixes []string }
	Recover       []string
	Layers        []string
	Rings         []struct {
		Layer  string
		Closed bool
		Points [][2]float64
	}
	Texts []struct {
		Layer, Text string
		Height      float64
	}
	Lines []struct {
		Layer  string
		Length float64
	}
}

// Against ezdxf (Debian 12, 0.18.1): its audit finds nothing to report or mend.
func TestDXFPassesTheAudit(t *testing.T) {
	var paths []string
	for i, name := range hostileNames() {
		paths = append(paths, written(t, fmt.Sprintf("%d.dxf", i), sampleChart(name), WriteDXF))
	}
	var audits []dxfAudit
	python(t, &audits, "audit_dxf.py", paths...)
	require.Len(t, audits, len(paths))
	for i, a := range audits {
		assert.Empty(t, a.Strict.Errors, "%q", hostileNames()[i])
		assert.Empty(t, a.Strict.Fixes, "%q", hostileNames()[i])
		assert.Empty(t, a.Recover, "%q", hostileNames()[i])
		assert.Equal(t, "AC1015", a.Form)
		assert.Equal(t, 4, a.Units, "$INSUNITS 4 is millimetres (DXF reference)")
	}
}

func TestDXFHoldsTheChart(t *testing.T) {
	c := sampleChart("A-1")
	var audits []dxfAudit
	python(t, &audits, "audit_dxf.py", written(t, "a.mm.dxf", c, WriteDXF))
	a := audits[0]
	for _, l := range dxfLayers() {
		assert.Contains(t, a.Layers, l.name)
	}
	count := map[string]int{}
	for _, r := range a.Rings {
		count[r.Layer]++
		assert.True(t, r.Closed)
		assert.NotEqual(t, r.Points[0], r.Points[len(r.Points)-1], "the first vertex is not repeated")
	}
	assert.Equal(t, 1, count["outline"])
	assert.Equal(t, 1, count["holes"])
	assert.Equal(t, 3, count["defect bites"])
	assert.Equal(t, 0, count["defect vein"], "rejected")
	for k, p := range c.Outline.Outer {
		require.InDelta(t, float64(p.X), a.Rings[0].Points[k][0], 1e-9)
		require.InDelta(t, float64(p.Y), a.Rings[0].Points[k][1], 1e-9)
	}
	assert.InDelta(t, 100, a.Lines[1].Length, 1e-9)
	assert.Equal(t, "scale bar", a.Lines[1].Layer)
	assert.InDelta(t, float64(c.Backbone[0].Distance(c.Backbone[1])), a.Lines[0].Length, 1e-6)
}

func TestDXFTextSurvives(t *testing.T) {
	for _, name := range hostileNames() {
		var audits []dxfAudit
		python(t, &audits, "audit_dxf.py", written(t, "a.dxf", sampleChart(name), WriteDXF))
		var title string
		for _, x := range audits[0].Texts {
			if x.Layer == "notes" {
				title = x.Text
				break
			}
		}
		want := strings.ReplaceAll(hideTitle(sampleChart(name)), "%%", "% %")
		want = strings.ReplaceAll(want, "%%", "% %") // overlapping pairs
		if len(dxfText(want)) < dxfTextLimit-12 {
			assert.Equal(t, want, title)
		} else {
			assert.NotEmpty(t, title, "%q", name)
		}
	}
}

// Against gdal (Debian 12, 3.6.2): areas as ogrinfo reads them.
func TestDXFAreasReadByGDAL(t *testing.T) {
	c := sampleChart("A-1")
	got := ogrAreas(t, written(t, "a.mm.dxf", c, WriteDXF), "SELECT Layer, OGR_GEOM_AREA FROM entities WHERE OGR_GEOM_AREA > 0", "Layer")
	assertArea(t, got["outline"], hide.Shape{{Outer: c.Outline.Outer}})
	assertArea(t, got["holes"], hide.Shape{{Outer: c.Outline.Holes[0]}})
	assertArea(t, got["defect bites"], c.Defects[5].Geometry)
	scar := c.Defects[3].Geometry[0]
	assertArea(t, got["defect scar"], hide.Shape{{Outer: scar.Outer}})
	assert.Len(t, got["holes in defects"], 9, "of the upheld defects with a hole")
}

// assertArea: equal to 0.01 %, the project's promise for drawings.
func assertArea(t *testing.T, got []float64, s hide.Shape) {
	t.Helper()
	var sum float64
	for _, a := range got {
		sum += a
	}
	assert.InEpsilon(t, float64(s.Area()), sum, 1e-4)
}

func TestFormatsAreFoundByName(t *testing.T) {
	f, err := FindFormats([]string{"dxf", " SVG", "dxf"})
	require.NoError(t, err)
	require.Len(t, f, 2)
	assert.Equal(t, "A-1.mm.dxf", f[0].FileName("A-1"), "the unit is in the name: readers ignore $INSUNITS")
	_, err = FindFormats([]string{"dwg"})
	require.ErrorIs(t, err, hide.Invalid)
	assert.Contains(t, err.Error(), "png, svg, dxf, geojson, csv")
	for _, f := range Formats() {
		require.NoError(t, f.Write(io.Discard, sampleChart("A-1"), Photo{}), f.Name)
	}
}

func TestSafeNamesAreSafeAndDiffer(t *testing.T) {
	seen := map[string]string{}
	for _, id := range append(hostileNames(), "A-1", "a/b", "a\\b", "..", ".", "../../etc", "CON", "nul.txt", "-rf", strings.Repeat("x", 300), "a_b") {
		name := SafeName(id)
		assert.Regexp(t, `^[A-Za-z0-9_-][A-Za-z0-9._-]{0,120}$`, name, "%q", id)
		assert.NotContains(t, []string{".", "..", "CON", "-rf"}, name)
		other, taken := seen[name]
		assert.False(t, taken && other != id, "%q and %q meet at %s", id, other, name)
		seen[name] = id
	}
	assert.Equal(t, "A-1", SafeName("A-1"))
}
