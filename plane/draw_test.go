package plane

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// TestDraw writes pictures of frames to look at when PLANE_DRAW names a
// folder; it checks nothing.
func TestDraw(t *testing.T) {
	dir := os.Getenv("PLANE_DRAW")
	if dir == "" {
		t.Skip("set PLANE_DRAW to a folder to draw frames and zones")
	}
	for name, c := range readTruths(t) {
		drawFrame(t, filepath.Join(dir, "shared-"+name+".svg"), hide.Polygon{Outer: c.Outline}, c.Neck, c.Tail)
	}
	for seed := range uint64(30) {
		h := inventHide(seed)
		drawFrame(t, filepath.Join(dir, fmt.Sprintf("invented-%02d.svg", seed)), h.outline, h.neck, h.tail)
	}
}

func drawFrame(t *testing.T, file string, outline hide.Polygon, neck, tail hide.Point) {
	f, err := FindFrame(outline)
	require.NoError(t, err)
	box := boxOf(outline.Outer)
	xy := func(p hide.Point) string {
		return fmt.Sprintf("%.1f,%.1f", float64(p.X)-box.MinX+30, box.MaxY-float64(p.Y)+30)
	}
	path := func(r hide.Ring) string {
		var b strings.Builder
		for _, p := range r {
			b.WriteString(xy(p) + " ")
		}
		return b.String()
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="700" viewBox="0 0 %.0f %.0f"><rect width="100%%" height="100%%" fill="white"/><polygon points="%s" fill="#eee" stroke="black" stroke-width="4"/>`, box.MaxX-box.MinX+60, box.MaxY-box.MinY+60, path(outline.Outer))
	drawZones(&b, f, path)
	for i := -4; i <= 4; i++ {
		var l hide.Ring
		for k := range 101 {
			l = append(l, f.At(float64(k)/100, float64(i)/4))
		}
		fmt.Fprintf(&b, `<polyline points="%s" fill="none" stroke="#888" stroke-width="2"/>`, path(l))
	}
	fmt.Fprintf(&b, `<polyline points="%s" stroke="blue" stroke-width="6"/><polyline points="%s" stroke="green" stroke-width="10" stroke-dasharray="20 30"/>`, path(hide.Ring{f.Neck, f.Tail}), path(hide.Ring{neck, tail}))
	fmt.Fprintf(&b, `<g font-size="90"><text x="%[1]s">N</text></g>`, strings.Replace(xy(f.Neck), ",", `" y="`, 1))
	fmt.Fprintf(&b, `<text x="20" y="90" font-size="80">%s side %v sure %.2f head %.2f</text></svg>`, strings.TrimSuffix(filepath.Base(file), ".svg"), f.Side, f.Sure, f.HeadSure)
	require.NoError(t, os.WriteFile(file, []byte(b.String()), 0o644))
}

func drawZones(b *strings.Builder, f HideFrame, path func(hide.Ring) string) {
	colours := map[hide.Zone]string{hide.Neck: "#9cf", hide.Shoulder: "#cdf", hide.Butt: "#fec", hide.Belly: "#cfc", hide.Flank: "#8c8", hide.Shank: "#dab"}
	for _, z := range f.Zones() {
		for _, p := range z.Geometry {
			fmt.Fprintf(b, `<polygon points="%s" fill="%s" stroke="#444" stroke-width="3"/>`, path(p.Outer), colours[z.Zone])
		}
	}
}
