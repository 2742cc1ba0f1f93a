package pix

import (
	"encoding/binary"
	"hash/crc32"

	"hidechart/hide"
)

// deflateRatio is the most deflate can shrink: 258 bytes for two bits, 1032:1
// (RFC 1951, the longest match with one-bit codes).
const deflateRatio = 1032

// pngLayout walks the chunks to IEND and checks each one's sum.
func pngLayout(data []byte) (layout, error) {
	l := layout{Header: Header{Format: "png", Orientation: 1}}
	var compressed int64
	perPixel := 0
	for at, first := 8, true; ; first = false {
		if at+12 > len(data) {
			l.cut = "it ends in the middle"
			break
		}
		n := int64(binary.BigEndian.Uint32(data[at:]))
		kind := string(data[at+4 : at+8])
		if int64(at)+12+n > int64(len(data)) {
			l.cut = "it ends in the middle"
			break
		}
		body := data[at+8 : at+8+int(n)]
		if first {
			if kind != "IHDR" || n != 13 {
				return l, hide.Faultf(hide.Unreadable, "png header: damaged")
			}
			perPixel = l.pngFrame(body)
		}
		sum := binary.BigEndian.Uint32(data[at+8+int(n):])
		if crc32.ChecksumIEEE(data[at+4:at+8+int(n)]) != sum && l.cut == "" {
			l.cut = "chunk " + quoted(kind) + " is damaged"
		}
		switch kind {
		case "eXIf":
			if o := exifOrientation(body); o != 0 {
				l.Orientation = o
			}
		case "IDAT":
			compressed += n
		case "IEND":
			l.plausible(compressed, float64(l.Pixels())*float64(perPixel)/8, deflateRatio)
			return l, nil
		}
		at += 12 + int(n)
	}
	if perPixel == 0 {
		return l, hide.Faultf(hide.Unreadable, "png header: it ends before the picture's size")
	}
	return l, nil
}

// pngFrame reads IHDR and returns the bits per stored pixel.
func (l *layout) pngFrame(b []byte) int {
	const maxSide = 1<<31 - 1 // ISO/IEC 15948, 7.1
	w, h := binary.BigEndian.Uint32(b), binary.BigEndian.Uint32(b[4:])
	if w <= maxSide && h <= maxSide {
		l.Width, l.Height = int(w), int(h)
	}
	bits, colour := int(b[8]), b[9]
	l.Bits = 8
	if bits == 16 || bits > 16 {
		l.Bits = bits
	}
	l.Channels = 3
	stored := map[byte]int{0: 1, 2: 3, 3: 1, 4: 2, 6: 4}[colour]
	if colour == 0 || colour == 4 {
		l.Channels = 1
	}
	if stored == 0 { // no such colour type
		l.Channels = 0
	}
	return max(1, bits*stored)
}

// quoted prints a chunk's name without odd bytes.
func quoted(kind string) string {
	out := []byte(kind)
	for i, c := range out {
		if c < ' ' || c > '~' {
			out[i] = '?'
		}
	}
	return string(out)
}
