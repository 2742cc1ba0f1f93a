package detect

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Of x²/2 + 3xy − y² the second derivatives are 1, 3 and −2 everywhere: kernels
// of a Gaussian's derivatives keep polynomials of the second degree. 1e-3 of the largest:
// float32 sums of values up to 1,000. The border, where the picture is mirrored, is left out.
func TestCurvatureOfQuadric(t *testing.T) {
	const size = 40
	f := newField(size, size)
	for i := range f.v {
		x, y := float32(i%size-size/2), float32(i/size-size/2)
		f.v[i] = x*x/2 + 3*x*y - y*y
	}
	v, err := ownLevel{planes: []field{f}}.curvature(1)
	require.NoError(t, err)
	require.Len(t, v.planes, 3)
	for k, want := range []float32{1, 3, -2} {
		all := make([]float32, size*size)
		for i := range all {
			all[i] = want
		}
		requireNear(t, all, v.planes[k], 1e-3, 10)
	}
}

// A dark dot and a bright one of the same contrast differ in sign.
func TestCurvatureKeepsTheSign(t *testing.T) {
	f := newField(40, 40)
	f.v[20*40+10], f.v[20*40+30] = -1, 1
	v, err := ownLevel{planes: []field{f}}.curvature(1)
	require.NoError(t, err)
	dark, bright := v.planes[0].v[20*40+10], v.planes[0].v[20*40+30]
	require.Positive(t, dark)
	require.InDelta(t, -dark, bright, 1e-6)
}
