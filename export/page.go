package export

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"os"
	"path/filepath"
	"strings"

	"hidechart/hide"
	"hidechart/pix"
	"hidechart/plane"
)

// PageName is the name by which the command knows the page for sharing.
const PageName = "page"

//go:embed page/index.html
var pageText string

//go:embed page/style.css
var pageStyle []byte

const (
	// pageSide bounds the pictures of a page for sharing, pixels: 1 mm of a hide
	// of 3 m, and a megabyte or two that a mail takes.
	pageSide = 3000
	// pageQuality of their JPEG.
	pageQuality = 82
)

// WritePage writes a folder that opens in any browser from the disk: the hide
// under each light, its flaws outlined and listed. It needs no script and no network, and changes nothing. The
// chart must be folded. from is the chart's folder with its pictures; without
// pictures the flaws are drawn on plain ground. Files appear whole or not at all.
//
// Errors: Unreadable, Invalid for the pictures; Internal from the disk.
func WritePage(dir string, c hide.Chart, from, sum string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return hide.Wrapf(hide.Internal, err, "page")
	}
	l, err := ReadLights(from)
	if hide.KindOf(err) == hide.NotFound && err != nil {
		l = plainLights(c)
	} else if err != nil {
		return err
	}
	p := newPage(c, l, sum)
	for _, pic := range l.Pictures {
		data, err := sharedPicture(filepath.Join(from, pic.File))
		if err != nil {
			return err
		}
		if err := writeBytes(filepath.Join(dir, pic.File), data); err != nil {
			return err
		}
	}
	t, err := template.New("page").Parse(pageText)
	if err != nil {
		return hide.Wrapf(hide.Internal, err, "page")
	}
	var b bytes.Buffer
	if err := t.Execute(&b, p); err != nil {
		return hide.Wrapf(hide.Internal, err, "page")
	}
	if err := writeBytes(filepath.Join(dir, "style.css"), pageStyle); err != nil {
		return err
	}
	return writeBytes(filepath.Join(dir, "index.html"), b.Bytes())
}

func writeBytes(path string, data []byte) error {
	return WriteFile(path, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
}

// sharedPicture is a picture no larger than pageSide.
func sharedPicture(path string) ([]byte, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "picture")
	}
	im, err := pix.Decode(data, pix.DefaultLimits())
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "%s", filepath.Base(path))
	}
	defer im.Close()
	w, h := im.Width(), im.Height()
	s := pageSide / float64(max(w, h))
	if s >= 1 {
		return pix.EncodeJPEG(im, pageQuality)
	}
	small, err := pix.Resize(im, max(1, int(float64(w)*s)), max(1, int(float64(h)*s)))
	if err != nil {
		return nil, err
	}
	defer small.Close()
	return pix.EncodeJPEG(small, pageQuality)
}

// pageLetters: a number on the picture is as high as one part in so many of its longer side.
const pageLetters = 75

// plainMargin of ground around the hide where there is no picture, mm.
const plainMargin hide.MM = 40

// plainLights is the raster of a chart without pictures: 1 mm a pixel.
func plainLights(c hide.Chart) Lights {
	lo, hi := c.Outline.Outer[0], c.Outline.Outer[0]
	for _, p := range c.Outline.Outer {
		lo, hi = hide.Point{X: min(lo.X, p.X), Y: min(lo.Y, p.Y)}, hide.Point{X: max(hi.X, p.X), Y: max(hi.Y, p.Y)}
	}
	return Lights{Left: lo.X - plainMargin, Top: hi.Y + plainMargin, MMPerPX: 1,
		Width: int(hi.X-lo.X+2*plainMargin) + 1, Height: int(hi.Y-lo.Y+2*plainMargin) + 1}
}

// pageData is what the template shows. All text goes through html/template,
// which escapes it for its place.
type pageData struct {
	ID, Words, Area, Counts, Review, Version, Sum string
	Flags                                         []string
	Width, Height, Letter                         int
	Outline                                       string
	Lights                                        []pageLight
	Defects                                       []pageDefect
}

type pageLight struct{ Words, File string }

type pageDefect struct {
	ID                                         int
	Status, Path, Colour, Strokes, Fills, X, Y string
	Kind, State, Likely, Zone, Size, Edge      string
}

func newPage(c hide.Chart, l Lights, sum string) pageData {
	g := l.Grid()
	p := pageData{ID: c.Capture.ID, Version: c.MadeBy.Version, Sum: sum[:min(12, len(sum))], Width: l.Width, Height: l.Height, Letter: max(l.Width, l.Height) / pageLetters,
		Area: fmt.Sprintf("%.1f ± %.1f dm² (%.2f ft²)", c.Area.Value.DM2(), 2*c.Area.U.DM2(), c.Area.Value.Feet2())}
	var words []string
	for _, w := range []string{c.Capture.Article, c.Capture.Supplier, c.Capture.Lot} {
		if w != "" {
			words = append(words, w)
		}
	}
	p.Words = strings.Join(words, " · ")
	for _, f := range c.Flags {
		p.Flags = append(p.Flags, f.Text)
	}
	for _, pic := range l.Pictures {
		p.Lights = append(p.Lights, pageLight{lightWords(pic.Light), pic.File})
	}
	p.Outline = selectorPath(hide.Shape{c.Outline}, g)
	marks := map[hide.Kind]Mark{}
	for _, m := range Marks() {
		marks[m.Kind] = m
	}
	left, shown := 0, 0
	for _, d := range c.Defects {
		if d.Status == hide.Rejected {
			continue
		}
		shown++
		if d.Status == hide.Candidate {
			left++
		}
		p.Defects = append(p.Defects, pageFlaw(d, marks[d.Kind], g))
	}
	p.Counts = fmt.Sprint(shown)
	p.Review = "all decided"
	if left > 0 {
		p.Review = fmt.Sprintf("%d not yet decided (dashed)", left)
	}
	return p
}

func pageFlaw(d hide.Defect, m Mark, g pix.Grid) pageDefect {
	box := plane.MinRectangle(d.Geometry)
	at := d.Geometry[0].Outer[0]
	for _, p := range d.Geometry {
		for _, q := range p.Outer {
			if q.X+q.Y > at.X+at.Y {
				at = q
			}
		}
	}
	x, y := edgePixel(g, at)
	out := pageDefect{ID: d.ID, Status: string(d.Status), Path: selectorPath(d.Geometry, g), Colour: m.Colour, Strokes: m.Strokes, Fills: m.Fills,
		X: pixelText(x), Y: pixelText(y), Kind: m.Words, Zone: string(d.Zone), Edge: fmt.Sprintf("%.0f", d.EdgeDistance),
		Size: fmt.Sprintf("%.0f × %.0f", max(d.Length, box.Length), d.Width)}
	if d.Open {
		out.Kind += ", open"
	}
	switch d.Status {
	case hide.Confirmed:
		out.State = "confirmed"
	case hide.Added:
		out.State = "drawn by a reviewer"
	default:
		out.State, out.Likely = "to decide", fmt.Sprintf("%.0f %%", 100*d.Probability)
	}
	return out
}

func lightWords(l hide.Light) string {
	switch l {
	case hide.Top:
		return "from above"
	case hide.Back:
		return "from behind"
	case hide.RakeN:
		return "low, from far"
	case hide.RakeE:
		return "low, from the right"
	case hide.RakeS:
		return "low, from near"
	case hide.RakeW:
		return "low, from the left"
	}
	return string(l)
}
