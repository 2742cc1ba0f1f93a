package export

import (
	"fmt"
	"image"
	"io"
	"math"

	"hidechart/hide"
	"hidechart/pix"
)

// swatchOverlayPX is the long side of the picture: enough for a screen.
const swatchOverlayPX = 1600

// WriteSwatchOverlay writes the photograph (U8, BGR or grey; borrowed) with each
// candidate's outline and number as a PNG: a full line where it is at least as likely
// a flaw as not, else a dashed one; a rule in millimetres. Errors: Invalid for
// another kind of picture; Internal from the writer.
func WriteSwatchOverlay(w io.Writer, s Swatch, photo *pix.Image) error {
	l, err := newLettering()
	if err != nil {
		return err
	}
	b, err := swatchGround(photo)
	if err != nil {
		return err
	}
	k := float64(b.im.Rect.Dx()) / float64(s.Image.Width)
	at := func(p hide.Point) spot {
		return spot{k * float64(p.X/s.Frame.MMPerPX), k * (float64(s.Image.Height) - float64(p.Y/s.Frame.MMPerPX))}
	}
	size := float64(max(b.im.Rect.Dx(), b.im.Rect.Dy()))
	capital := math.Max(size/90, 7) // of a screen's width: 3 mm
	for _, c := range s.Candidates {
		drawSwatchCandidate(b, c, at, capital)
	}
	for _, c := range s.Candidates { // over all outlines
		writeSwatchNumber(b, l, c, at, capital)
	}
	drawSwatchRule(b, l, k/float64(s.Frame.MMPerPX), capital)
	return writePNG(w, b.im)
}

// swatchGround is the photograph, shrunk.
func swatchGround(photo *pix.Image) (brush, error) {
	if photo.Depth() != pix.U8 || photo.Channels() != 1 && photo.Channels() != 3 {
		return brush{}, hide.Faultf(hide.Invalid, "swatch overlay: want 8 bits and one or three channels")
	}
	sc := pix.NewScope()
	defer sc.Close()
	k := math.Min(1, swatchOverlayPX/float64(max(photo.Width(), photo.Height())))
	small, err := pix.Resize(photo, max(1, int(math.Round(k*float64(photo.Width())))), max(1, int(math.Round(k*float64(photo.Height())))))
	if err != nil {
		return brush{}, err
	}
	colour, err := pix.Colour(sc.Keep(small))
	if err != nil {
		return brush{}, err
	}
	sc.Keep(colour)
	im := image.NewRGBA(image.Rect(0, 0, colour.Width(), colour.Height()))
	for i, v := 0, colour.Bytes(); i < len(v)/3; i++ {
		im.Pix[4*i], im.Pix[4*i+1], im.Pix[4*i+2], im.Pix[4*i+3] = v[3*i+2], v[3*i+1], v[3*i], 255
	}
	return brush{im}, nil
}

func drawSwatchCandidate(b brush, c SwatchCandidate, at func(hide.Point) spot, capital float64) {
	var lines []line
	for _, poly := range c.Geometry {
		for _, r := range append([]hide.Ring{poly.Outer}, poly.Holes...) {
			l := line{closed: true}
			for _, p := range r {
				l.at = append(l.at, at(p))
			}
			lines = append(lines, l)
		}
	}
	dash := 0.0
	if c.Probability < .5 {
		dash = capital / 2
	}
	b.cased(vermillion, capital/6, capital/12, dash, lines...)
}

// writeSwatchNumber puts the number beside the candidate, inside the picture.
func writeSwatchNumber(b brush, l *lettering, c SwatchCandidate, at func(hide.Point) spot, capital float64) {
	f := noFrame()
	for _, poly := range c.Geometry {
		for _, p := range poly.Outer {
			f = f.with(at(p))
		}
	}
	text := fmt.Sprintf("%d  %.0f %%", c.ID, 100*c.Probability)
	wide := l.width(text, capital, true)
	p := spot{f.x1 + capital/2, f.y0}
	size := b.im.Rect.Size()
	if p.x+wide > float64(size.X) {
		p.x = f.x0 - capital/2 - wide
	}
	p.x, p.y = math.Max(p.x, capital/2), math.Min(math.Max(p.y, 2*capital), float64(size.Y)-capital/2)
	b.fill(sheer(white, .8), frame{p.x - capital/4, p.y - 1.4*capital, p.x + wide + capital/4, p.y + .4*capital}.corners())
	l.write(b.im, p, text, capital, true, black)
}

// drawSwatchRule draws a rule of 1, 2 or 5 times a power of ten millimetres, a
// fifth of the picture or less.
func drawSwatchRule(b brush, l *lettering, pxPerMM, capital float64) {
	size := b.im.Rect.Size()
	most := float64(size.X) / 5 / pxPerMM
	long := math.Pow(10, math.Floor(math.Log10(most)))
	for _, k := range []float64{5, 2} {
		if k*long <= most {
			long *= k
			break
		}
	}
	text := fmt.Sprintf("%g mm", long)
	x, y := 1.5*capital, float64(size.Y)-1.5*capital
	wide := math.Max(long*pxPerMM, l.width(text, capital, false))
	b.fill(sheer(white, .8), frame{x - capital/2, y - 2.2*capital, x + wide + capital/2, y + .6*capital}.corners())
	b.stroke(black, capital/4, 0, line{at: []spot{{x, y}, {x + long*pxPerMM, y}}})
	l.write(b.im, spot{x, y - .6*capital}, text, capital, false, black)
}
