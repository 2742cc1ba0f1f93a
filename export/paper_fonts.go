package export

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"io"
	"regexp"
	"time"

	"hidechart/hide"
)

var packedForm = regexp.MustCompile(`(?s)^\d+ 0 obj\n<</Filter/FlateDecode/Length \d+>>stream\n(.*)\nendstream\n\nendobj\n$`)

// steadyFontObject gives the font in an embedded font's object the day, packs it again, and
// says how long it is unpacked (ISO 32000-1, table 127, asks for Length1; the writer leaves
// it out).
func steadyFontObject(o *pdfObject, day time.Time) error {
	m := packedForm.FindSubmatch(o.body)
	if m == nil {
		return oddPDF(fmt.Sprintf("font %d", o.number))
	}
	r, err := zlib.NewReader(bytes.NewReader(m[1]))
	if err != nil {
		return hide.Wrapf(hide.Internal, err, "PDF: font")
	}
	font, err := io.ReadAll(r)
	if err != nil {
		return hide.Wrapf(hide.Internal, err, "PDF: font")
	}
	if err := dateFont(font, day); err != nil {
		return err
	}
	var packed bytes.Buffer
	w := zlib.NewWriter(&packed)
	if _, err := w.Write(font); err != nil {
		return hide.Wrapf(hide.Internal, err, "PDF: font")
	}
	if err := w.Close(); err != nil {
		return hide.Wrapf(hide.Internal, err, "PDF: font")
	}
	o.body = fmt.Appendf(nil, "%d 0 obj\n<</Filter/FlateDecode/Length %d/Length1 %d>>stream\n%s\nendstream\n\nendobj\n", o.number, packed.Len(), len(font), packed.Bytes())
	return nil
}

// Places in a font's header and in its table "head", and the sum that the whole file has
// (OpenType 1.9, "Organization of an OpenType font" and "head").
const (
	fontCount    = 4  // how many tables
	fontTables   = 12 // first entry of the directory: tag, checksum, offset, length
	fontEntry    = 16
	headAdjust   = 8 // checksumAdjustment: what the file's sum lacks
	headModified = 28
	headLeast    = 54
	fontSum      = 0xB1B0AFBA
)

// fontEpoch is the moment from which fonts count seconds (OpenType 1.9, "Data types", LONGDATETIME).
var fontEpoch = time.Date(1904, time.January, 1, 0, 0, 0, 0, time.UTC)

// dateFont sets the day of change in a font's header, and the checksums that depend on it
// ("Calculating checksums", in the same place): that of the table without its adjustment,
// then the adjustment from the sum of the whole file without it. Error: Internal for a font
// without that header.
func dateFont(font []byte, day time.Time) error {
	entry, head, ok := fontTable(font, "head")
	if !ok || len(head) < headLeast {
		return oddPDF("font's header")
	}
	y, m, d := day.Date()
	since := time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() - fontEpoch.Unix()
	binary.BigEndian.PutUint64(head[headModified:], uint64(since))
	clear(head[headAdjust : headAdjust+4])
	binary.BigEndian.PutUint32(entry[4:], checksum(head))
	binary.BigEndian.PutUint32(head[headAdjust:], fontSum-checksum(font))
	return nil
}

// fontTable finds a table of a font: its entry in the directory, and its bytes.
func fontTable(font []byte, tag string) (entry, table []byte, ok bool) {
	if len(font) < fontTables {
		return nil, nil, false
	}
	for i := range int(binary.BigEndian.Uint16(font[fontCount:])) {
		from := fontTables + fontEntry*i
		if from+fontEntry > len(font) {
			return nil, nil, false
		}
		entry := font[from : from+fontEntry]
		if string(entry[:4]) != tag {
			continue
		}
		at, size := int(binary.BigEndian.Uint32(entry[8:])), int(binary.BigEndian.Uint32(entry[12:]))
		if at+size > len(font) {
			return nil, nil, false
		}
		return entry, font[at : at+size], true
	}
	return nil, nil, false
}

// checksum adds up 32-bit words, the last filled up with zeros.
func checksum(data []byte) uint32 {
	var sum uint32
	for len(data) > 0 {
		var word [4]byte
		copy(word[:], data)
		sum += binary.BigEndian.Uint32(word[:])
		data = data[min(4, len(data)):]
	}
	return sum
}
