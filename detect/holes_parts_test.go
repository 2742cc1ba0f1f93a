package detect

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

// The parts are those that OpenCV's connectedComponentsWithStats finds, 8-connected, with the same boxes
// and pixels, less those that reach out, in the order of their first pixels.
func TestPartsUnderAsOpenCV(t *testing.T) {
	const w, h = 61, 47
	g := pix.Grid{MMPerPX: 1, Width: w, Height: h, Top: hide.MM(h)}
	for seed := range uint64(20) {
		r := rand.New(rand.NewPCG(seed, 1))
		s := &share{field: newField(w, h)}
		f := &Found{grid: g, near: make([]uint8, w*h), leather: make([]bool, w*h)}
		mask := pix.New(w, h, pix.U8, 1)
		for i := range s.v {
			s.v[i], f.leather[i], f.near[i] = 1, r.Float64() < 0.97, insideBand
			if r.Float64() < 0.1+0.02*float64(seed) {
				s.v[i] = -1
			}
			if r.Float64() < 0.05 {
				f.near[i] = outsideBand
			} else if s.v[i] < 0 {
				mask.Bytes()[i] = 255
			}
		}
		labels, want, err := pix.Parts(mask)
		require.NoError(t, err)
		out := map[int32]bool{}
		for i, l := range labels.Int32s() {
			out[l] = out[l] || !f.leather[i]
		}
		found := map[int32]*lowPart{}
		before := -1
		for _, part := range f.partsUnder(0, s, g) {
			first := part.runs[0].y*w + part.runs[0].from
			require.Greater(t, first, before)
			before, found[labels.Int32s()[first]] = first, part
		}
		for _, part := range want {
			got := found[part.Label]
			if out[part.Label] {
				require.Nil(t, got)
				continue
			}
			require.NotNil(t, got)
			require.Equal(t, part.Box, got.box)
			require.Equal(t, part.Pixels, got.pixels)
			for _, run := range got.runs {
				for x := run.from; x < run.to; x++ {
					require.Equal(t, part.Label, labels.Int32s()[run.y*w+x])
				}
			}
			delete(found, part.Label)
		}
		require.Empty(t, found)
		labels.Close()
		mask.Close()
	}
}
