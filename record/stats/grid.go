package stats

import (
	"math"

	"hidechart/hide"
)

// The grid in which places on hides are counted: cells of equal size in the hide
// frame, about 14 × 15 cm on a cowhide of 2.2 × 1.8 m. Finer cells would be finer
// than the frame itself (40 mm at either end) and hold too few hides to test.
const (
	GridU = 16 // along the backbone, neck first
	GridV = 12 // across, from v = −1 (left) to +1 (right); a side uses the upper six
)

// Cells is the number of cells of the grid.
const Cells = GridU * GridV

// Cell is the cell of a place in the hide frame: u 0..1, v −1..1. Places
// outside are taken to the nearest cell.
func Cell(u, v float64) int {
	iu := min(GridU-1, max(0, int(math.Floor(u*GridU))))
	iv := min(GridV-1, max(0, int(math.Floor((v+1)/2*GridV))))
	return iu*GridV + iv
}

// CellCentre is the middle of a cell in the hide frame.
func CellCentre(cell int) (u, v float64) {
	return (float64(cell/GridV) + 0.5) / GridU, (float64(cell%GridV)+0.5)/GridV*2 - 1
}

// Shares are the cells' shares of the standard outline's area.
func Shares(o hide.HalfWidths) [Cells]float64 {
	var out [Cells]float64
	total := 0.0
	for c := range out {
		u, v := CellCentre(c)
		for _, step := range []float64{-0.25, 0, 0.25} { // the width bends within a cell
			out[c] += o.Width(u+step/GridU, v)
		}
		total += out[c]
	}
	for c := range out {
		if total > 0 {
			out[c] /= total
		}
	}
	return out
}

// Even is the outline of a hide whose shape is not known: as wide as half its
// length, or the right half of that.
func Even(side bool) hide.HalfWidths {
	o := hide.HalfWidths{Right: []float64{0.45, 0.45}}
	if !side {
		o.Left = o.Right
	}
	return o
}
