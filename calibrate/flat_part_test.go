package calibrate

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/pix"
)

// A ramp over 400 mm, read from 60 mm right and 20 mm down on: bilinear reading
// is exact on it.
func TestFlatPart(t *testing.T) {
	f := &Flat{Gain: pix.New(10, 10, pix.F32, 1), Cell: 40}
	defer f.Close()
	for i := range f.Gain.Float32s() {
		f.Gain.Float32s()[i] = float32(1 + 0.1*float64(i%10) + 0.01*float64(i/10))
	}
	p := f.Part(60, 20, 200, 120)
	defer p.Close()
	require.Equal(t, 5, p.Gain.Width())
	require.Equal(t, 3, p.Gain.Height())
	require.InDelta(t, 1+0.1*1.5+0.01*0.5, p.Gain.Float32s()[0], 1e-6)
	require.InDelta(t, 1+0.1*4.5+0.01*1.5, p.Gain.Float32s()[5+3], 1e-6)
}
