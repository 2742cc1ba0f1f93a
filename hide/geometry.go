package hide

import (
	"encoding/json"
	"fmt"
	"math"
)

// Point is a place in the table frame, millimetres, y up.
type Point struct{ X, Y MM }

// Ring is a simple closed curve; the first vertex is not repeated at the end.
type Ring []Point

// Polygon is an outer ring (counter-clockwise) with holes (clockwise).
type Polygon struct {
	Outer Ring
	Holes []Ring
}

// Shape is one polygon or several that do not overlap, in a stable order.
type Shape []Polygon

// SignedArea is positive for a counter-clockwise ring (shoelace formula).
func (r Ring) SignedArea() MM2 {
	var sum float64
	for i, p := range r {
		q := r[(i+1)%len(r)]
		// relative to the first vertex: keeps digits far from the origin
		sum += float64(p.X-r[0].X)*float64(q.Y-r[0].Y) - float64(q.X-r[0].X)*float64(p.Y-r[0].Y)
	}
	return MM2(sum / 2)
}

// Length is the length of the closed curve.
func (r Ring) Length() MM {
	var sum MM
	for i, p := range r {
		sum += p.Distance(r[(i+1)%len(r)])
	}
	return sum
}

// Distance is the Euclidean distance.
func (p Point) Distance(q Point) MM {
	return MM(math.Hypot(float64(p.X-q.X), float64(p.Y-q.Y)))
}

// Area is the outer ring's area less the holes'.
func (p Polygon) Area() MM2 {
	a := abs2(p.Outer.SignedArea())
	for _, h := range p.Holes {
		a -= abs2(h.SignedArea())
	}
	return a
}

// Area sums the polygons.
func (s Shape) Area() MM2 {
	var a MM2
	for _, p := range s {
		a += p.Area()
	}
	return a
}

func abs2(a MM2) MM2 { return MM2(math.Abs(float64(a))) }

// Oriented returns the polygon with its outer ring counter-clockwise and its
// holes clockwise (RFC 7946, section 3.1.6).
func (p Polygon) Oriented() Polygon {
	out := Polygon{Outer: turned(p.Outer, true)}
	for _, h := range p.Holes {
		out.Holes = append(out.Holes, turned(h, false))
	}
	return out
}

func turned(r Ring, ccw bool) Ring {
	if (r.SignedArea() >= 0) == ccw {
		return r
	}
	out := make(Ring, len(r))
	for i, p := range r {
		out[len(r)-1-i] = p
	}
	return out
}

// geoJSON is the geometry object of RFC 7946 in table millimetres.
type geoJSON struct {
	Type        string          `json:"type"`
	Coordinates json.RawMessage `json:"coordinates"`
}

// MarshalJSON writes a GeoJSON Polygon: rings closed by repeating the first
// vertex, millimetres rounded to 0.001.
func (p Polygon) MarshalJSON() ([]byte, error) {
	c, err := json.Marshal(p.coordinates())
	if err != nil {
		return nil, err
	}
	return json.Marshal(geoJSON{Type: "Polygon", Coordinates: c})
}

// MarshalJSON writes a Polygon for one polygon, else a MultiPolygon.
func (s Shape) MarshalJSON() ([]byte, error) {
	if len(s) == 1 {
		return s[0].MarshalJSON()
	}
	all := make([][][][2]float64, len(s))
	for i, p := range s {
		all[i] = p.coordinates()
	}
	c, err := json.Marshal(all)
	if err != nil {
		return nil, err
	}
	return json.Marshal(geoJSON{Type: "MultiPolygon", Coordinates: c})
}

// UnmarshalJSON reads a GeoJSON Polygon.
func (p *Polygon) UnmarshalJSON(data []byte) error {
	var s Shape
	if err := s.UnmarshalJSON(data); err != nil {
		return err
	}
	if len(s) != 1 {
		return Faultf(Invalid, "geometry: want one Polygon, got %d", len(s))
	}
	*p = s[0]
	return nil
}

// UnmarshalJSON reads a GeoJSON Polygon or MultiPolygon.
func (s *Shape) UnmarshalJSON(data []byte) error {
	var g geoJSON
	if err := json.Unmarshal(data, &g); err != nil {
		return err
	}
	var polygons [][][][2]float64
	switch g.Type {
	case "Polygon":
		var one [][][2]float64
		if err := json.Unmarshal(g.Coordinates, &one); err != nil {
			return err
		}
		polygons = [][][][2]float64{one}
	case "MultiPolygon":
		if err := json.Unmarshal(g.Coordinates, &polygons); err != nil {
			return err
		}
	default:
		return Faultf(Invalid, "geometry: type %q, want Polygon or MultiPolygon", g.Type)
	}
	out := make(Shape, 0, len(polygons))
	for _, rings := range polygons {
		p, err := polygonFrom(rings)
		if err != nil {
			return err
		}
		out = append(out, p)
	}
	*s = out
	return nil
}

func polygonFrom(rings [][][2]float64) (Polygon, error) {
	var p Polygon
	for i, c := range rings {
		if len(c) < 4 || c[0] != c[len(c)-1] {
			return p, Faultf(Invalid, "geometry: ring %d is not closed or has fewer than four positions", i)
		}
		r := make(Ring, len(c)-1)
		for k := range r {
			r[k] = Point{MM(c[k][0]), MM(c[k][1])}
		}
		if i == 0 {
			p.Outer = r
		} else {
			p.Holes = append(p.Holes, r)
		}
	}
	if p.Outer == nil {
		return p, Faultf(Invalid, "geometry: polygon without rings")
	}
	return p, nil
}

func (p Polygon) coordinates() [][][2]float64 {
	out := [][][2]float64{p.Outer.positions()}
	for _, h := range p.Holes {
		out = append(out, h.positions())
	}
	return out
}

func (r Ring) positions() [][2]float64 {
	if len(r) == 0 {
		return nil
	}
	out := make([][2]float64, 0, len(r)+1)
	for _, p := range r {
		out = append(out, [2]float64{Micron(p.X), Micron(p.Y)})
	}
	return append(out, out[0])
}

// Micron rounds a length to 0.001 mm: the resolution of every file written,
// a hundred times finer than the best edge placement.
func Micron(l MM) float64 { return math.Round(float64(l)*1000) / 1000 }

// MarshalJSON writes [x, y] in millimetres rounded to 0.001.
func (p Point) MarshalJSON() ([]byte, error) {
	return json.Marshal([2]float64{Micron(p.X), Micron(p.Y)})
}

// UnmarshalJSON reads [x, y].
func (p *Point) UnmarshalJSON(data []byte) error {
	var xy [2]float64
	if err := json.Unmarshal(data, &xy); err != nil {
		return fmt.Errorf("point: %w", err)
	}
	*p = Point{MM(xy[0]), MM(xy[1])}
	return nil
}
