package export

import (
	"fmt"
	"math"
	"slices"

	"hidechart/hide"
)

// badge is a defect's symbol and number, beside the defect, tied to it by a line.
type badge struct {
	defect  hide.Defect
	text    string
	capital float64
	at      frame
	from    spot    // on the defect: where the tie ends
	ring    float64 // radius of the circle round a defect too small to be seen, else 0
	centre  spot
}

// sortStable sorts by a key, smallest first.
func sortStable(d []hide.Defect, key func(hide.Defect) float64) {
	slices.SortStableFunc(d, func(a, b hide.Defect) int {
		switch ka, kb := key(a), key(b); {
		case ka < kb:
			return -1
		case ka > kb:
			return 1
		}
		return a.ID - b.ID
	})
}

// layBadges finds a place for every number, the surest defects first. Greedy
// and without chance: the same chart gives the same picture.
func (p *overlayPlan) layBadges(l *lettering) {
	// what is less likely than not keeps its dashed edge but gets no number: a
	// cutter must find the likely ones at a glance, a reviewer reads the table
	order := slices.DeleteFunc(slices.Clone(p.shown), unlikely)
	sortStable(order, func(d hide.Defect) float64 {
		if d.Status != hide.Candidate {
			return -2
		}
		return -d.Probability
	})
	capital := p.badgeCapital(len(order))
	all := make([]badge, len(order))
	for i, d := range order {
		all[i] = p.newBadge(d, capital, l)
	}
	hidden := &obstacles{limit: p.mapAt.grown(-2)}
	if p.head != nil {
		arrow := noFrame().with(p.head.from).with(p.head.to).grown(p.capital)
		hidden.hard = append(hidden.hard, p.head.word.grown(p.capital*0.3), arrow)
	}
	for i := range all {
		hidden.soft = append(hidden.soft, p.marks(all[i], i)...)
	}
	for _, q := range spaced(p.ring(p.chart.Outline.Outer), p.capital) {
		hidden.soft = append(hidden.soft, softSpot{frameAround(q, 1, 1), -1, 0.3})
	}
	for i := range all {
		if hidden.place(&all[i], i) {
			p.badges = append(p.badges, all[i])
		} else {
			all[i].at = frame{}
			p.badges = append(p.badges, all[i])
			p.unnamed++
		}
	}
}

// badgeCapital: as large as the map allows, see badgeShare. A badge takes about 11
// square capitals.
func (p *overlayPlan) badgeCapital(n int) float64 {
	room := math.Sqrt(badgeShare * p.mapAt.width() * p.mapAt.height() / (11 * float64(max(n, 1))))
	return math.Round(min(max(room, p.capital), badgeMost*p.capital))
}

const (
	badgeHeight = 1.75 // capitals
	badgePad    = 0.35
	symbolHalf  = 0.72
)

func (p *overlayPlan) newBadge(d hide.Defect, capital float64, l *lettering) badge {
	b := badge{defect: d, text: fmt.Sprint(d.ID), capital: capital}
	if d.Open {
		b.text += "!"
	}
	width := l.width(b.text, capital, true) + capital*(2*symbolHalf+3*badgePad)
	b.at = frameAround(spot{}, width, capital*badgeHeight)
	f := noFrame()
	for _, poly := range d.Geometry {
		for _, q := range poly.Outer {
			f = f.with(p.at(q))
		}
	}
	b.centre = f.centre()
	b.from = p.anchor(d, b.centre)
	if reach := math.Hypot(f.width(), f.height()) / 2; reach < 0.45*p.capital {
		b.ring, b.from = max(reach+0.3*p.capital, 0.55*p.capital), b.centre
	}
	return b
}

// anchor is the vertex nearest to the middle: it lies on the defect however it bends.
func (p *overlayPlan) anchor(d hide.Defect, middle spot) spot {
	best := middle
	least := math.Inf(1)
	for _, poly := range d.Geometry {
		for _, q := range poly.Outer {
			if s := p.at(q); s.distance(middle) < least {
				best, least = s, s.distance(middle)
			}
		}
	}
	return best
}

// softSpot is something a badge should not hide, and what hiding it costs, in
// badges' heights of detour.
type softSpot struct {
	at    frame
	owner int // index of its defect; -1: the hide's edge
	cost  float64
}

// marks are the places of a defect worth seeing: the ring of a small one, places
// along the edge of a large one.
func (p *overlayPlan) marks(b badge, owner int) []softSpot {
	if b.ring > 0 {
		return []softSpot{{frameAround(b.centre, 2*b.ring, 2*b.ring), owner, 4}}
	}
	var out []softSpot
	for _, poly := range b.defect.Geometry {
		for _, q := range spaced(p.ring(poly.Outer), 0.8*p.capital) {
			out = append(out, softSpot{frameAround(q, 0.3*p.capital, 0.3*p.capital), owner, 1.2})
		}
	}
	return out
}

// spaced keeps vertices at least gap apart.
func spaced(ring []spot, gap float64) []spot {
	var out []spot
	for _, q := range ring {
		if len(out) == 0 || out[len(out)-1].distance(q) >= gap {
			out = append(out, q)
		}
	}
	return out
}

// tie is the line from a defect to its badge.
type tie struct{ a, b spot }

// obstacles is what is on the map already.
type obstacles struct {
	limit frame
	hard  []frame    // badges and the head mark: never overlapped
	soft  []softSpot // defects and the edge: better not
	ties  []tie
}

// Steps of the search for a place: outward as far as across the map, directions.
const (
	placeSteps      = 50
	placeDirections = 24
)

// place finds the cheapest free place for a badge and takes it. own is the
// index of its defect.
func (o *obstacles) place(b *badge, own int) bool {
	best, found := math.Inf(1), frame{}
	w, h := b.at.width(), b.at.height()
	for step := range placeSteps {
		gap := max(b.ring, 0.3*h) + h*(0.25+0.6*float64(step))
		if gap/h > best {
			break // further out costs more than what is found
		}
		for dir := range placeDirections {
			a := 2 * math.Pi * (float64(dir) + 0.5) / placeDirections
			reach := spot{math.Cos(a) * (gap + w/2), math.Sin(a) * (gap + h/2)}
			at := frameAround(b.from.plus(reach), w, h)
			if cost := o.cost(at, b.from, own) + gap/h; cost < best {
				best, found = cost, at
			}
		}
	}
	if math.IsInf(best, 1) {
		return false
	}
	b.at = found
	o.hard = append(o.hard, found.grown(0.12*h))
	o.ties = append(o.ties, tie{b.from, found.nearest(b.from)})
	return true
}

// cost of a place beyond its distance, in badges' heights of detour that it is
// worth avoiding; infinite where another badge is.
func (o *obstacles) cost(at frame, from spot, own int) float64 {
	if !at.within(o.limit) {
		return math.Inf(1)
	}
	t := tie{from, at.nearest(from)}
	sum := 0.0
	for _, f := range o.hard {
		if f.meets(at) {
			return math.Inf(1)
		}
		if t.meets(f) {
			sum += 6
		}
	}
	for _, s := range o.soft {
		if s.at.meets(at) {
			sum += s.cost
		}
		if s.owner >= 0 && s.owner != own && t.meets(s.at) {
			sum += s.cost / 3
		}
	}
	for _, u := range o.ties {
		if u.meets(at) {
			sum += 5
		}
		if t.crosses(u) {
			sum += 3
		}
	}
	return sum
}

func (t tie) meets(f frame) bool {
	if !noFrame().with(t.a).with(t.b).meets(f) {
		return false
	}
	c := f.corners()
	for i := range c {
		if t.crosses(tie{c[i], c[(i+1)%4]}) {
			return true
		}
	}
	return f.nearest(t.a) == t.a
}

func (t tie) crosses(u tie) bool {
	turn := func(a, b, c spot) float64 { return (b.x-a.x)*(c.y-a.y) - (b.y-a.y)*(c.x-a.x) }
	return turn(t.a, t.b, u.a)*turn(t.a, t.b, u.b) < 0 && turn(u.a, u.b, t.a)*turn(u.a, u.b, t.b) < 0
}
