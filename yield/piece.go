package yield

import (
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/plane"
)

// Piece is one pattern piece.
type Piece struct {
	Name string
	// Shape is the outline with its cut-outs, mm, y up, the lower left corner of
	// its box at the origin.
	Shape hide.Polygon
	// Grain is the direction of the grain line in degrees from x towards y. It
	// is laid along the backbone. Nil: the piece may lie any way Turns allows.
	Grain *float64
	// Stretch is the direction in which the piece is to give, degrees; it is laid
	// across the backbone, the way leather gives most (common practice, no source).
	// Nil: any. With a grain line it must lie across it.
	Stretch *float64
	Turns   []float64 // allowed turns, degrees: from the grain's direction, else from the drawing
	Pair    bool      // left and right: every second one is mirrored
	Count   int       // in a set
	Look    string    // look it needs if other than the hide's: a name or a file
	// Substance it needs, least and most in mm; 0, 0: any.
	Substance [2]hide.MM
	Parts     []Part // parts with a look of their own
}

// Part is a part of a piece that needs another look than the rest: what is turned
// under or covered may be rustic.
type Part struct {
	Name  string
	Shape hide.Shape // in the piece's frame, within its outline
	Look  string
}

// Area is the leather of one piece, cut-outs taken off.
func (p Piece) Area() hide.MM2 { return p.Shape.Area() }

// Size is the box of the piece as drawn.
func (p Piece) Size() (width, height hide.MM) {
	b, _ := boxOf(hide.Shape{p.Shape})
	return b.Max.X - b.Min.X, b.Max.Y - b.Min.Y
}

// Pieces are the pieces of one set and what was noticed while reading them.
type Pieces struct {
	List     []Piece
	Gap      hide.MM  // to leave between two pieces
	Warnings []string // usable but doubtful: a unit not stated or suspected, a gap closed
}

// leastPieceArea in mm²: less is a slip of the pen; a rivet washer has 50.
const leastPieceArea = 1

// stretchOff, degrees: a stretch line drawn by eye may be so far from square to the
// grain line.
const stretchOff = 10

// check finds what cannot be cut. Errors: Invalid, with the piece's name.
func (p Piece) check() error {
	if err := plane.IsValid(p.Shape); err != nil {
		return hide.Wrapf(hide.Invalid, err, "piece %q crosses itself or has no inside", p.Name)
	}
	switch {
	case p.Area() < leastPieceArea:
		return hide.Faultf(hide.Invalid, "piece %q has an area of %.3f mm²", p.Name, p.Area())
	case p.Count < 1 || p.Count > 10000:
		return hide.Faultf(hide.Invalid, "piece %q: count %d, want 1 to 10000", p.Name, p.Count)
	case p.Grain != nil && p.Stretch != nil && math.Abs(math.Cos((*p.Grain-*p.Stretch)*math.Pi/180)) > math.Sin(stretchOff*math.Pi/180):
		return hide.Faultf(hide.Invalid, "piece %q: grain at %.0f° and stretch at %.0f° contradict each other: leather gives across the backbone", p.Name, *p.Grain, *p.Stretch)
	case len(p.Turns) == 0:
		return hide.Faultf(hide.Invalid, "piece %q: no turn is allowed", p.Name)
	case p.Substance[0] < 0 || p.Substance[1] < p.Substance[0]:
		return hide.Faultf(hide.Invalid, "piece %q: substance from %g to %g mm contradict each other", p.Name, p.Substance[0], p.Substance[1])
	case slices.ContainsFunc(p.Turns, func(t float64) bool { return math.IsNaN(t) || math.Abs(t) > 360 }):
		return hide.Faultf(hide.Invalid, "piece %q: turns are degrees from −360 to 360", p.Name)
	}
	return nil
}

// Sizes at which a wrong unit is suspected, mm, for the largest piece of a
// file: no hide is longer than 3 m, no cut set has its largest piece under 12 mm (a
// key fob is 30). Ours.
const (
	tooLarge = 3000
	tooSmall = 12
)

// unitSuspicion says in words when the sizes look wrong by 25.4.
func unitSuspicion(list []Piece) (string, bool) {
	var most hide.MM
	for _, p := range list {
		w, h := p.Size()
		most = max(most, w, h)
	}
	switch {
	case most > tooLarge && most/25.4 <= tooLarge:
		return words("the largest piece is %.0f mm long, longer than a hide: was it drawn in millimetres and read as inches? Divided by 25.4 it is %.0f mm", most, most/25.4), true
	case most > 0 && most < tooSmall && most*25.4 >= tooSmall:
		return words("the largest piece is only %.2f mm long: was it drawn in inches and read as millimetres? Times 25.4 it is %.0f mm", most, most*25.4), true
	}
	return "", false
}

// atOrigin moves a piece's box to the origin.
func atOrigin(s hide.Polygon) hide.Polygon {
	b, _ := boxOf(hide.Shape{s})
	return moved(s, hide.Point{X: -b.Min.X, Y: -b.Min.Y})
}

func moved(s hide.Polygon, by hide.Point) hide.Polygon {
	return mapped(s, func(p hide.Point) hide.Point { return hide.Point{X: p.X + by.X, Y: p.Y + by.Y} })
}

func mapped(s hide.Polygon, to func(hide.Point) hide.Point) hide.Polygon {
	ring := func(r hide.Ring) hide.Ring {
		out := make(hide.Ring, len(r))
		for i, p := range r {
			out[i] = to(p)
		}
		return out
	}
	out := hide.Polygon{Outer: ring(s.Outer)}
	for _, h := range s.Holes {
		out.Holes = append(out.Holes, ring(h))
	}
	return out.Oriented()
}

// turned mirrors a piece in y first, where asked, then turns it
// counter-clockwise and moves its box to the origin.
func (p Piece) turned(degrees float64, mirror bool) hide.Polygon {
	s, _ := p.turnedParts(degrees, mirror)
	return s
}

// turnedParts turns a piece with its parts.
func (p Piece) turnedParts(degrees float64, mirror bool) (hide.Polygon, []hide.Shape) {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	switch math.Mod(degrees+720, 360) { // keep right angles exact
	case 0:
		sin, cos = 0, 1
	case 90:
		sin, cos = 1, 0
	case 180:
		sin, cos = 0, -1
	case 270:
		sin, cos = -1, 0
	}
	turn := func(q hide.Point) hide.Point {
		x, y := float64(q.X), float64(q.Y)
		if mirror {
			x = -x
		}
		return hide.Point{X: hide.MM(cos*x - sin*y), Y: hide.MM(sin*x + cos*y)}
	}
	s := mapped(p.Shape, turn)
	b, _ := boxOf(hide.Shape{s})
	by := hide.Point{X: -b.Min.X, Y: -b.Min.Y}
	var parts []hide.Shape
	for _, part := range p.Parts {
		var q hide.Shape
		for _, x := range part.Shape {
			q = append(q, moved(mapped(x, turn), by))
		}
		parts = append(parts, q)
	}
	return moved(s, by), parts
}

// angle is how far to turn the drawing for an allowed turn: a grain line comes
// to lie along the backbone, whose direction is in degrees. A mirrored piece has
// its grain line mirrored.
func (p Piece) angle(turn, backbone float64, mirror bool) float64 {
	var grain float64
	switch {
	case p.Grain != nil:
		grain = *p.Grain
	case p.Stretch != nil:
		grain = *p.Stretch - 90
	default:
		return turn
	}
	if mirror {
		grain = 180 - grain
	}
	return backbone - grain + turn
}
