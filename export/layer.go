package export

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"

	"hidechart/hide"
)

// Names of layers and groups: plain words of our own, the same in every
// drawing. SVG ids are these with "-" for the blank.
const (
	layerOutline  = "outline"
	layerHoles    = "holes"
	layerZoneHole = "holes in zones"
	layerInner    = "holes in defects"
	layerBackbone = "backbone"
	layerLabels   = "labels"
	layerBar      = "scale bar"
	layerNotes    = "notes"
)

func defectLayer(k hide.Kind) string { return "defect " + k.Words() }

func zoneLayer(z hide.Zone) string { return "zone " + string(z) }

// Measures of drawings in mm of the table.
const (
	drawnBar   = 100.0 // readers ignore units: a bar of known length shows the scale
	drawnText  = 20.0  // letters that can be read where the whole hide fills a screen
	drawnGap   = 40.0  // from the hide to the bar
	labelNudge = 5.0   // from a defect to its number
)

// upheld are the defects that a drawing shows: all but those a reviewer rejected.
func upheld(c hide.Chart) []hide.Defect {
	out := make([]hide.Defect, 0, len(c.Defects))
	for _, d := range c.Defects {
		if d.Status != hide.Rejected {
			out = append(out, d)
		}
	}
	return out
}

// box is an upright rectangle in the table frame.
type box struct{ minX, minY, maxX, maxY float64 }

func emptyBox() box { return box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)} }

func (b box) with(x, y float64) box {
	return box{min(b.minX, x), min(b.minY, y), max(b.maxX, x), max(b.maxY, y)}
}

func (b box) withRing(r hide.Ring) box {
	for _, p := range r {
		b = b.with(float64(p.X), float64(p.Y))
	}
	return b
}

func shapeBox(s hide.Shape) box {
	b := emptyBox()
	for _, p := range s {
		b = b.withRing(p.Outer)
	}
	return b
}

// chartBox holds everything drawn in the table frame.
func chartBox(c hide.Chart) box {
	b := emptyBox().withRing(c.Outline.Outer)
	for _, d := range upheld(c) {
		for _, p := range d.Geometry {
			b = b.withRing(p.Outer)
		}
	}
	for _, p := range c.Backbone {
		b = b.with(float64(p.X), float64(p.Y))
	}
	return b
}

// hasBackbone: a chart without a hide frame has both ends at one place.
func hasBackbone(c hide.Chart) bool { return c.Backbone[0] != c.Backbone[1] }

// number writes a length or area in files: no exponent, at most three decimals.
func number(v float64) string {
	s := strconv.FormatFloat(math.Round(v*1000)/1000, 'f', -1, 64)
	if s == "-0" {
		return "0"
	}
	return s
}

// oneLine makes text from outside fit for one line: line ends, tabs and
// control characters become blanks, and marks that turn the direction of
// writing are dropped (they would turn what stands beside them).
func oneLine(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case unicode.Is(unicode.Bidi_Control, r):
			return -1
		case unicode.IsControl(r), r == '\u2028', r == '\u2029':
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD"))
	return strings.Join(strings.Fields(s), " ")
}

// defectTitle names a defect in one line: "12 scar, open".
func defectTitle(d hide.Defect) string {
	s := fmt.Sprintf("%d %s", d.ID, d.Kind.Words())
	if d.Open {
		s += ", open"
	}
	return s
}

// defectText tells what is known of a defect in one line.
func defectText(d hide.Defect) string {
	s := fmt.Sprintf("%s, probability %.2f; area %s mm², length %s mm, width %s mm", d.Status, d.Probability,
		number(float64(d.Area)), number(float64(d.Length)), number(float64(d.Width)))
	if d.Zone != "" {
		s += "; " + string(d.Zone)
	}
	s += fmt.Sprintf("; %s mm from the edge", number(float64(d.EdgeDistance)))
	if d.Advice != "" {
		s += "; " + oneLine(d.Advice)
	}
	return s
}

// hideTitle names the hide in one line.
func hideTitle(c hide.Chart) string {
	parts := []string{strings.TrimSpace("hide " + oneLine(c.Capture.ID))}
	for _, p := range []struct{ word, value string }{{"supplier", c.Capture.Supplier}, {"lot", c.Capture.Lot}, {"article", c.Capture.Article}} {
		if v := oneLine(p.value); v != "" {
			parts = append(parts, p.word+" "+v)
		}
	}
	return strings.Join(parts, ", ")
}

// caution stands on everything a person may act on.
func caution() string {
	return "This chart supports an inspector and does not replace one. Bend loose areas to be sure. " +
		"Leather that carries load or protects: judged by a trained person under local rules."
}
