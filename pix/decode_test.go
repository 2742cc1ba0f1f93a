package pix

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/jpeg"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/image/tiff"
)

// pixel reads one pixel as red, green, blue of 16 bits.
func pixel(im *Image, x, y int) [3]float64 {
	i := (y*im.Width() + x) * im.Channels()
	get := func(k int) float64 {
		if im.Depth() == U8 {
			return float64(im.Bytes()[i+k]) * 257
		}
		return float64(im.Uint16s()[i+k])
	}
	if im.Channels() == 1 {
		return [3]float64{get(0), get(0), get(0)}
	}
	return [3]float64{get(2), get(1), get(0)}
}

// requireSame compares with another decoder's picture, Go's standard library.
func requireSame(t *testing.T, want image.Image, got *Image, tolerance float64, name string) {
	t.Helper()
	require.Equal(t, want.Bounds().Dx(), got.Width(), name)
	require.Equal(t, want.Bounds().Dy(), got.Height(), name)
	for y := range got.Height() {
		for x := range got.Width() {
			r, g, b, _ := want.At(x, y).RGBA()
			p := pixel(got, x, y)
			for k, w := range []uint32{r, g, b} {
				if math.Abs(p[k]-float64(w)) > tolerance {
					t.Fatalf("%s: pixel %d, %d channel %d: got %v, want %v", name, x, y, k, p[k], w)
				}
			}
		}
	}
}

func decode(t *testing.T, data []byte) *Image {
	t.Helper()
	im, err := Decode(data, DefaultLimits())
	require.NoError(t, err)
	t.Cleanup(im.Close)
	return im
}

func TestDecodeAgainstStandardLibrary(t *testing.T) {
	for _, deep := range []bool{false, true} {
		src := scenePicture(61, 43, deep)
		requireSame(t, src, decode(t, pngBytes(t, src)), 0, "png")
		requireSame(t, src, decode(t, tiffBytes(t, src, tiff.Uncompressed)), 0, "tiff")
		requireSame(t, src, decode(t, tiffBytes(t, src, tiff.Deflate)), 0, "deflated tiff")
	}
	data := jpegBytes(t, scenePicture(61, 43, false))
	want, err := jpeg.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	// the inverse transforms and the chroma upsampling are rounded differently
	requireSame(t, want, decode(t, data), 5*257, "jpeg")

	grey := image.NewGray16(image.Rect(0, 0, 9, 7))
	for i := range grey.Pix {
		grey.Pix[i] = uint8(i * 7)
	}
	for _, data := range [][]byte{pngBytes(t, grey), tiffBytes(t, grey, tiff.Deflate)} {
		im := decode(t, data)
		require.Equal(t, 1, im.Channels())
		require.Equal(t, U16, im.Depth())
		requireSame(t, grey, im, 0, "grey 16")
	}
}

// upright maps a position of the upright picture to the stored one: TIFF 6.0,
// tag 274, names the places of the stored row 0 and column 0.
func upright(o, x, y, w, h int) (sx, sy int) { // w, h: stored size
	switch o {
	case 2:
		return w - 1 - x, y
	case 3:
		return w - 1 - x, h - 1 - y
	case 4:
		return x, h - 1 - y
	case 5:
		return y, x
	case 6: // row 0 is the right side, column 0 the top
		return y, h - 1 - x
	case 7: // row 0 right, column 0 bottom
		return w - 1 - y, h - 1 - x
	case 8: // row 0 left, column 0 bottom
		return w - 1 - y, x
	}
	return x, y
}

func TestEveryOrientation(t *testing.T) {
	const w, h = 41, 29
	small, deep := scenePicture(w, h, false), scenePicture(w, h, true)
	base := decode(t, jpegBytes(t, small))
	for o := 1; o <= 8; o++ {
		for name, c := range map[string]struct {
			data   []byte
			stored *Image
		}{
			"jpeg MM":  {withExifJPEG(jpegBytes(t, small), exifBlock(binary.BigEndian, o)), base},
			"jpeg II":  {withExifJPEG(jpegBytes(t, small), exifBlock(binary.LittleEndian, o)), base},
			"png":      {withExifPNG(pngBytes(t, small), exifBlock(binary.BigEndian, o)), decode(t, pngBytes(t, small))},
			"png 16":   {withExifPNG(pngBytes(t, deep), exifBlock(binary.LittleEndian, o)), decode(t, pngBytes(t, deep))},
			"tiff 8":   {withOrientationTIFF(tiffBytes(t, small, tiff.Uncompressed), o), decode(t, tiffBytes(t, small, tiff.Uncompressed))},
			"tiff 16":  {withOrientationTIFF(tiffBytes(t, deep, tiff.Deflate), o), decode(t, tiffBytes(t, deep, tiff.Deflate))},
			"tiff 8 z": {withOrientationTIFF(tiffBytes(t, small, tiff.Deflate), o), decode(t, tiffBytes(t, small, tiff.Uncompressed))},
		} {
			header, err := DecodeHeader(c.data)
			require.NoError(t, err, name)
			require.Equal(t, o, header.Orientation, name)
			im := decode(t, c.data)
			require.Equal(t, header.Turned(), im.Width() == h, "%s %d", name, o)
			for y := range im.Height() {
				for x := range im.Width() {
					sx, sy := upright(o, x, y, w, h)
					if pixel(im, x, y) != pixel(c.stored, sx, sy) {
						t.Fatalf("%s, orientation %d: pixel %d, %d is not stored pixel %d, %d", name, o, x, y, sx, sy)
					}
				}
			}
		}
	}
}

// Known points of IEC 61966-2-1: code 0, 255 and the knee; 188 is the code that
// comes nearest to half the light (0.5029).
func TestLinear(t *testing.T) {
	im := New(256, 1, U8, 1)
	defer im.Close()
	for i := range 256 {
		im.Bytes()[i] = uint8(i)
	}
	lin, err := Linear(im)
	require.NoError(t, err)
	defer lin.Close()
	v := lin.Uint16s()
	require.Equal(t, uint16(0), v[0])
	require.Equal(t, uint16(65535), v[255])
	require.InDelta(t, 65535*10/255.0/12.92, float64(v[10]), 0.5) // straight part: 10/255 < 0.04045
	require.InDelta(t, 0.5029*65535, float64(v[188]), 7)
	back, err := EightBit(lin)
	require.NoError(t, err)
	defer back.Close()
	require.Equal(t, im.Bytes(), back.Bytes())
	_, err = EightBit(im)
	require.Error(t, err)
}

func TestGreyWeights(t *testing.T) {
	im := New(4, 1, U16, 3)
	defer im.Close()
	copy(im.Uint16s(), []uint16{65535, 0, 0, 0, 65535, 0, 0, 0, 65535, 65535, 65535, 65535})
	g, err := Grey(im)
	require.NoError(t, err)
	defer g.Close()
	for i, w := range []float64{0.0722, 0.7152, 0.2126, 1} { // ITU-R BT.709-6, 3.2
		require.InDelta(t, w*65535, float64(g.Uint16s()[i]), 1)
	}
	f := New(2, 2, F32, 3)
	defer f.Close()
	_, err = Grey(f)
	require.Error(t, err)
}
