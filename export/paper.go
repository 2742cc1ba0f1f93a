package export

import (
	"bytes"
	"image/color"
	"image/png"
	"io"
	"time"

	"github.com/tdewolff/canvas"
	"github.com/tdewolff/canvas/renderers/pdf"
	"github.com/tdewolff/canvas/renderers/rasterizer"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"

	"hidechart/hide"
)

// paperSize is a sheet in millimetres, upright (ISO 216).
type paperSize struct{ width, height float64 }

var (
	paperA4 = paperSize{210, 297}
	paperA3 = paperSize{297, 420}
)

// pointMM is a typographic point, 1/72 inch. canvas takes font sizes in points.
const pointMM = 25.4 / 72

// paper draws on the pages of one PDF, or on one picture: millimetres, origin
// at the lower left, y up.
type paper struct {
	buf     bytes.Buffer
	pdf     *pdf.PDF
	picture *canvas.Canvas
	ctx     *canvas.Context
	regular *canvas.Font
	bold    *canvas.Font
}

// newPaper starts a PDF with its first page.
func newPaper(size paperSize, title string) (*paper, error) {
	p, err := newPen()
	if err != nil {
		return nil, err
	}
	p.pdf = pdf.New(&p.buf, size.width, size.height, nil)
	p.pdf.SetInfo(title, "", "", "", "hidechart")
	p.pdf.SetLang("en")
	p.ctx = canvas.NewContext(p.pdf)
	return p, nil
}

// newPicture starts a white picture.
func newPicture(size paperSize) (*paper, error) {
	p, err := newPen()
	if err != nil {
		return nil, err
	}
	p.picture = canvas.New(size.width, size.height)
	p.ctx = canvas.NewContext(p.picture)
	p.fill(canvas.Rectangle(size.width, size.height), canvas.White)
	return p, nil
}

// newPen loads the Go fonts, which are embedded in every PDF, so that a page
// looks the same everywhere.
func newPen() (*paper, error) {
	p := &paper{}
	var err error
	if p.regular, err = canvas.LoadFont(goregular.TTF, 0, canvas.FontRegular); err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "regular font")
	}
	if p.bold, err = canvas.LoadFont(gobold.TTF, 0, canvas.FontBold); err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "bold font")
	}
	return p, nil
}

func (p *paper) newPage(size paperSize) { p.pdf.NewPage(size.width, size.height) }

func (p *paper) face(size float64, bold bool) *canvas.FontFace {
	if bold {
		return p.bold.Face(size/pointMM, canvas.Black)
	}
	return p.regular.Face(size/pointMM, canvas.Black)
}

// text writes one line with its baseline at y; size is the font size in mm.
func (p *paper) text(x, y, size float64, bold bool, align canvas.TextAlign, s string) {
	p.ctx.DrawText(x, y, canvas.NewTextLine(p.face(size, bold), s, align))
}

// textBox wraps text into a column whose top left corner is (x, y) and returns
// the height it took.
func (p *paper) textBox(x, y, width, size float64, bold bool, s string) float64 {
	t := canvas.NewTextBox(p.face(size, bold), s, width, 0, canvas.Left, canvas.Top, &canvas.TextOptions{LineStretch: 0.15})
	p.ctx.DrawText(x, y, t)
	_, h := t.Size()
	return h
}

// fit returns the largest size up to wanted at which the bold line is no wider
// than width.
func (p *paper) fit(s string, wanted, width float64) float64 {
	if w := p.face(wanted, true).TextWidth(s); w > width {
		return wanted * width / w
	}
	return wanted
}

// textTurned writes one line running upwards, its baseline at x.
func (p *paper) textTurned(x, y, size float64, s string) {
	p.ctx.Push()
	p.ctx.ComposeView(canvas.Identity.Translate(x, y).Rotate(90))
	p.ctx.DrawText(0, 0, canvas.NewTextLine(p.face(size, false), s, canvas.Center))
	p.ctx.Pop()
}

func (p *paper) line(x0, y0, x1, y1, width float64, c color.Color) {
	p.ctx.Push()
	p.ctx.SetFill(canvas.Transparent)
	p.ctx.SetStrokeColor(c)
	p.ctx.SetStrokeWidth(width)
	p.ctx.MoveTo(x0, y0)
	p.ctx.LineTo(x1, y1)
	p.ctx.Stroke()
	p.ctx.Pop()
}

// fill fills a path without a stroke.
func (p *paper) fill(path *canvas.Path, c color.Color) {
	p.ctx.Push()
	p.ctx.SetStroke(canvas.Transparent)
	p.ctx.SetFillColor(c)
	p.ctx.DrawPath(0, 0, path)
	p.ctx.Pop()
}

// finish ends the PDF and writes it with the given day as its date: the same input gives
// the same bytes, whatever the time.
func (p *paper) finish(w io.Writer, day time.Time) error {
	if err := p.pdf.Close(); err != nil {
		return hide.Wrapf(hide.Internal, err, "finish PDF")
	}
	out, err := steady(p.buf.Bytes(), day)
	if err != nil {
		return err
	}
	if _, err := w.Write(out); err != nil {
		return hide.Wrapf(hide.Internal, err, "write PDF")
	}
	return nil
}

// finishPNG writes the picture with the given pixels per millimetre.
func (p *paper) finishPNG(w io.Writer, pxPerMM float64) error {
	im := rasterizer.Draw(p.picture, canvas.DPMM(pxPerMM), canvas.SRGBColorSpace{})
	if err := png.Encode(w, im); err != nil {
		return hide.Wrapf(hide.Internal, err, "write PNG")
	}
	return nil
}
