package score_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/score"
)

func TestWriteReport(t *testing.T) {
	r := score.Result{Article: "russet", TruthDefects: 2, Found: 1, FalseCandidates: 3, Area: 1e6, OutlineIoU: 0.99, AreaError: -0.002,
		ByKind: []score.KindResult{{Kind: hide.Scar, TruthDefects: 2, Found: 1, KindRight: 1, FalseCandidates: 3}},
		Truths: []score.TruthOutcome{{Kind: hide.Scar, Visibility: 0.5, Found: true}, {Kind: hide.Scar, Visibility: 1.5}, {Kind: hide.Scar, Visibility: 1.5, Hidden: true}}}
	var b strings.Builder
	require.NoError(t, score.WriteReport(&b, []score.Case{{Name: "a", Lights: "top", Tuned: true, Result: r}, {Name: "b", Lights: "top, back", Result: r}}))
	out := b.String()
	// Wilson's interval of 2 in 4: 0.15 to 0.85 (Wilson 1927)
	assert.Contains(t, out, "| all | 2 | 0.50 (0.15–0.85) |")
	assert.Contains(t, out, "never used in tuning | 1 |")
	assert.Contains(t, out, "| 0.4 to 0.6 | 2 | 1.00")
	assert.Contains(t, out, "| 1 and more | 2 | 0.00")
	assert.Contains(t, out, "| scar | 4 |")
	assert.Contains(t, out, "median error 0.200 %, worst 0.200 %")
}

func TestWriteLights(t *testing.T) {
	r := score.Result{TruthDefects: 4, Found: 3, Area: 1e6}
	dim := r
	dim.Found = 1
	var b strings.Builder
	require.NoError(t, score.WriteLights(&b, []score.Case{{Lights: "all", Result: r}, {Lights: "all", Result: r}, {Lights: "top alone", Result: dim}}))
	assert.Contains(t, b.String(), "| all | 2 | 0.75 (")
	assert.Contains(t, b.String(), "| top alone | 1 | 0.25 (")
}
