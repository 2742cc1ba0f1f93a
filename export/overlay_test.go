package export

import (
	"errors"
	"flag"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

var update = flag.Bool("update", false, "write the golden pictures anew; look at them before committing")

// mottled is a made-up photograph of a table with leather of the given grey.
func mottled(t *testing.T, g pix.Grid, c hide.Chart, leather, table uint8) *pix.Image {
	t.Helper()
	im := pix.New(g.Width, g.Height, pix.U8, 3)
	t.Cleanup(im.Close)
	l, err := newLettering()
	require.NoError(t, err)
	p := planOverlay(c, l)
	p.grid, p.mapAt = g, frame{0, 0, float64(g.Width), float64(g.Height)}
	m, part := brush{image.NewRGBA(image.Rect(0, 0, g.Width, g.Height))}.mask(p.outlineRings())
	r := rand.New(rand.NewPCG(1, 2))
	data := im.Bytes()
	for i := range g.Width * g.Height {
		q := image.Pt(i%g.Width, i/g.Width)
		v := int(table)
		if q.In(part) && m.AlphaAt(q.X-part.Min.X, q.Y-part.Min.Y).A > 127 {
			v = int(leather) + r.IntN(21) - 10 + int(8*math.Sin(float64(q.X)/40)*math.Cos(float64(q.Y)/55))
		}
		for ch := range 3 {
			data[3*i+ch] = uint8(min(max(v+4*ch-4, 0), 255))
		}
	}
	return im
}

// tableGrid is coarse: the tests are about the drawing.
func tableGrid() pix.Grid { return pix.TableGrid(3300, 2600, 2) }

// The golden picture, shrunk by four, differs by no more than antialiasing
// does between processors (fused multiply-add).
func TestOverlayLooksAsReviewed(t *testing.T) {
	c := sampleChart("A-1")
	got := shrunk(drawn(t, c, Photo{Image: mottled(t, tableGrid(), c, 60, 230), Grid: tableGrid()}), 4)
	path := filepath.Join("testdata", "overlay.png")
	if *update {
		savePNG(t, path, got)
	}
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	want, err := png.Decode(f)
	require.NoError(t, err)
	require.Equal(t, want.Bounds(), got.Bounds())
	diff, mean, off := difference(got, want)
	if mean > 0.2 || off > 50 {
		savePNG(t, filepath.Join("testdata", "overlay.got.png"), got)
		savePNG(t, filepath.Join("testdata", "overlay.diff.png"), diff)
		t.Errorf("mean difference %.2f grey values, %d pixels off by more than 24: compare testdata/overlay{,.got,.diff}.png", mean, off)
	}
}

func drawn(t *testing.T, c hide.Chart, photo Photo) *image.RGBA {
	t.Helper()
	im, err := drawOverlay(c, photo)
	require.NoError(t, err)
	return im
}

// shrunk averages squares of n by n pixels.
func shrunk(im *image.RGBA, n int) *image.RGBA {
	out := image.NewRGBA(image.Rect(0, 0, im.Bounds().Dx()/n, im.Bounds().Dy()/n))
	for y := range out.Bounds().Dy() {
		for x := range out.Bounds().Dx() {
			var sum [4]int
			for i := range n * n {
				o := im.PixOffset(x*n+i%n, y*n+i/n)
				for c := range sum {
					sum[c] += int(im.Pix[o+c])
				}
			}
			for c := range sum {
				out.Pix[out.PixOffset(x, y)+c] = uint8(sum[c] / (n * n))
			}
		}
	}
	return out
}

func savePNG(t *testing.T, path string, im image.Image) {
	t.Helper()
	require.NoError(t, WriteFile(path, func(w io.Writer) error { return png.Encode(w, im) }))
}

// difference is a grey picture of where two pictures differ, the mean of it, and
// the number of pixels off by more than a tenth of the range.
func difference(a, b image.Image) (*image.Gray, float64, int) {
	out := image.NewGray(a.Bounds())
	var sum float64
	off := 0
	for y := range a.Bounds().Dy() {
		for x := range a.Bounds().Dx() {
			r0, g0, b0, _ := a.At(x, y).RGBA()
			r1, g1, b1, _ := b.At(x, y).RGBA()
			d := (math.Abs(float64(r0)-float64(r1)) + math.Abs(float64(g0)-float64(g1)) + math.Abs(float64(b0)-float64(b1))) / 3 / 257
			out.SetGray(x, y, color.Gray{Y: uint8(min(255, 4*d))})
			sum += d
			if d > 24 {
				off++
			}
		}
	}
	return out, sum / float64(a.Bounds().Dx()*a.Bounds().Dy()), off
}

// crowded is the sample with n small defects spread by chance.
func crowded(n int) hide.Chart {
	c := sampleChart("A-1")
	c.Defects = nil
	r := rand.New(rand.NewPCG(3, 4))
	kinds := hide.Kinds()
	for i := range n {
		a, s := 2*math.Pi*r.Float64(), math.Sqrt(r.Float64())
		x, y := 1600+950*s*math.Cos(a), 1200+680*s*math.Sin(a)
		d := sampleDefect(0, kinds[i%len(kinds)], "")
		d.ID, d.Probability, d.Status = i+1, 0.5+r.Float64()/2, hide.Candidate
		size := 1 + 40*r.Float64()*r.Float64()
		d.Geometry = hide.Shape{{Outer: oval(x, y, size, size/3, 0, 20)}}
		c.Defects = append(c.Defects, d)
	}
	return c
}

// Numbers never overlap one another, the head mark or the sheet's texts,
// and every one is there as long as they fit.
func TestNumbersDoNotPileUp(t *testing.T) {
	l, err := newLettering()
	require.NoError(t, err)
	for _, n := range []int{0, 1, 20, 80, 100, 400} {
		p := planOverlay(crowded(n), l)
		var placed []frame
		for _, b := range p.badges {
			if b.at == (frame{}) {
				continue
			}
			assert.True(t, b.at.within(p.mapAt))
			assert.False(t, b.at.meets(p.head.word))
			assert.GreaterOrEqual(t, b.capital, p.capital)
			for _, other := range placed {
				require.False(t, b.at.meets(other), "%d defects", n)
			}
			placed = append(placed, b.at)
		}
		assert.Len(t, placed, n-p.unnamed)
		if n <= 100 {
			assert.Zero(t, p.unnamed, "%d defects", n)
		} else {
			assert.Contains(t, strings.Join(p.notes, " "), "without a number", "what is left out is said")
		}
	}
}

// Letters are 5 mm on a print of A3 (297 x 420 mm, ISO 216), whichever way the
// hide lies, and no text leaves the sheet.
func TestLettersAreLegible(t *testing.T) {
	l, err := newLettering()
	require.NoError(t, err)
	upright := sampleChart("A-1")
	for i, p := range upright.Outline.Outer {
		upright.Outline.Outer[i] = hide.Point{X: p.Y, Y: p.X}
	}
	for i, p := range upright.Backbone {
		upright.Backbone[i] = hide.Point{X: p.Y, Y: p.X}
	}
	upright.Defects = nil
	for _, c := range []hide.Chart{sampleChart("A-1"), upright} {
		p := planOverlay(settled(c), l)
		short := min(p.size.X, p.size.Y)
		assert.GreaterOrEqual(t, p.capital*297/float64(short), 4.9)
		assert.InDelta(t, math.Sqrt2, float64(max(p.size.X, p.size.Y))/float64(short), 0.01)
		for _, s := range append(append([]string{}, p.caution...), p.notes...) {
			assert.LessOrEqual(t, l.width(s, p.capital, false), float64(p.size.X)-2.5*p.capital)
		}
		for _, s := range p.flags {
			assert.LessOrEqual(t, l.width(s, p.capital, true), float64(p.size.X)-2.5*p.capital)
		}
		assert.GreaterOrEqual(t, p.legendAt.width()/float64(p.columns), (legendWidth-1)*p.capital, "a legend's column holds its words")
		assert.Less(t, p.legendAt.y0+p.capital*(legendStep*float64(p.legendRows())+lineStep*float64(len(p.notes)+1)), p.cautionY)
		assert.Greater(t, p.mapAt.height(), 0.4*float64(p.size.Y), "the map is the largest part")
	}
	// capitals are as high as promised, by the font's own table
	m := l.face(100, true).Metrics()
	assert.InDelta(t, 100, float64(m.CapHeight)/64, 1.5)
}

func TestHostileNamesDoNotBreakThePicture(t *testing.T) {
	l, err := newLettering()
	require.NoError(t, err)
	for _, name := range hostileNames() {
		p := planOverlay(sampleChart(name), l)
		assert.LessOrEqual(t, len(p.flags), mostFlagLines)
		for _, s := range append(append([]string{}, p.flags...), p.title...) {
			assert.NotContains(t, s, "\n")
			assert.NotContains(t, s, "\u202e")
		}
	}
	for _, name := range []string{strings.Repeat("long ", 400), "שלום\u202eolleh"} {
		drawn(t, sampleChart(name), Photo{})
	}
}

// A cross of one colour at a known place of the table is found there in the
// picture: photograph, grid and outline lie in one frame.
func TestPhotographAndDrawingAgree(t *testing.T) {
	c := sampleChart("A-1")
	c.Defects, c.Outline.Holes = nil, nil
	g := tableGrid()
	g.Left, g.Top = 37, 2611 // a raster that does not begin at the table's corner
	im := mottled(t, g, c, 120, 230)
	place := hide.Point{X: 1743, Y: 1031}
	at := g.ToRaster(place)
	data := im.Bytes()
	for y := -6; y <= 6; y++ {
		for x := -6; x <= 6; x++ {
			i := 3 * ((int(math.Round(float64(at.Y)))+y)*g.Width + int(math.Round(float64(at.X))) + x)
			data[i], data[i+1], data[i+2] = 255, 0, 0
		}
	}
	l, err := newLettering()
	require.NoError(t, err)
	p := planOverlay(settled(c), l)
	want := p.at(place)
	picture := drawn(t, c, Photo{Image: im, Grid: g})
	var n, sx, sy float64
	for y := int(want.y) - 60; y < int(want.y)+60; y++ {
		for x := int(want.x) - 60; x < int(want.x)+60; x++ {
			if v := picture.RGBAAt(x, y); int(v.B) > int(v.R)+40 {
				n, sx, sy = n+1, sx+float64(x)+0.5, sy+float64(y)+0.5
			}
		}
	}
	require.Positive(t, n)
	// half a raster pixel of 2 mm, half a pixel of the picture
	assert.InDelta(t, want.x, sx/n, 1/float64(p.grid.MMPerPX)+0.6)
	assert.InDelta(t, want.y, sy/n, 1/float64(p.grid.MMPerPX)+0.6)
}

func TestOverlayIsTheSameTwice(t *testing.T) {
	c := crowded(40)
	sameTwice(t, func(w io.Writer) error { return Overlay(w, c, nil, pix.Grid{}) })
}

func TestOverlayFaults(t *testing.T) {
	im := pix.New(10, 10, pix.U8, 1)
	defer im.Close()
	require.ErrorIs(t, Overlay(io.Discard, sampleChart("A"), im, pix.TableGrid(10, 10, 1)), hide.Invalid)
	require.ErrorIs(t, Overlay(io.Discard, hide.Chart{}, nil, pix.Grid{}), hide.Invalid)
	require.ErrorIs(t, Overlay(brokenWriter{}, sampleChart("A"), nil, pix.Grid{}), hide.Internal)
}

type brokenWriter struct{}

func (brokenWriter) Write([]byte) (int, error) { return 0, errors.New("broken") }

func BenchmarkOverlay(b *testing.B) {
	c := crowded(80)
	g := pix.TableGrid(3300, 2600, 0.5)
	im := pix.New(g.Width, g.Height, pix.U8, 3)
	defer im.Close()
	b.ReportAllocs()
	for b.Loop() {
		if err := Overlay(io.Discard, c, im, g); err != nil {
			b.Fatal(err)
		}
	}
}
