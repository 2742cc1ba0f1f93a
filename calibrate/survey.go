package calibrate

import (
	"errors"
	"fmt"
	"image"
	"math"
	"slices"
	"strings"

	"hidechart/hide"
)

// SurveyPhoto is what one photograph of a survey shows.
type SurveyPhoto struct {
	Name string
	Seen []Sighting // as FindSurveyTags returns them
}

// KnownLength is a distance between the centres of two tags, measured with
// something trusted: a steel tape, a bar with a tag on each end.
type KnownLength struct {
	A, B   int // ids
	Length hide.MM
	U      hide.MM // standard uncertainty
}

// SurveyFrame says where the table lies about the tags. The zero value: the
// x axis runs along the lowest id's own, and the table is the box round all tag
// sheets, its near left corner at the origin.
type SurveyFrame struct {
	Along  *[2]int     // the x axis runs from the first tag's centre to the second's; nil: along the upright tag
	First  *int        // the upright tag, which At places; nil: the lowest id
	At     *hide.Point // where its centre lies from the table's near left corner; nil: see above
	Width  hide.MM     // of the table; 0: of the box
	Height hide.MM
}

// SurveyParams are the settings of SurveyTags.
type SurveyParams struct {
	Edge   hide.MM // outer edge of the black square as measured, > 0; it gives the scale unless Known does
	EdgeU  hide.MM // its standard uncertainty, > 0
	Known  []KnownLength
	Frame  SurveyFrame
	Camera Params // priors of the camera and of a corner; the tags' own are not used
}

// DefaultSurveyParams returns the settings for tags of an edge. Its default
// uncertainty of 0.1 mm is what a steel rule is read to (common practice, no source).
func DefaultSurveyParams(edge hide.MM) SurveyParams {
	return SurveyParams{Edge: edge, EdgeU: 0.1, Camera: DefaultParams()}
}

// Validate lists what is wrong with the settings.
func (p SurveyParams) Validate() error {
	faults := []error{p.Camera.Validate()}
	fault := func(format string, args ...any) {
		faults = append(faults, hide.Faultf(hide.Invalid, format, args...))
	}
	if !(p.Edge >= tagLeastMM && p.Edge <= tagMostMM) {
		fault("edge: %g mm is not between %d and %d", float64(p.Edge), tagLeastMM, tagMostMM)
	}
	if !(p.EdgeU > 0 && p.EdgeU < p.Edge/4) {
		fault("uncertainty of the edge: %g mm is not above 0 and below a quarter of the edge", float64(p.EdgeU))
	}
	for _, k := range p.Known {
		if k.A == k.B || !(k.Length > 0 && k.Length <= tableMostMM) || !(k.U > 0 && k.U < k.Length/10) {
			fault("known length %d-%d=%g±%g mm: want two tags, a length and an uncertainty below a tenth of it",
				k.A, k.B, float64(k.Length), float64(k.U))
		}
	}
	for _, v := range []hide.MM{p.Frame.Width, p.Frame.Height} {
		if v != 0 && !(v >= tableLeastMM && v <= tableMostMM) {
			fault("table: %g mm is not between %d and %d", float64(v), tableLeastMM, tableMostMM)
		}
	}
	return errors.Join(faults...)
}

// Survey is a table's tags as photographs show them.
type Survey struct {
	Rig    Rig // without a lens file's name
	Tags   []SurveyTag
	Photos []SurveyView // those that show tags, in the order given
	Camera Camera
	RMSPX  float64 // of all corners kept
	ScaleU float64 // relative standard uncertainty of all lengths together
	EdgeU  hide.MM // standard uncertainty of Rig.TagEdge
	Known  []KnownCheck
	Flat   hide.MM // RMS height of tags off their common plane
	Flags  []hide.Flag
}

// SurveyTag is one tag's place.
type SurveyTag struct {
	ID           int
	Centre       hide.Point
	TurnDeg      float64 // counter-clockwise
	UX, UY       hide.MM // standard uncertainties against the other tags, scale given
	U            hide.MM // of a coordinate, with the scale's part at the tag's distance from the middle
	UTurnDeg     float64
	Height       hide.MM // above the common plane, fitted afterwards
	UHeight      hide.MM
	Photographs  int
	RMSPX        float64
	CornersTaken int

	uxy float64 // covariance of x and y, mm²
}

// SurveyView is one photograph of a survey.
type SurveyView struct {
	Name    string
	View    View
	Tags    int
	RMSPX   float64
	Dropped []int // tags left out of it: moved meanwhile, or wrongly found
}

// KnownCheck is how a known length agrees with the survey.
type KnownCheck struct {
	KnownLength
	Found  hide.MM // in the result
	UFound hide.MM // of the distance, scale given
}

// SurveyTags finds where tags lie from photographs that all show the same
// table, taken with one camera, lens, focus and zoom from different places, tags
// glued anywhere on one plane. Bundle adjustment (Triggs et al. 2000): unknown are
// every photograph's pose, the camera (shared; priors of Params or of a lens file),
// every tag's centre and turn, and how far the printer stretched all tags one
// way. Corners have Huber weights; their noise is re-estimated. Heights of the
// tags are held at 0 for the result, then let go to report how flat it is.
//
// The scale is the tags' edge, or the known lengths where any are given (weighted
// mean); the found edge is then the Rig's. Uncertainties of places are those of a
// free network (Baarda 1973; no tag is taken as fixed): the mean place and turn of
// all tags are held.
//
// Errors: Invalid for settings, an id twice in a photograph, fewer than two
// photographs with tags; NotMeasurable when fewer than four tags are seen, photographs share no
// tags (each group named), or known lengths name a tag not seen or contradict each
// other. Flags: scale_from_edge, few_photographs, weak_link, not_flat, tag_moved,
// lens_from_tags, tag_once, no_tags (a photograph without any, left out).
func SurveyTags(photos []SurveyPhoto, size image.Point, lens *Lens, p SurveyParams) (Survey, error) {
	if err := p.Validate(); err != nil {
		return Survey{}, err
	}
	if lens != nil {
		l, err := lens.fitted(size)
		if err != nil {
			return Survey{}, err
		}
		lens = &l
	}
	b, err := newBundle(photos, size, lens, p)
	if err != nil {
		return Survey{}, err
	}
	start, err := b.start()
	if err != nil {
		return Survey{}, err
	}
	s := b.settle(start)
	cov, ok := b.covariance(&s, heldHeight)
	if !ok {
		return Survey{}, hide.Faultf(hide.NotMeasurable, "survey: the photographs do not fix the tags' places; take more, tilted to every side")
	}
	return b.report(s, cov)
}

// newBundle sorts and checks the input.
func newBundle(photos []SurveyPhoto, size image.Point, lens *Lens, p SurveyParams) (*bundle, error) {
	var blank []string
	photos = slices.DeleteFunc(slices.Clone(photos), func(p SurveyPhoto) bool {
		none := !slices.ContainsFunc(p.Seen, func(s Sighting) bool { return s.Good != [4]bool{} })
		if none {
			blank = append(blank, p.Name)
		}
		return none
	})
	if len(photos) < 2 {
		return nil, hide.Faultf(hide.Invalid, "survey: %d of the photographs with tags; two are needed, five or more are good", len(photos))
	}
	pr := &problem{size: size, p: p.Camera, lens: lens != nil}
	pr.priors(lens)
	b := &bundle{size: size, p: p, mean: pr.mean, sd: pr.sd, k3: pr.k3, lens: lens != nil, index: map[int]int{}, unused: map[int][]int{}, blank: blank}
	for i, ph := range photos {
		b.names = append(b.names, ph.Name)
		seen := slices.Clone(ph.Seen)
		slices.SortFunc(seen, func(a, c Sighting) int { return a.ID - c.ID })
		for k, s := range seen {
			if k > 0 && seen[k-1].ID == s.ID {
				return nil, twice(ph.Name, []int{s.ID})
			}
			if s.Good != [4]bool{} {
				b.seen = append(b.seen, sight{photo: i, Sighting: s})
				b.index[s.ID] = 0
			}
		}
	}
	for id := range b.index {
		b.ids = append(b.ids, id)
	}
	slices.Sort(b.ids)
	for i, id := range b.ids {
		b.index[id] = i
	}
	for i := range b.seen {
		b.seen[i].tag = b.index[b.seen[i].ID]
	}
	return b, b.check()
}

// check refuses what cannot be surveyed before any fit.
func (b *bundle) check() error {
	if len(b.ids) < leastTags {
		return hide.Faultf(hide.NotMeasurable, "survey: %d tags seen in all photographs (%s); at least %d are needed", len(b.ids), idList(b.ids), leastTags)
	}
	named := []int{}
	for _, k := range b.p.Known {
		named = append(named, k.A, k.B)
	}
	if b.p.Frame.First != nil {
		named = append(named, *b.p.Frame.First)
	}
	if b.p.Frame.Along != nil {
		named = append(named, b.p.Frame.Along[:]...)
	}
	for _, id := range named {
		if _, ok := b.index[id]; !ok {
			return hide.Faultf(hide.NotMeasurable, "survey: tag %d is named but in no photograph; seen are %s", id, idList(b.ids))
		}
	}
	if groups := b.groups(); len(groups) > 1 {
		return hide.Faultf(hide.NotMeasurable, "survey: the photographs fall into %d groups that share no tag: %s; take one that shows tags of both",
			len(groups), strings.Join(groups, "; "))
	}
	return nil
}

// groups are the photographs that hang together by common tags, in words.
func (b *bundle) groups() []string {
	group := make([]int, len(b.names))
	for i := range group {
		group[i] = i
	}
	for changed := true; changed; {
		changed = false
		lowest := make([]int, len(b.ids))
		for i := range lowest {
			lowest[i] = math.MaxInt
		}
		for _, s := range b.seen {
			lowest[s.tag] = min(lowest[s.tag], group[s.photo])
		}
		for _, s := range b.seen {
			if lowest[s.tag] < group[s.photo] {
				group[s.photo], changed = lowest[s.tag], true
			}
		}
	}
	var out []string
	for g := range b.names {
		var names []string
		tags := map[int]bool{}
		for i := range b.names {
			if group[i] == g {
				names = append(names, b.names[i])
			}
		}
		for _, s := range b.seen {
			if group[s.photo] == g {
				tags[s.ID] = true
			}
		}
		if len(names) > 0 {
			out = append(out, fmt.Sprintf("%s (tags %s)", strings.Join(names, ", "), setList(tags)))
		}
	}
	return out
}

func setList(set map[int]bool) string {
	ids := []int{}
	for id := range set {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	if len(ids) == 0 {
		return "none"
	}
	return idList(ids)
}

func twice(photo string, ids []int) error {
	return hide.Faultf(hide.Invalid, "survey: %s shows tag %s more than once; print each id once and cover reflections", photo, idList(ids))
}
