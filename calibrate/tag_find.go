package calibrate

import (
	"math"
	"runtime"

	"golang.org/x/sync/errgroup"

	"hidechart/hide"
	"hidechart/pix"
)

// Sighting is a tag as one photograph shows it.
type Sighting struct {
	ID      int
	Corners [4]pix.Point // of the black square, in libapriltag's order, refined in linear light
	SD      [4]hide.PX   // standard uncertainty of each corner in each direction, from the edge fits
	Good    [4]bool      // false where an edge that makes the corner is covered or blurred away
	Blur    hide.PX      // standard deviation of the edges' blur; 0 when no edge is good
	Smear   hide.PX      // the blur of the edge that is second in it: more than Blur where the camera moved
	Dark    float64      // linear light of the black border, 0 to 1
	Light   float64      // linear light of the white border, 0 to 1
}

// searchSide is the longer side of the picture that tags are looked for in
// first: on a table of 3.3 m a tag of 100 mm is then 60 px wide, twelve times
// what the library needs, and the search takes a tenth of a second.
const searchSide = 2000

// FindTags finds the rig's kind of tags in a photograph: linear light, U16, one
// channel. The search runs on a smaller picture, finer when too few tags of the rig
// are found; the corners are then fitted at full resolution in linear light,
// where blur moves no edge (in coded light they come out about 0.3 px inside the
// black square). Tags come by ascending id, those foreign to the rig included; of
// an id seen twice both are dropped, as one must be a reflection or a second print.
// Error: Invalid for another kind of picture.
func FindTags(linearGrey *pix.Image, rig Rig) ([]Sighting, error) {
	if linearGrey.Depth() != pix.U16 || linearGrey.Channels() != 1 {
		return nil, hide.Faultf(hide.Invalid, "tags: want one channel of 16-bit linear light")
	}
	raw, err := searchTags(linearGrey, rig)
	if err != nil {
		return nil, err
	}
	var single []rawTag
	for i, t := range raw {
		if (i == 0 || raw[i-1].id != t.id) && (i+1 == len(raw) || raw[i+1].id != t.id) {
			single = append(single, t)
		}
	}
	return refined(linearGrey, single), nil
}

// refined fits the corners of all tags, side by side; one that cannot be fitted is
// left out.
func refined(linearGrey *pix.Image, raw []rawTag) []Sighting {
	all, ok := make([]Sighting, len(raw)), make([]bool, len(raw))
	var cores errgroup.Group
	cores.SetLimit(runtime.GOMAXPROCS(0))
	for i, t := range raw {
		cores.Go(func() error {
			all[i], ok[i] = refineTag(linearGrey, t)
			return nil
		})
	}
	_ = cores.Wait() // no task fails
	seen := make([]Sighting, 0, len(raw))
	for i, s := range all {
		if ok[i] {
			seen = append(seen, s)
		}
	}
	return seen
}

// searchTags looks in ever larger pictures until half the rig's tags, or six,
// are found.
func searchTags(linear *pix.Image, rig Rig) ([]rawTag, error) {
	const plenty = 6 // enough for a sure pose; more come with them as a rule
	var best []rawTag
	known := -1
	full := max(linear.Width(), linear.Height())
	for side := searchSide; ; side *= 2 {
		found, err := searchAt(linear, min(1, float64(side)/float64(full)))
		if err != nil {
			return nil, err
		}
		n := 0
		for _, t := range found {
			if _, ok := rig.Centres[t.id]; ok {
				n++
			}
		}
		if n > known {
			best, known = found, n
		}
		if side >= full || n >= min(plenty, (len(rig.Centres)+1)/2) {
			return best, nil
		}
	}
}

// searchAt runs the library on a copy scaled by the given factor, coded for
// the eye so that dark tags keep their grey levels.
func searchAt(linear *pix.Image, scale float64) ([]rawTag, error) {
	sc := pix.NewScope()
	defer sc.Close()
	small := linear
	if scale < 1 {
		w, h := math.Round(float64(linear.Width())*scale), math.Round(float64(linear.Height())*scale)
		resized, err := pix.Resize(linear, max(1, int(w)), max(1, int(h)))
		if err != nil {
			return nil, err
		}
		small = sc.Keep(resized)
	}
	coded, err := pix.EightBit(small)
	if err != nil {
		return nil, err
	}
	found, err := detectTags(sc.Keep(coded))
	if err != nil {
		return nil, err
	}
	sx, sy := float64(linear.Width())/float64(small.Width()), float64(linear.Height())/float64(small.Height())
	for i := range found {
		for k, c := range found[i].corners {
			found[i].corners[k] = [2]float64{(c[0]+0.5)*sx - 0.5, (c[1]+0.5)*sy - 0.5}
		}
	}
	return found, nil
}

// refineTag fits the four edges and meets them. ok is false when no corner is
// good.
func refineTag(linear *pix.Image, t rawTag) (Sighting, bool) {
	s := Sighting{ID: t.id}
	corners := t.corners
	var edges [4]edgeFit
	// twice: the first round centres the bands on the true edges
	for range 2 {
		for k := range edges {
			edges[k] = fitEdge(linear, corners, k)
		}
		disagreeingEdges(&edges)
		for k := range corners {
			if a, b := edges[(k+3)%4], edges[k]; a.good && b.good {
				corners[k] = meet(a, b)
			}
		}
	}
	useful, n, most := false, 0.0, hide.PX(0)
	for k := range corners {
		a, b := edges[(k+3)%4], edges[k]
		s.Corners[k] = pix.Point{X: hide.PX(corners[k][0]), Y: hide.PX(corners[k][1])}
		s.Good[k] = a.good && b.good
		s.SD[k] = hide.PX(math.Sqrt((a.endVar + b.endVar) / 2))
		useful = useful || s.Good[k]
		if b.good {
			s.Blur += hide.PX(b.blur)
			s.Smear = max(s.Smear, min(most, hide.PX(b.blur)))
			most = max(most, hide.PX(b.blur))
			s.Dark += b.dark / full16
			s.Light += b.light / full16
			n++
		}
	}
	if n > 0 {
		s.Blur, s.Dark, s.Light = s.Blur/hide.PX(n), s.Dark/n, s.Light/n
	}
	return s, useful
}

// levelRange is how far the step from ink to paper may differ between the edges
// of one tag: light falls off by a few percent over a tag, while leather that
// lies over an edge has another brightness than the paper nearly always.
const levelRange = 0.35

// disagreeingEdges drops edges whose step differs from two of the others.
func disagreeingEdges(edges *[4]edgeFit) {
	var drop [4]bool
	for k, e := range edges {
		alike := 0
		for j, other := range edges {
			step := other.light - other.dark
			if j != k && other.good && math.Abs(e.light-e.dark-step) <= levelRange*step {
				alike++
			}
		}
		drop[k] = alike < 2
	}
	for k := range edges {
		edges[k].good = edges[k].good && !drop[k]
	}
}

const full16 = 65535 // white in linear light
