package score

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/scene"
)

// What package scene writes as truth is read as it was meant: the splitting
// gives back each defect's stated pixels. The seed is one without two flaws within 2 mm,
// of which the rules of matching would take the first for both.
func TestReadsTheTruthOfScenes(t *testing.T) {
	if testing.Short() {
		t.Skip("renders a capture")
	}
	dir := t.TempDir()
	require.NoError(t, scene.Render(context.Background(), scene.Spec{Seed: 12, WidthPX: 600, Lights: []hide.Light{hide.Top}}, dir))
	truth, err := ReadTruth(dir)
	require.NoError(t, err)
	require.NotEmpty(t, truth.Defects)
	var stated, shown float64
	for _, d := range truth.Defects {
		stated += float64(d.Area)
		shown += float64(d.Pixels) * float64(truth.Grid.MMPerPX*truth.Grid.MMPerPX)
	}
	require.InEpsilon(t, stated, shown, 1e-9)
	r := compared(t, perfect(t, truth), truth)
	require.InDelta(t, 1, *r.Recall, 0)
	require.InDelta(t, 1, *r.KindAccuracy, 0)
	require.InDelta(t, 1, r.OutlineIoU, 1e-6)
}
