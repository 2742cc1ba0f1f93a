package pix

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/image/tiff"

	"hidechart/hide"
)

// scenePicture has no symmetry, so that a wrong turn shows; smooth, so that
// JPEG keeps it.
func scenePicture(w, h int, deep bool) image.Image {
	at := func(x, y int) (r, g, b uint16) {
		return uint16(60000 * x / w), uint16(50000*y/h + 1000), uint16(65535 * (x + 2*y) / (w + 2*h))
	}
	if deep {
		im := image.NewRGBA64(image.Rect(0, 0, w, h))
		for y := range h {
			for x := range w {
				r, g, b := at(x, y)
				im.SetRGBA64(x, y, color.RGBA64{R: r, G: g, B: b, A: 65535})
			}
		}
		return im
	}
	im := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			r, g, b := at(x, y)
			im.SetRGBA(x, y, color.RGBA{R: uint8(r >> 8), G: uint8(g >> 8), B: uint8(b >> 8), A: 255})
		}
	}
	return im
}

func jpegBytes(t testing.TB, im image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, im, &jpeg.Options{Quality: 95}))
	return b.Bytes()
}

func pngBytes(t testing.TB, im image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, im))
	return b.Bytes()
}

func tiffBytes(t testing.TB, im image.Image, c tiff.CompressionType) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, tiff.Encode(&b, im, &tiff.Options{Compression: c}))
	return b.Bytes()
}

// exifBlock is a TIFF header with one directory that holds the orientation.
func exifBlock(order binary.AppendByteOrder, orientation int) []byte {
	b := []byte("II")
	if order == binary.AppendByteOrder(binary.BigEndian) {
		b = []byte("MM")
	}
	b = order.AppendUint16(b, 42)
	b = order.AppendUint32(b, 8)
	b = order.AppendUint16(b, 1)
	b = order.AppendUint16(b, tiffOrientation)
	b = order.AppendUint16(b, 3)
	b = order.AppendUint32(b, 1)
	b = order.AppendUint16(b, uint16(orientation))
	b = order.AppendUint16(b, 0)
	return order.AppendUint32(b, 0)
}

func withExifJPEG(data []byte, block []byte) []byte {
	seg := append([]byte("Exif\x00\x00"), block...)
	head := binary.BigEndian.AppendUint16([]byte{0xFF, 0xD8, 0xFF, 0xE1}, uint16(len(seg)+2))
	return append(append(head, seg...), data[2:]...)
}

func pngChunk(kind string, body []byte) []byte {
	b := binary.BigEndian.AppendUint32(nil, uint32(len(body)))
	b = append(append(b, kind...), body...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[4:]))
}

func withExifPNG(data []byte, block []byte) []byte {
	const head = 8 + 25 // signature and IHDR
	return append(append(bytes.Clone(data[:head]), pngChunk("eXIf", block)...), data[head:]...)
}

// withOrientationTIFF adds the entry to a little-endian file by writing a new
// directory at its end.
func withOrientationTIFF(data []byte, orientation int) []byte {
	out := bytes.Clone(data)
	le := binary.LittleEndian
	at := le.Uint32(out[4:])
	n := le.Uint16(out[at:])
	entries := out[at+2 : at+2+uint32(n)*12]
	le.PutUint32(out[4:], uint32(len(out)))
	dir := le.AppendUint16(nil, n+1)
	added := false
	add := func() {
		dir = le.AppendUint16(dir, tiffOrientation)
		dir = le.AppendUint16(dir, 3)
		dir = le.AppendUint32(dir, 1)
		dir = le.AppendUint32(dir, uint32(orientation))
		added = true
	}
	for i := range int(n) {
		e := entries[i*12 : i*12+12]
		if !added && le.Uint16(e) > tiffOrientation { // entries are sorted
			add()
		}
		dir = append(dir, e...)
	}
	if !added {
		add()
	}
	return append(out, le.AppendUint32(dir, 0)...)
}

func TestDecodeHeaderFormats(t *testing.T) {
	small, deep := scenePicture(37, 23, false), scenePicture(37, 23, true)
	grey := image.NewGray(image.Rect(0, 0, 37, 23))
	grey16 := image.NewGray16(image.Rect(0, 0, 37, 23))
	for name, c := range map[string]struct {
		data           []byte
		format         string
		channels, bits int
	}{
		"jpeg":       {jpegBytes(t, small), "jpeg", 3, 8},
		"jpeg grey":  {jpegBytes(t, grey), "jpeg", 1, 8},
		"png":        {pngBytes(t, small), "png", 3, 8},
		"png 16":     {pngBytes(t, deep), "png", 3, 16},
		"png grey":   {pngBytes(t, grey), "png", 1, 8},
		"png grey16": {pngBytes(t, grey16), "png", 1, 16},
		"tiff":       {tiffBytes(t, small, tiff.Uncompressed), "tiff", 3, 8},
		"tiff 16":    {tiffBytes(t, deep, tiff.Deflate), "tiff", 3, 16},
		"tiff grey":  {tiffBytes(t, grey, tiff.Deflate), "tiff", 1, 8},
		"tiff g16":   {tiffBytes(t, grey16, tiff.Uncompressed), "tiff", 1, 16},
	} {
		h, err := DecodeHeader(c.data)
		require.NoError(t, err, name)
		require.Equal(t, Header{Format: c.format, Width: 37, Height: 23, Channels: c.channels, Bits: c.bits, Orientation: 1}, h, name)
	}
}

// A header that claims a huge picture is refused before anything of that size
// is allocated: OpenCV would ask for 12 GB here.
func TestBombs(t *testing.T) {
	ihdr := binary.BigEndian.AppendUint32(nil, 60000)
	ihdr = binary.BigEndian.AppendUint32(ihdr, 70000)
	ihdr = append(ihdr, 8, 2, 0, 0, 0)
	bomb := append([]byte("\x89PNG\r\n\x1a\n"), pngChunk("IHDR", ihdr)...)
	bomb = append(append(bomb, pngChunk("IDAT", make([]byte, 100))...), pngChunk("IEND", nil)...)
	_, err := Decode(bomb, DefaultLimits())
	require.ErrorIs(t, err, hide.Unreadable)
	require.ErrorContains(t, err, "60000 × 70000")

	// under the limit, but 100 bytes of deflate hold at most 103 kB
	small := bytes.Clone(bomb)
	binary.BigEndian.PutUint32(small[16:], 15000)
	binary.BigEndian.PutUint32(small[20:], 15000)
	binary.BigEndian.PutUint32(small[29:], crc32.ChecksumIEEE(small[12:29]))
	_, err = Decode(small, DefaultLimits())
	require.ErrorIs(t, err, hide.Unreadable)
	require.ErrorContains(t, err, "less data than its size needs")

	j := jpegBytes(t, scenePicture(64, 48, false))
	at := bytes.Index(j, []byte{0xFF, 0xC0})
	binary.BigEndian.PutUint16(j[at+5:], 19000)
	binary.BigEndian.PutUint16(j[at+7:], 20000)
	_, err = Decode(j, DefaultLimits())
	require.ErrorIs(t, err, hide.Unreadable)
	require.ErrorContains(t, err, "less data")

	_, err = Decode(jpegBytes(t, scenePicture(64, 48, false)), Limits{MaxPixels: 64*48 - 1})
	require.ErrorContains(t, err, "limit")
	_, err = Decode(nil, Limits{})
	require.ErrorIs(t, err, hide.Invalid)
}

// Every way of cutting a file off is seen, at any place.
func TestTruncated(t *testing.T) {
	im := scenePicture(160, 120, false)
	for name, data := range map[string][]byte{
		"jpeg": jpegBytes(t, im), "png": pngBytes(t, im),
		"tiff": tiffBytes(t, im, tiff.Uncompressed), "deflated tiff": tiffBytes(t, im, tiff.Deflate),
	} {
		whole, err := Decode(data, DefaultLimits())
		require.NoError(t, err, name)
		whole.Close()
		for _, share := range []float64{0.001, 0.05, 0.3, 0.5, 0.9, 0.999} {
			_, err := Decode(data[:int(share*float64(len(data)))], DefaultLimits())
			require.ErrorIs(t, err, hide.Unreadable, "%s cut at %g", name, share)
		}
		if name == "jpeg" || name == "png" { // a TIFF's last bytes here are its print resolution
			_, err = Decode(data[:len(data)-1], DefaultLimits())
			require.ErrorIs(t, err, hide.Unreadable, "%s without its last byte", name)
		}
		holed := bytes.Clone(data) // the rest of the file was never written: zeros
		clear(holed[len(holed)/2:])
		_, err = Decode(holed, DefaultLimits())
		if name == "tiff" { // uncompressed: its directory lies at the end
			require.Error(t, err)
		} else {
			require.ErrorIs(t, err, hide.Unreadable, "%s, half zeros", name)
		}
	}
}

func TestNotAPicture(t *testing.T) {
	for _, data := range [][]byte{nil, []byte("table: {width_mm: 3300}"), []byte("GIF89a\x01\x00\x01\x00"), {0xFF, 0xD8, 0xFF}} {
		_, err := Decode(data, DefaultLimits())
		require.ErrorIs(t, err, hide.Unreadable)
	}
}

// The other programs' headers: what Debian's file formats tool reads out of
// files it wrote itself (ImageMagick 6.9.11, installed by scripts/install.sh
// test): progressive JPEG, palette PNG, tiled, LZW and big-endian TIFF.
func TestHeaderAgainstImageMagick(t *testing.T) {
	tool, err := exec.LookPath("convert")
	if err != nil {
		t.Skip("ImageMagick is not installed")
	}
	dir := t.TempDir()
	src := filepath.Join(dir, "src.png")
	require.NoError(t, os.WriteFile(src, pngBytes(t, scenePicture(301, 203, true)), 0o600))
	for name, args := range map[string][]string{
		"progressive.jpg": {"-interlace", "JPEG", "-quality", "90"},
		"grey.jpg":        {"-colorspace", "Gray"},
		"palette.png":     {"-colors", "16", "-type", "Palette"},
		"interlaced.png":  {"-interlace", "PNG"},
		"lzw.tif":         {"-compress", "LZW", "-depth", "16"},
		"zip8.tif":        {"-compress", "Zip", "-depth", "8"},
		"tiled.tif":       {"-define", "tiff:tile-geometry=64x64", "-depth", "8"},
		"big.tif":         {"-endian", "MSB", "-depth", "16"},
		"tiff64.tif":      {"-depth", "16"},
		"packbits.tif":    {"-compress", "RLE", "-depth", "8"},
		"turned.tif":      {"-orient", "RightTop", "-depth", "16"},
	} {
		out := filepath.Join(dir, name)
		to := out
		if name == "tiff64.tif" {
			to = "TIFF64:" + out
		}
		msg, err := exec.CommandContext(t.Context(), tool, append(append([]string{src}, args...), to)...).CombinedOutput()
		require.NoError(t, err, "%s: %s", name, msg)
		data, err := os.ReadFile(out)
		require.NoError(t, err)
		h, err := DecodeHeader(data)
		require.NoError(t, err, name)
		require.Equal(t, 301, h.Width, name)
		require.Equal(t, 203, h.Height, name)
		im, err := Decode(data, DefaultLimits())
		require.NoError(t, err, name)
		if name == "turned.tif" {
			require.Equal(t, 6, h.Orientation)
			require.Equal(t, 203, im.Width())
		}
		im.Close()
		_, err = Decode(data[:len(data)*3/5], DefaultLimits())
		require.ErrorIs(t, err, hide.Unreadable, name)
	}
}

// Nothing that any file says may crash the header reader, and what it accepts
// is within the formats' bounds.
func FuzzHeader(f *testing.F) {
	im := scenePicture(16, 12, false)
	f.Add(withExifJPEG(jpegBytes(f, im), exifBlock(binary.BigEndian, 6)))
	f.Add(withExifPNG(pngBytes(f, im), exifBlock(binary.LittleEndian, 3)))
	f.Add(tiffBytes(f, im, tiff.Deflate))
	f.Add(withOrientationTIFF(tiffBytes(f, im, tiff.Uncompressed), 8))
	f.Add([]byte("MM\x00+\x00\x08\x00\x00\x00\x00\x00\x00\x00\x00\x00\x10"))
	f.Fuzz(func(t *testing.T, data []byte) {
		h, err := DecodeHeader(data)
		if err != nil {
			require.ErrorIs(t, err, hide.Unreadable)
			return
		}
		require.Positive(t, h.Width)
		require.Positive(t, h.Height)
		require.Contains(t, []int{1, 3}, h.Channels)
		require.Contains(t, []int{8, 16}, h.Bits)
		require.True(t, h.Orientation >= 1 && h.Orientation <= 8)
	})
}
