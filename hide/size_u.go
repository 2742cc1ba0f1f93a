package hide

import "math"

// Placed says how sure the shape of a flaw is placed: standard uncertainties, mm.
type Placed struct {
	End    MM // of each end of a length, and each side of a width
	Border MM // of the border, one way all along
}

// DrawnByHand is how a reviewer places a shape on the picture of a chart whose raster
// is mmPerPX: each point within two pixels of what is meant, never within less
// than a millimetre (a hand's steadiness on a screen; common practice, no source),
// the whole border within half of that one way. Rectangular: half-width/√3 (JCGM
// 100:2008, 4.3.7).
func DrawnByHand(mmPerPX float64) Placed {
	half := MM(max(1, 2*mmPerPX))
	return Placed{End: half / MM(math.Sqrt(3)), Border: half / 2 / MM(math.Sqrt(3))}
}

// LengthU is the relative standard uncertainty that all lengths on the chart have
// in common: scale, lens and height of the area's budget, halved. 0: no budget.
func (a Area) LengthU() float64 {
	if a.Value <= 0 {
		return 0
	}
	var square float64
	for _, p := range a.Budget {
		switch p.Source {
		case "scale", "lens", "height":
			square += float64(p.U) * float64(p.U)
		}
	}
	return math.Sqrt(square) / float64(a.Value) / 2
}

// EdgeU is the standard uncertainty of the place of the hide's edge, mm, as the
// budget states it. 0: no budget.
func (a Area) EdgeU() MM {
	for _, p := range a.Budget {
		if p.Source == "edge" && p.Unit == "mm" {
			return MM(p.InputU)
		}
	}
	return 0
}

// LengthWithU is the standard uncertainty of a length, mm, whose two ends are placed with
// the standard uncertainties a and b (JCGM 100:2008, 5.1.2): √(a² + b² + (share·l)²).
func LengthWithU(l, a, b MM, share float64) MM {
	return MM(math.Sqrt(float64(a*a+b*b) + share*share*float64(l*l)))
}

// SetU states the standard uncertainties of a defect's area, length, width and edge distance from how it
// is placed and the area's budget. Without a budget
// none is stated: they are then unknown, not small. A
// distance of 0 has none: the flaw meets the edge.
func (d *Defect) SetU(a Area, at Placed) {
	d.AreaU, d.LengthU, d.WidthU, d.EdgeDistanceU = 0, 0, 0, 0
	if len(a.Budget) == 0 {
		return
	}
	share := a.LengthU()
	d.LengthU, d.WidthU = LengthWithU(d.Length, at.End, at.End, share), LengthWithU(d.Width, at.End, at.End, share)
	d.AreaU = MM2(math.Hypot(float64(at.Border)*float64(d.Geometry.Perimeter()), 2*share*float64(d.Area)))
	if d.EdgeDistance > 0 {
		d.EdgeDistanceU = LengthWithU(d.EdgeDistance, at.End, a.EdgeU(), share)
	}
}

// ZoneAreaU is the standard uncertainty of the area of a part of the hide, mm²: the lengths'
// common share and the hide's edge, taken all along the part's border. Where that
// border is a line between zones it is so by definition, so this is a little much.
func (a Area) ZoneAreaU(s Shape) MM2 {
	return MM2(math.Hypot(2*a.LengthU()*float64(s.Area()), float64(a.EdgeU())*float64(s.Perimeter())))
}

// Perimeter is the length of all the shape's rings, holes' as well.
func (s Shape) Perimeter() MM {
	var sum MM
	for _, p := range s {
		sum += p.Outer.Length()
		for _, h := range p.Holes {
			sum += h.Length()
		}
	}
	return sum
}
