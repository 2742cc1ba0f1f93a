package pipeline

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/calibrate"
	"hidechart/detect"
	"hidechart/hide"
	"hidechart/pix"
)

func codesOf(flags []hide.Flag) []string {
	out := []string{}
	for _, f := range flags {
		out = append(out, f.Code)
	}
	return out
}

func tagsOf(blur hide.PX, white ...float64) []calibrate.Sighting {
	var out []calibrate.Sighting
	for i, w := range white {
		out = append(out, calibrate.Sighting{ID: i, Blur: blur, Light: w, Dark: w / 20})
	}
	return out
}

func TestPhotoFlags(t *testing.T) {
	require.Empty(t, photoFlags(tagsOf(0.8, 0.6, 0.7, 0.4, 0.5), 0.6), "sharp, well lit")
	require.Empty(t, photoFlags(tagsOf(0.9, 0.6, 0.6, 0.6, 0.6), 2), "coarse is not blurred")
	require.Equal(t, []string{"blurred"}, codesOf(photoFlags(tagsOf(3, 0.6, 0.6, 0.6, 0.6), 0.6)))
	require.InDelta(t, 1.8, photoFlags(tagsOf(3, 0.6, 0.6, 0.6, 0.6), 0.6)[0].Value, 1e-9)
	require.Equal(t, []string{"dark"}, codesOf(photoFlags(tagsOf(0.8, 0.1, 0.1, 0.12, 0.1), 0.6)))
	require.Equal(t, []string{"uneven"}, codesOf(photoFlags(tagsOf(0.8, 0.9, 0.5, 0.4, 0.15), 0.6)))
}

// A square of leather of which one part in a hundred is cut off, 15 mm from the
// photograph's border.
func TestHideFlags(t *testing.T) {
	g := pix.TableGrid(500, 500, 1)
	top := pix.New(500, 500, pix.U16, 1)
	defer top.Close()
	square := hide.Polygon{Outer: hide.Ring{{X: 100, Y: 100}, {X: 300, Y: 100}, {X: 300, Y: 300}, {X: 100, Y: 300}}}
	far := hide.Ring{{X: -50, Y: -50}, {X: 600, Y: -50}, {X: 600, Y: 600}, {X: -50, Y: 600}}
	fine := detect.Photos{Grid: g, Lights: map[hide.Light]*pix.Image{hide.Top: top}}
	require.Empty(t, hideFlags(fine, square, far))
	for y := range 20 {
		for x := range 20 {
			top.Uint16s()[(300+y)*500+150+x] = 65535
		}
	}
	for x := range 100 { // beside the hide, where it does not matter
		top.Uint16s()[10*500+x] = 65535
	}
	got := hideFlags(fine, square, far)
	require.Equal(t, []string{"clipped"}, codesOf(got))
	require.InDelta(t, 1, got[0].Value, 0.1)
	near := hide.Ring{{X: 85, Y: -50}, {X: 600, Y: -50}, {X: 600, Y: 600}, {X: 85, Y: 600}}
	got = hideFlags(fine, square, near)
	require.Equal(t, []string{"clipped", "near_frame"}, codesOf(got))
	require.InDelta(t, 15, got[1].Value, 1e-6)
}
