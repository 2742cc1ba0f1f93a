package export

import (
	"fmt"
	"image/color"
	"io"

	"github.com/tdewolff/canvas"

	"hidechart/hide"
)

// projectionMargin in mm round the hide: room for the corner marks and their words.
const projectionMargin = 60.0

// mostProjected pixels on a side: twice the widest projector in use (7680).
const mostProjected = 15360

// WriteCutProjection writes a picture to project on the table: light lines on black,
// so that leather is lit only where there is something to see. Every pixel is
// MMPerPX wide, as the picture says; the crosses at the corners lie at the table
// millimetres written beside them: move and square the projector until they do.
// Errors: Invalid for a scale that makes a picture too large, or none.
func WriteCutProjection(w io.Writer, plan CutPlan, o CutOptions) error {
	if err := plan.check(); err != nil {
		return err
	}
	b := plan.box()
	// whole multiples of ten millimetres: crosses at figures that a rule can find
	left, low := floorTen(b.minX-projectionMargin), floorTen(b.minY-projectionMargin)
	right, high := floorTen(b.maxX+projectionMargin)+10, floorTen(b.maxY+projectionMargin)+10
	width, height := right-left, high-low
	if !(o.MMPerPX > 0) || max(width, height)/o.MMPerPX > mostProjected {
		return hide.Faultf(hide.Invalid, "projection: %g mm a pixel for %.0f × %.0f mm; a side has at most %d pixels", o.MMPerPX, width, height, mostProjected)
	}
	p, err := newPicture(paperSize{width, height})
	if err != nil {
		return err
	}
	p.fill(canvas.Rectangle(width, height), canvas.Black)
	m := drawnScale{scale: 1, dx: -left, dy: -low}
	p.projected(plan, m, 2*o.MMPerPX)
	p.cornerMarks(left, low, width, height, o.MMPerPX)
	return p.finishPNG(w, 1/o.MMPerPX)
}

func floorTen(v float64) float64 { return 10 * float64(int(v/10)-1) }

// projected draws the plan; line is two pixels, the thinnest a projector shows evenly.
func (p *paper) projected(plan CutPlan, m drawnScale, line float64) {
	p.stroke(m.path(hide.Shape{plan.Outline}), line, color.Gray{Y: 120})
	p.stroke(m.path(plan.Cuttable), line, vermillion)
	for i, q := range plan.Pieces {
		p.stroke(m.path(hide.Shape{q.Shape}), line, canvas.White)
		if q.Grain != nil {
			p.segment(m, *q.Grain, line, skyBlue)
		}
		cx, cy := middleOf(q.Shape.Outer)
		x, y := m.at(hide.Point{X: hide.MM(cx), Y: hide.MM(cy)})
		p.lightText(x, y-8, 24, canvas.Center, fmt.Sprint(i+1))
	}
}

// cornerMarks draws a cross 30 mm inside each corner and writes where it lies.
func (p *paper) cornerMarks(left, low, width, height, mmPerPX float64) {
	const inset, arm = 30.0, 20.0
	for _, x := range []float64{inset, width - inset} {
		for _, y := range []float64{inset, height - inset} {
			p.line(x-arm, y, x+arm, y, 2*mmPerPX, canvas.White)
			p.line(x, y-arm, x, y+arm, 2*mmPerPX, canvas.White)
			align, at := canvas.Left, x+6
			if x > width/2 {
				align, at = canvas.Right, x-6
			}
			p.lightText(at, y+5, 12, align, fmt.Sprintf("%g, %g mm", left+x, low+y))
		}
	}
	p.lightText(width/2, 14, 12, canvas.Center, fmt.Sprintf("%g mm a pixel; crosses at table millimetres. Do not look into the projector.", mmPerPX))
}

// lightText writes white letters, size in mm.
func (p *paper) lightText(x, y, size float64, align canvas.TextAlign, s string) {
	p.ctx.DrawText(x, y, canvas.NewTextLine(p.regular.Face(size/pointMM, canvas.White), s, align))
}
