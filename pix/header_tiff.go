package pix

import (
	"encoding/binary"

	"hidechart/hide"
)

// Tags of TIFF 6.0, section 8 and 15.
const (
	tiffWidth           = 256
	tiffHeight          = 257
	tiffBits            = 258
	tiffCompression     = 259
	tiffPhotometric     = 262
	tiffStripOffsets    = 273
	tiffOrientation     = 274
	tiffSamples         = 277
	tiffRowsPerStrip    = 278
	tiffStripByteCounts = 279
	tiffTileOffsets     = 324
	tiffTileByteCounts  = 325
	tiffSampleFormat    = 339
)

// ifd reads one image file directory, classic or with 64-bit offsets.
type ifd struct {
	data  []byte
	order binary.ByteOrder
	big   bool
	at    map[uint16]int // where each tag's entry lies
	end   int64          // where the pointer to the next directory lies
}

// openIFD reads the directory of the first picture; nil when it is damaged.
func openIFD(data []byte) *ifd {
	if len(data) < 8 {
		return nil
	}
	d := &ifd{data: data, order: binary.LittleEndian, at: map[uint16]int{}}
	if data[0] == 'M' {
		d.order = binary.BigEndian
	}
	d.big = d.order.Uint16(data[2:]) == 43
	start, entry, head := int64(d.order.Uint32(data[4:])), int64(12), int64(2)
	if d.big {
		if len(data) < 16 {
			return nil
		}
		start, entry, head = int64(d.order.Uint64(data[8:])), 20, 8
	}
	if start < 8 || start > int64(len(data))-head {
		return nil
	}
	count := int64(d.order.Uint16(data[start:]))
	if d.big {
		count = int64(d.order.Uint64(data[start:]))
	}
	const most = 65535 // what the classic form can hold
	if count < 1 || count > most || start+head+count*entry > int64(len(data)) {
		return nil
	}
	d.end = start + head + count*entry
	for i := range count {
		at := start + head + i*entry
		d.at[d.order.Uint16(data[at:])] = int(at)
	}
	return d
}

// field returns where a tag's values lie, their size in bytes and how many
// there are; size 0 when the tag is missing, not a whole number or outside the file.
func (d *ifd) field(tag uint16) (at int64, size, count int64) {
	e, ok := d.at[tag]
	if !ok {
		return 0, 0, 0
	}
	size = map[uint16]int64{1: 1, 3: 2, 4: 4, 16: 8}[d.order.Uint16(d.data[e+2:])] // BYTE, SHORT, LONG, LONG8
	inline, value := int64(4), int64(e+8)
	if d.big {
		count, inline, value = int64(d.order.Uint64(d.data[e+4:])), 8, int64(e+12)
	} else {
		count = int64(d.order.Uint32(d.data[e+4:]))
	}
	if size == 0 || count < 1 || count > int64(len(d.data)) {
		return 0, 0, 0
	}
	if size*count > inline {
		if d.big {
			value = int64(d.order.Uint64(d.data[value:]))
		} else {
			value = int64(d.order.Uint32(d.data[value:]))
		}
	}
	if value < 0 || value > int64(len(d.data))-size*count {
		return 0, 0, 0
	}
	return value, size, count
}

// pointer is the size of an offset in bytes.
func (d *ifd) pointer() int64 {
	if d.big {
		return 8
	}
	return 4
}

func (d *ifd) value(at, size int64) int64 {
	switch size {
	case 1:
		return int64(d.data[at])
	case 2:
		return int64(d.order.Uint16(d.data[at:]))
	case 4:
		return int64(d.order.Uint32(d.data[at:]))
	default:
		return int64(d.order.Uint64(d.data[at:]))
	}
}

// first is a tag's first value, or otherwise when it is missing.
func (d *ifd) first(tag uint16, otherwise int64) int64 {
	at, size, _ := d.field(tag)
	if size == 0 {
		return otherwise
	}
	return d.value(at, size)
}

// exifOrientation reads tag 274 out of an Exif block (a TIFF header with a
// directory); 0 when there is none or it is not 1 to 8.
func exifOrientation(block []byte) int {
	d := openIFD(block)
	if d == nil {
		return 0
	}
	if o := d.first(tiffOrientation, 0); o >= 1 && o <= 8 {
		return int(o)
	}
	return 0
}

func tiffLayout(data []byte) (layout, error) {
	l := layout{Header: Header{Format: "tiff", Orientation: 1}}
	d := openIFD(data)
	if d == nil || d.end+d.pointer() > int64(len(data)) {
		// many writers put the directory last, so a cut file loses it
		return l, hide.Faultf(hide.Unreadable, "tiff header: the file is cut off or damaged; copy it again")
	}
	const maxSide = 1<<31 - 1
	w, h := d.first(tiffWidth, 0), d.first(tiffHeight, 0)
	if w > 0 && w <= maxSide && h > 0 && h <= maxSide {
		l.Width, l.Height = int(w), int(h)
	}
	samples := d.first(tiffSamples, 1)
	stored := d.first(tiffBits, 1)
	l.Bits = int(stored)
	if f := d.first(tiffSampleFormat, 1); f != 1 { // 1: unsigned whole numbers
		return l, hide.Faultf(hide.Unreadable, "tiff header: not unsigned whole numbers; save it with 8 or 16 bits")
	}
	const palette = 3
	l.Channels = 3
	if samples < 3 && d.first(tiffPhotometric, 0) != palette {
		l.Channels = 1
	}
	if samples < 1 || samples > 4 {
		l.Channels = 0
	}
	l.bigEndian = data[0] == 'M'
	if at, size, _ := d.field(tiffOrientation); size == 2 {
		if o := d.value(at, size); o >= 1 && o <= 8 {
			l.Orientation, l.orientationAt = int(o), int(at)
		}
	}
	if err := l.check(); err != nil {
		return l, err
	}
	l.tiffStrips(d, float64(samples)*float64(stored)/8)
	return l, nil
}

// tiffStrips checks that every strip or tile lies inside the file and that
// together they can hold the picture.
func (l *layout) tiffStrips(d *ifd, bytesPerPixel float64) {
	offsets, so, n := d.field(tiffStripOffsets)
	counts, sc, m := d.field(tiffStripByteCounts)
	if so == 0 {
		offsets, so, n = d.field(tiffTileOffsets)
		counts, sc, m = d.field(tiffTileByteCounts)
	}
	if so == 0 || sc == 0 || n != m {
		l.cut = "its table of strips is damaged"
		return
	}
	var sum int64
	for i := range n {
		at, size := d.value(offsets+i*so, so), d.value(counts+i*sc, sc)
		if at < 0 || size < 0 || at > int64(len(d.data)) || size > int64(len(d.data))-at {
			l.cut = "it ends in the middle"
			return
		}
		sum += size
	}
	if sum > int64(len(d.data)) {
		l.cut = "its strips overlap" // one strip named many times over: a bomb
		return
	}
	l.plausible(sum, float64(l.Pixels())*bytesPerPixel, tiffRatio(d.first(tiffCompression, 1)))
}

// tiffRatio is the most a compression can shrink: PackBits 128 bytes to 2,
// LZW codes of 12 bits that stand for up to 4096 bytes, deflate as in PNG.
func tiffRatio(compression int64) float64 {
	switch compression {
	case 1:
		return 1
	case 32773:
		return 64
	case 5:
		return 4096 * 8 / 12
	default:
		return deflateRatio
	}
}
