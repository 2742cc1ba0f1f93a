package pipeline

import (
	"context"
	"fmt"
	"image"
	"math"
	"slices"
	"sort"

	"hidechart/calibrate"
	"hidechart/hide"
	"hidechart/pix"
)

// rectifier brings one capture's photographs to the table. It holds no more
// than the photographs needed twice, top and back, and those opened ahead.
type rectifier struct {
	in     inputs
	params Params
	height hide.MM // of the grain side above the tag plane
	view   calibrate.View
	fit    calibrate.Fit
	seen   []calibrate.Sighting // under top light
	whites []whitePatch         // the tags' paper there
	flags  []hide.Flag
	held   map[hide.Light]*pix.Exposure
	views  map[hide.Light]calibrate.View
	order  []int            // in which photographs are opened ahead; nil: none is
	ahead  map[int]*opening // by their place in inputs

	// where top is there in several photographs
	mosaic    calibrate.Mosaic
	frame     hide.Polygon // what they show of the table
	tileSeen  [][]calibrate.Sighting
	tileViews map[int]calibrate.View // of other lights' tiles, by their place in inputs
	balance   map[hide.Light]*calibrate.Balance
}

func newRectifier(in inputs, p Params, height hide.MM) *rectifier {
	return &rectifier{in: in, params: p, height: height, held: map[hide.Light]*pix.Exposure{}, views: map[hide.Light]calibrate.View{}, ahead: map[int]*opening{},
		tileViews: map[int]calibrate.View{}, balance: map[hide.Light]*calibrate.Balance{}}
}

// Close frees the photographs held.
func (r *rectifier) Close() {
	r.leaveAhead()
	for _, im := range r.held {
		im.Close()
	}
}

// open decodes a light and makes it linear. The caller closes the picture.
func (r *rectifier) open(l hide.Light) (*pix.Exposure, error) {
	return r.openFile(r.place(l))
}

// place of a light's photograph in inputs; -1: there is none.
func (r *rectifier) place(l hide.Light) int {
	return slices.IndexFunc(r.in.images, func(f hide.ImageFact) bool { return f.Light == l })
}

// solveTop finds the tags under top light and the camera from them.
func (r *rectifier) solveTop() error {
	if at := r.in.tiles(hide.Top); at != nil {
		return r.solveTiles(at)
	}
	lin, err := r.open(hide.Top)
	if err != nil {
		return err
	}
	r.held[hide.Top] = lin
	if r.seen, err = tagsIn(lin, r.in.rig); err != nil {
		return err
	}
	r.view, r.fit, err = calibrate.Solve(r.in.rig, image.Pt(lin.Width(), lin.Height()), r.seen, r.in.lens, r.params.Calibrate)
	if err != nil && overexposed(r.seen) {
		return hide.Wrapf(kindOf(err, hide.NotMeasurable), err, "overexposed: the tags' white is cut off at full light, expose shorter")
	}
	if err != nil {
		return err
	}
	for i := range r.fit.Tags {
		r.fit.Tags[i].Light = hide.Top
	}
	r.views[hide.Top] = r.view
	r.whites = whitesIn(lin, r.seen, r.in.rig)
	r.flags = append(r.flags, r.fit.Flags...)
	return nil
}

func tagsIn(lin *pix.Exposure, rig calibrate.Rig) ([]calibrate.Sighting, error) {
	grey := lin.Grey()
	defer grey.Close()
	return calibrate.FindTags(grey, rig)
}

// still is how far a tag's corner may have moved between two photographs for
// the camera to count as not moved, pixels: ten times the corners' noise
// averaged over four tags, and too little to blur a defect.
const still = 0.3

// leastShared tags must be seen in both photographs to tell.
const leastShared = 3

// viewFor gives the camera of another light. A camera on a stand sees the tags
// where top saw them, and then top's view serves all lights, which keeps them
// on each other to a hundredth of a pixel; one that moved is solved anew with
// top's lens. Where too few tags can be seen the camera is taken as not moved,
// with a flag.
func (r *rectifier) viewFor(l hide.Light, lin *pix.Exposure) (calibrate.View, error) {
	if r.mosaic == nil && stoodStill(lin, r.seen) {
		return r.view, nil
	}
	seen, err := tagsIn(lin, r.in.rig)
	if err != nil {
		return r.view, err
	}
	if r.mosaic != nil {
		return r.stillOrSolved(noTile, seen, image.Pt(lin.Width(), lin.Height()), "light "+string(l))
	}
	moved, shared := shift(r.seen, seen)
	switch {
	case shared < leastShared:
		r.flags = append(r.flags, hide.Flag{Code: "camera_unchecked",
			Text: "too few tags to be seen under light " + string(l) + " to tell whether the camera moved; taken as not moved"})
		return r.view, nil
	case moved <= still:
		return r.view, nil
	}
	lens := calibrate.Lens{Camera: r.view.Camera}
	v, _, err := calibrate.Solve(r.in.rig, image.Pt(lin.Width(), lin.Height()), seen, &lens, r.params.Calibrate)
	if err != nil {
		return r.view, hide.Wrapf(kindOf(err, hide.NotMeasurable), err, "light %s, whose camera moved by %.1f px", l, moved)
	}
	mm := float64(r.onTable(seen))
	r.flags = append(r.flags, hide.Flag{Code: "light_moved", Value: mm, Unit: "mm",
		Text: fmt.Sprintf("camera or table moved by %.1f mm on the table (%.1f px) before light %s was taken; it was fitted by itself", mm, float64(moved), l)})
	return v, nil
}

// lookAgain is how many tags are looked at to see that the camera stood still,
// and stillTags how many of them must be where top shows them.
const lookAgain, stillTags = 6, 4

// stoodStill tells by a few tags at the places known from top that the camera
// has not moved. False says nothing: a full search must tell.
func stoodStill(lin *pix.Exposure, seen []calibrate.Sighting) bool {
	moved, shared := shift(seen, calibrate.TagsAgain(lin, seen, lookAgain))
	return shared >= stillTags && moved <= still
}

// shift is the median distance between the same corners in two photographs
// and the number of tags they share.
func shift(a, b []calibrate.Sighting) (hide.PX, int) {
	var all []float64
	shared := 0
	for _, s := range a {
		for _, t := range b {
			if s.ID != t.ID {
				continue
			}
			shared++
			for k := range s.Corners {
				all = append(all, math.Hypot(float64(s.Corners[k].X-t.Corners[k].X), float64(s.Corners[k].Y-t.Corners[k].Y)))
			}
		}
	}
	if shared == 0 {
		return 0, 0
	}
	sort.Float64s(all)
	return hide.PX(all[len(all)/2]), shared
}

// onTable is the median distance on the table between the same corners under top and
// in another photograph, both seen through top's view.
func (r *rectifier) onTable(seen []calibrate.Sighting) hide.MM {
	ground := func(list []calibrate.Sighting) []calibrate.Sighting {
		out := slices.Clone(list)
		for i := range out {
			for k, c := range out[i].Corners {
				p := r.view.Ground(c, 0)
				out[i].Corners[k] = pix.Point{X: hide.PX(p.X), Y: hide.PX(p.Y)}
			}
		}
		return out
	}
	mm, _ := shift(ground(r.seen), ground(seen))
	return hide.MM(mm)
}

// coarse warps top, back and empty to the coarse grid, all at the grain side's
// height so that the bare table of one lies on the bare table of the other.
// The caller closes the pictures.
func (r *rectifier) coarse(ctx context.Context, g pix.Grid) (map[hide.Light]*pix.Image, error) {
	out := map[hide.Light]*pix.Image{}
	for _, l := range []hide.Light{hide.Top, hide.Back, hide.Empty} {
		if _, _, ok := r.in.fact(l); !ok {
			continue
		}
		if err := r.into(ctx, out, l, g); err != nil {
			closeAll(out)
			return nil, err
		}
		if l == hide.Empty {
			r.drop(l) // not needed again
		}
	}
	return out, nil
}

// fine warps every light but empty to the fine grid and lets go of each
// photograph after it. The caller closes the pictures.
func (r *rectifier) fine(ctx context.Context, g pix.Grid, step func(string)) (map[hide.Light]*pix.Image, error) {
	out := map[hide.Light]*pix.Image{}
	for _, im := range r.in.images {
		if im.Light == hide.Empty || im.Tile > 1 {
			continue
		}
		step("light " + string(im.Light))
		if err := r.into(ctx, out, im.Light, g); err != nil {
			closeAll(out)
			return nil, err
		}
		r.drop(im.Light)
	}
	return out, nil
}

// into warps a light to a grid, opening it if it is not held.
func (r *rectifier) into(ctx context.Context, out map[hide.Light]*pix.Image, l hide.Light, g pix.Grid) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if r.in.tiles(l) != nil {
		im, err := r.merge(ctx, l, g)
		out[l] = im
		return err
	}
	if err := r.hold(l); err != nil {
		return err
	}
	im, err := r.views[l].WarpLight(r.held[l], g, r.height)
	if err != nil {
		return hide.Wrapf(kindOf(err, hide.Internal), err, "light %s", l)
	}
	out[l] = im
	return nil
}

// hold opens a light, checks that it has top's colours, and solves its view.
func (r *rectifier) hold(l hide.Light) error {
	if r.held[l] != nil {
		return nil
	}
	lin, err := r.open(l)
	if err != nil {
		return err
	}
	r.held[l] = lin
	if top := r.held[hide.Top]; top != nil && top.Channels() != lin.Channels() {
		return hide.Faultf(hide.Invalid, "light %s has %d colour channels but top has %d: save all lights alike", l, lin.Channels(), top.Channels())
	}
	r.views[l], err = r.viewFor(l, lin)
	return err
}

func (r *rectifier) drop(l hide.Light) {
	r.held[l].Close() // nil where it was merged
	delete(r.held, l)
}

func closeAll(pictures map[hide.Light]*pix.Image) {
	for _, im := range pictures {
		im.Close()
	}
}

// scale is the size of a photograph's pixel on the table, mm, at its middle.
func (r *rectifier) scale() hide.MM {
	c := r.view.Camera
	return r.view.Resolution(r.view.Ground(pix.Point{X: hide.PX(c.Width) / 2, Y: hide.PX(c.Height) / 2}, 0))
}

// finest raster, mm: the shared truth is drawn at it, and half of what a 24
// megapixel photograph of a 3 m table resolves.
const finest = 0.5

// finePerPixel raster pixels per photograph pixel keep all its detail after
// bilinear sampling; more only costs time.
const finePerPixel = 2

// fineScale chooses the raster: so many pixels per photograph pixel, in steps
// of 0.1 mm that keep the chart's figure readable, never finer than finest.
func (r *rectifier) fineScale() hide.MM {
	if r.params.MMPerPX > 0 {
		return r.params.MMPerPX
	}
	steps := math.Floor(float64(r.scale())/finePerPixel*10 + 1e-9)
	return max(finest, hide.MM(steps/10))
}
