package calibrate

import (
	"fmt"
	"math"
	"strings"

	"hidechart/hide"
	"hidechart/pix"
)

// report measures every tag against the rig as written.
func (pr *problem) report(s solution) Fit {
	f := Fit{state: s, TagU: hide.MM(s.tagU), PrintScale: math.Exp(s.print)}
	v := s.view()
	sum, n := 0.0, 0.0
	for i, seen := range pr.seen {
		tag, square, corners := pr.tagFit(v, i)
		f.Tags = append(f.Tags, tag)
		if pr.moved(&s, i) {
			f.Moved = append(f.Moved, seen.ID)
			continue
		}
		f.Inliers++
		sum, n = sum+square, n+corners
	}
	if n > 0 {
		f.RMSPX = math.Sqrt(sum / n)
	}
	hull := pr.tagBox()
	f.HeightU = math.Sqrt(max(0, s.cov[pShift+2][pShift+2])) / math.Abs(s.t[2])
	total := f.areaU(hull, true) / 2
	f.ScaleU = f.areaU(hull, false) / 2
	f.LensU = math.Sqrt(max(0, total*total-f.ScaleU*f.ScaleU))
	return f
}

// tagFit is a tag's residual: the distance of its middle from its place in the
// rig, and the root mean square of its good corners, px.
func (pr *problem) tagFit(v View, i int) (t hide.TagFit, square, corners float64) {
	seen := pr.seen[i]
	var dx, dy float64
	for k, q := range pr.rig.Corners(seen.ID) {
		if !seen.Good[k] {
			continue
		}
		p := v.Project(q.X, q.Y, 0)
		ex, ey := float64(seen.Corners[k].X-p.X), float64(seen.Corners[k].Y-p.Y)
		square += ex*ex + ey*ey
		g := v.Ground(seen.Corners[k], 0)
		dx, dy = dx+float64(g.X-q.X), dy+float64(g.Y-q.Y)
		corners++
	}
	return hide.TagFit{ID: seen.ID, ResidualMM: hide.MM(math.Hypot(dx, dy) / corners), ResidualPX: hide.PX(math.Sqrt(square / corners))}, square, corners
}

// moved reports whether a tag lies beyond the limit and beyond what the other
// tags' scatter explains.
func (pr *problem) moved(s *solution, i int) bool {
	e := s.tags[i]
	d := math.Hypot(e.dx, e.dy)
	const scatter = 4 // deviations
	return d > float64(pr.p.MovedLimit) && d > scatter*s.tagU
}

// contradiction refuses a fit that fewer than four tags carry, or whose tags
// scatter more than hand-glued ones do.
func (pr *problem) contradiction(f Fit) error {
	scatter := float64(f.TagU) > 2*float64(pr.p.MovedLimit)
	if f.Inliers >= leastTags && !scatter && len(f.Moved) <= len(f.Tags)/3 {
		return nil
	}
	worst := hide.MM(0)
	for _, t := range f.Tags {
		worst = max(worst, t.ResidualMM)
	}
	words := make([]string, 0, len(f.Tags))
	for _, t := range f.Tags {
		if t.ResidualMM > worst/4 { // the rest is what the wrong ones do to it
			words = append(words, fmt.Sprintf("tag %d by %.1f mm", t.ID, float64(t.ResidualMM)))
		}
	}
	return hide.Faultf(hide.NotMeasurable, "the tags contradict rig.yaml: %s; measure their centres again", strings.Join(words, ", "))
}

func (pr *problem) flags(s solution, f Fit, unknown []int) []hide.Flag {
	var out []hide.Flag
	flag := func(code string, value float64, unit, format string, args ...any) {
		out = append(out, hide.Flag{Code: code, Text: fmt.Sprintf(format, args...), Value: value, Unit: unit})
	}
	if f.Inliers < pr.p.FewTags {
		flag("few_tags", float64(f.Inliers), "tags", "measured from %d tags; %d or more halve the uncertainty", f.Inliers, pr.p.FewTags)
	}
	for _, t := range f.Tags {
		for _, id := range f.Moved {
			if id == t.ID {
				flag("tag_moved", float64(t.ResidualMM), "mm", "tag %d lies %.1f mm from its place in rig.yaml; it was left out", id, float64(t.ResidualMM))
			}
		}
	}
	if hidden := pr.hidden(s); len(hidden) > 0 {
		flag("tag_hidden", float64(len(hidden)), "tags", "tags of rig.yaml in the picture but not seen: %s", idList(hidden))
	}
	if len(unknown) > 0 {
		flag("tag_unknown", float64(len(unknown)), "tags", "tags seen that rig.yaml does not list: %s", idList(unknown))
	}
	if !pr.lens {
		flag("lens_from_tags", 200*f.LensU, "percent", "no lens file: the lens was fitted to this capture's tags and adds %s to the area's uncertainty", percentWords(200*f.LensU))
	}
	return out
}

// hidden lists the rig's tags that lie wholly inside the frame and were not seen.
func (pr *problem) hidden(s solution) []int {
	seen := map[int]bool{}
	for _, t := range pr.seen {
		seen[t.ID] = true
	}
	v := s.view()
	var out []int
	for _, id := range pr.rig.IDs() {
		inside := !seen[id]
		for _, q := range pr.rig.Corners(id) {
			p := v.Project(q.X, q.Y, 0)
			inside = inside && p.X > 0 && p.Y > 0 && p.X < hide.PX(pr.size.X-1) && p.Y < hide.PX(pr.size.Y-1)
		}
		if inside {
			out = append(out, id)
		}
	}
	return out
}

// tagBox is the bounding box of the tags seen.
func (pr *problem) tagBox() hide.Ring {
	lo, hi := hide.Point{X: 1e9, Y: 1e9}, hide.Point{X: -1e9, Y: -1e9}
	for i := range pr.seen {
		c := pr.centre(i)
		lo.X, lo.Y, hi.X, hi.Y = min(lo.X, c.X), min(lo.Y, c.Y), max(hi.X, c.X), max(hi.Y, c.Y)
	}
	return hide.Ring{lo, {X: hi.X, Y: lo.Y}, hi, {X: lo.X, Y: hi.Y}}
}

// AreaU is the relative standard uncertainty of the area of a polygon on the
// table that comes from the pose and the lens: the law of propagation (JCGM
// 100:2008, 5.2.2) over the fit's covariance, derivatives taken numerically. The
// part of an outline that lies far from every tag thus costs what it should.
func (f Fit) AreaU(outline hide.Polygon) float64 {
	pose, lens := f.AreaParts(outline)
	return math.Hypot(pose, lens)
}

// AreaParts splits AreaU into what pose and focal length leave open while the
// lens terms are taken as known, and what the lens terms add to it. Holes count.
func (f Fit) AreaParts(outline hide.Polygon) (pose, lens float64) {
	if len(outline.Outer) < 3 {
		return 0, 0
	}
	ring := keyholed(outline)
	pose = f.areaU(ring, false)
	whole := f.areaU(ring, true)
	return pose, math.Sqrt(max(0, whole*whole-pose*pose))
}

// mostVertices bounds the work: the derivative of an area is smooth, and a ring
// of 400 vertices has it to 1 %.
const mostVertices = 400

func (f Fit) areaU(r hide.Ring, withLens bool) float64 {
	if f.tiles != nil {
		return f.tiles.areaU(r, withLens)
	}
	r = densified(r)
	v := f.state.view()
	pixels := make([]pix.Point, len(r))
	for i, p := range r {
		pixels[i] = v.Project(p.X, p.Y, 0)
	}
	area := func(w View) float64 {
		out := make(hide.Ring, len(r))
		for i, p := range pixels {
			out[i] = w.Ground(p, 0)
		}
		return math.Abs(float64(out.SignedArea()))
	}
	whole := area(v)
	if whole == 0 || f.state.cov == nil {
		return 0
	}
	h := f.state.differences()
	var grad [cameraN]float64
	for j := range cameraN {
		d := make([]float64, cameraN)
		d[j] = h[j]
		plus := f.state.stepped(d)
		d[j] = -h[j]
		minus := f.state.stepped(d)
		grad[j] = (area(plus.view()) - area(minus.view())) / (2 * h[j]) / whole
	}
	cov := f.state.cov
	if !withLens {
		cov = held(cov, pK1)
	}
	sum := 0.0
	for i := range grad {
		for k := range grad {
			sum += grad[i] * grad[k] * cov[i][k]
		}
	}
	return math.Sqrt(max(0, sum))
}

// densified brings a ring to between 64 and mostVertices vertices: long straight
// sides bend with the lens.
func densified(r hide.Ring) hide.Ring {
	if len(r) > mostVertices {
		step := (len(r) + mostVertices - 1) / mostVertices
		var out hide.Ring
		for i := 0; i < len(r); i += step {
			out = append(out, r[i])
		}
		return out
	}
	const least = 64
	parts := (least + len(r) - 1) / len(r)
	var out hide.Ring
	for i, a := range r {
		b := r[(i+1)%len(r)]
		for k := range parts {
			t := hide.MM(k) / hide.MM(parts)
			out = append(out, hide.Point{X: a.X + t*(b.X-a.X), Y: a.Y + t*(b.Y-a.Y)})
		}
	}
	return out
}

// percentWords writes a share of the area; what would round to nothing is not
// told to be nothing.
func percentWords(percent float64) string {
	if percent < 0.005 {
		return "less than 0.01 %"
	}
	return fmt.Sprintf("%.2f %%", percent)
}
