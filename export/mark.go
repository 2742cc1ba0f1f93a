package export

import (
	"fmt"
	"strings"

	"hidechart/hide"
)

// Mark is how a kind of defect looks in every picture and page: one colour for
// its group, a symbol of its own.
type Mark struct {
	Kind    hide.Kind `json:"kind"`
	Words   string    `json:"words"`
	Colour  string    `json:"colour"`  // #rrggbb
	Strokes string    `json:"strokes"` // SVG path data in a square from -1 to 1, y down; drawn with a line of StrokeWidth
	Fills   string    `json:"fills"`   // to be filled
}

// StrokeWidth of a mark's lines in its square: as in the picture for the cutter.
const StrokeWidth = 0.22

// Marks lists every kind's mark in the order of hide.Kinds.
func Marks() []Mark {
	var out []Mark
	for _, k := range hide.Kinds() {
		c, s := kindColour(k), kindSymbol(k)
		m := Mark{Kind: k, Words: k.Words(), Colour: fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B)}
		for _, l := range s.strokes {
			m.Strokes += pathData(l.at, l.closed)
		}
		for _, f := range s.fills {
			m.Fills += pathData(f, true)
		}
		out = append(out, m)
	}
	return out
}

func pathData(at []spot, closed bool) string {
	var b strings.Builder
	for i, p := range at {
		verb := "L"
		if i == 0 {
			verb = "M"
		}
		fmt.Fprintf(&b, "%s%.3g %.3g", verb, p.x, p.y)
	}
	if closed {
		b.WriteString("Z")
	}
	return b.String()
}
