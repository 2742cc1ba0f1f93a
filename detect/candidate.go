package detect

import (
	"errors"
	"math"
	"runtime"
	"slices"

	"golang.org/x/sync/errgroup"

	"hidechart/hide"
	"hidechart/pix"
	"hidechart/plane"
)

// candidate is a place that stands out of the leather, before it has a kind.
type candidate struct {
	form     form
	shape    hide.Shape
	line     []hide.Point // lineForm: along its middle
	spots    []spot       // spotForm: those of the cluster
	on       *surface     // what it is measured on again when it is charted
	length   hide.MM
	width    hide.MM
	count    int
	evidence float64 // orders overlapping candidates: the stronger stays
	x        []float64
	lights   []hide.Light
	centre   *hide.Point // kept by middle
	reach    hide.MM     // of the line from its middle
}

// candidates finds all places that stand out, in a stable order.
func (s *surface) candidates(p Params) ([]candidate, error) {
	var marks []spot
	areas := make([][]candidate, 3)
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	group.Go(func() (err error) { marks, err = s.spots(p); return err })
	for k, find := range []func(Params) ([]candidate, error){s.patchCandidates, s.looseCandidates, s.thinCandidates} {
		group.Go(func() (err error) { areas[k], err = find(p); return err })
	}
	if err := group.Wait(); err != nil {
		return nil, err
	}
	lines, err := s.lineCandidates(p)
	if err != nil {
		return nil, err
	}
	lines = withoutSpotLines(lines, marks)
	spots, err := s.spotCandidates(marks, lines, p)
	return slices.Concat(lines, areas[0], areas[1], areas[2], spots), err
}

// lineLevel is one pass of the line search.
type lineLevel struct {
	multiple   int   // of the work pixel
	doublings  []int // of the averaging along the line
	directions int   // tried; the ends of a stretch must stay within a pixel or so of a line between two
	back       bool  // back light too: dim and noisy, so only at the coarser pixels
}

// lineLevels: 16 mm along lines 1 to 3 mm wide, 16 and, for faint and straight
// ones, 64 mm along 2 to 5 mm, 32 mm along the 5 to 12 mm strokes of a brand.
func lineLevels() []lineLevel {
	return []lineLevel{{1, []int{5}, 16, false}, {2, []int{3, 5}, 24, true}, {4, []int{3}, 12, true}}
}

// lineCandidates follows and measures the lines of one level, which uses one core
// at a time, while the next level's responses, which use all, are computed.
func (s *surface) lineCandidates(p Params) ([]candidate, error) {
	levels := lineLevels()
	found, limit := make([][]candidate, len(levels)), int(p.LinesPerM2*s.area())
	var group errgroup.Group
	for k, level := range levels {
		sl, err := s.level(level.multiple)
		if err != nil {
			return nil, errors.Join(err, group.Wait())
		}
		r, err := sl.lineResponses(1, level)
		if err != nil {
			return nil, errors.Join(err, group.Wait())
		}
		group.Go(func() (err error) {
			found[k], err = s.measuredLines(strongestTraces(linked(r.traces(sl.grid, 1, p)), limit), p)
			return err
		})
	}
	if err := group.Wait(); err != nil {
		return nil, err
	}
	return s.withoutDoubles(slices.Concat(found...))
}

// measuredLines makes candidates of the traces that carry their contrast evenly,
// in the order of the traces.
func (s *surface) measuredLines(traces []trace, p Params) ([]candidate, error) {
	all := make([]candidate, len(traces))
	err := each(len(traces), func(k int) (err error) {
		t := traces[k]
		t.even = s.evenness(t.line)
		if t.even >= max(leastEven, leastEvenShare*t.length()) {
			all[k], err = s.lineCandidate(t, p)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(all, func(c candidate) bool { return c.line == nil }), nil
}

// leastEven is the least length that must carry a line's contrast; the largest
// spots sought are 9 mm across.
const leastEven hide.MM = 9

// leastEvenShare of a line's length must carry its contrast: two spots joined by
// averaging carry a third, a line in grain of its own depth a half or more.
const leastEvenShare = 0.4

// tolerance of a candidate's outline.
const shapeTolerance hide.MM = 0.2

func (s *surface) lineCandidate(t trace, p Params) (candidate, error) {
	for range 2 { // the profiles of the first are taken across a line that is off
		t.line = s.refined(t.line)
	}
	t.line = s.carried(t.line, t.sigma, p.LineLength)
	c := candidate{form: lineForm, line: t.line, length: t.length(), count: 1}
	m := s.across(t)
	c.width, c.lights = m.width, m.lights
	ribbon, err := plane.RibbonFrom(c.line, c.width)
	if err != nil {
		return c, err
	}
	if c.shape, err = plane.Simplify(ribbon, shapeTolerance); err != nil {
		return c, err
	}
	c.evidence = t.evidence()
	c.x = newFeatures()
	set(c.x, fForm, float64(lineForm))
	set(c.x, fBest, t.best)
	set(c.x, fMean, t.mean)
	set(c.x, fLeast, min(float64(t.even/max(c.length, 1)), 1))
	set(c.x, fScale, float64(t.sigma))
	set(c.x, fLength, float64(c.length))
	set(c.x, fWidth, float64(c.width))
	set(c.x, fStraight, float64(t.line[0].Distance(t.line[len(t.line)-1])/max(c.length, 1)))
	run := courseOf(c.line)
	set(c.x, fBow, run.bow)
	set(c.x, fWave, float64(run.wave))
	set(c.x, fTurn, run.turn)
	m.store(c.x)
	return c, nil
}

func (s *surface) pixels(shape hide.Shape) []int {
	var out []int
	for _, p := range shape {
		out = append(out, pixelsIn(p.Outer, s.grid)...)
	}
	return out
}

func (s *surface) patchCandidates(p Params) ([]candidate, error) {
	found, err := s.patches(p)
	if err != nil {
		return nil, err
	}
	var out []candidate
	for _, f := range found[:min(len(found), int(p.PatchesPerM2*s.area())+1)] { // plainest first
		c := candidate{form: patchForm, shape: hide.Shape{f.shape}, count: 1, evidence: f.evidence, x: newFeatures()}
		set(c.x, fForm, float64(patchForm))
		set(c.x, fBest, f.edge)
		set(c.x, fMean, f.evidence)
		out = append(out, s.areaCandidate(c))
	}
	return out, nil
}

func (s *surface) looseCandidates(p Params) ([]candidate, error) {
	return s.areaCandidates(looseForm, s.looseAreas, p)
}

func (s *surface) thinCandidates(p Params) ([]candidate, error) {
	return s.areaCandidates(thinForm, s.thinSpots, p)
}

func (s *surface) areaCandidates(f form, find func(Params) ([]area, error), p Params) ([]candidate, error) {
	found, err := find(p)
	if err != nil {
		return nil, err
	}
	var out []candidate
	for _, a := range found {
		c := candidate{form: f, shape: hide.Shape{a.shape}, count: 1, evidence: a.score, x: newFeatures()}
		set(c.x, fForm, float64(f))
		set(c.x, fBest, a.score)
		out = append(out, s.areaCandidate(c))
	}
	return out, nil
}

// areaCandidate adds sizes and light to a candidate of one polygon.
func (s *surface) areaCandidate(c candidate) candidate {
	r := plane.MinRectangle(c.shape)
	c.length, c.width = r.Length, r.Width
	area, edge := float64(c.shape.Area()), float64(c.shape[0].Outer.Length())
	set(c.x, fLength, float64(c.length))
	set(c.x, fWidth, float64(c.width))
	set(c.x, fArea, area)
	set(c.x, fRound, 4*math.Pi*area/math.Max(edge*edge, 1e-9))
	set(c.x, fSolid, area/math.Max(float64(plane.ConvexHull(c.shape).Area()), 1e-9))
	m := s.inner(c.shape)
	m.store(c.x)
	c.lights = m.lights
	border := s.rimOf(c.shape[0].Outer)
	set(c.x, fRimStep, border.step)
	set(c.x, fRimSteady, border.steady)
	set(c.x, fRimEven, border.even)
	set(c.x, fRimHue, border.hue)
	set(c.x, fRimSharp, border.sharp)
	set(c.x, fRimClear, border.clear)
	set(c.x, fRimDyed, border.dyed)
	return c
}

// spotClear is how far a spot must lie from a line to be a spot of its own.
const spotClear hide.MM = 4

// spotLimit: more spots than this per square metre are the leather's grain.
const spotLimit = 400

// A line shorter than spotLineLength with a spot beside it that answers
// spotOverLine times as much is the spot drawn out by averaging.
const (
	spotLineLength hide.MM = 40
	spotOverLine   float64 = 1.7
)

func withoutSpotLines(lines []candidate, spots []spot) []candidate {
	return slices.DeleteFunc(lines, func(c candidate) bool {
		return c.length < spotLineLength && slices.ContainsFunc(spots, func(q spot) bool {
			return q.score > spotOverLine*c.x[fMean] && gap(&c, q.at) < spotClear+c.width+q.radius
		})
	})
}

func (s *surface) spotCandidates(all []spot, lines []candidate, p Params) ([]candidate, error) {
	onLine := make([]bool, len(s.in))
	for _, c := range lines {
		for _, i := range s.pixels(c.shape) {
			onLine[i] = true
		}
	}
	near, err := grow(onLine, s.grid, spotClear)
	if err != nil {
		return nil, err
	}
	var free []spot
	for _, q := range all {
		if !near[clampedIndex(s.grid.ToRaster(q.at), s.grid)] {
			free = append(free, q)
		}
	}
	free = strongestSpots(free, s.area())
	groups := clusters(free, p)
	out := make([]candidate, len(groups))
	return out, each(len(groups), func(i int) (err error) {
		out[i], err = s.spotCandidate(groups[i])
		return err
	})
}

// area of the leather in square metres.
func (s *surface) area() float64 { return squareMetres(s.in, s.grid) }

func squareMetres(in []bool, g pix.Grid) float64 {
	n := 0
	for _, leather := range in {
		if leather {
			n++
		}
	}
	return float64(n) * float64(g.MMPerPX*g.MMPerPX) / 1e6
}

func (s *surface) spotCandidate(m []spot) (candidate, error) {
	c := candidate{form: spotForm, spots: m, count: len(m), x: newFeatures()}
	var sum, best, radius, least float64
	least = math.Inf(1)
	for _, q := range m {
		sum += q.score
		best = math.Max(best, q.score)
		least = math.Min(least, q.score)
		radius += float64(q.radius) / float64(len(m))
	}
	var err error
	if c.shape, err = discsOf(m); err != nil {
		return c, err
	}
	r := plane.MinRectangle(c.shape)
	c.length, c.width, c.evidence = r.Length, r.Width, best
	set(c.x, fForm, float64(spotForm))
	set(c.x, fBest, best)
	set(c.x, fMean, sum/float64(len(m)))
	set(c.x, fLeast, least)
	set(c.x, fCount, float64(len(m)))
	set(c.x, fScale, radius)
	set(c.x, fLength, float64(c.length))
	set(c.x, fWidth, float64(c.width))
	set(c.x, fArea, float64(c.shape.Area()))
	l := s.inner(c.shape)
	l.relief = s.reliefOfSpots(m)
	l.store(c.x)
	c.lights = l.lights
	return c, nil
}
