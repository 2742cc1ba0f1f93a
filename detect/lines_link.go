package detect

import (
	"cmp"
	"math"
	"slices"

	"hidechart/hide"
)

// Two pieces are one line if the gap between their ends is no longer than
// linkGap, and both directions and the gap's agree within linkTurn: grain that
// breaks a faint line hides some 20 mm of it at most, since averaging bridges 16.
const (
	linkGap  hide.MM = 28
	linkTurn float64 = 0.35 // radians
)

// linked joins pieces end to end, the strongest first.
func linked(pieces []trace) []trace {
	slices.SortStableFunc(pieces, func(a, b trace) int { return cmp.Compare(b.evidence(), a.evidence()) })
	used := make([]bool, len(pieces))
	var out []trace
	for i := range pieces {
		if used[i] {
			continue
		}
		used[i] = true
		line := pieces[i]
		for {
			j, turned, front := nextPiece(line, pieces, used)
			if j < 0 {
				break
			}
			used[j] = true
			line = joinedTraces(line, pieces[j], turned, front)
		}
		out = append(out, line)
	}
	return out
}

// nextPiece is the unused piece that goes on best from either end of the line;
// -1 if none does. front: it goes before the line's start. turned: reversed.
func nextPiece(line trace, pieces []trace, used []bool) (best int, turned, front bool) {
	best = -1
	least := linkGap
	for _, atFront := range []bool{false, true} {
		end, along := line.tip(atFront)
		for j, p := range pieces {
			if used[j] {
				continue
			}
			for _, fromEnd := range []bool{false, true} {
				start, away := p.tip(!fromEnd) // tip looks outward; the piece goes on inward
				d := end.Distance(start)
				if d < least && aligned(along, direction(end, start), d) && math.Abs(angleGap(along, away+math.Pi)) < linkTurn {
					best, turned, front, least = j, fromEnd != atFront, atFront, d
				}
			}
		}
	}
	return best, turned, front
}

// aligned is true if the gap runs on; a gap of a few millimetres has no direction.
func aligned(along, gap float64, d hide.MM) bool {
	return d < 4 || math.Abs(angleGap(along, gap)) < linkTurn
}

func direction(a, b hide.Point) float64 {
	return math.Atan2(float64(b.Y-a.Y), float64(b.X-a.X))
}

// angleGap is a − b in (−π, π].
func angleGap(a, b float64) float64 { return math.Remainder(a-b, 2*math.Pi) }

// tip is the line's start (front) or end and the direction outward there.
func (t trace) tip(front bool) (hide.Point, float64) {
	n := len(t.line)
	k := min(5, n-1) // vertices, about 10 mm
	if front {
		return t.line[0], direction(t.line[k], t.line[0])
	}
	return t.line[n-1], direction(t.line[n-1-k], t.line[n-1])
}

func joinedTraces(a, b trace, turned, front bool) trace {
	line, score := slices.Clone(b.line), slices.Clone(b.score)
	if turned {
		slices.Reverse(line)
		slices.Reverse(score)
	}
	out := trace{best: math.Max(a.best, b.best), sigma: a.sigma}
	if front {
		out.line, out.score = slices.Concat(line, a.line), slices.Concat(score, a.score)
	} else {
		out.line, out.score = slices.Concat(a.line, line), slices.Concat(a.score, score)
	}
	for _, v := range out.score {
		out.mean += v / float64(len(out.score))
	}
	return out
}
