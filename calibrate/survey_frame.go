package calibrate

import (
	"fmt"
	"math"
	"strings"

	"hidechart/hide"
)

// placing turns and then shifts the centred network into the table frame.
type placing struct{ sin, cos, x, y float64 }

func (f placing) at(p hide.Point) hide.Point {
	x, y := float64(p.X), float64(p.Y)
	return hide.Point{X: hide.MM(f.cos*x - f.sin*y + f.x), Y: hide.MM(f.sin*x + f.cos*y + f.y)}
}

// frame follows SurveyFrame.
func (b *bundle) frame(out *Survey) placing {
	first := 0
	if b.p.Frame.First != nil {
		first = b.index[*b.p.Frame.First]
	}
	angle := -out.Tags[first].TurnDeg * math.Pi / 180
	if l := b.p.Frame.Along; l != nil {
		p, q := out.Tags[b.index[l[0]]].Centre, out.Tags[b.index[l[1]]].Centre
		angle = -math.Atan2(float64(q.Y-p.Y), float64(q.X-p.X))
	}
	sin, cos := math.Sincos(angle)
	f := placing{sin: sin, cos: cos}
	if at := b.p.Frame.At; at != nil {
		p := f.at(out.Tags[first].Centre)
		f.x, f.y = float64(at.X-p.X), float64(at.Y-p.Y)
		return f
	}
	turned := *out
	turned.Tags = append([]SurveyTag(nil), out.Tags...)
	turned.place(f)
	lo, _ := turned.box(b.p.Edge)
	f.x, f.y = -float64(lo.X), -float64(lo.Y)
	return f
}

// place moves the tags; their uncertainties turn with them.
func (s *Survey) place(f placing) {
	for i := range s.Tags {
		t := &s.Tags[i]
		t.Centre = f.at(t.Centre)
		t.TurnDeg = math.Remainder(t.TurnDeg+math.Atan2(f.sin, f.cos)*180/math.Pi, 360)
		vx, vy, both := float64(t.UX*t.UX), float64(t.UY*t.UY), 2*f.sin*f.cos*t.uxy
		t.UX = hide.MM(math.Sqrt(max(0, f.cos*f.cos*vx+f.sin*f.sin*vy-both)))
		t.UY = hide.MM(math.Sqrt(max(0, f.sin*f.sin*vx+f.cos*f.cos*vy+both)))
		t.uxy = (vx-vy)*f.sin*f.cos + t.uxy*(f.cos*f.cos-f.sin*f.sin)
	}
}

// box is what the tags' sheets span.
func (s Survey) box(edge hide.MM) (lo, hi hide.Point) {
	r := Rig{TagEdge: edge, Centres: map[int]hide.Point{}, TurnsDeg: map[int]float64{}}
	for _, t := range s.Tags {
		r.Centres[t.ID], r.TurnsDeg[t.ID] = t.Centre, t.TurnDeg
	}
	inf := hide.MM(math.Inf(1))
	lo, hi = hide.Point{X: inf, Y: inf}, hide.Point{X: -inf, Y: -inf}
	for _, p := range r.TagPolygons(0) {
		for _, q := range p.Outer {
			lo.X, lo.Y, hi.X, hi.Y = min(lo.X, q.X), min(lo.Y, q.Y), max(hi.X, q.X), max(hi.Y, q.Y)
		}
	}
	return lo, hi
}

// Rounding of rig.yaml: a thousandth of a millimetre and of a degree (2 µm at a
// tag's corner) are below what any photograph shows.
const rigDecimals = 1e3

// leastCentreU, mm, is the smallest stated uncertainty of a centre: paper
// moves by as much with the weather (common practice, no source).
const leastCentreU = 0.02

func (b *bundle) rig(out *Survey, sc surveyScale) {
	round := func(v float64) float64 { return math.Round(v*rigDecimals) / rigDecimals }
	_, hi := out.box(b.p.Edge * hide.MM(sc.factor))
	r := Rig{Width: b.p.Frame.Width, Height: b.p.Frame.Height, TagEdge: hide.MM(round(float64(b.p.Edge) * sc.factor)),
		Centres: map[int]hide.Point{}, TurnsDeg: map[int]float64{}}
	if r.Width == 0 {
		r.Width = hide.MM(math.Ceil(float64(hi.X)))
	}
	if r.Height == 0 {
		r.Height = hide.MM(math.Ceil(float64(hi.Y)))
	}
	var sum float64
	for _, t := range out.Tags {
		r.Centres[t.ID] = hide.Point{X: hide.MM(round(float64(t.Centre.X))), Y: hide.MM(round(float64(t.Centre.Y)))}
		if d := round(t.TurnDeg); d != 0 {
			r.TurnsDeg[t.ID] = d
		}
		sum += float64(t.UX*t.UX+t.UY*t.UY) / float64(2*len(out.Tags))
	}
	r.ScaleU = math.Round(out.ScaleU*1e6) / 1e6
	r.CentreU = hide.MM(round(max(math.Sqrt(sum), leastCentreU)))
	out.Rig = r
}

// view is a photograph's pose in the table frame; lengths grow by factor.
func (f placing) view(v View, factor float64, middle [2]float64) View {
	// X = turn·factor·(x - middle) + shift  =>  x = middle + turnᵀ·(X - shift)/factor
	back := [9]float64{f.cos, f.sin, 0, -f.sin, f.cos, 0, 0, 0, 1}
	out := View{Camera: v.Camera, R: product(v.R, back)}
	mx := middle[0]*factor - (f.cos*f.x + f.sin*f.y)
	my := middle[1]*factor - (-f.sin*f.x + f.cos*f.y)
	for i := range 3 {
		out.T[i] = v.T[i]*factor + v.R[3*i]*mx + v.R[3*i+1]*my
	}
	return out
}

// YAML writes the rig file, which ParseRig reads back, with the uncertainties in
// comments. lens is the name of the lens file to mention, or empty.
func (s Survey) YAML(lens string) []byte {
	var w strings.Builder
	r := s.Rig
	fmt.Fprintf(&w, "# surveyed from %d photographs, residuals %.3f px RMS\n", len(s.Photos), s.RMSPX)
	fmt.Fprintf(&w, "# all lengths together: ± %.3f %% (standard uncertainty of the scale)\n", 100*s.ScaleU)
	fmt.Fprintf(&w, "# tags off their common plane: %.2f mm RMS\n", float64(s.Flat))
	fmt.Fprintf(&w, "table:\n  width_mm: %g\n  height_mm: %g\n", float64(r.Width), float64(r.Height))
	fmt.Fprintf(&w, "tags:\n  family: %s\n  edge_mm: %.3f  # ± %.3f\n", TagFamily, float64(r.TagEdge), float64(s.EdgeU))
	fmt.Fprintf(&w, "  u_mm: %.3f  # of a coordinate against the other tags, RMS\n", float64(r.CentreU))
	fmt.Fprintf(&w, "  scale_u: %.6f  # of all lengths together, as a share\n  centres_mm:\n", r.ScaleU)
	for _, t := range s.Tags {
		c := r.Centres[t.ID]
		fmt.Fprintf(&w, "    %d: [%.3f, %.3f]  # ± %.3f, %.3f\n", t.ID, float64(c.X), float64(c.Y), float64(t.UX), float64(t.UY))
	}
	if len(r.TurnsDeg) > 0 {
		fmt.Fprintf(&w, "  turns_deg:\n")
	}
	for _, t := range s.Tags {
		if d := r.TurnsDeg[t.ID]; d != 0 {
			fmt.Fprintf(&w, "    %d: %.3f  # ± %.3f\n", t.ID, d, t.UTurnDeg)
		}
	}
	if lens != "" {
		fmt.Fprintf(&w, "lens: %q\n", lens)
	}
	return []byte(w.String())
}
