package export

import (
	"fmt"
	"image/color"
	"math"
	"strconv"

	"github.com/tdewolff/canvas"

	"hidechart/hide"
)

// Measures and inks of the record's plots, mm.
const (
	plotText = 2.4
	plotLine = 0.25
)

var (
	plotGrey  = color.RGBA{120, 120, 120, 255}
	plotPale  = color.RGBA{222, 222, 222, 255}
	plotBlack = color.RGBA{30, 30, 30, 255}
)

// field is a plot's rectangle and its scales.
type field struct {
	*paper
	l          nameFonts
	x, y, w, h float64
	low, high  float64 // of the value axis
	upright    bool    // values run up, else to the right
}

// plotTitle writes the heading of a plot above it.
func (f field) title(s string) { f.text(f.x, f.y+f.h+2, 3, true, canvas.Left, s) }

// at is the position of a value on its axis.
func (f field) at(v float64) float64 {
	share := (v - f.low) / (f.high - f.low)
	if f.upright {
		return f.y + share*f.h
	}
	return f.x + share*f.w
}

// steps draws the value axis with pale lines.
func (f field) steps(unit string) {
	step := niceStep(f.high-f.low, 4)
	for v := math.Ceil(f.low/step) * step; v <= f.high+1e-9; v += step {
		label := strconv.FormatFloat(math.Round(v/step)*step, 'g', 4, 64)
		if f.upright {
			f.line(f.x, f.at(v), f.x+f.w, f.at(v), 0.15, plotPale)
			f.text(f.x-1, f.at(v)-0.8, plotText, false, canvas.Right, label)
		} else {
			f.line(f.at(v), f.y, f.at(v), f.y+f.h, 0.15, plotPale)
			f.text(f.at(v), f.y-3, plotText, false, canvas.Center, label)
		}
	}
	if f.upright {
		f.text(f.x-1, f.y+f.h+2, plotText, false, canvas.Right, unit)
	} else {
		f.text(f.x+f.w, f.y-6, plotText, false, canvas.Right, unit)
	}
}

// niceStep is 1, 2 or 5 times a power of ten, about n steps in the span.
func niceStep(span float64, n int) float64 {
	if !(span > 0) {
		return 1
	}
	raw := span / float64(n)
	ten := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5} {
		if raw <= m*ten {
			return m * ten
		}
	}
	return 10 * ten
}

func (f field) dot(x, y, radius float64, c color.Color) {
	f.fill(canvas.Circle(radius).Translate(x, y), c)
}

func (f field) bar(x0, y0, x1, y1 float64, c color.Color) {
	f.fill(canvas.Rectangle(x1-x0, y1-y0).Translate(x0, y0), c)
}

// controlPlot draws the u-chart over lots.
func (f field) controlPlot(c hide.ControlChart) {
	f.title("Flaws per m² over lots (u-chart, 3 sigma)")
	if len(c.Points) == 0 {
		return
	}
	f.upright = true
	for _, p := range c.Points {
		f.high = max(f.high, p.U, p.High)
	}
	f.high *= 1.08
	f.steps("")
	gap := f.w / float64(len(c.Points))
	f.line(f.x, f.at(c.Centre), f.x+f.w, f.at(c.Centre), plotLine, bluishGreen)
	every := 1 + len(c.Points)/9 // names that do not touch
	for i, p := range c.Points {
		x := f.x + (float64(i)+0.5)*gap
		for _, limit := range []float64{p.Low, p.High} {
			f.line(x-gap/2, f.at(limit), x+gap/2, f.at(limit), plotLine, vermillion)
		}
		if i > 0 {
			f.line(x-gap, f.at(c.Points[i-1].U), x, f.at(p.U), plotLine, plotGrey)
		}
		if i%every == 0 {
			f.name(f.l, x-gap/2+0.5, f.y-3.2, plotText-0.2, false, gap*float64(every)-0.5, p.Lot)
		}
	}
	for i, p := range c.Points {
		x := f.x + (float64(i)+0.5)*gap
		ink, radius := blue, 0.9
		if p.Alarm {
			ink, radius = vermillion, 1.4
			f.text(x, f.at(p.U)+1.6, plotText, true, canvas.Center, "!")
		}
		f.dot(x, f.at(p.U), radius, ink)
	}
	words := fmt.Sprintf("mean %.2f", c.Centre)
	if c.SigmaZ > 1 {
		words += fmt.Sprintf("; limits × %.1f: hides or lots differ by more than chance", c.SigmaZ)
	}
	if len(c.Points) >= 4 {
		words += fmt.Sprintf("; trend p = %.2f", c.Trend)
	}
	f.text(f.x, f.y-7, plotText, false, canvas.Left, words)
}

// paretoPlot draws kinds by the area of their flaws, and what they add up to.
func (f field) paretoPlot(losses []hide.SheetLoss) {
	f.title("Leather lost by kind, dm²")
	if len(losses) == 0 {
		f.text(f.x, f.y+f.h/2, 3, false, canvas.Left, "no flaws")
		return
	}
	row := f.h / float64(max(len(losses), 6))
	left := f.x
	f.x, f.w = f.x+19, f.w-19-30
	f.high = losses[0].AreaM2 * 100 * 1.02
	for i, l := range losses {
		y := f.y + f.h - float64(i+1)*row
		f.text(left, y+row/2-0.8, plotText, false, canvas.Left, l.Kind.Words())
		f.bar(f.x, y+row*0.15, f.at(l.AreaM2*100), y+row*0.85, kindColour(l.Kind))
		words := fmt.Sprintf("%.1f  Σ%.0f %%", l.AreaM2*100, l.Cumulative)
		for _, m := range l.Money {
			words += fmt.Sprintf("  %.2f %s", m.Amount, clipped(f.l.shown(m.Currency), 4))
		}
		f.text(f.at(l.AreaM2*100)+1, y+row/2-0.8, plotText-0.2, false, canvas.Left, words)
	}
}

// ratePlot draws flaws per m² of each kind with intervals.
func (f field) ratePlot(rates []hide.SheetRate) {
	f.title("Flaws per m², 95 % interval")
	var whole []hide.SheetRate
	for _, r := range rates {
		if r.Zone == "" && r.Kind != "" {
			whole = append(whole, r)
			f.high = max(f.high, min(r.PerM2.High, 4*r.PerM2.Value+0.2)) // an interval without end does not press the others flat
		}
	}
	if len(whole) == 0 {
		return
	}
	left := f.x
	f.x, f.w = f.x+19, f.w-19-13
	f.high *= 1.05
	f.steps("1/m²")
	row := f.h / float64(len(whole))
	for i, r := range whole {
		y := f.y + f.h - (float64(i)+0.5)*row
		f.text(left, y-0.8, plotText, false, canvas.Left, r.Kind.Words())
		f.line(f.at(r.PerM2.Low), y, f.at(min(r.PerM2.High, f.high)), y, 0.5, plotGrey)
		f.dot(f.at(r.PerM2.Value), y, 0.9, kindColour(r.Kind))
		f.text(f.x+f.w+13, y-0.8, plotText-0.2, false, canvas.Right, fmt.Sprintf("n = %d", r.Count))
	}
}

// heatPlot draws where a kind lies on the standard outline: head up, the left half of the
// hide left. The darkest cell's number stands below.
func (f field) heatPlot(m hide.HeatMap) {
	f.text(f.x+f.w/2, f.y+f.h+1.5, 2.7, true, canvas.Center, m.Kind.Words())
	most := 0
	for _, n := range m.Marks {
		most = max(most, n)
	}
	cx := f.x + f.w/2
	if m.Form == hide.SideForm {
		cx = f.x + 4
	}
	at := func(u, v float64) (x, y float64) {
		a, b := m.Outline.At(u, v)
		return cx + b*f.h, f.y + f.h - a*f.h
	}
	for c, n := range m.Marks {
		if n == 0 || m.Form == hide.SideForm && c%m.Across < m.Across/2 {
			continue
		}
		u0, v0 := float64(c/m.Across)/float64(m.Along), float64(c%m.Across)/float64(m.Across)*2-1
		u1, v1 := u0+1/float64(m.Along), v0+2/float64(m.Across)
		p := &canvas.Path{}
		p.MoveTo(at(u0, v0))
		p.LineTo(at(u0, v1-1e-6))
		p.LineTo(at(u1, v1-1e-6))
		p.LineTo(at(u1, v0))
		p.Close()
		f.fill(p, heatInk(float64(n)/float64(most)))
	}
	for _, side := range []float64{-1, 1} {
		if m.Form == hide.SideForm && side < 0 {
			continue
		}
		for i := range 64 {
			x0, y0 := at(float64(i)/64, side)
			x1, y1 := at(float64(i+1)/64, side)
			f.line(x0, y0, x1, y1, plotLine, plotBlack)
		}
	}
	for _, end := range []float64{0, 1} {
		x0, y := at(end, -1)
		x1, _ := at(end, 1)
		if m.Form == hide.SideForm {
			x0 = cx
		}
		f.line(x0, y, x1, y, plotLine, plotBlack)
	}
	x0, y0 := at(0, 0)
	x1, y1 := at(1, 0)
	f.line(x0, y0, x1, y1, 0.15, plotGrey)
	f.text(f.x+f.w/2, f.y-2.6, plotText-0.3, false, canvas.Center, fmt.Sprintf("%s, n = %d hides, to %d in a cell", m.Form, m.Hides, most))
	if m.Form == hide.WholeForm {
		f.text(f.x+f.w/2, f.y-5.4, plotText-0.3, false, canvas.Center, fmt.Sprintf("more left %d, right %d, p %s", m.Left, m.Right, pWords(m.SidesP)))
	}
}

// heatInk runs from pale to the palette's blue and on to near black, so that it also
// reads in grey: its lightness falls steadily.
func heatInk(share float64) color.RGBA {
	mix := func(a, b color.RGBA, t float64) color.RGBA {
		part := func(x, y uint8) uint8 { return uint8(math.Round(float64(x) + t*(float64(y)-float64(x)))) }
		return color.RGBA{part(a.R, b.R), part(a.G, b.G), part(a.B, b.B), 255}
	}
	pale, dark := color.RGBA{226, 238, 247, 255}, color.RGBA{0, 30, 66, 255}
	if share < 0.6 {
		return mix(pale, blue, share/0.6)
	}
	return mix(blue, dark, (share-0.6)/0.4)
}
