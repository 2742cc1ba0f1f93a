package pipeline

import (
	"fmt"
	"math"

	"hidechart/calibrate"
	"hidechart/hide"
)

// budget lists the parts of the area's standard uncertainty as a table (JCGM
// 100:2008, 5.1.2: independent sources, u² = Σ (cᵢ uᵢ)²; 4.2 and 4.3: type A and B).
//
// Lengths wrong by a share s make an area wrong by 2s (facts.md: scale off
// 0.1 % → 0.2 %); an edge out by e all along makes it wrong by e × perimeter.
// The sensitivity to height is taken numerically: the outline is projected
// into the photograph at its height and brought back 1 mm higher.
func budget(m measured) hide.Area {
	area := hide.Area{Value: m.outline.Polygon.Area(), Budget: []hide.BudgetPart{}}
	area.Budget = append(area.Budget, scaleParts(m, area.Value)...)
	area.Budget = append(area.Budget, edgePart(m), heightPart(m), spreadingPart(m, area.Value))
	var square float64
	for _, part := range area.Budget {
		square += float64(part.U) * float64(part.U)
	}
	area.U = hide.MM2(math.Sqrt(square))
	return area
}

// scaleParts are the camera's pose with the rig's scale, and the lens terms.
func scaleParts(m measured, a hide.MM2) []hide.BudgetPart {
	pose, lens := m.fit.AreaParts(m.outline.Polygon)
	rig := m.in.rig.ScaleU
	perPercent := float64(a) * 2 / 100
	stated := "no scale_u in rig.yaml: the rig's own lengths are taken as exact"
	if rig > 0 {
		stated = fmt.Sprintf("%.3f %% as rig.yaml states of its own lengths", 100*rig)
	}
	length := 100 * math.Hypot(pose/2, rig)
	scale := hide.BudgetPart{Source: "scale", Quantity: "lengths on the table", Value: 100, Unit: "%", InputU: length, Distribution: "normal", Type: "A",
		Sensitivity: perPercent, U: hide.MM2(length * perPercent),
		Text: fmt.Sprintf("%.3f %% from the fit to %d tags; %s", 50*pose, m.fit.Inliers, stated)}
	how := "from the tags of this capture, no lens file"
	if m.in.lens != nil {
		how = "as the lens file states them, bettered by the tags"
	}
	bent := hide.BudgetPart{Source: "lens", Quantity: "lengths as the lens terms bend them", Value: 100, Unit: "%", InputU: 50 * lens, Distribution: "normal", Type: "A",
		Sensitivity: perPercent, U: share(a, lens), Text: "radial and tangential terms " + how}
	return []hide.BudgetPart{scale, bent}
}

// heightPart is how high the grain side lies, whose parallax is taken off.
func heightPart(m measured) hide.BudgetPart {
	u, text := heightU(m)
	per := perMM(m)
	return hide.BudgetPart{Source: "height", Quantity: "grain side above the tags", Value: float64(m.height), Unit: "mm", InputU: u, Distribution: "normal", Type: "B",
		Sensitivity: per, U: hide.MM2(u * math.Abs(per)), Text: text}
}

// spreadingPart is what spreading the hide again would change.
func spreadingPart(m measured, a hide.MM2) hide.BudgetPart {
	s := m.params.SpreadingU
	text := "one spreading: not evaluated, the area is of the hide as it lay; set spreading_u from hides spread and charted again"
	if s > 0 {
		text = fmt.Sprintf("%.2f %% from spreading the hide again, as set", 100*s)
	}
	return hide.BudgetPart{Source: "spreading", Quantity: "area when spread again", Value: 100, Unit: "%", InputU: 100 * s, Distribution: "normal", Type: "B",
		Sensitivity: float64(a) / 100, U: share(a, s), Text: text}
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
	return u, fmt.Sprintf("substance %.2f ± %.2f mm %s, lie of the hide ± %.2f mm; parallax taken off", m.substance, thick, how, p.LieU)
}

// perMM is how much the area changes per mm of the leather's height.
func perMM(m measured) float64 {
	at := func(z hide.MM) float64 {
		if tiles := m.fit.Mosaic(); tiles != nil {
			return float64(tiles.Raised(m.outline.Polygon.Outer, m.height, z).SignedArea())
		}
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
