package pix

import (
	"bytes"

	"hidechart/hide"
)

// Header is what a picture file says of itself before anything is decoded.
type Header struct {
	Format        string // "jpeg", "png" or "tiff"
	Width, Height int    // as stored, before the orientation is applied
	Channels      int    // 1 grey, 3 colour; an alpha channel is not counted
	Bits          int    // per channel after decoding: 8 or 16
	Orientation   int    // 1 to 8 as in TIFF 6.0, tag 274; 1 when none is given
}

// Turned reports whether the orientation swaps width and height.
func (h Header) Turned() bool { return h.Orientation >= 5 }

// Pixels is width times height.
func (h Header) Pixels() int64 { return int64(h.Width) * int64(h.Height) }

// layout is a header with what the completeness check found on its way.
type layout struct {
	Header
	cut           string // why the file cannot be whole; empty: it looks whole
	orientationAt int    // TIFF: where the orientation's value lies; 0: nowhere
	bigEndian     bool
}

// DecodeHeader reads size, depth and orientation of a JPEG (ITU-T T.81), PNG
// (ISO/IEC 15948) or TIFF (TIFF 6.0, and its 64-bit form) without decoding it
// and without allocating anything that depends on what the file claims. Errors:
// Unreadable for anything else, for depths other than 1 to 8 and 16 bits, and for
// a header that ends early. A file whose header is whole but whose pictures are
// cut off is accepted here and refused by Decode.
func DecodeHeader(data []byte) (Header, error) {
	l, err := readLayout(data)
	return l.Header, err
}

func readLayout(data []byte) (layout, error) {
	var l layout
	var err error
	switch {
	case len(data) == 0:
		return l, hide.Faultf(hide.Unreadable, "the file is empty")
	case bytes.HasPrefix(data, []byte{0xFF, 0xD8, 0xFF}):
		l, err = jpegLayout(data)
	case bytes.HasPrefix(data, []byte("\x89PNG\r\n\x1a\n")):
		l, err = pngLayout(data)
	case bytes.HasPrefix(data, []byte("II*\x00")), bytes.HasPrefix(data, []byte("MM\x00*")),
		bytes.HasPrefix(data, []byte("II+\x00")), bytes.HasPrefix(data, []byte("MM\x00+")):
		l, err = tiffLayout(data)
	default:
		return l, hide.Faultf(hide.Unreadable, "not a JPEG, PNG or TIFF picture")
	}
	if err != nil {
		return layout{}, err
	}
	return l, l.check()
}

func (l layout) check() error {
	if l.Width <= 0 || l.Height <= 0 {
		return hide.Faultf(hide.Unreadable, "%s header: size %d × %d", l.Format, l.Width, l.Height)
	}
	if l.Bits != 8 && l.Bits != 16 {
		return hide.Faultf(hide.Unreadable, "%s header: %d bits a channel; save it with 8 or 16", l.Format, l.Bits)
	}
	if l.Channels != 1 && l.Channels != 3 {
		return hide.Faultf(hide.Unreadable, "%s header: %d channels; save it as grey or colour", l.Format, l.Channels)
	}
	return nil
}

// plausible says why so few compressed bytes cannot hold a picture; the ratio
// is the most that the compression can reach.
func (l *layout) plausible(compressed int64, raw, ratio float64) {
	const slack = 4096 // headers and the last block, which small pictures consist of
	if l.cut == "" && raw > ratio*float64(compressed)+slack {
		l.cut = "it holds less data than its size needs"
	}
}
