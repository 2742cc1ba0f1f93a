package calibrate

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/pix"
)

// drawnTag is a raster of tag 3 without a lens's blur and without noise, as a
// program draws it: its black square of edge px about a middle, turned, each pixel
// the mean of side² samples.
type drawnTag struct {
	edge, x, y, turn float64
	side             int
}

const drawnSize = 320

func (d drawnTag) image(t *testing.T) *pix.Image {
	t.Helper()
	pattern, err := TagPattern(3)
	require.NoError(t, err)
	im := pix.New(drawnSize, drawnSize, pix.U16, 1)
	t.Cleanup(im.Close)
	sin, cos := math.Sincos(d.turn)
	cell := d.edge / TagCells
	data := im.Uint16s()
	for i := range data {
		sum := 0.0
		for k := range d.side * d.side {
			x := float64(i%drawnSize) + (float64(k%d.side)+0.5)/float64(d.side) - 0.5 - d.x
			y := float64(i/drawnSize) + (float64(k/d.side)+0.5)/float64(d.side) - 0.5 - d.y
			col := int(math.Floor((cos*x+sin*y)/cell + TagCells/2 + QuietCells))
			row := int(math.Floor((-sin*x+cos*y)/cell + TagCells/2 + QuietCells))
			if col < 0 || row < 0 || row >= len(pattern) || col >= len(pattern) || pattern[row][col] {
				sum += full16
			}
		}
		data[i] = uint16(math.Round(sum / float64(d.side*d.side)))
	}
	return im
}

// off is the root mean square distance of the corners from where they were
// drawn, and the mean of what is stated.
func (d drawnTag) off(t *testing.T, s Sighting) (rms, stated float64) {
	t.Helper()
	sin, cos := math.Sincos(d.turn)
	for k, c := range s.Corners {
		require.True(t, s.Good[k], "corner %d", k)
		px, py := d.edge/2*[4]float64{-1, 1, 1, -1}[k], d.edge/2*[4]float64{1, 1, -1, -1}[k]
		ex, ey := float64(c.X)-(d.x+cos*px-sin*py), float64(c.Y)-(d.y+sin*px+cos*py)
		rms, stated = rms+(ex*ex+ey*ey)/4, stated+float64(s.SD[k])/4
	}
	return math.Sqrt(rms), stated
}

// A drawn page has no blur and no noise, so nearly all pixels of a band fit
// exactly and say that the few on the edge, which alone tell where it is, are
// outliers. They must count all the same. Pixels that are means give corners to
// a tenth of a pixel, some to a quarter, as the model's blur is no square; a raster of black and white
// only tells an edge to half a pixel at worst, a corner to 0.7 or, where
// its stairs mislead the slope as well, a pixel.
func TestCornersWithoutBlur(t *testing.T) {
	for _, c := range []struct {
		side  int
		limit float64
	}{{5, 0.3}, {1, 1}} {
		worst, mean, n := 0.0, 0.0, 0.0
		for _, turn := range []float64{0, 0.02, 0.3, math.Pi / 4} {
			for _, shift := range []float64{0, 0.25, 0.6} {
				for _, edge := range []float64{80, 133.3, 160} {
					d := drawnTag{edge: edge, x: 160 + shift, y: 158 + shift/3, turn: turn, side: c.side}
					seen, err := FindTags(d.image(t), Rig{})
					require.NoError(t, err)
					name := fmt.Sprintf("side %d turn %g shift %g edge %g", c.side, turn, shift, edge)
					require.Len(t, seen, 1, name)
					rms, stated := d.off(t, seen[0])
					worst, mean, n = math.Max(worst, rms), mean+rms, n+1
					if rms > c.limit || rms > 3*math.Hypot(stated, 0.03)*math.Sqrt2 {
						t.Errorf("%s: off %.3f px, stated %.3f, blur %.2f", name, rms, stated, seen[0].Blur)
					}
				}
			}
		}
		t.Logf("%d samples a side: mean %.3f px, worst %.3f px", c.side, mean/n, worst)
	}
}
