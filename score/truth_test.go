package score

import (
	"encoding/json"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// drawn is a small table drawn by hand: 200 mm × 150 mm, pixels of 0.5 mm, a
// hide from (10, 10) to (190, 140).
type drawn struct {
	file  map[string]any
	label *image.Gray
}

const drawnArea = 180 * 130 // mm²

func draw() *drawn {
	d := &drawn{label: image.NewGray(image.Rect(0, 0, 400, 300)), file: map[string]any{
		"article": "drawn", "mm_per_px": 0.5, "table_mm": []float64{200, 150}, "area_mm2": float64(drawnArea),
		"neck_mm": []float64{10, 75}, "tail_mm": []float64{190, 75},
		"kinds":      []string{"scar", "hole", "stain"},
		"outline_mm": [][]float64{{10, 10}, {190, 10}, {190, 140}, {10, 140}},
		"defects":    []any{},
	}}
	for i := range d.label.Pix {
		d.label.Pix[i] = labelTable
	}
	d.paint(labelLeather, 10, 10, 190, 140)
	return d
}

// paint fills a rectangle given in millimetres, y up.
func (d *drawn) paint(v uint8, left, bottom, right, top float64) {
	for y := int((150 - top) * 2); y < int((150-bottom)*2); y++ {
		for x := int(left * 2); x < int(right*2); x++ {
			d.label.SetGray(x, y, color.Gray{Y: v})
		}
	}
}

// defect paints a rectangle of kind v (1 scar, 2 hole, 3 stain) and lists it.
func (d *drawn) defect(v uint8, left, bottom, right, top float64) {
	d.paint(v, left, bottom, right, top)
	list := d.file["defects"].([]any)
	d.file["defects"] = append(list, map[string]any{"id": len(list) + 1, "kind": d.file["kinds"].([]string)[v-1],
		"area_mm2": (right - left) * (top - bottom), "bbox_mm": []float64{left, bottom, right, top}})
}

func (d *drawn) write(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	data, err := json.Marshal(d.file)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "truth.json"), data, 0o600))
	f, err := os.Create(filepath.Join(dir, "truth_label.png"))
	require.NoError(t, err)
	require.NoError(t, png.Encode(f, d.label))
	require.NoError(t, f.Close())
	return dir
}

func (d *drawn) truth(t *testing.T) Truth {
	t.Helper()
	truth, err := ReadTruth(d.write(t))
	require.NoError(t, err)
	return truth
}

func TestReadTruthKeepsWhatWasDrawn(t *testing.T) {
	d := draw()
	d.defect(1, 20, 20, 40, 22)
	d.defect(2, 100, 100, 106, 106)
	truth := d.truth(t)
	require.Equal(t, "drawn", truth.Article)
	require.InDelta(t, drawnArea, float64(truth.Area), 0)
	require.Equal(t, &[2]hide.Point{{X: 10, Y: 75}, {X: 190, Y: 75}}, truth.Backbone)
	require.Len(t, truth.Defects, 2)
	require.Equal(t, 40*4, truth.Defects[0].Pixels) // 20 mm × 2 mm at 0.5 mm
	require.Equal(t, 12*12, truth.Defects[1].Pixels)
}

// Two scars that cross, one stain over a scar's end, one scar wholly under the
// stain: pixels go where docs/score.md says.
func TestSplitSharesPixels(t *testing.T) {
	d := draw()
	d.defect(1, 20, 50, 60, 52)   // long, lying
	d.defect(1, 39, 40, 41, 62)   // standing, crosses the first
	d.defect(1, 100, 50, 120, 52) // its right half under the stain
	d.defect(1, 126, 46, 130, 48) // wholly under the stain
	d.defect(3, 110, 40, 140, 60)
	truth := d.truth(t)
	px := func(i int) int { return truth.Defects[i].Pixels }
	// the crossing part lies in no single box: the standing scar's box is the
	// smaller (44 mm² against 80), so it keeps its whole column
	require.InDelta(t, 4*44, px(1), 2*4)
	require.InDelta(t, 80*4-4*4, px(0), 2*4) // boxes are one pixel wider than the paint
	require.Equal(t, 20*4, px(2))
	require.Equal(t, 0, px(3))
	require.Equal(t, 60*40, px(4))
}

func TestReadTruthRefuses(t *testing.T) {
	for name, breakIt := range map[string]func(*drawn){
		"size":    func(d *drawn) { d.file["mm_per_px"] = 0.4 },
		"zero":    func(d *drawn) { d.file["mm_per_px"] = 0 },
		"huge":    func(d *drawn) { d.file["mm_per_px"] = 1e-6 },
		"kind":    func(d *drawn) { d.file["kinds"] = []string{"dent"} },
		"label":   func(d *drawn) { d.paint(7, 20, 20, 30, 30) },
		"stray":   func(d *drawn) { d.paint(1, 20, 20, 30, 30) },
		"outline": func(d *drawn) { d.file["outline_mm"] = [][]float64{} },
	} {
		t.Run(name, func(t *testing.T) {
			d := draw()
			breakIt(d)
			_, err := ReadTruth(d.write(t))
			require.ErrorIs(t, err, hide.Invalid)
		})
	}
	_, err := ReadTruth(t.TempDir())
	require.ErrorIs(t, err, hide.NotFound)
	dir := draw().write(t)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "truth_label.png"), []byte("no picture"), 0o600))
	_, err = ReadTruth(dir)
	require.ErrorIs(t, err, hide.Unreadable)
}
