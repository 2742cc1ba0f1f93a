package export

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

func TestLightsComeBackEqual(t *testing.T) {
	dir := t.TempDir()
	_, err := ReadLights(dir)
	require.ErrorIs(t, err, hide.NotFound)
	p, err := OpenPhoto(dir)
	require.NoError(t, err)
	assert.Nil(t, p.Image)
	l := sampleLights(0.7)
	var b bytes.Buffer
	require.NoError(t, WriteLights(&b, l))
	require.NoError(t, os.WriteFile(filepath.Join(dir, LightsName), b.Bytes(), 0o644))
	got, err := ReadLights(dir)
	require.NoError(t, err)
	assert.Equal(t, l, got)
	_, err = OpenPhoto(dir)
	require.ErrorIs(t, err, hide.Unreadable, "the picture is not there")
}

// A file that names another path, light or no hash is refused: the page serves
// what it names.
func TestLightsThatCannotBe(t *testing.T) {
	for name, bad := range map[string]func(*Lights){
		"path":  func(l *Lights) { l.Pictures[0].File = "../../secret.jpg" },
		"light": func(l *Lights) { l.Pictures[0].Light = "moon" },
		"hash":  func(l *Lights) { l.Pictures[0].SHA256 = "../x" },
		"scale": func(l *Lights) { l.MMPerPX = 0 },
		"size":  func(l *Lights) { l.Width = 1 << 30 },
	} {
		l := sampleLights(1)
		bad(&l)
		require.ErrorIs(t, l.Check(), hide.Invalid, name)
		require.ErrorIs(t, WriteLights(&bytes.Buffer{}, l), hide.Invalid, name)
	}
}
