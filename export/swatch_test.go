package export

import (
	"bytes"
	"encoding/json"
	"image"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

func sampleSwatch() Swatch {
	square := hide.Polygon{Outer: hide.Ring{{X: 4, Y: 4}, {X: 8, Y: 4}, {X: 8, Y: 8}, {X: 4, Y: 8}}}
	return Swatch{Image: SwatchImage{File: "a.png", Width: 100, Height: 60}, Frame: SwatchFrame{Unit: "mm", Y: "up", MMPerPX: .2, EdgeU: .1},
		ScoreMap: NewSwatchScore("a.score.png"), Candidates: []SwatchCandidate{{ID: 1, Probability: .9, Geometry: hide.Shape{square}, Area: SwatchArea{16, 1.6}}}}
}

// The map is read by scikit-image (Debian) at 16 bits with the stated coding.
func TestScoreMapReadByScikitImage(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.score.png")
	var b bytes.Buffer
	require.NoError(t, WriteScoreMap(&b, 3, 2, []float32{-8, -100, 0, 1, 12.5, 1e6}))
	require.NoError(t, os.WriteFile(path, b.Bytes(), 0o600))
	out, err := exec.Command("/usr/bin/python3", "-c", "import sys\nfrom skimage import io\na=io.imread(sys.argv[1])\nprint(a.dtype, a.tolist())", path).CombinedOutput()
	require.NoError(t, err, string(out))
	require.Equal(t, "uint16 [[0, 0, 4000], [4500, 10250, 65535]]\n", string(out))
	require.Error(t, WriteScoreMap(&b, 3, 3, []float32{1}))
}

func TestSwatchFileIsGeoJSONGeometry(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, WriteSwatch(&b, sampleSwatch()))
	var got struct {
		Format     string `json:"format"`
		Candidates []struct {
			Geometry struct {
				Type        string         `json:"type"`
				Coordinates [][][2]float64 `json:"coordinates"`
			} `json:"geometry"`
		} `json:"candidates"`
	}
	require.NoError(t, json.Unmarshal(b.Bytes(), &got))
	require.Equal(t, SwatchFormat, got.Format)
	require.Equal(t, "Polygon", got.Candidates[0].Geometry.Type)
	ring := got.Candidates[0].Geometry.Coordinates[0]
	require.Equal(t, ring[0], ring[len(ring)-1]) // RFC 7946, 3.1.6: closed
	b.Reset()
	require.NoError(t, WriteSwatch(&b, Swatch{}))
	require.Contains(t, b.String(), `"candidates": []`)
}

// The outline is drawn where the millimetres say: the square lies 20 to 40 px
// from the left and, of 60, 20 to 40 from the top.
func TestSwatchOverlayOutline(t *testing.T) {
	photo := pix.New(100, 60, pix.U8, 1)
	defer photo.Close()
	var b bytes.Buffer
	require.NoError(t, WriteSwatchOverlay(&b, sampleSwatch(), photo))
	im, err := png.Decode(&b)
	require.NoError(t, err)
	require.Equal(t, image.Pt(100, 60), im.Bounds().Size())
	lit := func(x, y int) bool { r, _, _, _ := im.At(x, y).RGBA(); return r > 0 }
	require.True(t, lit(20, 30) && lit(30, 40) && lit(40, 35))
	require.False(t, lit(30, 30) || lit(60, 55) || lit(12, 30))
}
