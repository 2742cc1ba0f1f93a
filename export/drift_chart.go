package export

import (
	"fmt"
	"image/color"
	"io"
	"math"
	"time"

	"github.com/tdewolff/canvas"

	"hidechart/hide"
)

// DriftChart is what the picture of a table's history shows.
type DriftChart struct {
	Title string
	Note  string      // below the chart: what the limits are
	When  []time.Time // of each chart, ascending
	Lines []DriftLine
	Marks []DriftMark
	Rigs  []int // charts from which another rig file holds
}

// DriftLine is one series; a value is mm or NaN.
type DriftLine struct {
	Name   string
	Values []float64
	Strong bool // the one that stands for all
	Alarm  bool // drawn in colour and named
}

// DriftMark is an alarm.
type DriftMark struct {
	At   int // chart that raised it
	Text string
}

// Measures of the picture in mm.
const (
	driftWidth, driftField, driftLeft, driftRight = 250.0, 90.0, 22.0, 34.0
	driftLetters                                  = 3.2
)

// Colours of alarmed series, told apart also by those who see no red or green
// (Okabe & Ito 2008: vermillion, bluish green, reddish purple, orange); further ones
// repeat them, and each line carries its name.
var driftInks = []color.RGBA{{R: 213, G: 94, A: 255}, {G: 158, B: 115, A: 255}, {R: 204, G: 121, B: 167, A: 255}, {R: 230, G: 159, A: 255}}

// WriteDriftChart draws residuals over time as a PNG: pale lines for tags at
// rest, coloured and named ones for those that raised an alarm, a dark blue one for the
// median of all; a dashed line where an alarm was raised, a dotted one where the rig
// file changed. The same input gives the same bytes.
//
// Error: Invalid when there is nothing to draw or a line has another length.
func WriteDriftChart(w io.Writer, c DriftChart) error {
	if len(c.When) == 0 || len(c.Lines) == 0 {
		return hide.Faultf(hide.Invalid, "drift chart: nothing to draw")
	}
	for _, l := range c.Lines {
		if len(l.Values) != len(c.When) {
			return hide.Faultf(hide.Invalid, "drift chart: %s has %d values for %d charts", l.Name, len(l.Values), len(c.When))
		}
	}
	words := 5.5 * float64(len(c.Marks)+2)
	p, err := newPicture(paperSize{driftWidth, driftField + 34 + words})
	if err != nil {
		return err
	}
	a := c.axes(words + 18)
	p.text(driftLeft, a.y+driftField+8, 4.5, true, canvas.Left, c.Title)
	p.driftAxes(c, a)
	p.driftLines(c, a)
	y := words + 1
	for i, m := range c.Marks {
		p.text(driftLeft, y, driftLetters, false, canvas.Left, fmt.Sprintf("%d  %s: %s", i+1, day(c.When[m.At]), m.Text))
		y -= 5.5
	}
	p.textBox(driftLeft, y+driftLetters, driftWidth-driftLeft-8, driftLetters, false, c.Note)
	return p.finishPNG(w, residualPXPerMM)
}

func day(t time.Time) string { return t.Format(time.DateOnly) }

// driftAxes maps charts and residuals to paper.
type driftAxes struct {
	y     float64 // of residual 0
	xs    []float64
	most  float64 // mm at the top
	step  float64
	times bool // x is time; else the charts' order
}

func (c DriftChart) axes(y float64) driftAxes {
	a := driftAxes{y: y, step: 0.05, xs: make([]float64, len(c.When))}
	most := 0.0
	for _, l := range c.Lines {
		for _, v := range l.Values {
			if v > most {
				most = v
			}
		}
	}
	for k := 0; a.step*6 < most; k++ { // 0.05, 0.1, 0.2, 0.5, 1 …
		a.step *= [3]float64{2, 2, 2.5}[k%3]
	}
	a.most = a.step * math.Max(1, math.Ceil(most/a.step))
	width := driftWidth - driftLeft - driftRight
	first, last := c.When[0], c.When[len(c.When)-1]
	a.times = last.Sub(first) >= 24*time.Hour
	for i, t := range c.When {
		f := 0.5
		switch {
		case a.times:
			f = float64(t.Sub(first)) / float64(last.Sub(first))
		case len(c.When) > 1:
			f = float64(i) / float64(len(c.When)-1)
		}
		a.xs[i] = driftLeft + f*width
	}
	return a
}

func (a driftAxes) at(v float64) float64 { return a.y + driftField*v/a.most }

func (p *paper) driftAxes(c DriftChart, a driftAxes) {
	right := driftWidth - driftRight
	for v := 0.0; v <= a.most*1.0001; v += a.step {
		p.line(driftLeft-2, a.at(v), right+2, a.at(v), 0.15, inkPale)
		p.text(driftLeft-3.5, a.at(v)-1.1, driftLetters, false, canvas.Right, fmt.Sprintf("%.4g", v))
	}
	p.textTurned(7, a.y+driftField/2, driftLetters, "residual, mm")
	if !a.times {
		p.text((driftLeft+right)/2, a.y-8, driftLetters, false, canvas.Center, fmt.Sprintf("charts 1 to %d in order, %s", len(c.When), day(c.When[0])))
	} else {
		p.driftDays(c, a)
	}
	for _, i := range c.Rigs {
		p.dashed(a.xs[i], a.y, a.y+driftField, 0.6, color.RGBA{R: 120, G: 120, B: 120, A: 255})
		p.text(a.xs[i]+1, a.y+1.5, 2.6, false, canvas.Left, "new rig file")
	}
	last := math.Inf(-1)
	lift := 0.0
	for i, m := range c.Marks {
		p.dashed(a.xs[m.At], a.y, a.y+driftField+1, 2, canvas.Black)
		if lift += 3; a.xs[m.At]-last > 4 || lift > 3 {
			lift = 0
		}
		p.text(a.xs[m.At], a.y+driftField+1.8+lift, driftLetters, true, canvas.Center, fmt.Sprint(i+1))
		last = a.xs[m.At]
	}
}

// driftDays writes up to six days below the axis, evenly spaced.
func (p *paper) driftDays(c DriftChart, a driftAxes) {
	first, last := c.When[0], c.When[len(c.When)-1]
	width := driftWidth - driftLeft - driftRight
	days := int(last.Sub(first).Hours() / 24)
	n := min(5, days)
	for i := range n + 1 {
		t := first.Add(time.Duration(float64(last.Sub(first)) * float64(i) / float64(n)))
		x := driftLeft + width*float64(i)/float64(n)
		p.line(x, a.y, x, a.y-1.5, 0.3, inkPale)
		p.text(x, a.y-6, driftLetters, false, canvas.Center, day(t))
	}
}

// dashed is an upright line of dashes of the given length.
func (p *paper) dashed(x, y0, y1, dash float64, c color.Color) {
	for y := y0; y < y1; y += 2 * dash {
		p.line(x, y, x, math.Min(y+dash, y1), 0.25, c)
	}
}

func (p *paper) driftLines(c DriftChart, a driftAxes) {
	for _, l := range c.Lines {
		if !l.Alarm && !l.Strong {
			p.driftLine(l, a, 0.2, inkPale)
		}
	}
	var ends []driftName
	n := 0
	for _, l := range c.Lines {
		ink := inkBlue
		switch {
		case l.Strong:
			p.driftLine(l, a, 0.7, ink)
		case l.Alarm:
			ink = driftInks[n%len(driftInks)]
			n++
			p.driftLine(l, a, 0.5, ink)
		default:
			continue
		}
		for i := len(l.Values) - 1; i >= 0; i-- {
			if !math.IsNaN(l.Values[i]) {
				ends = append(ends, driftName{l.Name, a.at(l.Values[i]), ink})
				break
			}
		}
	}
	p.driftNames(ends)
}

func (p *paper) driftLine(l DriftLine, a driftAxes, width float64, ink color.RGBA) {
	before := -1
	for i, v := range l.Values {
		if math.IsNaN(v) {
			continue
		}
		if before >= 0 {
			p.line(a.xs[before], a.at(l.Values[before]), a.xs[i], a.at(v), width, ink)
		}
		if l.Alarm || l.Strong {
			p.fill(canvas.Circle(width*1.1).Translate(a.xs[i], a.at(v)), ink)
		}
		before = i
	}
}

// driftName is a line's name beside its end.
type driftName struct {
	text string
	y    float64
	ink  color.RGBA
}

// driftNames writes the names, pushed upwards where they would overlap.
func (p *paper) driftNames(names []driftName) {
	for i := range names { // by height; few names
		for j := i; j > 0 && names[j].y < names[j-1].y; j-- {
			names[j], names[j-1] = names[j-1], names[j]
		}
	}
	low := math.Inf(-1)
	x := driftWidth - driftRight + 4
	for _, n := range names {
		y := math.Max(n.y, low+4.2)
		p.line(x-2.5, n.y, x, y, 0.3, n.ink)
		p.line(x, y, x+4, y, 0.8, n.ink)
		p.text(x+5, y-1.1, driftLetters, true, canvas.Left, n.text)
		low = y
	}
}
