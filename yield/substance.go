package yield

import (
	"math"
	"strings"

	"hidechart/hide"
)

// unmet lists, in words, what a look asks of the leather and the chart's
// facts do not show.
func (l Look) unmet(chart hide.Chart) []string {
	var out []string
	if l.Substance[1] > 0 {
		out = append(out, l.unmetSubstance(chart.Capture.Substance)...)
	}
	if len(l.Temper) > 0 && !mentions(chart.Capture.Temper, l.Temper) {
		out = append(out, words("temper asked for: %s; the chart says %s", strings.Join(l.Temper, " or "), orNothing(chart.Capture.Temper)))
	}
	if len(l.Finish) > 0 && !mentions(chart.Capture.Article, l.Finish) {
		out = append(out, words("finish asked for: %s; the chart's article is %s", strings.Join(l.Finish, " or "), orNothing(chart.Capture.Article)))
	}
	return out
}

func (l Look) unmetSubstance(readings []hide.Substance) []string {
	if len(readings) == 0 {
		return []string{words("substance asked for: %g–%g mm; the chart has no reading", l.Substance[0], l.Substance[1])}
	}
	var out []string
	for _, r := range readings {
		if fit := FitSubstance(r.MM, l.Substance); fit != Fits {
			out = append(out, words("substance %.2f mm (%s): %s for %g–%g mm", r.MM, placeWords(r), fit, l.Substance[0], l.Substance[1]))
		}
	}
	return out
}

func placeWords(r hide.Substance) string {
	if r.Place != "" {
		return r.Place
	}
	if r.At != nil {
		return words("at %.0f, %.0f", r.At.X, r.At.Y)
	}
	return "place not noted"
}

func mentions(text string, asked []string) bool {
	for _, w := range asked {
		if strings.Contains(strings.ToLower(text), strings.ToLower(w)) {
			return true
		}
	}
	return false
}

func orNothing(s string) string {
	if s == "" {
		return "nothing"
	}
	return s
}

// SubstanceFit says what a thickness means for what is asked.
type SubstanceFit string

// What a thickness can be for a piece. Leather can be split down but not grow.
const (
	Fits    SubstanceFit = "fits"
	Split   SubstanceFit = "to be split"
	TooThin SubstanceFit = "too thin"
)

// FitSubstance compares a thickness with the range asked for, both ends
// included to the thickness gauge's 0.01 mm (ISO 2589:2016). Where the range
// is 0, 0 everything fits.
func FitSubstance(mm hide.MM, asked [2]hide.MM) SubstanceFit {
	const half = 0.005 // the gauge reads to 0.01 mm
	switch {
	case asked[1] == 0:
		return Fits
	case mm < asked[0]-half:
		return TooThin
	case mm > asked[1]+half:
		return Split
	}
	return Fits
}

// SampleSize is the number of pieces to sample from a lot of n: 0.5·√n, rounded
// up, at least 3, and never more than there are. 0 for n < 1. Source: ISO 2588, as
// cited by handbooks.
func SampleSize(n int) int {
	if n < 1 {
		return 0
	}
	return min(n, max(3, int(math.Ceil(0.5*math.Sqrt(float64(n))))))
}

// mapReadingsLeast is how many readings with a place make a map: fewer leave
// most of a hide to guessing.
const mapReadingsLeast = 5

// SubstanceMap estimates the thickness between readings.
type SubstanceMap struct {
	at []hide.Point
	mm []hide.MM
}

// NewSubstanceMap takes the readings that have a place: coordinates, or a zone
// of the chart, which stands for the zone's centre of area. Error: NotFound, with
// the number there is, for fewer than five.
func NewSubstanceMap(chart hide.Chart) (*SubstanceMap, error) {
	m := &SubstanceMap{}
	for _, r := range chart.Capture.Substance {
		p, ok := readingPlace(r, chart.Zones)
		if ok {
			m.at, m.mm = append(m.at, p), append(m.mm, r.MM)
		}
	}
	if len(m.at) < mapReadingsLeast {
		return nil, hide.Faultf(hide.NotFound, "substance map: %d readings with a place, needs %d", len(m.at), mapReadingsLeast)
	}
	return m, nil
}

// PieceSubstance is the thickness that the map gives where the pieces of one kind
// were laid, and what it means for them.
type PieceSubstance struct {
	Piece   string  `json:"piece"`
	Least   hide.MM `json:"least_mm"`
	Most    hide.MM `json:"most_mm"`
	Split   int     `json:"to_be_split"` // pieces laid on leather too thick for them
	TooThin int     `json:"too_thin"`
}

// placedSubstance looks every laid piece up on the map, at the vertices of its outline
// and its centre of area: nil when there is no map. A piece is too thin where its
// thinnest place is, and to be split where its thickest is.
func placedSubstance(chart hide.Chart, pieces []Piece, l Layout) []PieceSubstance {
	m, err := NewSubstanceMap(chart)
	if err != nil {
		return nil // too few readings: the pieces' notes say what the single ones mean
	}
	var out []PieceSubstance
	for i, p := range pieces {
		x := PieceSubstance{Piece: p.Name, Least: math.MaxFloat32}
		for _, q := range l.Placed {
			if q.Piece != i {
				continue
			}
			least, most := m.over(q.Shape)
			x.Least, x.Most = min(x.Least, least), max(x.Most, most)
			switch {
			case FitSubstance(least, p.Substance) == TooThin:
				x.TooThin++
			case FitSubstance(most, p.Substance) == Split:
				x.Split++
			}
		}
		if x.Most > 0 {
			out = append(out, x)
		}
	}
	return out
}

// over is the least and the greatest thickness at a shape's vertices and centre.
func (m *SubstanceMap) over(s hide.Polygon) (least, most hide.MM) {
	least = m.At(centroid(hide.Shape{s}))
	most = least
	for _, q := range s.Outer {
		v := m.At(q)
		least, most = min(least, v), max(most, v)
	}
	return least, most
}

func readingPlace(r hide.Substance, zones []hide.ZoneShape) (hide.Point, bool) {
	if r.At != nil {
		return *r.At, true
	}
	for _, z := range zones {
		if strings.EqualFold(r.Place, string(z.Zone)) {
			return centroid(z.Geometry), true
		}
	}
	return hide.Point{}, false
}

// At is the thickness at a place by inverse squared distance (Shepard 1968, A
// two-dimensional interpolation function for irregularly-spaced data): a reading
// at its own place, never outside the least and greatest reading, so that a far
// corner is not extrapolated as a thin plate would. Between readings it is an
// estimate; measure where it matters.
func (m *SubstanceMap) At(p hide.Point) hide.MM {
	var sum, weight float64
	for i, q := range m.at {
		d := float64(p.Distance(q))
		if d == 0 {
			return m.mm[i]
		}
		sum += float64(m.mm[i]) / (d * d)
		weight += 1 / (d * d)
	}
	return hide.MM(sum / weight)
}

// centroid is a shape's centre of area.
func centroid(s hide.Shape) hide.Point {
	var x, y, a float64
	add := func(r hide.Ring) {
		for i, p := range r {
			q := r[(i+1)%len(r)]
			w := float64(p.X)*float64(q.Y) - float64(q.X)*float64(p.Y)
			x, y, a = x+w*float64(p.X+q.X), y+w*float64(p.Y+q.Y), a+w
		}
	}
	for _, p := range s {
		p = p.Oriented()
		add(p.Outer)
		for _, h := range p.Holes {
			add(h)
		}
	}
	if a == 0 {
		return hide.Point{}
	}
	return hide.Point{X: hide.MM(x / (3 * a)), Y: hide.MM(y / (3 * a))}
}
