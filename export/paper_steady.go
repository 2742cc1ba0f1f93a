package export

import (
	"bytes"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"time"

	"hidechart/hide"
)

// steady takes the clock out of a PDF of our writer, which stamps the moment of writing on
// the file and on every font that it embeds: both get the given day instead, in whatever zone
// the writer stood. A changed font is packed to another length, so the objects are written
// anew, one after the other, and the table of their offsets with them. Error: Internal for a
// file that is not as our writer writes it.
func steady(pdf []byte, day time.Time) ([]byte, error) {
	f, err := splitPDF(pdf)
	if err != nil {
		return nil, err
	}
	info, err := f.information()
	if err != nil {
		return nil, err
	}
	fonts := f.fonts(info)
	for n := range fonts {
		if n < 1 || n > len(f.objects) {
			return nil, oddPDF("font")
		}
	}
	for k := range f.objects {
		o := &f.objects[k]
		switch {
		case o.number == catalogue:
			o.body = bytes.Replace(o.body, []byte("/Lang(hidechart)"), []byte("/Lang(en)"), 1)
		case o.number == info:
			err = dateInfo(o, day)
		case fonts[o.number]:
			err = steadyFontObject(o, day)
		}
		if err != nil {
			return nil, err
		}
	}
	return f.joined(), nil
}

// catalogue is the number our writer gives the document's root, into whose language (ISO
// 32000-1, 14.9.2) it writes the name of the program.
const catalogue = 1

// splitFile is a PDF taken apart: what stands before the first object, the objects in the
// order of the file, and the trailer up to where it says where the table lies.
type splitFile struct {
	head    []byte
	objects []pdfObject
	trailer []byte
}

// pdfObject is an object as the file holds it, from its number to its end.
type pdfObject struct {
	number int
	body   []byte
}

// What our writer writes; ISO 32000-1, 7.5.4 and 7.5.5, has the table and the trailer.
var (
	tableForm    = regexp.MustCompile(`\nxref\n0 \d+\n\d{10} 65535 f \n((?:\d{10} 00000 n \n)+)(trailer\n[^\n]+\n)startxref\n\d+\n%%EOF\n$`)
	infoForm     = regexp.MustCompile(`/Info (\d+) 0 R`)
	fontFileForm = regexp.MustCompile(`/FontFile[23] (\d+) 0 R`)
	createdForm  = regexp.MustCompile(`/CreationDate\(D:\d{14}(?:Z|[+-]\d{4})\)`)
)

func oddPDF(what string) error {
	return hide.Faultf(hide.Internal, "PDF: %s not as our writer writes it", what)
}

// splitPDF follows the table of offsets, which lists every object once, by number.
func splitPDF(pdf []byte) (splitFile, error) {
	table := tableForm.FindSubmatchIndex(pdf)
	if table == nil {
		return splitFile{}, oddPDF("table of offsets")
	}
	end := table[0] + 1
	var at []int
	for line := range bytes.Lines(pdf[table[2]:table[3]]) {
		n, err := strconv.Atoi(string(line[:10]))
		if err != nil || n >= end {
			return splitFile{}, oddPDF("table of offsets")
		}
		at = append(at, n)
	}
	order := make([]int, len(at)) // numbers of the objects, as they lie in the file
	for k := range order {
		order[k] = k + 1
	}
	slices.SortFunc(order, func(a, b int) int { return at[a-1] - at[b-1] })
	f := splitFile{head: pdf[:at[order[0]-1]], trailer: pdf[table[4]:table[5]]}
	for k, n := range order {
		to := end
		if k+1 < len(order) {
			to = at[order[k+1]-1]
		}
		o := pdfObject{n, pdf[at[n-1]:to]}
		if !bytes.HasPrefix(o.body, fmt.Appendf(nil, "%d 0 obj\n", n)) {
			return splitFile{}, oddPDF(fmt.Sprintf("object %d", n))
		}
		f.objects = append(f.objects, o)
	}
	return f, nil
}

// information is the number of the object that holds the file's title and date.
func (f splitFile) information() (int, error) {
	if m := infoForm.FindSubmatch(f.trailer); m != nil {
		if n, err := strconv.Atoi(string(m[1])); err == nil && n >= 1 && n <= len(f.objects) {
			return n, nil
		}
	}
	return 0, oddPDF("trailer")
}

// fonts are the numbers of the objects that hold an embedded font. The information points
// to none, but its title may be any text.
func (f splitFile) fonts(info int) map[int]bool {
	found := map[int]bool{}
	for _, o := range f.objects {
		if o.number == info {
			continue
		}
		text, _, _ := bytes.Cut(o.body, []byte("stream\n")) // what is packed points nowhere
		for _, m := range fontFileForm.FindAllSubmatch(text, -1) {
			if n, err := strconv.Atoi(string(m[1])); err == nil {
				found[n] = true
			}
		}
	}
	return found
}

// joined is the file put together again.
func (f splitFile) joined() []byte {
	var out bytes.Buffer
	out.Write(f.head)
	at := make([]int, len(f.objects))
	for _, o := range f.objects {
		at[o.number-1] = out.Len()
		out.Write(o.body)
	}
	table := out.Len()
	fmt.Fprintf(&out, "xref\n0 %d\n0000000000 65535 f \n", len(at)+1)
	for _, n := range at {
		fmt.Fprintf(&out, "%010d 00000 n \n", n)
	}
	fmt.Fprintf(&out, "%sstartxref\n%d\n%%%%EOF\n", f.trailer, table)
	return out.Bytes()
}

// dateInfo gives the file's information the day, in UTC: the writer's own stamp is as long
// as its zone is far.
func dateInfo(o *pdfObject, day time.Time) error {
	if len(createdForm.FindAll(o.body, 2)) != 1 {
		return oddPDF("creation date")
	}
	o.body = createdForm.ReplaceAllLiteral(o.body, []byte("/CreationDate(D:"+day.Format("20060102")+"000000Z)"))
	return nil
}
