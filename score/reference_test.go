package score

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// reference is testdata/reference.json: results of scipy and numpy, by
// testdata/reference.py; the versions are in the file.
type reference struct {
	AUROCPooled float64             `json:"auroc_pooled"`
	AUROC       map[string]*float64 `json:"auroc"`
	AUPRO       float64             `json:"aupro"`
	Regions     int                 `json:"regions"`
	RecallAt    []RecallAtShare     `json:"recall_at"`
	Wilson      [][5]float64        `json:"wilson"`
}

func readReference(t *testing.T) reference {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", "reference.json"))
	require.NoError(t, err)
	var want reference
	require.NoError(t, json.Unmarshal(data, &want))
	return want
}

// Both sides count the same pixels exactly; they differ by rounding only.
const rounding = 1e-9

func TestSwatchesAgreeWithScipy(t *testing.T) {
	want := readReference(t)
	got, err := Swatches(filepath.Join("testdata", "maps"), filepath.Join("testdata", "masks"))
	require.NoError(t, err)
	require.InDelta(t, want.AUROCPooled, *got.AUROC, rounding)
	require.InDelta(t, want.AUPRO, *got.AUPRO, rounding)
	require.Equal(t, want.Regions, got.Regions)
	for _, i := range got.ByImage {
		if want.AUROC[i.Name] == nil {
			require.Nil(t, i.AUROC, i.Name)
			continue
		}
		require.InDelta(t, *want.AUROC[i.Name], *i.AUROC, rounding, i.Name)
	}
	require.Len(t, got.RecallAt, len(want.RecallAt))
	for i, w := range want.RecallAt {
		require.InDelta(t, *w.Pixels, *got.RecallAt[i].Pixels, rounding)
		require.InDelta(t, *w.Regions, *got.RecallAt[i].Regions, rounding)
	}
}

func TestWilsonAgreesWithScipy(t *testing.T) {
	require.Nil(t, Wilson(0, 0))
	for _, w := range readReference(t).Wilson {
		got := Wilson(int(w[0]), int(w[1]))
		// z95 carries seven digits
		require.InDelta(t, w[2], got.Low, 1e-6, "%v", w)
		require.InDelta(t, w[3], got.High, 1e-6, "%v", w)
	}
}

func TestPerfectAndUselessMaps(t *testing.T) {
	m := Map{Width: 20, Height: 10, Score: make([]uint16, 200), Defect: make([]bool, 200)}
	for i := 50; i < 90; i++ {
		m.Defect[i] = true
	}
	r := CompareMaps([]Map{m}) // all alike: chance
	require.InDelta(t, 0.5, *r.AUROC, 0)
	// all pixels at once: a straight line to (1, 1), cut at 0.3: mean height 0.15
	require.InDelta(t, 0.15, *r.AUPRO, rounding)
	require.InDelta(t, 0, *r.RecallAt[0].Pixels, 0)
	for i, d := range m.Defect {
		m.Score[i] = uint16(1 + 65534*count(d))
	}
	r = CompareMaps([]Map{m})
	require.InDelta(t, 1, *r.AUROC, 0)
	require.InDelta(t, 1, *r.AUPRO, rounding)
	require.InDelta(t, 1, *r.RecallAt[0].Regions, 0)
}

func TestSwatchesRefuse(t *testing.T) {
	_, err := Swatches(t.TempDir(), t.TempDir())
	require.ErrorIs(t, err, hide.NotFound)
	_, err = Swatches(filepath.Join("testdata", "maps"), t.TempDir())
	require.ErrorIs(t, err, hide.NotFound)
	_, err = ReadMap(filepath.Join("testdata", "masks", "clear.png"), filepath.Join("testdata", "masks", "clear.png"))
	require.ErrorIs(t, err, hide.Invalid) // eight bits
}
