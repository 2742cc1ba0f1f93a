package export

import (
	"fmt"
	"io"
	"strings"

	"hidechart/hide"
)

// qualityColour is a fill for a quality by its place: from the palette, light to
// dark, told apart by hatching-free tints and their names.
func qualityColour(i int) string {
	colours := []string{hexColour(bluishGreen), hexColour(skyBlue), hexColour(yellow), hexColour(orange)}
	return colours[min(i, len(colours)-1)]
}

// WriteCutSVG writes a cut plan true to size: width and height in mm, one unit of
// the viewBox a millimetre, y down, one group a layer. Error: Invalid for a plan
// without an outline.
func WriteCutSVG(w io.Writer, p CutPlan) error {
	if err := p.check(); err != nil {
		return err
	}
	b := p.box()
	desc := append([]string{"One unit is one millimetre on the table."}, p.Notes...)
	return writeSVGPage(w, b, p.title(), oneLine(strings.Join(append(desc, knifeCaution()), " ")), func(s *svgPage) {
		s.cutAreas(p)
		s.cutPieces(p)
	})
}

func (s *svgPage) cutAreas(p CutPlan) {
	for i, q := range p.Quality {
		s.group(qualityLayer(q), fmt.Sprintf(`fill="%s" fill-opacity="0.35" fill-rule="evenodd" stroke="none"`, qualityColour(i)), func() {
			fmt.Fprintf(&s.buf, "<path d=\"%s\"><title>%s</title></path>\n", s.shape(q.Shape), escaped(oneLine(q.Name+": "+q.Words)))
		})
	}
	s.group(layerOutline, `fill="none" stroke="#000000" stroke-width="3" stroke-linejoin="round"`, func() {
		fmt.Fprintf(&s.buf, "<path d=\"%s\"/>\n", s.shape(hide.Shape{p.Outline}))
	})
	s.group(layerCuttable, `fill="none" fill-rule="evenodd" stroke="#000000" stroke-width="1" stroke-dasharray="6 3"`, func() {
		fmt.Fprintf(&s.buf, "<path d=\"%s\"><title>cuttable</title></path>\n", s.shape(p.Cuttable))
	})
	if n := p.Backbone; n[0] != n[1] {
		s.group(layerBackbone, `fill="none" stroke="#000000" stroke-width="1.5" stroke-dasharray="20 6 4 6"`, func() {
			fmt.Fprintf(&s.buf, "<path d=\"%s\"/>\n", s.segment(n))
		})
	}
}

func (s *svgPage) segment(l [2]hide.Point) string {
	return "M" + s.x(hide.Micron(l[0].X)) + " " + s.y(hide.Micron(l[0].Y)) + "L" + s.x(hide.Micron(l[1].X)) + " " + s.y(hide.Micron(l[1].Y))
}

func (s *svgPage) cutPieces(p CutPlan) {
	s.group(layerPieces, `fill="#ffffff" fill-opacity="0.6" fill-rule="evenodd" stroke="#000000" stroke-width="1.2"`, func() {
		for i, q := range p.Pieces {
			fmt.Fprintf(&s.buf, "<path id=\"piece-%d\" d=\"%s\"><title>%s</title></path>\n", i+1, s.shape(hide.Shape{q.Shape}), escaped(pieceLabel(i, q)))
		}
	})
	s.group(layerGrain, `fill="none" stroke="#000000" stroke-width="0.8"`, func() {
		for _, q := range p.Pieces {
			if q.Grain != nil {
				fmt.Fprintf(&s.buf, "<path d=\"%s\"/>\n", s.segment(*q.Grain))
			}
		}
	})
	s.group(layerPieceNames, fmt.Sprintf(`font-family="sans-serif" font-size="%g" fill="#000000" text-anchor="middle"`, drawnText), func() {
		for i, q := range p.Pieces {
			x, y := middleOf(q.Shape.Outer)
			fmt.Fprintf(&s.buf, "<text x=\"%s\" y=\"%s\">%d</text>\n", s.x(x), s.y(y), i+1)
		}
	})
}
