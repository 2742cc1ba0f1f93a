package calibrate

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"hidechart/hide"
)

// report scales the network, brings it into the table frame and judges it.
func (b *bundle) report(s bundleState, cov *mat.SymDense) (Survey, error) {
	places := b.centred(&s)
	sc, err := b.scaleOf(places, cov, s.stretch)
	if err != nil {
		return Survey{}, err
	}
	shape := b.shapeCovariance(places, sc, cov)
	out := Survey{Camera: s.camera(), ScaleU: sc.u, EdgeU: hide.MM(float64(b.p.Edge) * sc.factor * sc.u)}
	b.tagResults(&out, &s, places, sc, shape, cov)
	b.photoResults(&out, &s)
	b.heights(&out, s)
	f := b.frame(&out)
	out.place(f)
	b.rig(&out, sc)
	for i := range out.Photos {
		out.Photos[i].View = f.view(s.view(i), sc.factor, b.middle(&s))
	}
	out.Known = b.knownChecks(out, shape, sc)
	out.Flags = b.flags(out)
	return out, nil
}

func (b *bundle) middle(s *bundleState) [2]float64 {
	var m [2]float64
	for _, t := range s.tags {
		m[0] += t.x / float64(len(s.tags))
		m[1] += t.y / float64(len(s.tags))
	}
	return m
}

// centred are the tags' centres about their middle, in nominal mm.
func (b *bundle) centred(s *bundleState) [][2]float64 {
	m := b.middle(s)
	out := make([][2]float64, len(s.tags))
	for i, t := range s.tags {
		out[i] = [2]float64{t.x - m[0], t.y - m[1]}
	}
	return out
}

// surveyScale is what lengths of the fit, whose tags have their nominal edge,
// are multiplied by.
type surveyScale struct {
	factor float64
	u      float64 // relative standard uncertainty of what gives the scale
	weight []float64
	slope  [][]float64 // of ln distance by the centres (x, y of each tag), one for each known length
}

// scaleOf weighs the known lengths by their uncertainties and those of the
// distances found.
func (b *bundle) scaleOf(places [][2]float64, cov *mat.SymDense, stretch float64) (surveyScale, error) {
	out := surveyScale{factor: 1, u: math.Hypot(float64(b.p.EdgeU/b.p.Edge), stretch/2)}
	if len(b.p.Known) == 0 {
		return out, nil
	}
	var logs, both []float64
	var total, mean, given float64
	for _, k := range b.p.Known {
		i, j := b.index[k.A], b.index[k.B]
		dx, dy := places[j][0]-places[i][0], places[j][1]-places[i][1]
		d2 := dx*dx + dy*dy
		slope := make([]float64, 2*len(places))
		slope[2*i], slope[2*i+1], slope[2*j], slope[2*j+1] = -dx/d2, -dy/d2, dx/d2, dy/d2
		uk := float64(k.U / k.Length)
		v := uk*uk + b.along(slope, cov)
		logs = append(logs, math.Log(float64(k.Length)/math.Sqrt(d2)))
		both = append(both, v)
		out.slope = append(out.slope, slope)
		out.weight = append(out.weight, 1/v)
		total += 1 / v
	}
	for i, w := range out.weight {
		out.weight[i] = w / total
		mean += out.weight[i] * logs[i]
		uk := float64(b.p.Known[i].U / b.p.Known[i].Length)
		given += out.weight[i] * out.weight[i] * uk * uk
	}
	for i, l := range logs {
		// four deviations: one in 16,000 when all is as stated
		if off := l - mean; len(logs) > 1 && math.Abs(off) > 4*math.Sqrt(both[i]) {
			k := b.p.Known[i]
			return out, hide.Faultf(hide.NotMeasurable, "survey: the known length %d-%d contradicts the others: %.2f mm stated, %.2f mm by the others; measure it again",
				k.A, k.B, float64(k.Length), float64(k.Length)*math.Exp(-off))
		}
	}
	out.factor, out.u = math.Exp(mean), math.Sqrt(given)
	return out, nil
}

// along is the variance of a linear form of the centres.
func (b *bundle) along(form []float64, cov *mat.SymDense) float64 {
	sum := 0.0
	for i, a := range form {
		for j, c := range form {
			if a != 0 && c != 0 {
				sum += a * c * cov.At(b.centreAt(i), b.centreAt(j))
			}
		}
	}
	return sum
}

// centreAt is the place of coordinate i (x, y of each tag) among the unknowns.
func (b *bundle) centreAt(i int) int { return b.tagAt(i/2) + i%2 }

// shapeCovariance is the covariance of the centres scaled by what was found,
// mm²; known lengths take the place of the edge as what is held.
func (b *bundle) shapeCovariance(places [][2]float64, sc surveyScale, cov *mat.SymDense) *mat.Dense {
	n := 2 * len(places)
	c, j := mat.NewDense(n, n, nil), mat.NewDense(n, n, nil)
	for i := range n {
		for k := range n {
			c.Set(i, k, cov.At(b.centreAt(i), b.centreAt(k)))
			v := 0.0
			if i == k {
				v = 1
			}
			for m, slope := range sc.slope {
				v -= places[i/2][i%2] * sc.weight[m] * slope[k]
			}
			j.Set(i, k, v*sc.factor)
		}
	}
	var left, out mat.Dense
	left.Mul(j, c)
	out.Mul(&left, j.T())
	return &out
}

func (b *bundle) tagResults(out *Survey, s *bundleState, places [][2]float64, sc surveyScale, shape *mat.Dense, cov *mat.SymDense) {
	squares, n := make([]float64, len(b.ids)), make([]float64, len(b.ids))
	shown := make([]int, len(b.ids))
	c := s.camera()
	b.each(func(g *sight, k int) {
		ex, ey := b.residual(s, c, g, k)
		squares[g.tag] += ex*ex + ey*ey
		n[g.tag]++
	})
	for _, g := range b.seen {
		if g.Good != [4]bool{} {
			shown[g.tag]++
		}
	}
	var all, count float64
	for i, id := range b.ids {
		p := places[i]
		part := sc.u * sc.factor
		vx, vy := shape.At(2*i, 2*i), shape.At(2*i+1, 2*i+1)
		out.Tags = append(out.Tags, SurveyTag{ID: id,
			Centre: hide.Point{X: hide.MM(p[0] * sc.factor), Y: hide.MM(p[1] * sc.factor)}, TurnDeg: s.tags[i].turn * 180 / math.Pi,
			UX: hide.MM(math.Sqrt(vx)), UY: hide.MM(math.Sqrt(vy)), uxy: shape.At(2*i, 2*i+1),
			U:        hide.MM(math.Sqrt((vx+vy)/2 + part*part*(p[0]*p[0]+p[1]*p[1])/2)),
			UTurnDeg: math.Sqrt(cov.At(b.tagAt(i)+2, b.tagAt(i)+2)) * 180 / math.Pi,
			RMSPX:    math.Sqrt(squares[i] / max(n[i], 1)), Photographs: shown[i], CornersTaken: int(n[i])})
		all, count = all+squares[i], count+n[i]
	}
	out.RMSPX = math.Sqrt(all / max(count, 1))
}

func (b *bundle) photoResults(out *Survey, s *bundleState) {
	c := s.camera()
	for i, name := range b.names {
		v := SurveyView{Name: name, Dropped: b.unused[i]}
		slices.Sort(v.Dropped)
		var squares, n float64
		for j := range b.seen {
			g := &b.seen[j]
			if g.photo != i || g.Good == [4]bool{} {
				continue
			}
			v.Tags++
			for k := range 4 {
				if g.Good[k] {
					ex, ey := b.residual(s, c, g, k)
					squares, n = squares+ex*ex+ey*ey, n+1
				}
			}
		}
		v.RMSPX = math.Sqrt(squares / max(n, 1))
		out.Photos = append(out.Photos, v)
	}
}

// heights lets the tags leave the plane and says how far they went.
func (b *bundle) heights(out *Survey, s bundleState) {
	b.descend(&s, mostSteps, midGain, freeHeight)
	cov, ok := b.covariance(&s, freeHeight)
	if !ok {
		return
	}
	var sum float64
	for i := range out.Tags {
		at := b.tagAt(i) + 3
		out.Tags[i].Height, out.Tags[i].UHeight = hide.MM(s.tags[i].z), hide.MM(math.Sqrt(cov.At(at, at)))
		sum += s.tags[i].z * s.tags[i].z / float64(len(out.Tags))
	}
	out.Flat = hide.MM(math.Sqrt(sum))
}

// knownChecks compares each known length with the result.
func (b *bundle) knownChecks(out Survey, shape *mat.Dense, sc surveyScale) []KnownCheck {
	var checks []KnownCheck
	for m, k := range b.p.Known {
		p, q := out.Tags[b.index[k.A]].Centre, out.Tags[b.index[k.B]].Centre
		d := p.Distance(q)
		var v float64
		for i, a := range sc.slope[m] {
			for j, c := range sc.slope[m] {
				if a != 0 && c != 0 {
					v += a * c * shape.At(i, j) / (sc.factor * sc.factor)
				}
			}
		}
		checks = append(checks, KnownCheck{KnownLength: k, Found: d, UFound: d * hide.MM(math.Sqrt(max(v, 0)))})
	}
	return checks
}

// Limits of the flags.
const (
	fewPhotographs = 4   // with fewer, a tag that was moved between two cannot be told from its neighbours
	notFlatMM      = 1.0 // moves what is seen under 30° by half a millimetre
	sureHeight     = 3.0 // deviations
	aimMM          = 0.3 // a tag's centre in the survey: 0.01 % of a table of 3 m, 0.02 % of an area
	sureDeviations = 2   // about 95 %
)

// unsurePlaces asks for more photographs where the fit itself says that a tag's
// place may be out by more than the aim; the uncertainty falls with the root of
// their number.
func unsurePlaces(tags []SurveyTag, photographs int) (hide.Flag, bool) {
	var unsure []int
	worst := 0.0
	for _, t := range tags {
		u := sureDeviations * math.Max(float64(t.UX), float64(t.UY))
		if u > aimMM {
			unsure = append(unsure, t.ID)
		}
		worst = max(worst, u)
	}
	if unsure == nil {
		return hide.Flag{}, false
	}
	const mostMore = 20 // beyond, the way of photographing is at fault
	more := min(mostMore, max(1, int(math.Ceil(float64(photographs)*(worst*worst/(aimMM*aimMM)-1)))))
	return hide.Flag{Code: "unsure_places", Text: fmt.Sprintf("the places of tags %s are sure to %.2f mm only (about 95 %%), %.1f mm is wanted: take about %d more photographs, tilted to every side, nearer or of more pixels, and add them to these",
		idList(unsure), worst, aimMM, more)}, true
}

func (b *bundle) flags(out Survey) []hide.Flag {
	var flags []hide.Flag
	flag := func(code, format string, args ...any) {
		flags = append(flags, hide.Flag{Code: code, Text: fmt.Sprintf(format, args...)})
	}
	if len(b.p.Known) == 0 {
		flag("scale_from_edge", "the scale comes from the tags' edge, %.2f ± %.2f mm: lengths over 3 m are unsure by %.1f mm; a distance between two tags measured with a steel tape is better",
			float64(b.p.Edge), float64(b.p.EdgeU), 3000*out.ScaleU)
	}
	if !b.lens {
		flag("lens_from_tags", "the lens was found from the tags; a lens file makes the places surer")
	}
	if len(b.names) < fewPhotographs {
		flag("few_photographs", "%d photographs; take five or more, from above and tilted to every side", len(b.names))
	}
	if f, ok := unsurePlaces(out.Tags, len(b.names)); ok {
		flags = append(flags, f)
	}
	for _, name := range b.blank {
		flag("no_tags", "%s shows no tag and was left out", name)
	}
	shown := make([]int, len(b.ids))
	for _, g := range b.seen {
		shown[g.tag]++
	}
	for i, v := range out.Photos {
		links := 0
		for _, g := range b.seen {
			if g.photo == i && shown[g.tag] > 1 {
				links++
			}
		}
		if links == 1 {
			flag("weak_link", "%s shares a single tag with the others; two or more, far apart, are wanted", v.Name)
		}
		for _, id := range v.Dropped {
			flag("tag_moved", "tag %d does not fit in %s and was left out of it: moved or half hidden there", id, v.Name)
		}
	}
	for i, t := range out.Tags {
		if shown[i] == 1 {
			flag("tag_once", "tag %d is in one photograph only: nothing checks its place", t.ID)
		}
		if h := math.Abs(float64(t.Height)); h > notFlatMM && h > sureHeight*float64(t.UHeight) {
			flag("not_flat", "tag %d lies %+.1f ± %.1f mm off the plane of the others", t.ID, float64(t.Height), float64(t.UHeight))
		}
	}
	return flags
}
