package export

import (
	"fmt"
	"image/color"
	"io"
	"math"

	"github.com/tdewolff/canvas"

	"hidechart/hide"
	"hidechart/pix"
)

// LensResiduals is what the picture of a lens fit shows.
type LensResiduals struct {
	Width, Height int // of the photographs, px
	RMS, Mean     hide.PX
	Views         []ViewResiduals
}

// ViewResiduals is one photograph's corners (px) and how far each was seen from
// the fit (seen less fitted, px).
type ViewResiduals struct {
	Name    string
	RMS     hide.PX
	Corners []pix.Point
	Off     []pix.Point
}

// Measures of the picture in mm; 8 px/mm makes it 2,000 px wide.
const (
	residualPXPerMM = 8.0
	fieldWidth      = 160.0
	sideWidth       = 66.0
	residualMargin  = 8.0
)

var (
	inkBlue = color.RGBA{R: 30, G: 80, B: 160, A: 255}
	inkPale = color.RGBA{R: 200, G: 200, B: 200, A: 255}
)

// WriteLensResiduals draws the residuals of a lens fit as a PNG: arrows at the
// corners' places in the photograph (a pattern there is lens that the terms
// missed), the cloud of residuals, and each photograph's error.
//
// Error: Invalid when there is nothing to draw.
func WriteLensResiduals(w io.Writer, r LensResiduals) error {
	if r.Width <= 0 || r.Height <= 0 || len(r.Views) == 0 {
		return hide.Faultf(hide.Invalid, "lens residuals: nothing to draw")
	}
	fieldHeight := fieldWidth * float64(r.Height) / float64(r.Width)
	height := math.Max(fieldHeight, sideWidth+12+4.5*float64(len(r.Views))) + 2*residualMargin + 14
	p, err := newPicture(paperSize{3*residualMargin + fieldWidth + sideWidth, height})
	if err != nil {
		return err
	}
	p.residualField(r, residualMargin, height-residualMargin-10-fieldHeight, fieldHeight)
	x := 2*residualMargin + fieldWidth
	p.residualCloud(r, x, height-residualMargin-10-sideWidth)
	p.residualBars(r, x, height-residualMargin-10-sideWidth-14)
	return p.finishPNG(w, residualPXPerMM)
}

// arrowPX picks 1, 2 or 5 times a power of ten, near twice the RMS, for the
// scale arrow.
func arrowPX(rms hide.PX) float64 {
	want := math.Max(2*float64(rms), 1e-6)
	base := math.Pow(10, math.Floor(math.Log10(want)))
	for _, m := range []float64{1, 2, 5} {
		if m*base >= want {
			return m * base
		}
	}
	return 10 * base
}

func (p *paper) residualField(r LensResiduals, x, y, h float64) {
	scale := fieldWidth / float64(r.Width)
	unit := arrowPX(r.RMS)
	gain := 8 / unit // the scale arrow is 8 mm long
	p.text(x, y+h+3, 4, true, canvas.Left, fmt.Sprintf("Residuals: RMS %.3f px, mean %.3f px, %d photographs", r.RMS, r.Mean, len(r.Views)))
	p.frame(x, y, fieldWidth, h)
	for _, v := range r.Views {
		for i, c := range v.Corners {
			cx, cy := x+(float64(c.X)+0.5)*scale, y+h-(float64(c.Y)+0.5)*scale
			ex, ey := cx+float64(v.Off[i].X)*gain, cy-float64(v.Off[i].Y)*gain
			p.line(cx, cy, ex, ey, 0.22, inkBlue)
			p.fill(canvas.Circle(0.32).Translate(cx, cy), inkBlue)
		}
	}
	p.line(x, y-4, x+8, y-4, 0.5, inkBlue)
	p.text(x+10, y-5, 3.2, false, canvas.Left, fmt.Sprintf("= %g px (dot: where the corner was seen; line: seen less fitted)", unit))
}

// residualCloud plots dx against dy within two scale units, with rings.
func (p *paper) residualCloud(r LensResiduals, x, y float64) {
	unit := arrowPX(r.RMS)
	half := sideWidth / 2
	gain := half / (2 * unit)
	p.text(x, y+sideWidth+3, 3.6, true, canvas.Left, fmt.Sprintf("x and y residuals, rings at %g and %g px", unit, 2*unit))
	p.frame(x, y, sideWidth, sideWidth)
	cx, cy := x+half, y+half
	for _, k := range []float64{1, 2} {
		p.ring(cx, cy, k*unit*gain)
	}
	outside := 0
	for _, v := range r.Views {
		for _, o := range v.Off {
			dx, dy := float64(o.X)*gain, -float64(o.Y)*gain
			if math.Abs(dx) > half || math.Abs(dy) > half {
				outside++
				continue
			}
			p.fill(canvas.Circle(0.4).Translate(cx+dx, cy+dy), inkBlue)
		}
	}
	if outside > 0 {
		p.text(x+2, y+2, 3, false, canvas.Left, fmt.Sprintf("%d beyond", outside))
	}
}

func (p *paper) residualBars(r LensResiduals, x, top float64) {
	p.text(x, top+4, 3.6, true, canvas.Left, "RMS of each photograph, px")
	most := 0.0
	for _, v := range r.Views {
		most = math.Max(most, float64(v.RMS))
	}
	const nameWidth, numberWidth = 26.0, 11.0
	for i, v := range r.Views {
		y := top - 4.5*float64(i)
		length := (sideWidth - nameWidth - numberWidth) * float64(v.RMS) / math.Max(most, 1e-9)
		p.text(x, y-1, 2.8, false, canvas.Left, shortened(v.Name, 16))
		p.fill(canvas.Rectangle(length, 2.6).Translate(x+nameWidth, y-1.4), inkBlue)
		p.text(x+nameWidth+length+1, y-1, 2.8, false, canvas.Left, fmt.Sprintf("%.3f", v.RMS))
	}
}

// shortened keeps the end of a long name, which tells photographs apart.
func shortened(s string, most int) string {
	r := []rune(s)
	if len(r) <= most {
		return s
	}
	return "…" + string(r[len(r)-most+1:])
}

func (p *paper) frame(x, y, w, h float64) {
	p.ctx.Push()
	p.ctx.SetFill(canvas.Transparent)
	p.ctx.SetStrokeColor(inkPale)
	p.ctx.SetStrokeWidth(0.3)
	p.ctx.DrawPath(x, y, canvas.Rectangle(w, h))
	p.ctx.Pop()
}

func (p *paper) ring(x, y, radius float64) {
	p.ctx.Push()
	p.ctx.SetFill(canvas.Transparent)
	p.ctx.SetStrokeColor(inkPale)
	p.ctx.SetStrokeWidth(0.3)
	p.ctx.DrawPath(x, y, canvas.Circle(radius))
	p.ctx.Pop()
}
