package export

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image/color"
	"io"
	"strings"

	"hidechart/hide"
)

const svgMargin = 20.0 // mm round the drawing: room for strokes and the bar's figures

// svgPage writes one drawing; (left, top) is the table position of the page's
// upper left corner, so that y runs down without a flipped text.
type svgPage struct {
	buf       bytes.Buffer
	left, top float64
}

// WriteSVG writes a drawing true to size: width and height in mm, one unit of
// the viewBox a millimetre, y down. One group a layer; each defect carries
// its title and what is known of it. Rejected defects are left out.
func WriteSVG(w io.Writer, c hide.Chart) error {
	c = settled(c)
	b := chartBox(c)
	return writeSVGPage(w, b, hideTitle(c), svgDesc(c), func(s *svgPage) {
		s.zones(c)
		s.outline(c)
		s.backbone(c)
		s.defects(c)
		s.labels(c)
	})
}

// writeSVGPage writes a drawing of what a box holds, true to size, with a scale bar
// under it.
func writeSVGPage(w io.Writer, b box, title, desc string, layers func(*svgPage)) error {
	s := &svgPage{left: hide.Micron(hide.MM(b.minX - svgMargin)), top: hide.Micron(hide.MM(b.maxY + svgMargin))}
	barY := b.minY - drawnGap
	width := max(b.maxX-b.minX, drawnBar+3*drawnText) + 2*svgMargin
	height := s.top - barY + 2*drawnText + svgMargin
	fmt.Fprintf(&s.buf, `<?xml version="1.0" encoding="UTF-8"?>
<svg xmlns="http://www.w3.org/2000/svg" width="%smm" height="%smm" viewBox="0 0 %[1]s %[2]s" role="img">
`, number(width), number(height))
	fmt.Fprintf(&s.buf, "<title>%s</title>\n<desc>%s</desc>\n", escaped(title), escaped(desc))
	layers(s)
	s.bar(b.minX, barY)
	s.buf.WriteString("</svg>\n")
	if _, err := w.Write(s.buf.Bytes()); err != nil {
		return hide.Wrapf(hide.Internal, err, "svg")
	}
	return nil
}

func svgDesc(c hide.Chart) string {
	parts := []string{fmt.Sprintf("Area %.2f dm², standard uncertainty %.2f dm².", c.Area.Value.DM2(), c.Area.U.DM2()),
		"One unit is one millimetre on the table."}
	for _, f := range c.Flags {
		parts = append(parts, fmt.Sprintf("Flag %s: %s", f.Code, oneLine(f.Text)))
	}
	return strings.Join(append(parts, caution()), " ")
}

// escaped makes text safe inside an XML element or attribute; characters that XML
// 1.0 does not allow become the replacement character.
func escaped(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // a strings.Builder takes everything
	return b.String()
}

func layerID(name string) string { return strings.ReplaceAll(name, " ", "-") }

func (s *svgPage) group(layer, style string, inside func()) {
	fmt.Fprintf(&s.buf, "<g id=\"%s\" %s>\n", layerID(layer), style)
	inside()
	s.buf.WriteString("</g>\n")
}

func (s *svgPage) x(v float64) string { return number(v - s.left) }
func (s *svgPage) y(v float64) string { return number(s.top - v) }

func (s *svgPage) rings(rings ...hide.Ring) string {
	var b strings.Builder
	for _, r := range rings {
		for i, p := range r {
			step := "L"
			if i == 0 {
				step = "M"
			}
			b.WriteString(step + s.x(hide.Micron(p.X)) + " " + s.y(hide.Micron(p.Y)))
		}
		b.WriteString("Z")
	}
	return b.String()
}

func (s *svgPage) shape(g hide.Shape) string {
	var b strings.Builder
	for _, p := range g {
		b.WriteString(s.rings(append([]hide.Ring{p.Outer}, p.Holes...)...))
	}
	return b.String()
}

func (s *svgPage) outline(c hide.Chart) {
	s.group(layerOutline, `fill="none" fill-rule="evenodd" stroke="#000000" stroke-width="3" stroke-linejoin="round"`, func() {
		fmt.Fprintf(&s.buf, "<path d=\"%s\"/>\n", s.shape(hide.Shape{c.Outline}))
	})
}

func (s *svgPage) zones(c hide.Chart) {
	s.group("zones", `fill="none" fill-rule="evenodd" stroke="#777777" stroke-width="1" stroke-dasharray="8 6"`, func() {
		for _, z := range c.Zones {
			fmt.Fprintf(&s.buf, "<path id=\"%s\" d=\"%s\"><title>%s</title></path>\n", layerID(zoneLayer(z.Zone)), s.shape(z.Geometry), z.Zone)
		}
	})
}

func (s *svgPage) backbone(c hide.Chart) {
	if !hasBackbone(c) {
		return
	}
	neck, tail := c.Backbone[0], c.Backbone[1]
	s.group(layerBackbone, `fill="none" stroke="#000000" stroke-width="1.5" stroke-dasharray="20 6 4 6"`, func() {
		fmt.Fprintf(&s.buf, "<path d=\"M%s %sL%s %s\"><title>backbone, from neck to tail</title></path>\n",
			s.x(hide.Micron(neck.X)), s.y(hide.Micron(neck.Y)), s.x(hide.Micron(tail.X)), s.y(hide.Micron(tail.Y)))
	})
}

func (s *svgPage) defects(c hide.Chart) {
	shown := upheld(c)
	for _, k := range hide.Kinds() {
		fill := hexColour(kindColour(k))
		s.group(defectLayer(k), fmt.Sprintf(`fill="%s" fill-opacity="0.45" fill-rule="evenodd" stroke="#000000" stroke-width="0.5"`, fill), func() {
			for _, d := range shown {
				if d.Kind == k {
					fmt.Fprintf(&s.buf, "<path id=\"defect-%d\" d=\"%s\"><title>%s</title><desc>%s</desc></path>\n", d.ID, s.shape(d.Geometry),
						escaped(defectTitle(d)), escaped(defectText(d)))
				}
			}
		})
	}
}

func (s *svgPage) labels(c hide.Chart) {
	style := fmt.Sprintf(`font-family="sans-serif" font-size="%g" fill="#000000" stroke="#ffffff" stroke-width="3" paint-order="stroke"`, drawnText)
	s.group(layerLabels, style, func() {
		for _, d := range upheld(c) {
			b := shapeBox(d.Geometry)
			fmt.Fprintf(&s.buf, "<text x=\"%s\" y=\"%s\">%d</text>\n", s.x(b.maxX+labelNudge), s.y((b.minY+b.maxY)/2), d.ID)
		}
		if hasBackbone(c) {
			fmt.Fprintf(&s.buf, "<text x=\"%s\" y=\"%s\" text-anchor=\"middle\">HEAD</text>\n",
				s.x(float64(c.Backbone[0].X)), s.y(float64(c.Backbone[0].Y)))
		}
	})
}

// bar draws the bar of 100 mm, its ends the centres of the end ticks.
func (s *svgPage) bar(x, y float64) {
	x, y = hide.Micron(hide.MM(x)), hide.Micron(hide.MM(y))
	s.group(layerBar, fmt.Sprintf(`fill="none" stroke="#000000" stroke-width="1" font-family="sans-serif" font-size="%g"`, drawnText), func() {
		fmt.Fprintf(&s.buf, "<path d=\"M%s %sL%s %s\"/>\n", s.x(x), s.y(y), s.x(x+drawnBar), s.y(y))
		for _, at := range []float64{0, drawnBar} {
			fmt.Fprintf(&s.buf, "<path d=\"M%s %sL%s %s\"/>\n", s.x(x+at), s.y(y-5), s.x(x+at), s.y(y+5))
		}
		fmt.Fprintf(&s.buf, "<text x=\"%s\" y=\"%s\" fill=\"#000000\" stroke=\"none\">100 mm</text>\n", s.x(x), s.y(y-drawnText-8))
	})
}

func hexColour(c color.RGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }
