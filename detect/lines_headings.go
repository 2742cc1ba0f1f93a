package detect

import (
	"math"

	"hidechart/hide"
)

// headingSteps of nearStep to both sides are what a line's direction is taken along.
const headingSteps = 4

// heading is a place on a line and which way the line runs there.
type heading struct {
	at    hide.Point
	angle float64
}

func headings(line []hide.Point) []heading {
	all := spaced(line)
	out := make([]heading, len(all))
	for i, q := range all {
		a, b := all[max(0, i-headingSteps)], all[min(len(all)-1, i+headingSteps)]
		out[i] = heading{q, math.Atan2(float64(b.Y-a.Y), float64(b.X-a.X))}
	}
	return out
}
