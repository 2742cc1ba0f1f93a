package calibrate

import (
	"fmt"
	"image"
	"math"
	"slices"
	"strings"

	"hidechart/hide"
	"hidechart/pix"
)

// Shared is the view of every light of a capture.
type Shared struct {
	Views map[hide.Light]View // lights that could not be posed are missing
	Fit   Fit                 // of the camera position that most lights share; Tags of every light
	Moved []hide.Light        // lights whose photograph was taken from another place, in file order
}

// agreePX is how far the corners of two photographs may lie apart (median) for
// the camera to count as unmoved: six times the noise of a corner, and 0.2 mm on
// a table of 3.3 m in 24 megapixels.
const agreePX = 0.3

// leastCommon corners are compared, two tags' worth.
const leastCommon = 8

// SolveShared fits one view to all lights of a capture together where the
// camera did not move between them: their corners are averaged, each weighted by
// its uncertainty, which also brings in tags that only some lights show. A light
// whose corners lie elsewhere is fitted by itself, with the lens found from the
// others, and flagged light_moved; one that shows too few tags to tell shares the
// view and is flagged light_unchecked; one that moved and cannot be posed is left
// out, flagged light_unposed. Sightings are FindTags's; size is that of every
// photograph. Errors: as Solve, and NotMeasurable when Top is left out.
func SolveShared(rig Rig, size image.Point, seen map[hide.Light][]Sighting, lens *Lens, p Params) (Shared, error) {
	groups := largestGroup(rig, seen)
	merged := merge(groups.together, seen)
	view, fit, err := Solve(rig, size, merged, lens, p)
	if err != nil {
		return Shared{}, err
	}
	out := Shared{Views: map[hide.Light]View{}, Fit: fit}
	for _, l := range groups.together {
		out.Views[l] = view
	}
	if lens == nil {
		found := fit.lens(view)
		lens = &found
	}
	flag := func(code, format string, args ...any) {
		out.Fit.Flags = append(out.Fit.Flags, hide.Flag{Code: code, Text: fmt.Sprintf(format, args...)})
	}
	for _, l := range groups.apart {
		v, _, err := Solve(rig, size, seen[l], lens, p)
		if err != nil {
			flag("light_unposed", "%s was taken from another place and is left out: %v", l, err)
			continue
		}
		out.Views[l] = v
		out.Moved = append(out.Moved, l)
		flag("light_moved", "the camera or table moved before %s was taken (%.1f px); it was fitted by itself", l, groups.shift[l])
	}
	if len(groups.unchecked) > 0 {
		for _, l := range groups.unchecked {
			out.Views[l] = view
		}
		flag("light_unchecked", "too few tags to see whether the camera moved: %s", lightList(groups.unchecked))
	}
	if _, given := seen[hide.Top]; given {
		if _, ok := out.Views[hide.Top]; !ok {
			return Shared{}, hide.Faultf(hide.NotMeasurable, "top shows too few tags and was taken from another place than %s", lightList(groups.together))
		}
	}
	out.Fit.Tags = tagsOfLights(rig, size, seen, out.Views)
	return out, nil
}

// largestGroup takes each light in turn as the reference and keeps the grouping
// in which most tags of the rig are seen from one place; the first in file order,
// so Top's, wins a tie.
func largestGroup(rig Rig, seen map[hide.Light][]Sighting) lightGroups {
	best, most := lightGroups{}, -1
	for _, l := range hide.Lights() {
		if _, ok := seen[l]; !ok {
			continue
		}
		g, n := grouped(seen, l), 0
		for _, m := range g.together {
			for _, t := range seen[m] {
				if _, in := rig.Centres[t.ID]; in {
					n++
				}
			}
		}
		if n > most {
			best, most = g, n
		}
	}
	return best
}

type lightGroups struct {
	together, apart, unchecked []hide.Light
	shift                      map[hide.Light]float64 // px
}

func grouped(seen map[hide.Light][]Sighting, reference hide.Light) lightGroups {
	g := lightGroups{shift: map[hide.Light]float64{}}
	for _, l := range hide.Lights() {
		if _, ok := seen[l]; !ok {
			continue
		}
		shift, common := apart(seen[reference], seen[l])
		switch {
		case l == reference || (common >= leastCommon && shift <= agreePX):
			g.together = append(g.together, l)
		case common >= leastCommon:
			g.apart, g.shift[l] = append(g.apart, l), shift
		default:
			g.unchecked = append(g.unchecked, l)
		}
	}
	return g
}

// apart is the median distance of the good corners that two photographs share.
func apart(a, b []Sighting) (px float64, common int) {
	var d []float64
	for _, s := range a {
		for _, t := range b {
			for k := range s.Corners {
				if s.ID == t.ID && s.Good[k] && t.Good[k] {
					d = append(d, math.Hypot(float64(s.Corners[k].X-t.Corners[k].X), float64(s.Corners[k].Y-t.Corners[k].Y)))
				}
			}
		}
	}
	return median(d), len(d)
}

// merge averages the corners of the lights, weighted by their variances; a
// corner keeps the uncertainty of its best light, as what blurs an edge in one
// photograph mostly does so in the next.
func merge(lights []hide.Light, seen map[hide.Light][]Sighting) []Sighting {
	type sum struct {
		x, y, w [4]float64
		out     Sighting
		n       hide.PX
	}
	sums := map[int]*sum{}
	var ids []int
	for _, l := range lights {
		for _, s := range seen[l] {
			t := sums[s.ID]
			if t == nil {
				t = &sum{out: Sighting{ID: s.ID}}
				sums[s.ID] = t
				ids = append(ids, s.ID)
			}
			t.n++
			t.out.Blur += s.Blur
			t.out.Dark, t.out.Light = max(t.out.Dark, s.Dark), max(t.out.Light, s.Light)
			for k, c := range s.Corners {
				if !s.Good[k] {
					continue
				}
				w := 1 / math.Max(float64(s.SD[k]*s.SD[k]), 1e-6) // no corner is better than a thousandth of a pixel
				t.x[k], t.y[k], t.w[k] = t.x[k]+w*float64(c.X), t.y[k]+w*float64(c.Y), t.w[k]+w
				if !t.out.Good[k] || s.SD[k] < t.out.SD[k] {
					t.out.SD[k] = s.SD[k]
				}
				t.out.Good[k] = true
			}
		}
	}
	slices.Sort(ids)
	out := make([]Sighting, 0, len(ids))
	for _, id := range ids {
		t := sums[id]
		t.out.Blur /= t.n
		for k := range t.w {
			if t.w[k] > 0 {
				t.out.Corners[k] = pix.Point{X: hide.PX(t.x[k] / t.w[k]), Y: hide.PX(t.y[k] / t.w[k])}
			}
		}
		out = append(out, t.out)
	}
	return out
}

// lens is the inner geometry that the fit found, for photographs that the same
// camera took from elsewhere.
func (f Fit) lens(v View) Lens {
	sd := func(i int) float64 { return math.Sqrt(max(0, f.state.cov[i][i])) }
	c := v.Camera
	return Lens{Camera: c, U: LensTerms{FX: c.FX * sd(pFocal), FY: c.FY * sd(pFocal), CX: sd(pCX), CY: sd(pCY),
		K1: sd(pK1), K2: sd(pK2), P1: sd(pP1), P2: sd(pP2)}}
}

// tagsOfLights is every light's residual at every tag of the rig, in file order.
func tagsOfLights(rig Rig, size image.Point, seen map[hide.Light][]Sighting, views map[hide.Light]View) []hide.TagFit {
	var out []hide.TagFit
	for _, l := range hide.Lights() {
		v, ok := views[l]
		if !ok {
			continue
		}
		known, _ := split(rig, seen[l])
		pr := &problem{rig: rig, size: size, seen: known}
		for i := range known {
			t, _, _ := pr.tagFit(v, i)
			t.Light = l
			out = append(out, t)
		}
	}
	return out
}

func lightList(lights []hide.Light) string {
	words := make([]string, len(lights))
	for i, l := range lights {
		words[i] = string(l)
	}
	return strings.Join(words, ", ")
}
