package detect

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Where grain is strong, as many lines as are asked for are kept, the most evident; a line plainer than grain is kept
// however many there are, for a neck of deep folds has more.
func TestPlainLinesAreKept(t *testing.T) {
	line := func(mean float64, x float64) trace {
		out := traceOf(at(0, 0), at(x, 0))
		out.mean = mean
		return out
	}
	all := []trace{line(6, 100), line(40, 100), line(16, 20), line(14, 30), line(9, 400), line(20, 30)}
	kept := strongestTraces(all, 2)
	var means []float64
	for _, t := range kept {
		means = append(means, t.mean)
	}
	assert.Equal(t, []float64{40, 9, 20, 16}, means)
	assert.Len(t, strongestTraces(all, 10), 6)
	assert.Empty(t, strongestTraces(nil, 3))
	assert.Len(t, strongestTraces(slices.Repeat([]trace{line(40, 100)}, 900), 2), 2+mostPlain, "a printed surface")
}
