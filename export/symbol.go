package export

import (
	"math"

	"hidechart/hide"
)

// symbol is the mark of a kind of defect in a square from -1 to 1, y down. The
// marks are our own: each hints at what it stands for, and any two differ in
// shape, so that they are told apart without colour.
type symbol struct {
	strokes []line
	fills   [][]spot
}

func circle(x, y, r float64) []spot {
	out := make([]spot, 24)
	for i := range out {
		a := -2 * math.Pi * float64(i) / float64(len(out))
		out[i] = spot{x + r*math.Cos(a), y + r*math.Sin(a)}
	}
	return out
}

func path(xy ...float64) line {
	var l line
	for i := 0; i < len(xy); i += 2 {
		l.at = append(l.at, spot{xy[i], xy[i+1]})
	}
	return l
}

func kindSymbol(k hide.Kind) symbol {
	switch k {
	case hide.Hole: // a ring
		return symbol{strokes: []line{{circle(0, 0, 0.65), true}}}
	case hide.Thin: // a ring, half full
		return symbol{strokes: []line{{circle(0, 0, 0.65), true}}, fills: [][]spot{halfDisc(0.65)}}
	case hide.FlayCut: // a wedge
		return symbol{fills: [][]spot{{{-0.95, 0.1}, {0.75, 0.75}, {0.75, -0.75}}}}
	case hide.Scar: // a seam with stitches
		return symbol{strokes: []line{path(-0.95, 0, 0.95, 0), path(-0.5, -0.55, -0.5, 0.55), path(0, -0.55, 0, 0.55), path(0.5, -0.55, 0.5, 0.55)}}
	case hide.Scratch: // three strokes side by side
		return symbol{strokes: []line{path(-0.85, 0.65, -0.15, -0.65), path(-0.35, 0.65, 0.35, -0.65), path(0.15, 0.65, 0.85, -0.65)}}
	case hide.Bites: // three dots
		return symbol{fills: [][]spot{circle(0, -0.5, 0.3), circle(-0.55, 0.45, 0.3), circle(0.55, 0.45, 0.3)}}
	case hide.Wart: // a full diamond
		return symbol{fills: [][]spot{{{0, 0.8}, {0.8, 0}, {0, -0.8}, {-0.8, 0}}}}
	case hide.Brand: // a square with a dot
		return symbol{strokes: []line{{[]spot{{-0.7, -0.7}, {0.7, -0.7}, {0.7, 0.7}, {-0.7, 0.7}}, true}}, fills: [][]spot{circle(0, 0, 0.2)}}
	case hide.Wrinkle: // two folds
		return symbol{strokes: []line{path(-0.9, -0.1, -0.45, -0.6, 0, -0.1, 0.45, -0.6, 0.9, -0.1), path(-0.9, 0.6, -0.45, 0.1, 0, 0.6, 0.45, 0.1, 0.9, 0.6)}}
	case hide.Vein: // a fork
		return symbol{strokes: []line{path(0, 0.85, 0, 0.05, -0.65, -0.8), path(0, 0.05, 0.65, -0.8)}}
	case hide.Stain: // a drop
		return symbol{fills: [][]spot{drop()}}
	}
	// loose: a cross through a ring, "bend here and see"
	return symbol{strokes: []line{{circle(0, 0, 0.75), true}, path(-0.5, 0, 0.5, 0), path(0, -0.5, 0, 0.5)}}
}

func halfDisc(r float64) []spot {
	var out []spot
	for i := range 13 {
		a := math.Pi * (1 - float64(i)/12)
		out = append(out, spot{r * math.Cos(a), r * math.Sin(a)})
	}
	return out
}

func drop() []spot {
	out := []spot{{0, -0.9}}
	for i := range 17 {
		a := math.Pi * (-0.15 + 1.3*float64(i)/16)
		out = append(out, spot{0.58 * math.Cos(a), 0.3 + 0.58*math.Sin(a)})
	}
	return out
}

// symbol draws a kind's mark, centred, with the given half size in pixels.
func (b brush) symbol(k hide.Kind, c spot, half float64) {
	s := kindSymbol(k)
	place := func(at []spot) []spot {
		out := make([]spot, len(at))
		for i, p := range at {
			out[i] = c.plus(p.times(half))
		}
		return out
	}
	width, edge := 0.22*half, 0.09*half
	lines := make([]line, 0, len(s.strokes)+len(s.fills))
	for _, l := range s.strokes {
		lines = append(lines, line{place(l.at), l.closed})
	}
	for _, f := range s.fills {
		lines = append(lines, line{place(f), true})
	}
	b.cased(kindColour(k), width, edge, 0, lines...)
	for _, f := range s.fills {
		b.fill(kindColour(k), place(f))
	}
}

// hatchCover is how much of the pixel at (x, y) the hatching of a kind covers; unit
// is the distance of its lines. It repeats what the symbol says where a defect is large.
func hatchCover(k hide.Kind, x, y, unit float64) float64 {
	const diagonal = math.Sqrt2 / 2
	up, down := (x+y)*diagonal, (x-y)*diagonal
	switch k {
	case hide.Hole, hide.Thin, hide.FlayCut:
		return max(stripe(up, unit), stripe(down, unit))
	case hide.Scar, hide.Scratch:
		return stripe(up, unit)
	case hide.Wrinkle, hide.Vein:
		return stripe(down, unit)
	case hide.Bites, hide.Wart:
		return min(stripe(x, unit*0.8), stripe(y, unit*0.8)) // dots
	case hide.Brand:
		return stripe(y, unit)
	case hide.Stain:
		return stripe(x, unit)
	}
	return stripe(y+0.25*unit*math.Sin(2*math.Pi*x/(2*unit)), unit) // waves
}

// stripe covers a third of each period, its edges one pixel soft.
func stripe(v, period float64) float64 {
	d := math.Abs(v-period*math.Round(v/period)) - period/6
	return min(max(0.5-d, 0), 1)
}
