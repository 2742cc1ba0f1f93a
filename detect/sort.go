package detect

import (
	"context"
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/plane"
)

// Input is what finding flaws needs.
type Input struct {
	Photos  Photos // the lights on the fine grid; empty is not used
	Outline hide.Polygon
	Frame   func() (plane.HideFrame, error) // called once, when the places of what is found are told
}

// Candidate is a place that stands out of the leather, not yet sorted.
type Candidate struct {
	Shape    hide.Shape
	Features []float64 // by featureWords; NaN where one does not apply
	Near     []Neighbour
	found    candidate
}

// Candidates finds every place that stands out, far more than are flaws, with
// the features that sorting goes by. Strongest kinds of evidence come first
// within each form; the order is the same on every machine.
func Candidates(ctx context.Context, in Input, p Params) ([]Candidate, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	if err := in.Photos.check(); err != nil {
		return nil, err
	}
	s, err := newSurface(in.Photos, in.Outline, p)
	if err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	found, err := s.candidates(p)
	if err != nil {
		return nil, err
	}
	if err := s.placeAll(found, in); err != nil {
		return nil, err
	}
	for i := range found {
		found[i].on = s
	}
	near := neighboursOf(found)
	out := make([]Candidate, len(found))
	for i, c := range found {
		out[i] = Candidate{Shape: c.shape, Features: c.x, Near: near[i], found: c}
	}
	return out, nil
}

// placeAll adds the features of place and of neighbours.
func (s *surface) placeAll(found []candidate, in Input) error {
	frame, err := in.Frame()
	if err != nil {
		return err
	}
	grain := s.grainOf()
	edge := plane.NewEdgeIndex(in.Outline.Outer)
	for i := range found {
		c := &found[i]
		mid := c.middle()
		c.reach = c.furthest(mid)
		u, v := frame.UV(mid)
		set(c.x, fGrain, grain)
		set(c.x, fAlong, u)
		set(c.x, fOut, math.Abs(v))
		set(c.x, fEdgeDistance, float64(edge.Distance(mid)))
		if c.form == lineForm {
			a := c.direction() - frame.Along()
			set(c.x, fAcrossBackbone, math.Abs(math.Sin(a)))
		}
	}
	rows(len(found), func(i int) { neighbours(found, i) })
	s.linesOn(found)
	amongAll(found, in.Outline.Area())
	s.gradients(found)
	return nil
}

// linesOn adds to each area the share of it that lies on lines: a ripple is more
// than the lines in it.
func (s *surface) linesOn(found []candidate) {
	on := make([]bool, len(s.in))
	for _, c := range found {
		if c.form == lineForm {
			for _, i := range s.pixels(c.shape) {
				on[i] = true
			}
		}
	}
	rows(len(found), func(k int) {
		c := &found[k]
		if c.form == lineForm || c.form == spotForm {
			return
		}
		var n, all float64
		for _, i := range s.pixels(c.shape) {
			all++
			if on[i] {
				n++
			}
		}
		set(c.x, fLinesOn, n/max(all, 1))
	})
}

// grainOf is the robust spread of the tone under top light: how lively the
// leather is by itself.
func (s *surface) grainOf() float64 {
	for _, l := range s.lit {
		if l.light == hide.Top {
			return spread(sampleOf(s, l.tone.v))
		}
	}
	return math.NaN()
}

func (c *candidate) middle() hide.Point {
	if c.centre != nil {
		return *c.centre
	}
	m := c.computedMiddle()
	c.centre = &m
	return m
}

func (c *candidate) computedMiddle() hide.Point {
	if c.form == lineForm {
		return c.line[len(c.line)/2]
	}
	r := plane.MinRectangle(c.shape)
	return r.Centre
}

func (c *candidate) direction() float64 {
	a, b := c.line[0], c.line[len(c.line)-1]
	return math.Atan2(float64(b.Y-a.Y), float64(b.X-a.X))
}

// Reaches within which candidates are neighbours.
const (
	parallelReach hide.MM = 70 // scratches of one scrape, wrinkles of one neck
	parallelAngle         = 0.3
	branchReach   hide.MM = 10 // a vein's twig meets its stem
	bundleReach   hide.MM = 25 // strokes of one scrape
	nearReach     hide.MM = 60
)

// neighbours counts the lines beside, the ends that meet and what else is near.
func neighbours(found []candidate, i int) {
	c := &found[i]
	mid := c.middle()
	var parallels, branches, touching, near, bundle float64
	next := parallelReach
	for j := range found {
		if j == i {
			continue
		}
		o := &found[j]
		if o.middle().Distance(mid) > c.reach+o.reach+max(parallelReach, nearReach, branchReach) {
			continue // nothing of the one is near anything of the other
		}
		d := gap(o, mid)
		if d < nearReach {
			near++
		}
		if c.form != lineForm || o.form != lineForm {
			continue
		}
		turn := math.Abs(math.Sin(c.direction() - o.direction()))
		if d < parallelReach && turn < parallelAngle {
			parallels++
			next = min(next, d)
			if d < bundleReach && sameMark(c.x, o.x) {
				bundle++
			}
			continue
		}
		if meets(o, c) {
			branches++
		}
		if meets(c, o) {
			touching++
		}
	}
	set(c.x, fNear, near)
	if c.form == lineForm {
		set(c.x, fParallels, parallels)
		set(c.x, fBranches, branches)
		set(c.x, fTouching, touching)
		set(c.x, fNextParallel, float64(next))
		set(c.x, fBundle, bundle)
	}
}

// sameMark is true if two lines are both lighter or both darker than the leather, and
// both raised or both sunken.
func sameMark(a, b []float64) bool {
	return a[fTopTone]*b[fTopTone] > 0 && !(a[fRelief]*b[fRelief] < 0)
}

// furthest is how far the line reaches from its middle; an area is taken as its
// middle.
func (c *candidate) furthest(mid hide.Point) hide.MM {
	var most hide.MM
	for _, p := range c.line {
		most = max(most, p.Distance(mid))
	}
	return most
}

// gap is the distance from a point to a candidate's line or middle.
func gap(c *candidate, q hide.Point) hide.MM {
	if c.form != lineForm {
		return c.middle().Distance(q)
	}
	best := hide.MM(math.Inf(1))
	for _, p := range c.line {
		best = min(best, p.Distance(q))
	}
	return best
}

// meets is true if an end of a lies by b.
func meets(a, b *candidate) bool {
	return gap(b, a.line[0]) < branchReach || gap(b, a.line[len(a.line)-1]) < branchReach
}

// Sort lists what is on the leather but for the holes, which the outline has:
// each candidate with its kind and the probability that it is a flaw at all, in
// the order of the candidates; those under Report are left out. Ids, zones and
// distances to the edge are the caller's to set.
//
// leather is the hide's area. A profile of the hide's article, learned from reviews,
// refits the probabilities; nil leaves them.
func Sort(found []Candidate, leather hide.MM2, profile *Profile, p Params) ([]hide.Defect, error) {
	model, err := sortingModel()
	if err != nil {
		return nil, err
	}
	model.addCompany(found, leather)
	listed := model.sorted(found)
	if profile != nil {
		for i := range listed {
			d := &listed[i]
			d.Probability = rounded(profile.probability(d.Probability, d.Evidence))
		}
	}
	listed = slices.DeleteFunc(listed, func(d sorted) bool { return d.Probability < p.Report })
	if err := inCompany(listed); err != nil {
		return nil, err
	}
	out := make([]hide.Defect, len(listed))
	err = each(len(listed), func(i int) (err error) {
		out[i], err = listed[i].described()
		return err
	})
	if err != nil {
		return nil, err
	}
	if out, err = merged(out); err != nil {
		return nil, err
	}
	return out, each(len(out), func(i int) error { return refitted(&out[i], found) })
}

// bendIt is the advice with every loose area: break is judged by bending the
// grain inward (ASTM D2941), which no photograph shows.
const bendIt = "bend it grain inward to be sure"

// sorted asks the model for each candidate's kind and probability.
func (s sorter) sorted(found []Candidate) []sorted {
	evidence, x := make([]map[string]float64, len(found)), make([][]float64, len(found))
	rows(len(found), func(i int) {
		evidence[i] = evidenceOf(found[i].Features)
		x[i] = featuresOf(evidence[i])
	})
	out := make([]sorted, len(found))
	for i, prob := range s.probabilities(x) {
		out[i] = found[i].sorted(evidence[i], s.Alone.Classes, prob)
	}
	return out
}

// sorted takes the kind, the likeliest other one that needs no company, and the probability
// from those of the classes.
func (c Candidate) sorted(evidence map[string]float64, classes []string, prob []float64) sorted {
	best, next, none := -1, -1, 0.0
	for k, name := range classes {
		switch {
		case name == harmless:
			none = prob[k]
		case !c.found.form.shows(hide.Kind(name)):
		case best < 0 || prob[k] > prob[best]:
			best = k
		}
	}
	for k, name := range classes {
		if k != best && c.found.form.alone(hide.Kind(name)) && (next < 0 || prob[k] > prob[next]) {
			next = k
		}
	}
	if next < 0 {
		next = best // what is found so shows one kind only
	}
	d := hide.Defect{Kind: hide.Kind(classes[best]), Status: hide.Candidate,
		Probability: rounded(1 - none), Geometry: c.Shape, Area: c.Shape.Area(),
		Length: c.found.length, Width: c.found.width, Lights: c.found.lights, Evidence: evidence}
	return sorted{d, hide.Kind(classes[next]), c}
}

// described adds what follows from the kind, and the outline as it is charted.
func (s sorted) described() (hide.Defect, error) {
	d, c := s.Defect, s.from.found
	d.Open = s.from.open(d.Kind)
	var err error
	if c.form == spotForm && c.on != nil {
		if c.spots, err = c.on.fittedSpots(c.spots); err != nil {
			return d, err
		}
		c.count = len(c.spots)
	}
	switch d.Kind {
	case hide.Bites, hide.Wart:
		d.Count = c.count
	case hide.Loose:
		d.Advice = bendIt
	}
	if d.Geometry, err = c.outline(); err != nil {
		return d, err
	}
	d.Area = d.Geometry.Area()
	if c.form == spotForm || c.form == looseForm {
		r := plane.MinRectangle(d.Geometry)
		d.Length, d.Width = r.Length, r.Width
	}
	return d, nil
}

// outline of a candidate that is charted: what was found to tell it apart is measured again where that is not yet where
// the mark ends.
func (c candidate) outline() (hide.Shape, error) {
	switch {
	case c.form == lineForm:
		return c.lineOutline()
	case c.form == spotForm && c.spots != nil:
		return discsOf(c.spots)
	case c.form == looseForm && c.on != nil:
		return c.on.risenBy.extent(c.shape, c.evidence)
	}
	return c.shape, nil
}

// refitted measures the outline of a whole again where its parts do not tell it.
func refitted(d *hide.Defect, found []Candidate) error {
	if d.Kind != hide.Brand || found[0].found.on == nil {
		return nil
	}
	shape, err := found[0].found.on.figure(d.Geometry)
	if err == nil {
		d.Geometry, d.Area = shape, shape.Area()
	}
	return err
}

// rounded to a thousandth: a probability is not known better.
func rounded(p float64) float64 { return math.Round(p*1000) / 1000 }

// openTone is how much darker than the leather beside an open scar or bite is
// at least: raw flesh and dirt are dark, healed skin is lighter or alike (common
// practice, no source).
const openTone = -0.12

// open tells an open scar or bite from a healed one; a flay cut is open.
func (c Candidate) open(k hide.Kind) bool {
	switch k {
	case hide.FlayCut:
		return true
	case hide.Scar, hide.Bites:
		return c.Features[fTopTone] < openTone
	}
	return false
}
