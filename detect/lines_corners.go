package detect

import (
	"math"

	"hidechart/hide"
)

const (
	// cornerArm is how far to either side of a vertex a line's direction is taken.
	cornerArm hide.MM = 18
	// cornerTurn from which a line found at the finer pixels is two: where two cross, one is followed
	// on into the other. Scars and veins turn in a wider curve; a brand's strokes do not, and are
	// found at the coarser ones.
	cornerTurn         = 0.8 // radians
	cornerMost hide.MM = 2   // deviation across the line up to which it is cut
)

// atCorners cuts a line where it turns as no flaw does; linking joins what runs straight on.
// Parts shorter than least are left out.
func (t trace) atCorners(least hide.MM) []trace {
	if t.sigma > cornerMost {
		return []trace{t}
	}
	k := t.corner()
	if k == 0 {
		return []trace{t}
	}
	var out []trace
	for _, part := range [2]trace{t.part(0, k), t.part(k, len(t.line)-1)} {
		if len(part.line) >= 3 && part.length() >= least {
			out = append(out, part.atCorners(least)...)
		}
	}
	return out
}

// corner is the vertex where the line turns most; 0 if nowhere enough.
func (t trace) corner() int {
	along := make([]hide.MM, len(t.line))
	for k := 1; k < len(t.line); k++ {
		along[k] = along[k-1] + t.line[k].Distance(t.line[k-1])
	}
	best, at, a, b := cornerTurn, 0, 0, 0
	for k := range t.line {
		for along[k]-along[a] > cornerArm {
			a++
		}
		for b < len(t.line)-1 && along[b]-along[k] < cornerArm {
			b++
		}
		if a == 0 || along[b]-along[k] < cornerArm {
			continue
		}
		if turn := math.Abs(angleGap(direction(t.line[a], t.line[k]), direction(t.line[k], t.line[b]))); turn > best {
			best, at = turn, k
		}
	}
	return at
}

// part is the line from one vertex to another.
func (t trace) part(from, to int) trace {
	out := trace{line: t.line[from : to+1 : to+1], score: t.score[from : to+1 : to+1], sigma: t.sigma}
	for _, v := range out.score {
		out.best = math.Max(out.best, v)
		out.mean += v / float64(len(out.score))
	}
	return out
}
