package detect

import (
	"math"
	"slices"

	"hidechart/hide"
)

// amongAll adds how a candidate stands among all that were found in the same way
// on the same hide. What a leather shows a hundred times over is its grain; the same
// response alone on a quiet hide is a flaw. It is the count that a local false
// discovery rate is estimated from (Efron 2010, "Large-scale inference", chapter
// 5, from memory).
func amongAll(found []candidate, leather hide.MM2) {
	strengths := map[form][]float64{}
	for _, c := range found {
		strengths[c.form] = append(strengths[c.form], c.evidence)
	}
	for _, s := range strengths {
		slices.Sort(s)
	}
	squareMetres := leather.DM2() / 100
	for _, c := range found {
		all, own := strengths[c.form], c.evidence
		weaker, _ := slices.BinarySearch(all, own)
		set(c.x, fOfForm, float64(len(all))/squareMetres)
		set(c.x, fStronger, float64(len(all)-weaker)/squareMetres)
		set(c.x, fAgainstUsual, math.Log(own/all[len(all)/2]))
	}
	alikeAll(found, leather)
}
