package record

import (
	"encoding/json"
	"math"

	"hidechart/hide"
	"hidechart/plane"
)

// likely is the probability from which a candidate counts as a flaw: what is more
// likely one than not. The yield's grades draw the line there too.
const likely = 0.5

// shapeSteps is the number of steps of u at which a hide's half widths are kept:
// one each 14 cm on a cowhide, as fine as the grid of places.
const shapeSteps = 17

// hideFacts are what the record's tables keep of a chart: all of it can be made
// again from the chart and its review.
type hideFacts struct {
	form        string
	area, u     int64 // mm²
	stamp       string
	stamped     int64
	substance   float64
	temper      string
	readings    []hide.Substance
	status      map[hide.Status]int
	defects     []defectFact
	zones       map[hide.Zone]int64 // cm²
	left, right []int64             // half widths, 1e-4 of the length; empty without a hide frame
}

type defectFact struct {
	hide.Defect
	counts, placed bool
	u, v           float64
}

func factsOf(c hide.Chart) hideFacts {
	f := hideFacts{form: formOf(c), area: round(float64(c.Area.Value)), u: round(float64(c.Area.U)), stamp: c.Capture.Stamp, temper: c.Capture.Temper,
		readings: c.Capture.Substance, status: map[hide.Status]int{}, zones: map[hide.Zone]int64{}}
	if st, err := hide.ParseStamp(c.Capture.Stamp); c.Capture.Stamp != "" && err == nil {
		f.stamped = round(float64(st.Area))
	}
	for _, r := range c.Capture.Substance {
		f.substance += float64(r.MM) / float64(len(c.Capture.Substance))
	}
	for _, z := range c.Zones {
		f.zones[z.Zone] += round(float64(z.Geometry.Area()) / 100)
	}
	frame, framed := frameOf(c)
	for _, d := range c.Defects {
		f.status[d.Status]++
		x := defectFact{Defect: d, placed: framed, counts: d.Status == hide.Confirmed || d.Status == hide.Added || d.Status == hide.Candidate && d.Probability >= likely}
		if framed {
			x.u, x.v = frame.UV(middle(d.Geometry))
		}
		x.Geometry = nil // kept in the chart
		f.defects = append(f.defects, x)
	}
	if framed {
		f.left, f.right = halfWidths(frame)
	}
	return f
}

func round(v float64) int64 { return int64(math.Round(v)) }

// frameOf is the chart's hide frame; ok is false where the chart has none.
func frameOf(c hide.Chart) (plane.HideFrame, bool) {
	if c.Backbone[0] == c.Backbone[1] {
		return plane.HideFrame{}, false
	}
	f, err := plane.FrameFrom(c.Backbone, c.Side, c.Outline)
	return f, err == nil // a backbone that does not fit its outline is as good as none
}

// halfWidths measures the hide at equal steps along the backbone.
func halfWidths(f plane.HideFrame) (left, right []int64) {
	for i := range shapeSteps {
		u := float64(i) / (shapeSteps - 1)
		spine := f.At(u, 0)
		width := func(v float64) int64 { return round(1e4 * float64(f.At(u, v).Distance(spine)/f.Length())) }
		right = append(right, width(1))
		if !f.Side {
			left = append(left, width(-1))
		}
	}
	return left, right
}

// middle is the centre of area of a shape's polygons, holes left out; of a shape
// without area its first vertex.
func middle(s hide.Shape) hide.Point {
	var x, y, sum float64
	for _, p := range s {
		o := p.Outer[0]
		for i, a := range p.Outer {
			b := p.Outer[(i+1)%len(p.Outer)]
			w := float64(a.X-o.X)*float64(b.Y-o.Y) - float64(b.X-o.X)*float64(a.Y-o.Y)
			x += w * (float64(a.X+b.X-2*o.X)/3 + float64(o.X))
			y += w * (float64(a.Y+b.Y-2*o.Y)/3 + float64(o.Y))
			sum += w
		}
	}
	if sum == 0 {
		return s[0].Outer[0]
	}
	return hide.Point{X: hide.MM(x / sum), Y: hide.MM(y / sum)}
}

// shapeText keeps the half widths in the hide's row: right, then left.
func (f hideFacts) shapeText() string {
	if len(f.right) == 0 {
		return ""
	}
	data, err := json.Marshal([2][]int64{f.right, f.left})
	if err != nil {
		return "" // whole numbers always encode
	}
	return string(data)
}

func shapeFrom(text string) (right, left []int64) {
	var both [2][]int64
	if json.Unmarshal([]byte(text), &both) != nil {
		return nil, nil // no hide frame
	}
	return both[0], both[1]
}
