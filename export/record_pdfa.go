package export

import (
	"bytes"
	"cmp"
	"crypto/md5"
	"crypto/sha256"
	"encoding/xml"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf16"

	"hidechart/hide"
)

// archival turns a PDF of our writer into one of the form PDF/A-3b (ISO 19005-3:2012) with
// files attached, by an incremental update (ISO 32000-1, 7.5.6): the bytes that were
// there stay, a new catalog and the objects that the standard asks for come behind
// them. Those are: XMP metadata that says PDF/A-3b and agrees with the document's
// information, an output intent with sRGB, an identifier of the file, and each attached
// file with its MIME type, its relationship and its date (clause 6.8). Fonts are embedded by
// the writer. The same input gives the same bytes.
func archival(pdf []byte, title string, day time.Time, files []hide.Attachment) ([]byte, error) {
	u, err := newUpdate(pdf)
	if err != nil {
		return nil, err
	}
	moment := day.UTC().Format("20060102") + "000000"
	info := u.object(fmt.Sprintf("<</Title %s/Creator(hidechart)/Producer(hidechart)/CreationDate(D:%sZ)/ModDate(D:%sZ)>>", pdfText(title), moment, moment))
	profile := u.stream("<</N 3", srgbProfile())
	intent := u.object(fmt.Sprintf("<</Type/OutputIntent/S/GTS_PDFA1/OutputConditionIdentifier(sRGB IEC61966-2.1)/Info(sRGB IEC61966-2.1)/DestOutputProfile %d 0 R>>", profile))
	meta := u.stream("<</Type/Metadata/Subtype/XML", xmpPacket(title, day))
	var names, refs strings.Builder
	files = slices.Clone(files)
	slices.SortFunc(files, func(a, b hide.Attachment) int { return cmp.Compare(pdfText(a.Name), pdfText(b.Name)) }) // a name tree is in order
	for _, f := range files {
		body := u.stream(fmt.Sprintf("<</Type/EmbeddedFile/Subtype/%s/Params<</Size %d/ModDate(D:%sZ)/CheckSum<%x>>>", pdfName(f.MIME), len(f.Data), moment, md5.Sum(f.Data)), f.Data)
		spec := u.object(fmt.Sprintf("<</Type/Filespec/F %s/UF %s/Desc %s/AFRelationship/%s/EF<</F %d 0 R/UF %d 0 R>>>>",
			pdfText(f.Name), pdfText(f.Name), pdfText(f.What), relationship(f), body, body))
		fmt.Fprintf(&names, "%s %d 0 R ", pdfText(f.Name), spec)
		fmt.Fprintf(&refs, "%d 0 R ", spec)
	}
	if err := u.mapGlyphs(pdf); err != nil {
		return nil, err
	}
	u.replace(1, fmt.Sprintf("<</Type/Catalog/Pages 3 0 R/Lang(en)/Metadata %d 0 R/OutputIntents[%d 0 R]/Names<</EmbeddedFiles<</Names[%s]>>>>/AF[%s]/PageMode/UseAttachments/ViewerPreferences<</DisplayDocTitle true>>>>",
		meta, intent, names.String(), refs.String()))
	return u.finish(info), nil
}

// relationship is what an attached file is to the document: the charts are its source,
// the rest is data about them.
func relationship(f hide.Attachment) string {
	if strings.HasPrefix(f.Name, "chart-") {
		return "Source"
	}
	return "Data"
}

// pdfUpdate appends objects to a PDF.
type pdfUpdate struct {
	out    bytes.Buffer
	size   int         // of the table: the next number
	before int         // where the table before lies
	at     map[int]int // where each new or changed object lies
}

var (
	sizeForm  = regexp.MustCompile(`/Size (\d+)`)
	startForm = regexp.MustCompile(`startxref\n(\d+)\n%%EOF\n*$`)
)

func newUpdate(pdf []byte) (*pdfUpdate, error) {
	start := startForm.FindSubmatch(pdf)
	sizes := sizeForm.FindAllSubmatch(pdf, -1)
	if start == nil || len(sizes) == 0 || !bytes.Contains(pdf, []byte("\n1 0 obj\n")) {
		return nil, hide.Faultf(hide.Internal, "PDF: not as our writer writes it")
	}
	u := &pdfUpdate{at: map[int]int{}}
	var err1, err2 error
	u.size, err1 = strconv.Atoi(string(sizes[len(sizes)-1][1]))
	u.before, err2 = strconv.Atoi(string(start[1]))
	if err1 != nil || err2 != nil {
		return nil, hide.Faultf(hide.Internal, "PDF: table of offsets")
	}
	u.out.Write(pdf)
	return u, nil
}

func (u *pdfUpdate) replace(n int, body string) {
	u.at[n] = u.out.Len()
	fmt.Fprintf(&u.out, "%d 0 obj\n%s\nendobj\n", n, body)
}

func (u *pdfUpdate) object(body string) int {
	n := u.size
	u.size++
	u.replace(n, body)
	return n
}

var fontForm = regexp.MustCompile(`(?s)\n(\d+) 0 obj\n(<<[^\n]*?/CIDFontType2[^\n]*>>)\nendobj`)

// mapGlyphs says of each font that its character codes are the numbers of its glyphs: that
// is what a reader takes for granted, and what a PDF/A has to say (clause 6.2.11.3.2).
func (u *pdfUpdate) mapGlyphs(pdf []byte) error {
	const subtype = "/CIDFontType2"
	for _, m := range fontForm.FindAllSubmatch(pdf, -1) {
		n, err := strconv.Atoi(string(m[1]))
		if err != nil {
			return hide.Wrapf(hide.Internal, err, "PDF: font")
		}
		if body := string(m[2]); !strings.Contains(body, "/CIDToGIDMap") {
			u.replace(n, strings.Replace(body, subtype, subtype+"/CIDToGIDMap/Identity", 1))
		}
	}
	return nil
}

// stream writes a stream, not compressed: what is claimed can be read with any tool.
func (u *pdfUpdate) stream(head string, data []byte) int {
	n := u.size
	u.size++
	u.at[n] = u.out.Len()
	fmt.Fprintf(&u.out, "%d 0 obj\n%s/Length %d>>\nstream\n", n, head, len(data))
	u.out.Write(data)
	u.out.WriteString("\nendstream\nendobj\n")
	return n
}

// finish writes the table of the new objects and the trailer.
func (u *pdfUpdate) finish(info int) []byte {
	id := sha256.Sum256(u.out.Bytes())
	at := u.out.Len()
	u.out.WriteString("xref\n0 1\n0000000000 65535 f \n")
	for _, n := range slices.Sorted(maps.Keys(u.at)) {
		fmt.Fprintf(&u.out, "%d 1\n%010d 00000 n \n", n, u.at[n])
	}
	fmt.Fprintf(&u.out, "trailer\n<</Size %d/Root 1 0 R/Info %d 0 R/Prev %d/ID[<%x><%x>]>>\nstartxref\n%d\n%%%%EOF\n", u.size, info, u.before, id[:16], id[:16], at)
	return u.out.Bytes()
}

// pdfText writes a text string: UTF-16 with a mark, in hexadecimal, so that nothing needs
// an escape.
func pdfText(s string) string {
	var b strings.Builder
	b.WriteString("<FEFF")
	for _, c := range utf16.Encode([]rune(s)) {
		fmt.Fprintf(&b, "%04X", c)
	}
	return b.String() + ">"
}

// pdfName writes a name; the slash of a MIME type is #2F.
func pdfName(s string) string { return strings.ReplaceAll(s, "/", "#2F") }

// xmpPacket is the metadata (ISO 16684-1), equal to the document's information.
func xmpPacket(title string, day time.Time) []byte {
	var t bytes.Buffer
	if err := xml.EscapeText(&t, []byte(xmlText(title))); err != nil {
		t.WriteString("hidechart") // a buffer does not fail
	}
	date := day.UTC().Format("2006-01-02") + "T00:00:00Z"
	return fmt.Appendf(nil, `<?xpacket begin="%s" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:pdf="http://ns.adobe.com/pdf/1.3/" xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/">
<pdfaid:part>3</pdfaid:part>
<pdfaid:conformance>B</pdfaid:conformance>
<dc:format>application/pdf</dc:format>
<dc:title><rdf:Alt><rdf:li xml:lang="x-default">%s</rdf:li></rdf:Alt></dc:title>
<xmp:CreatorTool>hidechart</xmp:CreatorTool>
<xmp:CreateDate>%s</xmp:CreateDate>
<xmp:ModifyDate>%s</xmp:ModifyDate>
<pdf:Producer>hidechart</pdf:Producer>
</rdf:Description>
</rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>`, "\uFEFF", t.String(), date, date)
}
