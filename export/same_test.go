package export

import (
	"bytes"
	"io"
	"testing"

	"github.com/stretchr/testify/require"
)

// sameTwice writes a PDF twice and fails unless the bytes agree. The font library
// stamps the fonts it embeds with the second, so a pair written across a tick of
// the clock is written again.
func sameTwice(t *testing.T, write func(io.Writer) error) []byte {
	t.Helper()
	for range 5 {
		var a, b bytes.Buffer
		require.NoError(t, write(&a))
		require.NoError(t, write(&b))
		if bytes.Equal(a.Bytes(), b.Bytes()) {
			return a.Bytes()
		}
	}
	require.Fail(t, "the same thing written twice gives different bytes")
	return nil
}
