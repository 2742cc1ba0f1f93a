package export

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"time"

	"hidechart/hide"
)

// finishSteady ends the PDF: the same input gives the same bytes, whatever the time. The
// font writer stamps the moment into every font it embeds, packed, so that finish alone
// cannot see it.
func (p *paper) finishSteady(w io.Writer, day time.Time) error {
	var b bytes.Buffer
	if err := p.finish(&b, day); err != nil {
		return err
	}
	out, err := steady(b.Bytes())
	if err != nil {
		return err
	}
	if _, err := w.Write(out); err != nil {
		return hide.Wrapf(hide.Internal, err, "write PDF")
	}
	return nil
}

var (
	tableForm    = regexp.MustCompile(`\nxref\n0 \d+\n\d{10} 65535 f \n((?:\d{10} 00000 n \n)+)trailer\n`)
	fontFileForm = regexp.MustCompile(`/FontFile2 (\d+) 0 R`)
	packedForm   = regexp.MustCompile(`(?s)^\d+ 0 obj\n<</Filter/FlateDecode/Length \d+>>stream\n(.*)\nendstream\n\nendobj\n$`)
)

// steady writes the objects of a PDF of our writer again, one after the other, the embedded
// TrueType fonts with their day of change set to the format's epoch, and the table of offsets
// anew. Error: Internal for a file that is not as our writer writes it.
func steady(pdf []byte) ([]byte, error) {
	odd := hide.Faultf(hide.Internal, "PDF: not as our writer writes it")
	table := tableForm.FindSubmatchIndex(pdf)
	if table == nil {
		return nil, odd
	}
	var at []int
	for line := range bytes.Lines(pdf[table[2]:table[3]]) {
		n, err := strconv.Atoi(string(line[:10]))
		if err != nil {
			return nil, odd
		}
		at = append(at, n)
	}
	fonts := map[int]bool{}
	for _, m := range fontFileForm.FindAllSubmatch(pdf, -1) {
		n, err := strconv.Atoi(string(m[1]))
		if err != nil {
			return nil, odd
		}
		fonts[n] = true
	}
	ends := append(slices.Sorted(slices.Values(at)), table[0]+1)
	var out bytes.Buffer
	out.Write(pdf[:ends[0]])
	moved := make([]int, len(at))
	for k, from := range ends[:len(ends)-1] {
		n, body := slices.Index(at, from)+1, pdf[from:ends[k+1]]
		if fonts[n] {
			var err error
			if body, err = steadyObject(n, body); err != nil {
				return nil, err
			}
		}
		moved[n-1] = out.Len()
		out.Write(body)
	}
	start := out.Len()
	fmt.Fprintf(&out, "xref\n0 %d\n0000000000 65535 f \n", len(at)+1)
	for _, n := range moved {
		fmt.Fprintf(&out, "%010d 00000 n \n", n)
	}
	rest := pdf[table[3]:]
	tail := bytes.Index(rest, []byte("startxref\n"))
	if tail < 0 {
		return nil, odd
	}
	out.Write(rest[:tail])
	fmt.Fprintf(&out, "startxref\n%d\n%%%%EOF\n", start)
	return out.Bytes(), nil
}

// steadyObject is a font's object with the font made steady.
func steadyObject(n int, body []byte) ([]byte, error) {
	m := packedForm.FindSubmatch(body)
	if m == nil {
		return nil, hide.Faultf(hide.Internal, "PDF: font %d is not as our writer writes it", n)
	}
	r, err := zlib.NewReader(bytes.NewReader(m[1]))
	if err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "PDF: font")
	}
	font, err := io.ReadAll(r)
	if err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "PDF: font")
	}
	steadyFont(font)
	var packed bytes.Buffer
	w := zlib.NewWriter(&packed)
	if _, err := w.Write(font); err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "PDF: font")
	}
	if err := w.Close(); err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "PDF: font")
	}
	return fmt.Appendf(nil, "%d 0 obj\n<</Filter/FlateDecode/Length %d/Length1 %d>>stream\n%s\nendstream\n\nendobj\n", n, packed.Len(), len(font), packed.Bytes()), nil
}

// Places in a font's header and in its table "head".
const (
	fontTables   = 12 // first entry of the directory, 16 bytes each
	headAdjust   = 8
	headModified = 28
	headLeast    = 54
)

// steadyFont sets the day of change in a font's header to zero, and its checksums with it
// (OpenType 1.9, "Organization of an OpenType font" and "head").
func steadyFont(font []byte) {
	tables := int(binary.BigEndian.Uint16(font[4:]))
	for i := range tables {
		entry := fontTables + 16*i
		if entry+16 > len(font) || string(font[entry:entry+4]) != "head" {
			continue
		}
		at, size := int(binary.BigEndian.Uint32(font[entry+8:])), int(binary.BigEndian.Uint32(font[entry+12:]))
		if size < headLeast || at+size > len(font) {
			return
		}
		head := font[at : at+size]
		clear(head[headModified : headModified+8])
		clear(head[headAdjust : headAdjust+4])
		binary.BigEndian.PutUint32(font[entry+4:], checksum(head))
		binary.BigEndian.PutUint32(head[headAdjust:], 0xB1B0AFBA-checksum(font))
		return
	}
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
