package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// The log-odds are multiplied, whatever the probability; a half, never and surely stay.
func TestSharper(t *testing.T) {
	for _, p := range []float64{0.01, 0.3, 0.5, 0.8, 0.99} {
		q := sharper(p)
		assert.InDelta(t, sharpness*math.Log(p/(1-p)), math.Log(q/(1-q)), 1e-9, p)
	}
	assert.Zero(t, sharper(0))
	assert.InDelta(t, 1, sharper(1), 0)
}
