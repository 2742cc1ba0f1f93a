package export

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"unicode/utf16"

	"hidechart/hide"
)

// dxfFile writes group codes and values of a DXF file of AutoCAD 2000 form
// (AC1015), the oldest with LWPOLYLINE. Every object has a handle and an owner.
type dxfFile struct {
	buf    bytes.Buffer
	handle int // last handle given
}

// WriteDXF writes a drawing in millimetres ($INSUNITS 4; since readers ignore
// it, give the file a name with ".mm" in it), y up, in the table frame: the outline, its
// holes on a layer of their own, zones, backbone, defects by kind, their
// numbers, a bar of 100 mm. Rings are closed LWPOLYLINEs without a repeated
// vertex; inner rings are polylines of their own, told apart by layer.
// Rejected defects are left out.
func WriteDXF(w io.Writer, c hide.Chart) error {
	c = settled(c)
	f := &dxfFile{handle: firstFreeHandle}
	var body dxfFile
	body.handle = f.handle
	body.entities(c)
	f.handle = body.handle
	f.header(chartBox(c), body.handle+1)
	f.tables(dxfLayers(), chartBox(c))
	f.blocks()
	f.pair(0, "SECTION")
	f.pair(2, "ENTITIES")
	f.buf.Write(body.buf.Bytes())
	f.pair(0, "ENDSEC")
	f.objects()
	f.pair(0, "EOF")
	if _, err := w.Write(f.buf.Bytes()); err != nil {
		return hide.Wrapf(hide.Internal, err, "dxf")
	}
	return nil
}

func (f *dxfFile) pair(code int, value string) { fmt.Fprintf(&f.buf, "%3d\n%s\n", code, value) }

// ints writes pairs of group code and whole number.
func (f *dxfFile) ints(pairs ...int) {
	for i := 0; i < len(pairs); i += 2 {
		f.pair(pairs[i], fmt.Sprint(pairs[i+1]))
	}
}

// real writes a number with a point, as some readers insist on.
func (f *dxfFile) real(code int, v float64) {
	s := number(v)
	if !strings.Contains(s, ".") {
		s += ".0"
	}
	f.pair(code, s)
}

func (f *dxfFile) xy(v ...float64) {
	for i, x := range v {
		f.real(10*(i+1), x)
	}
}

// entity starts an entity of the model space.
func (f *dxfFile) entity(kind, layer, class string) {
	f.handle++
	f.pair(0, kind)
	f.pair(5, fmt.Sprintf("%X", f.handle))
	f.pair(330, modelRecord)
	f.pair(100, "AcDbEntity")
	f.pair(8, layer)
	f.pair(100, class)
}

func (f *dxfFile) ring(layer string, r hide.Ring) {
	f.entity("LWPOLYLINE", layer, "AcDbPolyline")
	f.ints(90, len(r), 70, 1) // bit 1: closed
	for _, p := range r {
		f.real(10, hide.Micron(p.X))
		f.real(20, hide.Micron(p.Y))
	}
}

func (f *dxfFile) shape(layer, inner string, s hide.Shape) {
	for _, p := range s {
		f.ring(layer, p.Outer)
		for _, h := range p.Holes {
			f.ring(inner, h)
		}
	}
}

func (f *dxfFile) line(layer string, x0, y0, x1, y1 float64) {
	f.entity("LINE", layer, "AcDbLine")
	f.xy(x0, y0, 0)
	f.real(11, x1)
	f.real(21, y1)
	f.real(31, 0)
}

// text writes one line of TEXT with its baseline starting at (x, y).
func (f *dxfFile) text(layer string, x, y, height float64, s string) {
	f.entity("TEXT", layer, "AcDbText")
	f.xy(x, y, 0)
	f.real(40, height)
	f.pair(1, dxfText(s))
	f.pair(7, "Standard")
	f.pair(100, "AcDbText")
}

func (f *dxfFile) entities(c hide.Chart) {
	f.ring(layerOutline, c.Outline.Outer)
	for _, h := range c.Outline.Holes {
		f.ring(layerHoles, h)
	}
	for _, z := range c.Zones {
		f.shape(zoneLayer(z.Zone), layerZoneHole, z.Geometry)
	}
	if hasBackbone(c) {
		neck, tail := c.Backbone[0], c.Backbone[1]
		f.line(layerBackbone, float64(neck.X), float64(neck.Y), float64(tail.X), float64(tail.Y))
		f.text(layerLabels, float64(neck.X), float64(neck.Y), drawnText, "HEAD")
	}
	for _, d := range upheld(c) {
		f.shape(defectLayer(d.Kind), layerInner, d.Geometry)
		b := shapeBox(d.Geometry)
		f.text(layerLabels, b.maxX+labelNudge, (b.minY+b.maxY)/2, drawnText, defectTitle(d))
	}
	f.barAndNotes(c)
}

func (f *dxfFile) barAndNotes(c hide.Chart) {
	b := chartBox(c)
	x, y := b.minX, b.minY-drawnGap
	f.line(layerBar, x, y, x+drawnBar, y)
	f.line(layerBar, x, y-5, x, y+5)
	f.line(layerBar, x+drawnBar, y-5, x+drawnBar, y+5)
	f.text(layerBar, x, y-drawnText-8, drawnText, "100 mm")
	notes := []string{hideTitle(c), fmt.Sprintf("area %.2f dm\u00b2, standard uncertainty %.2f dm\u00b2; millimetres", c.Area.Value.DM2(), c.Area.U.DM2())}
	for _, flag := range c.Flags {
		notes = append(notes, "flag "+flag.Code+": "+oneLine(flag.Text))
	}
	for i, n := range append(notes, caution()) {
		f.text(layerNotes, x, y-drawnText*(3.5+1.6*float64(i)), drawnText, n)
	}
}

// dxfTextLimit: a DXF string holds at most 255 bytes before AutoCAD 2000 and 2049 from then
// on; the readers in use cut earlier. Escapes count in full.
const dxfTextLimit = 250

// dxfText writes text in ASCII: other characters as \U+XXXX of their UTF-16
// units (DXF reference, "\U+nnnn"), a caret as "^ ", a per cent sign that could
// begin a code (%%d and the like) set apart, a backslash by its own code so that it
// starts no code.
func dxfText(s string) string {
	var b strings.Builder
	last := rune(0)
	for _, r := range oneLine(s) {
		var t string
		switch {
		case r == '^':
			t = "^ "
		case r == '%' && last == '%':
			t = " %"
		case r == '\\' || r > 0x7e:
			for _, u := range utf16.Encode([]rune{r}) {
				t += fmt.Sprintf("\\U+%04X", u)
			}
		default:
			t = string(r)
		}
		if b.Len()+len(t) > dxfTextLimit {
			break
		}
		b.WriteString(t)
		last = r
	}
	return b.String()
}
