package export

import (
	"cmp"
	"fmt"
	"image"
	"math"
	"slices"
	"strings"

	"hidechart/hide"
	"hidechart/pix"
)

// Measures of the picture. It is an A3 sheet, upright or across as the hide lies, and the
// height of a capital is the unit of everything on it: 5 mm in print, 8.5 minutes
// of arc from two metres, where a sound eye's limit is 5.
const (
	longSide    = 3600.0 // px: on a hide of 2.7 m a pixel is about a millimetre; printed on A3, 218 dpi
	sheetLong   = 85.0   // capitals: 420 mm (ISO 216)
	sheetShort  = 60.0   // capitals: 297 mm
	badgeMost   = 1.8    // numbers on the map are larger while they are few: up to 9 mm
	badgeShare  = 0.14   // of the map, at most, lies under numbers before they shrink to a capital
	mapMargin   = 1.5    // capitals round the hide
	headRoom    = 6.0    // capitals beyond the neck: arrow and word
	lineStep    = 1.6    // capitals from a line of text to the next
	legendStep  = 2.3    // from a line of the legend to the next: symbols are taller
	legendWidth = 19.0   // of the legend beside the map
	gutterLeft  = 3.4    // for the grid's figures
	gutterFoot  = 4.6    // for figures and the scale bar
)

// overlayPlan is where everything goes. Measuring is apart from drawing: the plan holds
// no pixels and is the same for the same chart.
type overlayPlan struct {
	chart                    hide.Chart
	shown                    []hide.Defect // largest first, so that small ones are drawn over them
	grid                     pix.Grid      // of the map
	capital                  float64
	size                     image.Point
	mapAt                    frame // of the map in the picture
	title                    []string
	flags                    []string
	legend                   []legendEntry
	columns                  int      // of the legend
	notes                    []string // under the legend
	caution                  []string
	titleY, flagsY, cautionY float64 // tops of these bands
	legendAt                 frame
	head                     *headMark
	badges                   []badge
	unnamed                  int // defects for whose number there was no room
}

type legendEntry struct {
	kind hide.Kind
	text string
}

// headMark is the arrow from the neck outwards, and where its word stands.
type headMark struct {
	from, to spot
	word     frame
}

// planOverlay measures the picture of a chart.
func planOverlay(c hide.Chart, l *lettering) *overlayPlan {
	p := &overlayPlan{chart: c, shown: largestFirst(c), capital: math.Round(longSide / sheetLong)}
	p.layText(l)
	p.layMap()
	p.layHead(l)
	p.layBadges(l)
	if p.unnamed > 0 {
		p.notes = append(p.notes, l.wrap(fmt.Sprintf("%d marks without a number for want of room: see the table.", p.unnamed),
			p.capital, false, p.legendAt.width())...)
	}
	return p
}

func largestFirst(c hide.Chart) []hide.Defect {
	out := upheld(c)
	sortStable(out, func(d hide.Defect) float64 { return -float64(d.Geometry.Area()) })
	return out
}

// layMap puts the hide with its margins, as large as it goes, on the part of the
// sheet that the texts leave; the map fills that part.
func (p *overlayPlan) layMap() {
	b, c, room := chartBox(p.chart), p.capital, p.mapAt
	width, height := b.maxX-b.minX, b.maxY-b.minY
	free := func(extra float64) float64 {
		return min((room.width()-2*mapMargin*c-extra)/width, (room.height()-2*mapMargin*c-extra)/height)
	}
	scale := free(0)
	if hasBackbone(p.chart) { // room for the arrow, where the neck is that near the side
		for scale > free(headRoom*c) && !p.headFits(b, scale) {
			scale *= 0.99
		}
		neck, tip := p.chart.Backbone[0], p.headDirection().times(headRoom*c/scale)
		b = b.with(float64(neck.X)+tip.x, float64(neck.Y)-tip.y)
	}
	p.grid = pix.Grid{MMPerPX: hide.MM(1 / scale), Width: int(room.width()), Height: int(room.height()),
		Left: hide.MM((b.minX+b.maxX)/2 - room.width()/2/scale), Top: hide.MM((b.minY+b.maxY)/2 + room.height()/2/scale)}
}

// headFits says whether the hide with its arrow fits the map at a scale.
func (p *overlayPlan) headFits(b box, scale float64) bool {
	c, neck := p.capital, p.chart.Backbone[0]
	tip := p.headDirection().times(headRoom * c / scale)
	m := mapMargin * c / scale
	b = box{b.minX - m, b.minY - m, b.maxX + m, b.maxY + m}.with(float64(neck.X)+tip.x, float64(neck.Y)-tip.y)
	return (b.maxX-b.minX)*scale <= p.mapAt.width() && (b.maxY-b.minY)*scale <= p.mapAt.height()
}

// at is a place of the table in the picture.
func (p *overlayPlan) at(q hide.Point) spot {
	r := p.grid.ToRaster(q)
	return spot{p.mapAt.x0 + float64(r.X) + 0.5, p.mapAt.y0 + float64(r.Y) + 0.5}
}

func (p *overlayPlan) ring(r hide.Ring) []spot {
	out := make([]spot, len(r))
	for i, q := range r {
		out[i] = p.at(q)
	}
	return out
}

// headDirection points from tail to neck, y down.
func (p *overlayPlan) headDirection() spot {
	neck, tail := p.chart.Backbone[0], p.chart.Backbone[1]
	return spot{float64(tail.X), -float64(tail.Y)}.toward(spot{float64(neck.X), -float64(neck.Y)})
}

// layText wraps the texts and shares out the sheet: title, flags, map with the
// legend beside it (below it on an upright sheet), caution.
func (p *overlayPlan) layText(l *lettering) {
	c := p.capital
	b := chartBox(p.chart)
	across := b.maxX-b.minX >= b.maxY-b.minY
	p.size = image.Pt(int(sheetLong*c), int(sheetShort*c))
	if !across {
		p.size.X, p.size.Y = p.size.Y, p.size.X
	}
	right, foot := float64(p.size.X)-1.5*c, float64(p.size.Y)-0.9*c
	width := right - 1.5*c
	p.title = overlayTitle(p.chart)
	p.flags = overlayFlags(p.chart, l, c, width)
	p.legend = legendOf(p.shown)
	p.caution = l.wrap(caution(), c, false, width)
	p.cautionY = foot - lineStep*c*float64(len(p.caution))
	p.titleY = c
	p.flagsY = p.titleY + 5.4*c
	top := p.flagsY
	if n := float64(len(p.flags)); n > 0 {
		top += n*lineStep*c + 1.5*c
	}
	p.mapAt = frame{math.Round(gutterLeft * c), math.Round(top), math.Round(right - (legendWidth+1)*c), math.Round(p.cautionY - gutterFoot*c)}
	p.legendAt = frame{p.mapAt.x1 + c, p.mapAt.y0, right, p.mapAt.y1}
	p.columns = 1
	if !across {
		p.mapAt.x1 = math.Round(right)
		p.columns = max(1, int(width/(legendWidth*c)))
		p.legendAt = frame{1.5 * c, 0, right, p.cautionY - 0.5*c}
	}
	note := p.legendAt.width() / float64(p.columns)
	for _, n := range legendNotes(p.shown) {
		p.notes = append(p.notes, l.wrap(n, c, false, note)...)
	}
	if !across {
		p.legendAt.y0 = p.legendAt.y1 - c*(legendStep*float64(p.legendRows())+lineStep*float64(len(p.notes)+2)+0.4)
		p.mapAt.y1 = math.Round(p.legendAt.y0 - gutterFoot*c)
	}
}

func (p *overlayPlan) legendRows() int { return (len(p.legend) + p.columns - 1) / p.columns }

// overlayTitle is the hide, and its area in the trade's units with the
// expanded uncertainty (k = 2, about 95 %: JCGM 100:2008, 6.2.1).
func overlayTitle(c hide.Chart) []string {
	name := strings.TrimSpace("Hide " + oneLine(c.Capture.ID))
	area := fmt.Sprintf("%.1f ± %.1f dm²  ·  %.2f ± %.2f ft²  ·  quarter-foot mark %s", c.Area.Value.DM2(), 2*c.Area.U.DM2(),
		c.Area.Value.Feet2(), 2*c.Area.U.Feet2(), hide.QuarterMark(c.Area.Value))
	return []string{name, area}
}

// mostFlagLines keeps the warning from pushing the map away; the chart has all.
const mostFlagLines = 3

func overlayFlags(c hide.Chart, l *lettering, capital, width float64) []string {
	if len(c.Flags) == 0 {
		return nil
	}
	texts := make([]string, len(c.Flags))
	for i, f := range gravest(c.Flags) {
		texts[i] = oneLine(f.Text)
		if texts[i] == "" {
			texts[i] = strings.ReplaceAll(f.Code, "_", " ")
		}
	}
	lines := l.wrap("CHECK: "+strings.Join(texts, "  ·  "), capital, true, width)
	if len(lines) > mostFlagLines {
		const more = " … more in the chart"
		last := strings.TrimSuffix(l.short(lines[mostFlagLines-1], capital, true, width-l.width(more, capital, true)), "…")
		lines = append(lines[:mostFlagLines-1:mostFlagLines-1], last+more)
	}
	return lines
}

// gravest lists first what puts the area in doubt, then what puts the outline or
// the flaws in doubt, then the rest as the chart has them: a sheet shows few.
func gravest(flags []hide.Flag) []hide.Flag {
	order := []string{"tag_moved", "not_flat", "few_tags", "tag_hidden", "light_moved", "white_clipped", "near_frame", "edge_unseen", "noisy_edge", "faint_edge", "clipped", "blurred", "dark", "uneven"}
	rank := func(f hide.Flag) int {
		if k := slices.Index(order, f.Code); k >= 0 {
			return k
		}
		return len(order)
	}
	out := slices.Clone(flags)
	slices.SortStableFunc(out, func(a, b hide.Flag) int { return cmp.Compare(rank(a), rank(b)) })
	return out
}

// legendOf counts and sums the kinds that are there.
func legendOf(shown []hide.Defect) []legendEntry {
	var out []legendEntry
	for _, k := range hide.Kinds() {
		n, area := 0, hide.MM2(0)
		for _, d := range shown {
			if d.Kind == k && !unlikely(d) {
				n++
				area += d.Area
			}
		}
		if n > 0 {
			out = append(out, legendEntry{k, fmt.Sprintf("%s %d · %s", k.Words(), n, smallArea(area))})
		}
	}
	return out
}

// smallArea writes an area in cm², from a square decimetre on in dm².
func smallArea(a hide.MM2) string {
	switch {
	case a.DM2() < 0.1:
		return fmt.Sprintf("%.1f cm²", float64(a)/100)
	case a.DM2() < 1:
		return fmt.Sprintf("%.0f cm²", float64(a)/100)
	}
	return fmt.Sprintf("%.1f dm²", a.DM2())
}

// legendNotes explain the signs in use.
func legendNotes(shown []hide.Defect) []string {
	var dashed, open bool
	for _, d := range shown {
		dashed = dashed || unlikely(d)
		open = open || d.Open
	}
	var out []string
	if len(shown) == 0 {
		out = append(out, "No candidates found.")
	}
	if dashed {
		out = append(out, "Dashed edge, no number: less likely a defect than not.")
	}
	if open {
		out = append(out, "! after a number: open, weakens the leather.")
	}
	return out
}

// unlikely candidates get a dashed edge; what a reviewer said is not doubted.
func unlikely(d hide.Defect) bool { return d.Status == hide.Candidate && d.Probability < 0.5 }

// layHead places the arrow beyond the neck and its word beside it.
func (p *overlayPlan) layHead(l *lettering) {
	if !hasBackbone(p.chart) {
		return
	}
	c, out := p.capital, p.headDirection()
	h := &headMark{from: p.at(p.chart.Backbone[0]).plus(out.times(0.8 * c))}
	h.to = h.from.plus(out.times(4.6 * c))
	width, height := l.width("HEAD", 1.5*c, true)+c, 2.5*c
	side := out.across()
	away := math.Abs(side.x)*width/2 + math.Abs(side.y)*height/2 + 1.1*c
	best := frameAround(h.from.between(h.to, 0.5).plus(side.times(away)), width, height)
	if other := frameAround(h.from.between(h.to, 0.5).minus(side.times(away)), width, height); !best.within(p.mapAt) {
		best = other
	}
	dx := max(p.mapAt.x0+2-best.x0, 0) + min(p.mapAt.x1-2-best.x1, 0) // the word stays on the map
	dy := max(p.mapAt.y0+2-best.y0, 0) + min(p.mapAt.y1-2-best.y1, 0)
	h.word = frame{best.x0 + dx, best.y0 + dy, best.x1 + dx, best.y1 + dy}
	p.head = h
}
