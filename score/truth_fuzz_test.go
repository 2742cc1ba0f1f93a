package score

import (
	"encoding/json"
	"image"
	"testing"

	"github.com/stretchr/testify/require"
)

// Whatever truth.json says, a truth that is accepted can be worked with: a
// raster of sane size and boxes inside it.
func FuzzTruthFile(f *testing.F) {
	d := draw()
	d.defect(1, 20, 20, 40, 22)
	good, err := json.Marshal(d.file)
	require.NoError(f, err)
	f.Add(good)
	f.Add([]byte(`{"mm_per_px": 1e300, "table_mm": [1e300, 1], "area_mm2": 1, "outline_mm": [[0,0],[1,0],[1,1]]}`))
	f.Add([]byte(`{"mm_per_px": 1, "table_mm": [9, 9], "area_mm2": 1, "outline_mm": [[0,0],[1,0],[1,1]],
		"defects": [{"kind": "scar", "bbox_mm": [-1e300, 1e300, 5, -7]}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		var file truthFile
		if json.Unmarshal(data, &file) != nil {
			return
		}
		truth, err := file.truth()
		if err != nil {
			return
		}
		g := truth.Grid
		require.LessOrEqual(t, float64(g.Width)*float64(g.Height), 1.1*float64(maxTruthPixels))
		for _, d := range truth.Defects {
			b := pixelBox(g, d.Box)
			require.True(t, b.Empty() || b.In(image.Rect(0, 0, g.Width, g.Height)), "%v", b)
		}
	})
}
