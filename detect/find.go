package detect

import (
	"context"
	"image"
	"maps"
	"math"
	"slices"

	"golang.org/x/sync/errgroup"

	"hidechart/hide"
	"hidechart/pix"
)

// OutlineParams are the settings of finding the hide and its edge.
type OutlineParams struct {
	BorderShare  float64  // of the table's shorter side, first taken as bare; 0.04: hides are spread clear of the edges
	TagMargin    hide.MM  // kept off each tag sheet, for its blur and its shadow
	MinArea      hide.MM2 // the smallest hide: 1 dm², the least error the law allows a leather machine
	SecondShare  float64  // a second part this large against the first is a second hide, not a scrap
	EdgeBand     hide.MM  // how far the coarse edge may be off
	LevelWindow  hide.MM  // deviation of the window for the leather's and table's level beside the edge
	LevelSetback hide.MM  // levels are read this far off the edge, clear of its blur and shadow
	MinHole      hide.MM2 // holes under this are left to the flaws: about 2.5 mm across
	MinContrast  float64  // relative difference of leather and table under which top does not place the edge
	Simplify     hide.MM  // the outline follows its trace this closely
}

// DefaultOutlineParams returns the settings used unless told otherwise.
func DefaultOutlineParams() OutlineParams {
	return OutlineParams{BorderShare: 0.04, TagMargin: 6, MinArea: hide.FromDM2(1), SecondShare: 0.15,
		EdgeBand: 8, LevelWindow: 14, LevelSetback: 4, MinHole: 5, MinContrast: 0.12, Simplify: 0.1}
}

// Validate lists every setting out of range.
func (p OutlineParams) Validate() error {
	return checks{
		{p.BorderShare > 0 && p.BorderShare < 0.3, "border share must lie between 0 and 0.3"},
		{p.TagMargin >= 0, "tag margin must not be negative"},
		{p.MinArea > 0, "smallest hide must be positive"},
		{p.SecondShare > 0 && p.SecondShare <= 1, "second share must lie between 0 and 1"},
		{p.EdgeBand > 0 && p.LevelWindow > 0 && p.LevelSetback > 0, "edge band, level window and setback must be positive"},
		{p.MinHole > 0, "smallest hole must be positive"},
		{p.MinContrast >= 0 && p.MinContrast < 1, "least contrast must lie between 0 and 1"},
		{p.Simplify > 0, "simplify tolerance must be positive"},
	}.err("outline settings")
}

// OutlineInput is what finding the hide needs.
type OutlineInput struct {
	Coarse   Photos         // the whole table at about 2 mm per pixel: top, and back and empty if there are any
	Tags     []hide.Polygon // the tag sheets
	SeenTags []bool         // which of them top shows whole: nothing lies on those
	Seen     hide.Ring      // the photograph's border on the table; nil: all of the table was seen
}

// Found is the hide on the coarse grid. The caller closes nothing.
type Found struct {
	Outline hide.Ring // the coarse outline, true to about the coarse pixel
	Flags   []hide.Flag
	grid    pix.Grid
	leather []bool // holes filled
	solid   []bool // leather without what was filled: the table shows in a hole
	tags    []bool // under a tag sheet or its margin
	unseen  []bool // beyond the photograph's border
	covered []bool // under a tag sheet that top shows whole
	byBack  bool   // back light alone parted hide and table: glare does not show in it
	softly  bool   // single pixels did not part hide and table, means did
	table   map[hide.Light]tableModel
	logs    map[hide.Light][]field
	near    []uint8 // places of coarse pixels against the coarse edge, once it is refined
}

// Find decides where on the table the hide lies. Leather is what is not table:
// per channel the table's light is known from the empty photograph or fitted to
// the border, and a pixel more than a few robust spreads from it is leather.
// Back light decides alone where it parts the two clearly. Errors are
// NotMeasurable: no hide, two hides, or a hide cut off by the frame.
func Find(ctx context.Context, in OutlineInput, p OutlineParams) (*Found, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	if err := in.Coarse.check(); err != nil {
		return nil, err
	}
	f := &Found{grid: in.Coarse.Grid, table: map[hide.Light]tableModel{}, logs: map[hide.Light][]field{}}
	f.markTags(in, p)
	f.markUnseen(in.Seen)
	for _, l := range []hide.Light{hide.Top, hide.Back} {
		if im, ok := in.Coarse.Lights[l]; ok {
			f.logs[l] = logChannels(im)
		}
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return f, f.part(in, p)
}

func (f *Found) markTags(in OutlineInput, p OutlineParams) {
	f.tags = make([]bool, f.grid.Width*f.grid.Height)
	f.covered = make([]bool, len(f.tags))
	for i, t := range in.Tags {
		box := f.grid.Around(t.Outer, p.TagMargin)
		left, top := int(math.Round(float64((box.Left-f.grid.Left)/f.grid.MMPerPX))), int(math.Round(float64((f.grid.Top-box.Top)/f.grid.MMPerPX)))
		for y := top; y < top+box.Height; y++ {
			for x := left; x < left+box.Width; x++ {
				f.tags[y*f.grid.Width+x] = true
				f.covered[y*f.grid.Width+x] = i < len(in.SeenTags) && in.SeenTags[i]
			}
		}
	}
}

// markUnseen marks what the photograph does not show, and leaves it out of the
// table's model as the tag sheets are.
func (f *Found) markUnseen(seen hide.Ring) {
	f.unseen = make([]bool, len(f.tags))
	if seen == nil {
		return
	}
	shown := filled(seen, f.grid)
	for i := range f.unseen {
		f.unseen[i] = !shown[i]
		f.tags[i] = f.tags[i] || f.unseen[i]
	}
}

// border is true on the strip along the table's edges that is first taken as
// bare.
func (f *Found) border(p OutlineParams) []bool {
	w, h := f.grid.Width, f.grid.Height
	strip := int(p.BorderShare * float64(min(w, h)))
	out := make([]bool, w*h)
	for i := range out {
		x, y := i%w, i/w
		out[i] = min(x, y, w-1-x, h-1-y) < strip && !f.tags[i]
	}
	return out
}

// emptySmoothing of the empty photograph: wide enough to bridge a tag sheet.
const emptySmoothing = 25 // mm

// notTable is the least distance from the table, in robust spreads, at which a
// pixel is first taken as leather; 6 leaves a table's own dirt behind.
const notTable = 6

// view is what hide and table are parted in.
type view struct {
	logs  map[hide.Light][]field
	empty []field // of the empty photograph, smoothed over the tags; nil: there is none
	floor float64 // the table's spread is this at least
}

// part tells the hide from the table pixel by pixel, or where noise hides some of it by what surrounds
// each pixel.
func (f *Found) part(in OutlineInput, p OutlineParams) error {
	plain := view{logs: f.logs, floor: spreadFloor}
	var err error
	if plain.empty, err = f.smoothEmpty(in); err != nil {
		return err
	}
	clear, err := f.separateBy(plain, f.decide, p)
	if err != nil {
		return err
	}
	refused, plainly := f.keepHide(p), clear >= clearTop && !f.noisy()
	switch {
	case refused != nil && f.byBack:
		return refused
	case refused == nil:
		if refused = f.checkFrame(); f.byBack || plainly {
			return refused
		}
	}
	return f.partSoftly(plain, refused, clear < clearTop, p)
}

// separateBy fits the table under top and back, marks what is leather, and fits
// the table once more on all that is not. It returns how clear the last cut was.
func (f *Found) separateBy(v view, decide decision, p OutlineParams) (clear float64, err error) {
	bare := f.border(p)
	for range 3 {
		distance, err := f.distances(v, bare)
		if err != nil {
			return 0, err
		}
		if f.leather, clear, err = decide(distance); err != nil {
			return 0, err
		}
		if bare, err = f.bareBeside(p); err != nil {
			return 0, err
		}
	}
	return clear, nil
}

// bareBeside is the table clear of the leather and of the tag sheets.
func (f *Found) bareBeside(p OutlineParams) ([]bool, error) {
	bare, err := grow(f.leather, f.grid, p.EdgeBand)
	if err != nil {
		return nil, err
	}
	for i := range bare {
		bare[i] = !bare[i] && !f.tags[i]
	}
	return bare, nil
}

// distances fits the table under each light, side by side, and measures how far
// from it every pixel is.
func (f *Found) distances(v view, bare []bool) (map[hide.Light]field, error) {
	lights := slices.Sorted(maps.Keys(v.logs))
	models, fields := make([]tableModel, len(lights)), make([]field, len(lights))
	var group errgroup.Group
	for k, l := range lights {
		group.Go(func() (err error) {
			if models[k], err = v.model(l, bare); err == nil {
				fields[k] = models[k].distance(v.logs[l])
			}
			return err
		})
	}
	if err := group.Wait(); err != nil {
		return nil, err
	}
	out := map[hide.Light]field{}
	for k, l := range lights {
		f.table[l], out[l] = models[k], fields[k]
	}
	return out, nil
}

// model of the bare table under a light.
func (v view) model(l hide.Light, bare []bool) (tableModel, error) {
	if l == hide.Top && v.empty != nil {
		return fromEmpty(v.empty, v.logs[l], bare, v.floor)
	}
	return polynomials(v.logs[l], bare, v.floor)
}

// smoothEmpty is the empty photograph smoothed over the tags; nil if there is none.
func (f *Found) smoothEmpty(in OutlineInput) ([]field, error) {
	im, ok := in.Coarse.Lights[hide.Empty]
	if !ok {
		return nil, nil
	}
	return f.smoothed(logChannels(im), emptySmoothing)
}

// smoothed are means over what the tags do not cover, in a window of that deviation.
func (f *Found) smoothed(log []field, deviation hide.MM) (out []field, err error) {
	shown := make([]bool, len(f.tags))
	for i := range shown {
		shown[i] = !f.tags[i]
	}
	out = make([]field, len(log))
	for c := range log {
		if out[c], err = log[c].smoothMean(shown, hide.PX(deviation/f.grid.MMPerPX)); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// decision marks what is leather, and says how clearly it was told.
type decision func(distance map[hide.Light]field) (leather []bool, clear float64, err error)

// clearBack is the ratio of median distances, leather over threshold, from
// which back light is trusted alone: it neither sees shadows nor colours.
const clearBack = 4

func (f *Found) decide(distance map[hide.Light]field) (leather []bool, clear float64, err error) {
	if d, ok := distance[hide.Back]; ok {
		leather, clear = cut(d, f.tags)
		if f.byBack = clear >= clearBack; f.byBack {
			return leather, clear, nil
		}
	}
	leather, clear = cut(distance[hide.Top], f.tags)
	return leather, clear, nil
}

// cutEvery thins the pixels that the cut is chosen from; a prime, so that all
// columns are visited.
const cutEvery = 37

// cut marks what is farther from the table than the geometric mean of the
// table's upper range and the leather's median; it also returns the leather's
// median over that limit.
func cut(d field, tags []bool) ([]bool, float64) {
	var table, leather []float64
	for i := 0; i < len(d.v); i += cutEvery {
		switch v := float64(d.v[i]); {
		case tags[i]:
		case v < notTable:
			table = append(table, v)
		default:
			leather = append(leather, v)
		}
	}
	limit, clear := float64(notTable), 0.0
	if len(leather) > 0 && len(table) > 0 {
		far := median(leather)
		limit = math.Max(notTable/2, math.Sqrt(math.Max(quantile(table, 0.99), 1)*far))
		limit = math.Min(limit, notTable*2)
		clear = far / limit
	}
	return beyond(d, limit, tags), clear
}

// beyond marks what is farther from the table than limit.
func beyond(d field, limit float64, tags []bool) []bool {
	mask := make([]bool, len(d.v))
	for i, v := range d.v {
		mask[i] = float64(v) > limit && !tags[i]
	}
	return mask
}

func maskImage(in []bool, g pix.Grid) *pix.Image {
	im := pix.New(g.Width, g.Height, pix.U8, 1)
	b := im.Bytes()
	for i, ok := range in {
		if ok {
			b[i] = 255
		}
	}
	return im
}

func maskOf(im *pix.Image) []bool {
	out := make([]bool, im.Width()*im.Height())
	for i, v := range im.Bytes() {
		out[i] = v != 0
	}
	return out
}

type morphology func(*pix.Image, hide.PX) (*pix.Image, error)

func applied(in []bool, g pix.Grid, radius hide.MM, op morphology) ([]bool, error) {
	im := maskImage(in, g)
	defer im.Close()
	out, err := op(im, hide.PX(radius/g.MMPerPX))
	if err != nil {
		return nil, err
	}
	defer out.Close()
	return maskOf(out), nil
}

func grow(in []bool, g pix.Grid, radius hide.MM) ([]bool, error) {
	return applied(in, g, radius, pix.Dilate)
}

func shrink(in []bool, g pix.Grid, radius hide.MM) ([]bool, error) {
	return applied(in, g, radius, pix.Erode)
}

// keepHide drops specks, keeps the largest part, fills what it encloses and
// bridges the tag sheets.
func (f *Found) keepHide(p OutlineParams) error {
	if err := f.joinOverGlare(); err != nil {
		return err
	}
	// tag sheets beside leather join it for now; bridge decides them
	opened, err := applied(f.leather, f.grid, 2*f.grid.MMPerPX, pix.Open)
	if err != nil {
		return err
	}
	im := maskImage(opened, f.grid)
	defer im.Close()
	labels, parts, err := pix.Parts(im)
	if err != nil {
		return err
	}
	defer labels.Close()
	first, second := largest(parts)
	pixel := hide.MM2(f.grid.MMPerPX * f.grid.MMPerPX)
	if first == nil || hide.MM2(first.Pixels)*pixel < p.MinArea {
		return hide.Faultf(hide.NotMeasurable, "no hide found on the table: is one spread, and does its colour differ from the table's?")
	}
	if second != nil && float64(second.Pixels) > p.SecondShare*float64(first.Pixels) {
		at := f.grid.ToTable(second.Centre)
		return hide.Faultf(hide.NotMeasurable, "two hides on the table: a second one of %.1f dm² near (%.0f, %.0f) mm; photograph one at a time",
			(hide.MM2(second.Pixels) * pixel).DM2(), at.X, at.Y)
	}
	if others := sumPixels(parts) - first.Pixels; float64(others) > p.SecondShare*float64(first.Pixels) {
		return hide.Faultf(hide.NotMeasurable, "the hide cannot be told from the table: what stands out falls into pieces of %.1f dm² and %.1f dm² in all; "+
			"use a table that is clearly lighter or darker, or light it from behind",
			(hide.MM2(first.Pixels) * pixel).DM2(), (hide.MM2(others) * pixel).DM2())
	}
	for i, l := range labels.Int32s() {
		f.leather[i] = l == first.Label
	}
	if err := f.bridge(); err != nil {
		return err
	}
	f.solid = slices.Clone(f.leather)
	if err := f.fill(); err != nil || second == nil || hide.MM2(second.Pixels)*pixel <= p.MinArea/4 {
		return err
	}
	return f.judgeScrap(labels.Int32s(), first.Label, second)
}

func sumPixels(parts []pix.Part) int {
	sum := 0
	for _, p := range parts {
		sum += p.Pixels
	}
	return sum
}

func largest(parts []pix.Part) (first, second *pix.Part) {
	for i := range parts {
		switch p := &parts[i]; {
		case first == nil || p.Pixels > first.Pixels:
			first, second = p, first
		case second == nil || p.Pixels > second.Pixels:
			second = p
		}
	}
	return first, second
}

// bridgeSteps of relaxation over a tag sheet some 60 coarse pixels wide.
const bridgeSteps = 2000

// bridge decides the pixels under tag sheets: the leather mask is continued
// into them as a harmonic function of its values around (1 leather, 0 table)
// and cut at a half, which joins the outline's ends by a smooth line.
func (f *Found) bridge() error {
	value := make([]float32, len(f.leather))
	var under []int
	w, h := f.grid.Width, f.grid.Height
	for i := range value {
		if f.leather[i] {
			value[i] = 1
		}
		x, y := i%w, i/w
		if f.tags[i] && !f.unseen[i] && x > 0 && y > 0 && x < w-1 && y < h-1 {
			under = append(under, i)
		}
	}
	for range bridgeSteps {
		var moved float32
		for _, i := range under {
			v := (value[i-1] + value[i+1] + value[i-w] + value[i+w]) / 4
			// over-relaxed Gauss-Seidel; 1.9 is near the best for 60 x 60 cells
			d := 1.9 * (v - value[i])
			value[i] += d
			moved = max(moved, d, -d)
		}
		if moved < 1e-4 {
			break
		}
	}
	for _, i := range under {
		f.leather[i] = value[i] >= 0.5
	}
	return f.overTags(value, under)
}

// fill makes everything enclosed by leather leather: holes are found again on
// the fine grid.
func (f *Found) fill() error {
	outside := make([]bool, len(f.leather))
	for i := range outside {
		outside[i] = !f.leather[i]
	}
	im := maskImage(outside, f.grid)
	defer im.Close()
	labels, parts, err := pix.Parts(im)
	if err != nil {
		return err
	}
	defer labels.Close()
	open := map[int32]bool{}
	for _, p := range parts {
		open[p.Label] = touches(p.Box, f.grid)
	}
	for i, l := range labels.Int32s() {
		f.leather[i] = !open[l]
	}
	return nil
}

func touches(box image.Rectangle, g pix.Grid) bool {
	return box.Min.X <= 0 || box.Min.Y <= 0 || box.Max.X >= g.Width || box.Max.Y >= g.Height
}

// checkFrame refuses a hide that reaches the table's edge or the photograph's.
func (f *Found) checkFrame() error {
	im := maskImage(f.leather, f.grid)
	defer im.Close()
	labels, parts, err := pix.Parts(im)
	if err != nil {
		return err
	}
	labels.Close()
	first, _ := largest(parts)
	if first == nil {
		return hide.Faultf(hide.NotMeasurable, "no hide found on the table")
	}
	if touches(first.Box, f.grid) {
		return hide.Faultf(hide.NotMeasurable, "the hide reaches over the table's edge: spread it so that bare table shows all round")
	}
	if f.Outline, err = f.coarseRing(); err != nil {
		return err
	}
	near, err := grow(f.unseen, f.grid, 3*f.grid.MMPerPX)
	if err != nil {
		return err
	}
	for i, cutOff := range near {
		if cutOff && f.leather[i] {
			at := f.grid.ToTable(pix.Point{X: hide.PX(i % f.grid.Width), Y: hide.PX(i / f.grid.Width)})
			return hide.Faultf(hide.NotMeasurable, "the hide is cut off by the photograph's frame near (%.0f, %.0f) mm: step back or move the hide", at.X, at.Y)
		}
	}
	return nil
}

// coarseRing traces the mask's outer boundary.
func (f *Found) coarseRing() (hide.Ring, error) {
	v := newField(f.grid.Width, f.grid.Height)
	for i, in := range f.leather {
		v.v[i] = -1
		if in {
			v.v[i] = 1
		}
	}
	curves, err := pix.IsolinesIn(v.v, v.w)
	if err != nil {
		return nil, err
	}
	return largestRing(curves, f.grid), nil
}

func largestRing(curves [][]pix.Point, g pix.Grid) hide.Ring {
	var best hide.Ring
	var area hide.MM2
	for _, c := range curves {
		r := tableRing(c, g)
		if a := r.SignedArea(); a > area {
			best, area = r, a
		}
	}
	return best
}

func tableRing(c []pix.Point, g pix.Grid) hide.Ring {
	r := make(hide.Ring, len(c))
	for i, p := range c {
		r[i] = g.ToTable(p)
	}
	return r
}
