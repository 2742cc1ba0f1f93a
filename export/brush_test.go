package export

import (
	"image"
	"image/draw"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"golang.org/x/image/vector"
)

func blankBrush(width, height int) brush {
	b := brush{image.NewRGBA(image.Rect(0, 0, width, height))}
	draw.Draw(b.im, b.im.Bounds(), image.White, image.Point{}, draw.Src)
	return b
}

// inkArea is the covered area in pixels, black on white.
func (b brush) inkArea() float64 {
	var sum float64
	for y := range b.im.Bounds().Dy() {
		for x := range b.im.Bounds().Dx() {
			sum += 1 - float64(b.im.RGBAAt(x, y).R)/255
		}
	}
	return sum
}

// The area under a stroke of a straight line is length × width and two half discs;
// that of a closed square's edge follows Steiner.
func TestStrokeCoversWhatGeometrySays(t *testing.T) {
	for _, a := range []float64{0, 0.3, 1, 2.5, math.Pi} {
		b := blankBrush(300, 300)
		b.stroke(black, 12, 0, line{at: []spot{{150, 150}, {150 + 100*math.Cos(a), 150 + 100*math.Sin(a)}}})
		assert.InEpsilon(t, 100*12+math.Pi*36, b.inkArea(), 0.01, "%g", a)
	}
	b := blankBrush(300, 300)
	b.stroke(black, 10, 0, line{frame{50, 50, 250, 250}.corners(), true})
	assert.InEpsilon(t, 800*5+math.Pi*25+200*200-190*190, b.inkArea(), 0.01)
	b = blankBrush(300, 300)
	b.stroke(black, 2, 10, line{at: []spot{{20, 100}, {220, 100}}})
	assert.InEpsilon(t, 10*(10*2+math.Pi), b.inkArea(), 0.05, "ten dashes of ten pixels")
}

// Shapes partly or wholly off the picture neither fail nor leak onto its edge.
func TestShapesOffThePictureAreClipped(t *testing.T) {
	b := blankBrush(100, 100)
	b.fill(black, disc(spot{-500, 50}, 100), disc(spot{50, 1e7}, 10))
	assert.Zero(t, b.inkArea())
	b.fill(black, frame{-1e6, 20, 1e6, 30}.corners())
	assert.InDelta(t, 1000, b.inkArea(), 1)
	b.fill(black)
	b.stroke(black, 3, 5, line{})
}

func TestHoleStaysOpen(t *testing.T) {
	b := blankBrush(200, 200)
	outer := frame{20, 20, 180, 180}.corners()
	inner := frame{60, 60, 100, 100}.corners()
	b.fill(black, outer, []spot{inner[3], inner[2], inner[1], inner[0]})
	assert.InDelta(t, 160*160-40*40, b.inkArea(), 1)
}

// A shape filled in tiles is what it is filled whole, but for the rounding of sums that then run
// over all rows, and of lines that start far from a tile (a hundredth of a pixel).
func TestFillInTiles(t *testing.T) {
	rings := [][]spot{disc(spot{330, 500}, 300), {{-20, -40}, {700, 130}, {90, 1100}}, {{5, 127}, {650, 127}, {650, 129}, {5, 129}}}
	tiles, whole := blankBrush(640, 1000), blankBrush(640, 1000)
	tiles.fill(black, rings...)
	part := whole.touched(rings)
	var r vector.Rasterizer
	lay(&r, boxes(rings), part, part)
	r.Draw(whole.im, part, image.Black, image.Point{})
	assert.Less(t, tiles.inkArea(), 639*999.0, "some is left blank")
	var most float64
	for i, v := range whole.im.Pix {
		most = max(most, math.Abs(float64(v)-float64(tiles.im.Pix[i])))
	}
	assert.LessOrEqual(t, most, 2.0)
}
