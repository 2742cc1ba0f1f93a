package calibrate

import (
	"image"
	"image/color"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

// The corners of a stored picture of 5 × 3 pixels come back from where TIFF 6.0,
// tag 274, puts them in the upright one: row 0, column 0 of the stored picture lies
// top left (1), bottom right (3), top right (6: row 0 is the right side, column 0
// its top), bottom left (8: row 0 is the left side, column 0 its bottom).
func TestOnSensor(t *testing.T) {
	for orientation, c := range map[int]struct {
		size   image.Point
		origin pix.Point
	}{1: {image.Pt(5, 3), pix.Point{}}, 3: {image.Pt(5, 3), pix.Point{X: 4, Y: 2}},
		6: {image.Pt(3, 5), pix.Point{X: 2, Y: 0}}, 8: {image.Pt(3, 5), pix.Point{X: 0, Y: 4}}} {
		seen, size, err := OnSensor([]Sighting{{Corners: [4]pix.Point{c.origin}}}, c.size, orientation)
		require.NoError(t, err)
		require.Equal(t, image.Pt(5, 3), size, orientation)
		require.Equal(t, pix.Point{}, seen[0].Corners[0], orientation)
	}
	_, _, err := OnSensor(nil, image.Pt(5, 3), 2)
	require.ErrorIs(t, err, hide.Invalid)
}

// Two prints of one id in a photograph are refused by name.
func TestFindSurveyTagsRefusesTwins(t *testing.T) {
	rnd := newRand(3)
	rig := smallRig()
	v := smallView(0)
	data := rendered(t, v, rig, rnd)
	one := stdDecoded(t, data)
	twin := image.NewGray(image.Rect(0, 0, 2*one.Bounds().Dx(), one.Bounds().Dy()))
	for y := range one.Bounds().Dy() {
		for x := range one.Bounds().Dx() {
			c := color.GrayModel.Convert(one.At(x, y))
			twin.Set(x, y, c)
			twin.Set(x+one.Bounds().Dx(), y, c)
		}
	}
	sc := pix.NewScope()
	defer sc.Close()
	im, err := pix.Decode(encoded(t, twin), pix.DefaultLimits())
	require.NoError(t, err)
	grey, err := pix.Linear(sc.Keep(im))
	require.NoError(t, err)
	_, err = FindSurveyTags("twice.jpg", sc.Keep(grey))
	require.ErrorIs(t, err, hide.Invalid)
	require.ErrorContains(t, err, "twice.jpg shows tag 0, 1, 2, 3 more than once")
}
