package calibrate

import (
	"fmt"
	"image"
	"slices"
	"strings"

	"hidechart/hide"
)

// Fit says how well a View agrees with the tags.
type Fit struct {
	Tags       []hide.TagFit // by ascending id; the light is the caller's to fill in
	RMSPX      float64       // of all corners of the tags that did not move, against the rig as written
	ScaleU     float64       // relative standard uncertainty of lengths, lens terms given
	LensU      float64       // what the lens terms add to it
	Flags      []hide.Flag
	Inliers    int     // tags that agree with the rig
	Moved      []int   // tags that do not, ascending
	TagU       hide.MM // found standard deviation of a tag centre's coordinate
	HeightU    float64 // relative standard uncertainty of the camera's height, which parallax is corrected with
	PrintScale float64 // found size of the printed tags against the rig's

	state solution
	tiles *tiles // of several photographs, nil of one
}

// Solve fits the camera's pose, and its inner geometry where lens is nil, to
// the corners of all tags seen in a photograph of the given size, against the
// places that the rig gives them. It is a maximum of the posterior: corners have
// normal errors (Huber's weights), tags small errors of place and turn (Student's
// t, so that one that was moved loses its say), the lens the priors of Params or
// of the lens file; variances are re-estimated from the residuals (ECM for the t
// distribution; Liu & Rubin 1995). Four tags suffice thanks to the priors.
//
// Errors: NotMeasurable, in one line, when no tag is seen, fewer than four of the
// rig are, or they contradict the rig (each named with its residual). Flags:
// few_tags, tag_moved, tag_unknown, tag_hidden, lens_from_tags.
func Solve(rig Rig, size image.Point, seen []Sighting, lens *Lens, p Params) (View, Fit, error) {
	pr, best, unknown, err := settled(rig, size, seen, lens, p)
	if err != nil {
		return View{}, Fit{}, err
	}
	fit := pr.report(best)
	if err := pr.contradiction(fit); err != nil {
		return View{}, Fit{}, err
	}
	fit.Flags = pr.flags(best, fit, unknown)
	return best.view(), fit, nil
}

// settled is the fit itself, with the ids that the rig does not know.
func settled(rig Rig, size image.Point, seen []Sighting, lens *Lens, p Params) (*problem, solution, []int, error) {
	if err := p.Validate(); err != nil {
		return nil, solution{}, nil, err
	}
	known, unknown := split(rig, seen)
	if err := enough(rig, seen, known, unknown); err != nil {
		return nil, solution{}, nil, err
	}
	if lens != nil {
		l, err := lens.fitted(size)
		if err != nil {
			return nil, solution{}, nil, err
		}
		lens = &l
	}
	pr := newProblem(rig, size, known, lens, p)
	starts := pr.starts()
	if len(starts) == 0 {
		return nil, solution{}, nil, hide.Faultf(hide.NotMeasurable, "the tags seen (%s) lie nowhere near the places that rig.yaml gives them; check the ids and centres", idList(idsOf(known)))
	}
	best := pr.best(starts)
	if err := pr.settle(&best); err != nil {
		return nil, solution{}, nil, err
	}
	return pr, best, unknown, nil
}

// split keeps the sightings of the rig's tags that have a good corner, by
// ascending id, and lists the ids that the rig does not know.
func split(rig Rig, seen []Sighting) (known []Sighting, unknown []int) {
	for _, s := range seen {
		if _, ok := rig.Centres[s.ID]; !ok {
			unknown = append(unknown, s.ID)
		} else if s.Good != [4]bool{} {
			known = append(known, s)
		}
	}
	// a copy: stray corners are marked in it
	slices.SortFunc(known, func(a, b Sighting) int { return a.ID - b.ID })
	slices.Sort(unknown)
	return known, unknown
}

// enough says why there is too little to fit a camera to.
func enough(rig Rig, seen, known []Sighting, unknown []int) error {
	switch {
	case len(seen) == 0:
		return hide.Faultf(hide.NotMeasurable, "no tags seen; check light, focus and that the tags of rig.yaml (%s) are in the picture", TagFamily)
	case len(known) == 0 && len(unknown) > 0:
		return hide.Faultf(hide.NotMeasurable, "none of the tags seen (%s) is in rig.yaml; it lists %s", idList(unknown), idList(rig.IDs()))
	case len(known) < leastTags:
		text := fmt.Sprintf("only %d of the rig's tags seen (%s); at least %d are needed", len(known), idList(idsOf(known)), leastTags)
		if len(unknown) > 0 {
			text += fmt.Sprintf("; ids not in rig.yaml: %s", idList(unknown))
		}
		return hide.Faultf(hide.NotMeasurable, "%s", text)
	}
	return nil
}

func idsOf(s []Sighting) []int {
	out := make([]int, len(s))
	for i := range s {
		out[i] = s[i].ID
	}
	return out
}

// idList writes ids for people: "1, 2, 7".
func idList(ids []int) string {
	words := make([]string, len(ids))
	for i, id := range ids {
		words[i] = fmt.Sprint(id)
	}
	return strings.Join(words, ", ")
}
