package score

import (
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

func putPNG(t *testing.T, path string, w, h int, white ...image.Point) {
	t.Helper()
	require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o700))
	im := image.NewGray(image.Rect(0, 0, w, h))
	for _, p := range white {
		im.SetGray(p.X, p.Y, color.Gray{255})
	}
	f, err := os.Create(path)
	require.NoError(t, err)
	require.NoError(t, png.Encode(f, im))
	require.NoError(t, f.Close())
}

func TestFindImagesPairsBelowFolders(t *testing.T) {
	d := t.TempDir()
	images, masks := filepath.Join(d, "images"), filepath.Join(d, "masks")
	for _, n := range []string{"b.png", "cut/a.png", "good/a.png"} {
		putPNG(t, filepath.Join(images, n), 4, 3)
	}
	_, err := FindImages(images, masks)
	require.Error(t, err) // no mask at all: a wrong folder
	putPNG(t, filepath.Join(masks, "b.png"), 4, 3, image.Pt(1, 1))
	putPNG(t, filepath.Join(masks, "cut/a_mask.png"), 4, 3, image.Pt(2, 0))
	found, err := FindImages(images, masks)
	require.NoError(t, err)
	require.Len(t, found, 3)
	require.Equal(t, "cut/a", found[1].Name)
	require.Empty(t, found[2].Mask)
	m, err := found[1].WithMask(4, 3, make([]uint16, 12))
	require.NoError(t, err)
	require.True(t, m.Defect[2])
	m, err = found[2].WithMask(4, 3, make([]uint16, 12))
	require.NoError(t, err)
	require.NotContains(t, m.Defect, true)
	_, err = found[0].WithMask(5, 3, make([]uint16, 15))
	require.Error(t, err) // not the mask's size
	putPNG(t, filepath.Join(images, "b.tif"), 1, 1)
	_, err = FindImages(images, masks)
	require.Error(t, err) // two of one name
}
