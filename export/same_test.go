package export

import (
	"bytes"
	"io"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
)

// sameTwice writes the same thing again a year, a month, a day and a second later by the
// clock, which is one that the test turns, and fails unless the bytes agree.
func sameTwice(t *testing.T, write func(io.Writer) error) []byte {
	t.Helper()
	var a, b bytes.Buffer
	synctest.Test(t, func(t *testing.T) {
		require.NoError(t, write(&a))
		time.Sleep(time.Until(time.Now().AddDate(1, 1, 1).Add(time.Second)))
		require.NoError(t, write(&b))
	})
	require.True(t, bytes.Equal(a.Bytes(), b.Bytes()), "the same thing written twice gives different bytes")
	return a.Bytes()
}
