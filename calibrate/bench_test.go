package calibrate

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/pix"
)

// Each step of bringing a 24 MP photograph onto the table.
func BenchmarkPhotograph(b *testing.B) {
	const name = "whole-wetblue"
	data, rig := captureFile(b, name, "top.jpg"), captureRig(b, name)
	im, err := pix.Decode(data, pix.DefaultLimits())
	require.NoError(b, err)
	defer im.Close()
	lin, err := pix.Linear(im)
	require.NoError(b, err)
	defer lin.Close()
	grey, err := pix.Grey(lin)
	require.NoError(b, err)
	defer grey.Close()
	seen, err := FindTags(grey, rig)
	require.NoError(b, err)
	view, _, err := Solve(rig, sizeOf(grey), seen, nil, DefaultParams())
	require.NoError(b, err)
	grid := pix.TableGrid(rig.Width, rig.Height, 0.5)
	closing := func(out *pix.Image, err error) {
		require.NoError(b, err)
		out.Close()
	}
	for step, run := range map[string]func(){
		"decode": func() { closing(pix.Decode(data, pix.DefaultLimits())) },
		"linear": func() { closing(pix.Linear(im)) },
		"grey":   func() { closing(pix.Grey(lin)) },
		"tags":   func() { _, err := FindTags(grey, rig); require.NoError(b, err) },
		"search": func() { _, err := searchAt(grey, 1.0/3); require.NoError(b, err) },
		"solve": func() {
			_, _, err := Solve(rig, sizeOf(grey), seen, nil, DefaultParams())
			require.NoError(b, err)
		},
		"warp linear colour": func() { closing(view.Warp(lin, grid, 0, pix.Bilinear)) },
		"warp coded colour":  func() { closing(view.Warp(im, grid, 0, pix.Bilinear)) },
		"warp cubic":         func() { closing(view.Warp(lin, grid, 0, pix.Cubic)) },
	} {
		b.Run(step, func(b *testing.B) {
			b.ReportAllocs()
			for range b.N {
				run()
			}
		})
	}
}
