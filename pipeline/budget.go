package pipeline

import (
	"fmt"
	"math"

	"hidechart/calibrate"
	"hidechart/hide"
)

// budget lists the parts of the area's standard uncertainty (JCGM 100:2008,
// 5.1.2: independent sources, u² = Σ (cᵢ uᵢ)²).
//
// Lengths wrong by a share s make an area wrong by 2s (facts.md: scale off
// 0.1 % → 0.2 %); an edge out by e all along makes it wrong by e × perimeter.
// The sensitivity to height is taken numerically: the outline is projected
// into the photograph at its height and brought back 1 mm higher.
func budget(m measured) hide.Area {
	p := m.params
	a := m.outline.Polygon.Area()
	height, heightText := heightU(m)
	perimeter := m.outline.Polygon.Outer.Length()
	for _, h := range m.outline.Polygon.Holes {
		perimeter += h.Length()
	}
	edge := float64(m.outline.EdgeU) * float64(perimeter)
	spreading := "one spreading: not evaluated, the area is of the hide as it lay"
	if p.SpreadingU > 0 {
		spreading = fmt.Sprintf("%.2f %% from spreading the hide again, as set", 100*p.SpreadingU)
	}
	area := hide.Area{Value: a, Budget: []hide.BudgetPart{
		{Source: "scale", U: share(a, 2*m.fit.ScaleU), Text: fmt.Sprintf("lengths %.3f %% from the fit to %d tags", 100*m.fit.ScaleU, m.fit.Inliers)},
		{Source: "lens", U: share(a, 2*m.fit.LensU), Text: fmt.Sprintf("lengths %.3f %% from the lens terms", 100*m.fit.LensU)},
		{Source: "edge", U: hide.MM2(edge), Text: fmt.Sprintf("edge placed to %.3f mm along %.2f m", m.outline.EdgeU, float64(perimeter)/1000)},
		{Source: "height", U: hide.MM2(height * math.Abs(perMM(m))), Text: heightText},
		{Source: "spreading", U: share(a, p.SpreadingU), Text: spreading},
	}}
	var square float64
	for _, part := range area.Budget {
		square += float64(part.U) * float64(part.U)
	}
	area.U = hide.MM2(math.Sqrt(square))
	return area
}

func share(a hide.MM2, s float64) hide.MM2 { return hide.MM2(float64(a) * s) }

// heightU is the standard uncertainty of the leather's height above the tags,
// mm, with its reason.
func heightU(m measured) (u float64, text string) {
	p := m.params
	thick, how := p.SubstanceU, "assumed"
	if m.stated {
		thick, how = p.StatedSubstanceU, "stated"
	}
	u = math.Hypot(float64(thick), float64(p.LieU))
	return u, fmt.Sprintf("grain side %.2f ± %.2f mm above the tags: substance %.2f mm %s, lie of the hide", m.height, u, m.substance, how)
}

// perMM is how much the area changes per mm of the leather's height.
func perMM(m measured) float64 {
	at := func(z hide.MM) float64 {
		return float64(raised(m.outline.Polygon.Outer, m.view, m.height, z).SignedArea())
	}
	return at(m.height+1) - at(m.height)
}

// raised is where the ring's places in the photograph lie on the plane at z,
// when the ring was measured at height from.
func raised(r hide.Ring, v calibrate.View, from, z hide.MM) hide.Ring {
	out := make(hide.Ring, len(r))
	for i, p := range r {
		out[i] = v.Ground(v.Project(p.X, p.Y, from), z)
	}
	return out
}
