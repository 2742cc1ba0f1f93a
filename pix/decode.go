package pix

import (
	"encoding/binary"
	"slices"

	"gocv.io/x/gocv"

	"hidechart/hide"
)

// Limits bounds what Decode accepts.
type Limits struct {
	MaxPixels int64 // width times height; more is refused before anything is allocated
}

// DefaultLimits allows 400 megapixels: four times the largest single-exposure
// cameras, and 2.4 GB as 16-bit colour.
func DefaultLimits() Limits { return Limits{MaxPixels: 400e6} }

// Validate reports a limit that lets nothing through.
func (l Limits) Validate() error {
	if l.MaxPixels < 1 {
		return hide.Faultf(hide.Invalid, "limits: max_pixels %d: want at least 1", l.MaxPixels)
	}
	return nil
}

// Decode turns the bytes of a JPEG, PNG or TIFF file into a picture: U8 or
// U16, one channel for grey and three (blue, green, red) for colour, still coded
// as stored (see Linear), alpha dropped, the orientation tag applied so that row
// 0 is the top as the photographer saw it. The bytes are only borrowed; the
// caller closes the picture. Errors: Unreadable for what is not such a picture,
// has more pixels than the limit, or is cut off or damaged: the header is read
// and the file walked to its end first, since OpenCV 4.6 fills what is missing
// with grey and reports nothing.
func Decode(data []byte, lim Limits) (*Image, error) {
	if err := lim.Validate(); err != nil {
		return nil, err
	}
	l, err := readLayout(data)
	if err != nil {
		return nil, err
	}
	if l.Pixels() > lim.MaxPixels {
		return nil, hide.Faultf(hide.Unreadable, "the picture claims %d × %d pixels, over the limit of %d megapixels",
			l.Width, l.Height, lim.MaxPixels/1e6)
	}
	if l.cut != "" {
		return nil, hide.Faultf(hide.Unreadable, "the %s file is cut off or damaged (%s); copy it again", l.Format, l.cut)
	}
	// OpenCV turns TIFF pictures by itself, and differently at 8 and 16 bits, so
	// its copy is told that there is nothing to turn.
	if l.orientationAt != 0 && l.Orientation != 1 {
		data = slices.Clone(data)
		var order binary.ByteOrder = binary.LittleEndian
		if l.bigEndian {
			order = binary.BigEndian
		}
		order.PutUint16(data[l.orientationAt:], 1)
	}
	m, err := gocv.IMDecode(data, gocv.IMReadAnyColor|gocv.IMReadAnyDepth|gocv.IMReadIgnoreOrientation)
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "the %s file is damaged; copy it again", l.Format)
	}
	im := wrap(m)
	if err := l.matches(im); err != nil {
		im.Close()
		return nil, err
	}
	return orient(im, l.Orientation)
}

// matches checks what the decoder gave against the header.
func (l layout) matches(im *Image) error {
	if im.mat.Empty() {
		return hide.Faultf(hide.Unreadable, "the %s file is damaged; copy it again", l.Format)
	}
	depth := U8
	if l.Bits == 16 {
		depth = U16
	}
	if im.Width() != l.Width || im.Height() != l.Height || im.Depth() != depth || (im.Channels() != 1 && im.Channels() != 3) {
		return hide.Faultf(hide.Unreadable, "the %s file decodes to %d × %d × %d, its header says %d × %d × %d",
			l.Format, im.Width(), im.Height(), im.Channels(), l.Width, l.Height, l.Channels)
	}
	return nil
}
