package pipeline

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/detect"
	"hidechart/hide"
	"hidechart/scene"
)

// Hides of every article, with flaws and look-alikes, under lamps 8° to 20° high: flat, and with
// waves. `make flags HIDES=28` prints docs/rig.md's figures; five seconds a photograph, so
// it is no part of the tests, whose short version is TestFaultsRaiseTheirFlags.
func TestFlagsOverManyHides(t *testing.T) {
	n, err := strconv.Atoi(os.Getenv("HIDES"))
	if err != nil || n < 1 {
		t.Skip("HIDES says over how many; see the Makefile")
	}
	articles := scene.Articles()
	seen, waves := 0, 0
	for i := range n {
		article := articles[i%len(articles)]
		spec := scene.Spec{Seed: int64(900 + i), Article: article, WidthPX: 1000, Table: scene.ContrastingTable(article), Lights: []hide.Light{hide.Top, hide.RakeN, hide.RakeE}}
		u, err := scene.NewStudio(t.Context(), spec)
		require.NoError(t, err)
		at := centreOf(u.Outline())
		cases := []scene.Fault{{},
			{Waves: []scene.Wave{{At: at, Height: 10, Width: 50, Length: 50}}},
			{Waves: []scene.Wave{{At: at, Height: 10, Width: 60, Length: 250, TurnDeg: float64(37 * i)}}},
			{Waves: []scene.Wave{{At: at, Height: 40, Width: 120, Length: 300, TurnDeg: float64(37*i + 90)}}}}
		line := fmt.Sprintf("%-18s", article)
		for k, f := range cases {
			lie, flags := lyingOf(t, u, f)
			line += fmt.Sprintf(" | %4.1f mm %4.1f° %4.2f %%", float64(lie.Height), lie.Steepest, 100*lie.Shrink)
			if k == 0 {
				line += " " + strings.Join(flags, " ")
				require.LessOrEqual(t, float64(lie.Height), mostWave, "flat")
				continue
			}
			waves++
			if float64(lie.Height) > mostWave {
				seen++
			}
		}
		t.Log(line)
	}
	t.Logf("%d of %d waves flagged", seen, waves)
	require.GreaterOrEqual(t, float64(seen), 0.95*float64(waves))
}

// lyingOf photographs with a fault and tells the hide's waves, and the codes of the quality flags.
func lyingOf(t *testing.T, u *scene.Studio, f scene.Fault) (detect.Lie, []string) {
	dir := t.TempDir()
	require.NoError(t, u.Take(t.Context(), f, dir))
	c, err := OpenCapture(dir)
	require.NoError(t, err)
	in, err := readInputs(c, "", DefaultParams())
	require.NoError(t, err)
	r, m, err := begin(in, DefaultParams(), false)
	require.NoError(t, err)
	defer r.Close()
	defer func() { m.flat.Close() }()
	found, fine, err := m.rectified(t.Context(), r, func(string) {})
	require.NoError(t, err)
	defer fine.Close()
	require.NoError(t, m.edge(t.Context(), found, fine))
	m.addFlags(m.doubts(fine)...)
	lie, _ := detect.Lying(fine, m.outline.Polygon, [2]hide.MM{in.rig.Width, in.rig.Height})
	var flags []string
	for _, code := range qualityCodes() {
		if q, ok := qualityFlags(m.flags)[code]; ok {
			flags = append(flags, fmt.Sprintf("%s %.3g", code, q.Value))
		}
	}
	return lie, flags
}
