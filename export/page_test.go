package export

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

// The page needs nothing but its own folder, holds no script, escapes what stands
// in names, and shows every flaw that was not rejected.
func TestPageStandsAlone(t *testing.T) {
	from, dir := t.TempDir(), filepath.Join(t.TempDir(), "H.page")
	c := sampleChart(`H <script>alert(1)</script> "&`)
	c.Defects[2].Status = hide.Rejected
	l := sampleLights(2)
	for i, p := range l.Pictures {
		im := pix.New(l.Width, l.Height, pix.U8, 3)
		data, err := pix.EncodeJPEG(im, 80)
		im.Close()
		require.NoError(t, err)
		l.Pictures[i].SHA256 = strings.Repeat("ab", 32)
		require.NoError(t, os.WriteFile(filepath.Join(from, p.File), data, 0o644))
	}
	f, err := os.Create(filepath.Join(from, LightsName))
	require.NoError(t, err)
	require.NoError(t, WriteLights(f, l))
	require.NoError(t, f.Close())
	require.NoError(t, WritePage(dir, c, from, strings.Repeat("0", 64)))

	text, err := os.ReadFile(filepath.Join(dir, "index.html"))
	require.NoError(t, err)
	assert.NotContains(t, string(text), "<script")
	assert.Contains(t, string(text), "&lt;script&gt;")
	assert.NotRegexp(t, `\son[a-z]+=|javascript:|https?://`, string(text))
	for _, m := range regexp.MustCompile(`(?:href|src)="([^"#]+)"`).FindAllStringSubmatch(string(text), -1) {
		assert.FileExists(t, filepath.Join(dir, m[1]))
	}
	shown := 0
	for _, d := range c.Defects {
		if d.Status != hide.Rejected {
			shown++
		}
	}
	assert.Equal(t, shown, strings.Count(string(text), `class="flaw `))
	assert.NotContains(t, string(text), `id="on-3"`, "rejected")
}

// Without pictures the flaws are drawn on plain ground.
func TestPageWithoutPictures(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "H.page")
	require.NoError(t, WritePage(dir, sampleChart("H"), t.TempDir(), ""))
	text, err := os.ReadFile(filepath.Join(dir, "index.html"))
	require.NoError(t, err)
	assert.NotContains(t, string(text), "<image")
}
