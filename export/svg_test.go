package export

import (
	"encoding/xml"
	"fmt"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

type svgNode struct {
	XMLName xml.Name
	Attrs   []xml.Attr `xml:",any,attr"`
	Title   string     `xml:"title"`
	Kids    []svgNode  `xml:",any"`
}

func (n svgNode) attr(name string) string {
	for _, a := range n.Attrs {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

func (n svgNode) find(id string) *svgNode {
	if n.attr("id") == id {
		return &n
	}
	for _, k := range n.Kids {
		if f := k.find(id); f != nil {
			return f
		}
	}
	return nil
}

// pathArea adds the signed areas of a path's rings: inner rings run the other way.
func pathArea(t *testing.T, d string) float64 {
	t.Helper()
	var sum float64
	for ring := range strings.SplitSeq(strings.TrimSuffix(d, "Z"), "Z") {
		var r hide.Ring
		for _, p := range strings.FieldsFunc(ring, func(c rune) bool { return c == 'M' || c == 'L' }) {
			var x, y float64
			_, err := fmt.Sscanf(p, "%f %f", &x, &y)
			require.NoError(t, err)
			r = append(r, hide.Point{X: hide.MM(x), Y: hide.MM(y)})
		}
		sum += float64(r.SignedArea())
	}
	return math.Abs(sum)
}

func TestSVGComesBackTrueToSize(t *testing.T) {
	for _, name := range hostileNames() {
		c := sampleChart(name)
		f, err := os.Open(written(t, "a.svg", c, WriteSVG))
		require.NoError(t, err)
		var root svgNode
		require.NoError(t, xml.NewDecoder(f).Decode(&root), "%q", name)
		require.NoError(t, f.Close())
		var w, h float64
		_, err = fmt.Sscanf(root.attr("viewBox"), "0 0 %f %f", &w, &h)
		require.NoError(t, err)
		assert.Equal(t, number(w)+"mm", root.attr("width"))
		assert.Equal(t, number(h)+"mm", root.attr("height"))
		assert.Equal(t, oneLine(hideTitle(c)), oneLine(root.Title), "%q", name)
		outline := root.find("outline")
		assert.Equal(t, "evenodd", outline.attr("fill-rule"))
		assertArea(t, []float64{pathArea(t, outline.Kids[0].attr("d"))}, hide.Shape{c.Outline})
		for _, d := range upheld(c) {
			path := root.find(fmt.Sprintf("defect-%d", d.ID))
			require.NotNil(t, path, d.ID)
			assertArea(t, []float64{pathArea(t, path.attr("d"))}, d.Geometry)
			assert.Equal(t, defectTitle(d), path.Title)
		}
		assert.NotNil(t, root.find("defect-flay-cut"), "a group a layer")
		assert.Nil(t, root.find("defect-10"), "the vein was rejected")
	}
}

// Against librsvg (Debian 12, 2.54): the outline, filled, covers the chart's area
// in a picture of one pixel a millimetre.
func TestSVGDrawnByLibrsvg(t *testing.T) {
	c := sampleChart("A & B")
	c.Outline.Holes = []hide.Ring{reversed(oval(1500, 1100, 200, 150, 0, 90))} // a hole large enough to see in the sum
	plain := hide.Chart{Outline: c.Outline, Capture: c.Capture}
	path := written(t, "a.svg", plain, func(w io.Writer, c hide.Chart) error {
		var b strings.Builder
		if err := WriteSVG(&b, c); err != nil {
			return err
		}
		_, err := io.WriteString(w, strings.Replace(b.String(), `<g id="outline" fill="none"`, `<g id="outline" fill="#ff0000"`, 1))
		return err
	})
	picture := filepath.Join(t.TempDir(), "a.png")
	outside(t, "rsvg-convert", "--dpi-x", "25.4", "--dpi-y", "25.4", "--background-color", "white", "-o", picture, path)
	f, err := os.Open(picture)
	require.NoError(t, err)
	defer f.Close()
	im, err := png.Decode(f)
	require.NoError(t, err)
	var red, edge float64
	for y := range im.Bounds().Dy() {
		for x := range im.Bounds().Dx() {
			r, g, _, _ := im.At(x, y).RGBA()
			if r > 0x8000 && g < 0x8000 {
				red++
			} else if r < 0x8000 {
				edge++ // the stroke of 3 mm, half of it inside
			}
		}
	}
	// the stroke's share inside is known to its own blur, 0.1 % of the hide
	assert.InEpsilon(t, float64(c.Outline.Area()), red+edge/2, 0.003)
}
