package yield

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"hidechart/hide"
	"hidechart/plane"
)

// role says what a line of a drawing is.
type role int

const (
	anyLine  role = iota // outline or cut-out: nesting tells
	boundary             // outline of a piece
	cutOut
	grainLine
	stretchLine // the way the piece is to stretch
	partArea    // part of a piece with a look of its own
	ignored     // notches, internal lines, seams
)

// contour is one line of a drawing, mm, y up.
type contour struct {
	points []hide.Point
	closed bool
	role   role
	group  string // contours of different groups have nothing to do with each other
	name   string
	attrs  map[string]string // count, pair, turns, grain, look
}

// closeGap in mm: ends this near are one point. Half a millimetre is the width
// of a pencil line on a card pattern.
const closeGap = 0.5

// flatness in mm: curves become chords no farther from them than this, a
// tenth of the best cutter's line.
const flatness = 0.02

func (c contour) ends() (a, b hide.Point) { return c.points[0], c.points[len(c.points)-1] }

// joinContours closes what can be closed: open lines of one group and role are
// chained end to end, and a chain whose ends meet is a contour. Error: Invalid,
// with the place, for a chain that stays open.
func joinContours(in []contour) (out []contour, warnings []string, err error) {
	if err := limited(in); err != nil {
		return nil, nil, err
	}
	var open []contour
	for _, c := range in {
		if c.closed || c.role == grainLine || c.role == stretchLine || c.role == ignored {
			out = append(out, c)
		} else if len(c.points) > 1 {
			open = append(open, c)
		}
	}
	for len(open) > 0 {
		chain := open[0]
		chain.points = slices.Clone(chain.points)
		open = open[1:]
		for {
			a, b := chain.ends()
			if gap := a.Distance(b); gap <= closeGap && len(chain.points) > 3 {
				if gap > 1e-6 {
					warnings = append(warnings, words("a gap of %.2f mm was closed at %.1f, %.1f", gap, a.X, a.Y))
				}
				chain.points, chain.closed = chain.points[:len(chain.points)-1], true
				break
			}
			i, reversed := nextLink(chain, open)
			if i < 0 {
				return nil, nil, openFault(chain)
			}
			next := slices.Clone(open[i].points)
			if reversed {
				slices.Reverse(next)
			}
			if next[0].Distance(b) < 1e-9 {
				next = next[1:]
			}
			chain.points = append(chain.points, next...)
			chain.name = cmp.Or(chain.name, open[i].name)
			open = slices.Delete(open, i, i+1)
		}
		out = append(out, chain)
	}
	return out, warnings, nil
}

func openFault(c contour) error {
	a, b := c.ends()
	return hide.Faultf(hide.Invalid, "an open contour: its ends at %.2f, %.2f and %.2f, %.2f mm are %.2f mm apart (gaps up to %g mm are closed)",
		a.X, a.Y, b.X, b.Y, a.Distance(b), float64(closeGap))
}

// nextLink finds the open line that goes on nearest to the chain's end.
func nextLink(chain contour, open []contour) (index int, reversed bool) {
	_, end := chain.ends()
	index = -1
	best := hide.MM(closeGap)
	for i, c := range open {
		if c.group != chain.group || c.role != chain.role {
			continue
		}
		a, b := c.ends()
		if d := end.Distance(a); d < best || d == best && index < 0 {
			best, index, reversed = d, i, false
		}
		if d := end.Distance(b); d < best {
			best, index, reversed = d, i, true
		}
	}
	return index, reversed
}

// assemble makes pieces of contours: by nesting within a group, an outline, its
// cut-outs, in a cut-out the next piece. Grain lines go to the piece they begin in.
func assemble(contours []contour) (Pieces, error) {
	contours, warnings, err := joinContours(contours)
	if err != nil {
		return Pieces{}, err
	}
	var closed, grains, parts []contour
	for _, c := range contours {
		switch {
		case (c.role == grainLine || c.role == stretchLine) && len(c.points) > 1:
			grains = append(grains, c)
		case c.closed && c.role == partArea:
			parts = append(parts, c)
		case c.closed && c.role != ignored:
			c.points = withoutRepeats(c.points)
			if len(c.points) >= 3 && math.Abs(float64(hide.Ring(c.points).SignedArea())) > 0 {
				closed = append(closed, c)
			} else {
				return Pieces{}, hide.Faultf(hide.Invalid, "a contour crosses itself or has no area at %.2f, %.2f mm", c.points[0].X, c.points[0].Y)
			}
		}
	}
	out := Pieces{Warnings: warnings}
	owner, shapes := nest(closed)
	for i, c := range closed {
		if owner[i] >= 0 {
			continue
		}
		p := Piece{Name: c.name, Shape: shapes[i], Count: 1}
		if p.Name == "" {
			p.Name = words("piece %d", len(out.List)+1)
		}
		for _, g := range grains {
			if g.group == c.group && (c.group != "" || plane.Contains(p.Shape, middle(g))) {
				a, b := g.ends()
				angle := math.Atan2(float64(b.Y-a.Y), float64(b.X-a.X)) * 180 / math.Pi
				if g.role == stretchLine {
					p.Stretch = &angle
				} else {
					p.Grain = &angle
				}
			}
		}
		if err := p.take(c.attrs); err != nil {
			return Pieces{}, err
		}
		if err := p.takeParts(parts, c); err != nil {
			return Pieces{}, err
		}
		out.List = append(out.List, p)
	}
	if len(out.List) == 0 {
		return Pieces{}, hide.Faultf(hide.Invalid, "no closed contour in the drawing: there is no piece")
	}
	return out, nil
}

// takeParts gives a piece the parts drawn within its outline, and moves both to
// the origin. Errors: Invalid for a part that reaches out of its piece or names no
// look.
func (p *Piece) takeParts(parts []contour, outline contour) error {
	p.Shape = p.Shape.Oriented()
	box, _ := boxOf(hide.Shape{p.Shape})
	for _, c := range parts {
		if c.group != outline.group {
			continue
		}
		drawn := hide.Shape{hide.Polygon{Outer: withoutRepeats(c.points)}.Oriented()}
		out, err := plane.Difference(drawn, hide.Shape{{Outer: p.Shape.Outer}})
		if err != nil {
			return hide.Wrapf(hide.Invalid, err, "part %q", c.name)
		}
		if 2*out.Area() >= drawn.Area() {
			continue // of another piece
		}
		part := Part{Name: cmp.Or(c.name, words("part %d", len(p.Parts)+1)), Look: strings.TrimSpace(c.attrs["look"])}
		if part.Look == "" {
			return hide.Faultf(hide.Invalid, "part %q of piece %q names no look", part.Name, p.Name)
		}
		if out.Area() > sliver {
			return hide.Faultf(hide.Invalid, "part %q reaches %.1f mm² out of piece %q", part.Name, out.Area(), p.Name)
		}
		if part.Shape, err = plane.Intersection(drawn, hide.Shape{p.Shape}); err != nil {
			return hide.Wrapf(hide.Invalid, err, "part %q of piece %q", part.Name, p.Name)
		}
		part.Shape = movedShape(part.Shape, hide.Point{X: -box.Min.X, Y: -box.Min.Y})
		p.Parts = append(p.Parts, part)
	}
	p.Shape = atOrigin(p.Shape)
	return nil
}

// Limits of a drawing: a set has some dozens of pieces, and a scanned one some
// thousands of vertices each; more is another kind of file.
const (
	mostContours = 5000
	mostVertices = 1_000_000
)

func limited(contours []contour) error {
	n := 0
	for _, c := range contours {
		n += len(c.points)
	}
	if len(contours) > mostContours || n > mostVertices {
		return hide.Faultf(hide.Invalid, "the drawing has %d lines with %d vertices; at most %d and %d are read", len(contours), n, mostContours, mostVertices)
	}
	return nil
}

func middle(c contour) hide.Point {
	a, b := c.ends()
	return hide.Point{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2}
}

func withoutRepeats(points []hide.Point) []hide.Point {
	out := slices.CompactFunc(slices.Clone(points), func(a, b hide.Point) bool { return a.Distance(b) < 1e-9 })
	for len(out) > 1 && out[0].Distance(out[len(out)-1]) < 1e-9 {
		out = out[:len(out)-1]
	}
	return out
}

// nest tells outlines (owner −1) from cut-outs, and gives outlines their
// cut-outs.
func nest(closed []contour) (owner []int, shapes []hide.Polygon) {
	owner, shapes = make([]int, len(closed)), make([]hide.Polygon, len(closed))
	for i, c := range closed {
		owner[i] = -1
		depth, smallest := 0, math.Inf(1)
		for j, o := range closed {
			area := math.Abs(float64(hide.Ring(o.points).SignedArea()))
			if j == i || o.group != c.group || !inside(c, o) {
				continue
			}
			depth++
			if area < smallest {
				smallest, owner[i] = area, j
			}
		}
		if c.role == boundary || c.role == anyLine && depth%2 == 0 {
			owner[i] = -1
		}
		shapes[i].Outer = c.points
	}
	for i, o := range owner {
		if o >= 0 {
			shapes[o].Holes = append(shapes[o].Holes, closed[i].points)
		}
	}
	return owner, shapes
}

// inside reports whether contour c lies in o: smaller, and a vertex of it in.
func inside(c, o contour) bool {
	if math.Abs(float64(hide.Ring(c.points).SignedArea())) >= math.Abs(float64(hide.Ring(o.points).SignedArea())) {
		return false
	}
	a, _ := boxOf(hide.Shape{{Outer: c.points}})
	b, _ := boxOf(hide.Shape{{Outer: o.points}})
	if a.Min.X > b.Max.X || b.Min.X > a.Max.X || a.Min.Y > b.Max.Y || b.Min.Y > a.Max.Y {
		return false
	}
	in := 0
	for _, p := range c.points {
		if plane.Contains(hide.Polygon{Outer: o.points}, p) {
			in++
		}
	}
	return 2*in > len(c.points)
}

// take reads the attributes of a drawing: count, pair, turns, grain, look.
func (p *Piece) take(attrs map[string]string) error {
	var err error
	fault := func(key string) error {
		return hide.Faultf(hide.Invalid, "piece %q: %s %q cannot be read", p.Name, key, attrs[key])
	}
	for key, v := range attrs {
		v = strings.TrimSpace(v)
		switch key {
		case "count":
			if p.Count, err = strconv.Atoi(v); err != nil {
				return fault(key)
			}
		case "pair":
			if p.Pair, err = strconv.ParseBool(v); err != nil {
				return fault(key)
			}
		case "grain":
			g, err := strconv.ParseFloat(v, 64)
			if err != nil {
				return fault(key)
			}
			p.Grain = &g
		case "stretch":
			g, err := strconv.ParseFloat(v, 64)
			if err != nil {
				return fault(key)
			}
			p.Stretch = &g
		case "turns":
			for _, f := range strings.FieldsFunc(v, func(r rune) bool { return r == ' ' || r == ',' }) {
				t, err := strconv.ParseFloat(f, 64)
				if err != nil {
					return fault(key)
				}
				p.Turns = append(p.Turns, t)
			}
		case "look":
			p.Look = v
		}
	}
	return nil
}
