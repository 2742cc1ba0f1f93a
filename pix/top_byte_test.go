package pix

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTopByte(t *testing.T) {
	im := New(3, 1, U16, 1)
	defer im.Close()
	copy(im.Uint16s(), []uint16{255, 256, 65535})
	out, err := TopByte(im)
	require.NoError(t, err)
	defer out.Close()
	require.Equal(t, []uint8{0, 1, 255}, out.Bytes())
	f := New(1, 1, F32, 1)
	defer f.Close()
	_, err = TopByte(f)
	require.Error(t, err)
}
