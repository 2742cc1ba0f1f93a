package pix

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"hash/adler32"
	"hash/crc32"
	"image"
	"runtime"

	"golang.org/x/sync/errgroup"

	"hidechart/hide"
)

// pngBand rows are compressed by themselves, on all cores: what is alike lies near by, so
// it costs a hundredth in bytes.
const pngBand = 64

// EncodePNG writes an opaque picture as PNG (ISO/IEC 15948) of red, green and blue; its
// opacity is left out. Each pixel is told less the one before, with Deflate at its quickest: a photograph
// barely shrinks further. image/png tries all filters on every row, on one core, which takes several times as
// long. The same picture gives the same bytes. Error: Invalid for an empty picture.
func EncodePNG(im *image.RGBA) ([]byte, error) {
	w, h := im.Rect.Dx(), im.Rect.Dy()
	if w < 1 || h < 1 || im.Stride != 4*w {
		return nil, hide.Faultf(hide.Invalid, "png: want a whole picture that is not empty")
	}
	bands := make([]pngPart, (h+pngBand-1)/pngBand)
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	for k := range bands {
		group.Go(func() (err error) {
			from, to := k*pngBand, min((k+1)*pngBand, h)
			bands[k], err = pngRows(im.Pix[from*im.Stride:to*im.Stride], w, to == h)
			return err
		})
	}
	if err := group.Wait(); err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "png")
	}
	out := bytes.NewBufferString("\x89PNG\r\n\x1a\n")
	size := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, uint32(w)), uint32(h))
	addPNGChunk(out, "IHDR", append(size, 8, 2, 0, 0, 0)) // 8 bits of red, green and blue, not interlaced
	addPNGChunk(out, "IDAT", []byte{0x78, 0x01})          // zlib (RFC 1950): a window of 32 KB, quickest
	sum := uint32(1)
	for _, b := range bands {
		addPNGChunk(out, "IDAT", b.deflated)
		sum = joinedAdler(sum, b.sum, b.size)
	}
	addPNGChunk(out, "IDAT", binary.BigEndian.AppendUint32(nil, sum))
	addPNGChunk(out, "IEND", nil)
	return out.Bytes(), nil
}

// pngPart is a part of the compressed stream.
type pngPart struct {
	deflated []byte
	sum      uint32 // Adler-32 of what was compressed
	size     int
}

// pngRows filters and compresses rows of red, green, blue and opacity; all but the last end on a whole byte,
// so that the parts can be laid end to end.
func pngRows(rgba []byte, width int, last bool) (pngPart, error) {
	raw := make([]byte, 0, len(rgba)/(4*width)*(3*width+1))
	for ; len(rgba) > 0; rgba = rgba[4*width:] {
		row := rgba[:4*width]
		raw = append(raw, 1, row[0], row[1], row[2]) // filter 1: less the pixel before
		for i := 4; i < len(row); i += 4 {
			raw = append(raw, row[i]-row[i-4], row[i+1]-row[i-3], row[i+2]-row[i-2])
		}
	}
	var out bytes.Buffer
	z, err := flate.NewWriter(&out, flate.BestSpeed)
	if err != nil {
		return pngPart{}, err
	}
	if _, err := z.Write(raw); err != nil {
		return pngPart{}, err
	}
	end := z.Flush
	if last {
		end = z.Close
	}
	err = end()
	return pngPart{out.Bytes(), adler32.Checksum(raw), len(raw)}, err
}

// joinedAdler is the Adler-32 of two texts, one after the other, from theirs and the length of the second.
func joinedAdler(first, second uint32, length int) uint32 {
	const base = 65521 // the largest prime under 2^16
	n := uint32(length % base)
	a := (first&0xffff + second&0xffff + base - 1) % base
	b := (first>>16 + second>>16 + n*((first&0xffff+base-1)%base)%base) % base
	return b<<16 | a
}

func addPNGChunk(out *bytes.Buffer, kind string, data []byte) {
	start := out.Len() + 4
	out.Write(binary.BigEndian.AppendUint32(nil, uint32(len(data))))
	out.WriteString(kind)
	out.Write(data)
	out.Write(binary.BigEndian.AppendUint32(nil, crc32.ChecksumIEEE(out.Bytes()[start:])))
}
