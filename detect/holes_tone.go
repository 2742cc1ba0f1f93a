package detect

import (
	"image"
	"math"

	"hidechart/hide"
	"hidechart/pix"
)

// Top light alone shows a hole as a place of the table's tone, and a mark that is as much darker or lighter
// than the leather as the table is looks the same.
const (
	leastHoleTone = 0.15 // of toneApart: with less between leather and table any mark is of the table's tone
	plainHoleTone = 0.5  // marks are seldom so dark or light
	softHoleTone  = 1.0  // nor is what noise makes of them, where pixels do not tell leather from table
	doubtfulTone  = 0.5  // times as likely is a hole with less: three in ten were real (docs/adr/0049)
)

// toneApart is how far the leather about a box is from the table under top light: |ln(leather/table)|, root
// mean square of the channels' medians.
func (f *Found) toneApart(at image.Rectangle, fine pix.Grid) float64 {
	inner, box := f.coarseBox(at, fine, f.grid.MMPerPX), f.coarseBox(at, fine, glareReach)
	table, log := f.table[hide.Top], f.logs[hide.Top]
	sum := 0.0
	for c := range log {
		var about []float64
		for y := box.Min.Y; y < box.Max.Y; y++ {
			for x := box.Min.X; x < box.Max.X; x++ {
				if !image.Pt(x, y).In(inner) {
					i := y*f.grid.Width + x
					about = append(about, float64(log[c].v[i]-table.log[c].v[i]))
				}
			}
		}
		sum += math.Pow(median(about), 2)
	}
	return math.Sqrt(sum / float64(len(log)))
}

// trust is what a hole's probability is multiplied by that top light alone shows in leather so far from the
// table; 0: it is none.
func (f *Found) trust(apart float64) float64 {
	switch {
	case apart < leastHoleTone:
		return 0
	case apart < plainHoleTone || f.softly && apart < softHoleTone:
		return doubtfulTone
	}
	return 1
}
