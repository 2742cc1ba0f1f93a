package export

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

func TestWriteFileWholeOrNotAtAll(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.txt")
	require.NoError(t, os.WriteFile(path, []byte("old"), 0o600))
	broken := hide.Faultf(hide.NotMeasurable, "broke midway")
	err := WriteFile(path, func(w io.Writer) error {
		_, _ = w.Write(make([]byte, 1<<20))
		now, readErr := os.ReadFile(path)
		require.NoError(t, readErr)
		assert.Equal(t, "old", string(now), "nothing under the name yet")
		return broken
	})
	require.ErrorIs(t, err, hide.NotMeasurable)
	require.ErrorIs(t, err, broken)
	got, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "old", string(got))
	require.NoError(t, WriteFile(path, func(w io.Writer) error { _, err := io.WriteString(w, "new"); return err }))
	got, err = os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "new", string(got))
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, left, 1, "no part is left")
}

// /dev/full answers every write with "no space left on device" (Linux, full(4)).
func TestFullDisk(t *testing.T) {
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if err != nil {
		t.Skip("no /dev/full")
	}
	err = fill(full, func(w io.Writer) error { _, err := io.WriteString(w, "x"); return err })
	require.Error(t, err)
	err = writeFault("a.txt", err)
	require.ErrorIs(t, err, hide.Internal)
	assert.Contains(t, err.Error(), "disk is full")
}

func TestWriteFileWithoutFolder(t *testing.T) {
	err := WriteFile(filepath.Join(t.TempDir(), "none", "a.txt"), func(io.Writer) error { return errors.New("not reached") })
	require.ErrorIs(t, err, hide.Internal)
	require.ErrorIs(t, err, os.ErrNotExist)
}
