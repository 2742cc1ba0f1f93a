package detect

import (
	"math"

	"hidechart/hide"
)

// odds pairs each look that is compared over the hide with the feature that tells by how much
// a candidate's is unusual.
func odds() [][2]int {
	return [][2]int{{fTopTone, fOddTopTone}, {fTopStep, fOddTopStep}, {fRakeTone, fOddRakeTone},
		{fRakeStep, fOddRakeStep}, {fRelief, fOddRelief}, {fWidth, fOddWidth}}
}

// leastAlike is how many others there must be for the usual to be told.
const leastAlike = 5

// Candidates look alike if their widths differ by alikeWidth times at most; one is as strong or as deep
// as another from alikeShare of it on.
const (
	alikeWidth = 1.5
	alikeShare = 0.8
)

// alikeAll adds to spots and areas what the others on the hide that were found in the same way say of
// them: a pore, a blot of the finish or a cell of an embossing has a hundred others of its tone,
// relief and width beside it, and a flaw has few. The leather is its own reference here too; looks are told by
// robust z-scores (Rousseeuw & Hubert 2011, WIREs Data Mining 1(1), from memory). Lines
// gained nothing from it (docs/adr/0035).
func alikeAll(found []candidate, leather hide.MM2) {
	of := map[form][]*candidate{}
	for i := range found {
		if c := &found[i]; c.form != lineForm {
			of[c.form] = append(of[c.form], c)
		}
	}
	squareMetres := leather.DM2() / 100
	for _, all := range of {
		for _, o := range odds() {
			oddBy(all, o[0], o[1])
		}
		rows(len(all), func(i int) { countAlike(all, i, squareMetres) })
	}
}

// oddBy tells how far one look of each lies from the median of all, in robust spreads.
func oddBy(all []*candidate, look, odd int) {
	var v []float64
	for _, c := range all {
		if x := c.x[look]; !math.IsNaN(x) {
			v = append(v, x)
		}
	}
	if len(v) <= leastAlike {
		return
	}
	usual := median(v)
	for i := range v {
		v[i] -= usual
	}
	unit := spread(v) + 1e-3*math.Abs(usual) + 1e-6 // all but equal looks have no spread
	for _, c := range all {
		set(c.x, odd, (c.x[look]-usual)/unit)
	}
}

func countAlike(all []*candidate, i int, squareMetres float64) {
	c := all[i]
	var alike, stronger, deeper float64
	for j, o := range all {
		if j == i {
			continue
		}
		if sameMark(c.x, o.x) && o.width <= alikeWidth*c.width && c.width <= alikeWidth*o.width {
			alike++
			if o.evidence >= alikeShare*c.evidence {
				stronger++
			}
		}
		if a, b := c.x[fTopTone], o.x[fTopTone]; a*b > 0 && math.Abs(b) >= alikeShare*math.Abs(a) {
			deeper++
		}
	}
	set(c.x, fAlike, alike/squareMetres)
	set(c.x, fAlikeStronger, stronger/squareMetres)
	set(c.x, fAlikeDeeper, deeper/squareMetres)
}
