package detect

import (
	"math"

	"hidechart/hide"
	"hidechart/plane"
)

// Neighbour is another candidate of the same hide and how far it is, outline to
// outline, to about a centimetre; 0 where they touch or overlap.
type Neighbour struct {
	At  int // in the list of candidates
	Gap hide.MM
}

// companyReach is how far apart candidates can be parts of one flaw or of one cause: the
// warts of a cluster, the twigs of a vein, the strokes of a scrape.
const companyReach hide.MM = 60

// nearStep is the distance between the points of an outline that gaps are measured at.
const nearStep hide.MM = 6

// neighboursOf lists for each candidate the others within companyReach.
func neighboursOf(found []candidate) [][]Neighbour {
	points := make([][]hide.Point, len(found))
	boxes := make([]box, len(found))
	rows(len(found), func(i int) { points[i], boxes[i] = sparse(found[i]), boxOf(found[i].shape) })
	out := make([][]Neighbour, len(found))
	rows(len(found), func(i int) {
		for j := range found {
			if j == i || !boxes[i].within(boxes[j], companyReach) {
				continue
			}
			if d := gapBetween(found[i], found[j], points[i], points[j]); d < companyReach {
				out[i] = append(out[i], Neighbour{j, d})
			}
		}
	})
	return out
}

// sparse are points of a line or an outline some nearStep apart.
func sparse(c candidate) []hide.Point {
	if c.form == lineForm {
		return spaced(c.line)
	}
	var out []hide.Point
	for _, p := range c.shape {
		out = append(out, spaced(p.Outer)...)
	}
	return out
}

func spaced(all []hide.Point) []hide.Point {
	out := []hide.Point{all[0]}
	for _, q := range all[1:] {
		if q.Distance(out[len(out)-1]) >= nearStep {
			out = append(out, q)
		}
	}
	return append(out, all[len(all)-1])
}

// gapBetween is the least distance of their points, 0 if one's middle lies in the other.
func gapBetween(a, b candidate, pa, pb []hide.Point) hide.MM {
	for _, p := range b.shape {
		if b.form != lineForm && plane.Contains(p, a.middle()) {
			return 0
		}
	}
	for _, p := range a.shape {
		if a.form != lineForm && plane.Contains(p, b.middle()) {
			return 0
		}
	}
	best := hide.MM(math.Inf(1))
	for _, q := range pa {
		for _, r := range pb {
			best = min(best, q.Distance(r))
		}
	}
	return best
}
