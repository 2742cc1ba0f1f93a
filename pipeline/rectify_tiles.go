package pipeline

import (
	"context"
	"image"
	"path/filepath"
	"slices"

	"hidechart/calibrate"
	"hidechart/hide"
	"hidechart/pix"
)

// solveTiles finds the tags in every photograph under top light and poses them
// together. The photographs are let go of: four of them do not fit into memory
// beside the rasters as one does.
func (r *rectifier) solveTiles(at []int) error {
	tiles := make([]calibrate.Tile, len(at))
	for k, i := range at {
		lin, err := r.openFile(i)
		if err != nil {
			return err
		}
		tiles[k].Size = image.Pt(lin.Width(), lin.Height())
		tiles[k].Seen, err = tagsIn(lin, r.in.rig)
		lin.Close()
		if err != nil {
			return err
		}
		r.seen = append(r.seen, tiles[k].Seen...)
		r.tileSeen = append(r.tileSeen, tiles[k].Seen)
	}
	views, fit, err := calibrate.SolveTiles(r.in.rig, tiles, r.in.lens, r.params.Calibrate, func(k int) string {
		return r.in.capture.Photos[at[k]].name()
	})
	if err != nil {
		return err
	}
	r.mosaic, r.fit = views, fit
	r.view = r.mosaic[r.middle()]
	for i := range r.fit.Tags {
		r.fit.Tags[i].Light = hide.Top
	}
	r.views[hide.Top] = r.view
	r.flags = append(r.flags, r.fit.Flags...)
	r.frame, err = r.mosaic.Frame(r.height, r.in.rig.Table())
	return err
}

// middle is the photograph that shows most of the table's middle; it stands for
// all where one scale is asked for.
func (r *rectifier) middle() int {
	rig := r.in.rig
	shares := r.mosaic.Shares(hide.Point{X: rig.Width / 2, Y: rig.Height / 2}, r.height)
	best := 0
	for i, s := range shares {
		if s > shares[best] {
			best = i
		}
	}
	return best
}

// seenRing is the border of what top shows of the table.
func (r *rectifier) seenRing() hide.Ring {
	if r.mosaic == nil {
		return r.view.Frame(r.height).Outer
	}
	ring := slices.Clone(r.frame.Outer)
	for _, h := range r.frame.Holes { // there and back by the same way: even-odd filling leaves the hole out
		ring = append(append(append(ring, h...), h[0]), r.frame.Outer[0])
	}
	return ring
}

// decode opens the i-th photograph of the capture and makes it linear.
func (r *rectifier) decode(i int) (*pix.Exposure, error) {
	file := r.in.capture.Photos[i]
	data, err := readHashed(file.Path, r.in.images[i].SHA256)
	if err != nil {
		return nil, err
	}
	name := filepath.Base(file.Path)
	im, err := pix.Decode(data, pix.Limits{MaxPixels: r.params.MaxPixels})
	if err != nil {
		return nil, hide.Wrapf(kindOf(err, hide.Unreadable), err, "%s", name)
	}
	lin, err := pix.NewExposure(im)
	if err != nil {
		return nil, hide.Wrapf(kindOf(err, hide.Unreadable), err, "%s", name)
	}
	return lin, nil
}

// merge warps the photographs of a light that is there in tiles onto a grid,
// evens out their exposure and merges them. The caller closes the picture.
func (r *rectifier) merge(ctx context.Context, l hide.Light, g pix.Grid) (*pix.Image, error) {
	at := r.in.tiles(l)
	var pictures []*pix.Exposure
	defer func() {
		for _, im := range pictures {
			im.Close()
		}
	}()
	views := make(calibrate.Mosaic, len(at))
	for k, i := range at {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		lin, err := r.openFile(i)
		if err != nil {
			return nil, err
		}
		pictures = append(pictures, lin)
		if lin.Channels() != pictures[0].Channels() {
			return nil, hide.Faultf(hide.Invalid, "%s and %s differ in their colour channels: save all alike", r.in.capture.Photos[at[0]].name(), r.in.capture.Photos[i].name())
		}
		if views[k], err = r.tileView(l, k, i, lin); err != nil {
			return nil, err
		}
	}
	rig := r.in.rig
	light := r.balance[l]
	if light == nil {
		light = views.Even(pictures, pix.TableGrid(rig.Width, rig.Height, r.params.CoarseMMPerPX), r.height)
		r.balance[l] = light
	}
	out := pix.New(g.Width, g.Height, pix.U16, pictures[0].Channels())
	for k := range pictures {
		if err := views.Warp(out, k, pictures[k], g, r.height, light); err != nil {
			out.Close()
			return nil, hide.Wrapf(kindOf(err, hide.Internal), err, "%s", r.in.capture.Photos[at[k]].name())
		}
	}
	return out, nil
}

// tileView is the view of a light's k-th tile, the i-th photograph: top's own,
// the same where the camera stood still between the lights, else solved anew.
func (r *rectifier) tileView(l hide.Light, k, i int, lin *pix.Exposure) (calibrate.View, error) {
	if l == hide.Top {
		return r.mosaic[k], nil
	}
	if v, ok := r.tileViews[i]; ok {
		return v, nil
	}
	if k < len(r.mosaic) && lin.Width() == r.mosaic[k].Camera.Width && lin.Height() == r.mosaic[k].Camera.Height && stoodStill(lin, r.tileSeen[k]) {
		return r.mosaic[k], nil
	}
	seen, err := tagsIn(lin, r.in.rig)
	if err != nil {
		return r.view, err
	}
	name := r.in.capture.Photos[i].name()
	v, err := r.stillOrSolved(k, seen, image.Pt(lin.Width(), lin.Height()), name)
	r.tileViews[i] = v
	return v, err
}

// noTile stands for a photograph that shows more than one of top's.
const noTile = -1

// stillOrSolved is top's view of tile k when the camera has not moved since, else
// one of the photograph's own, with top's lens when it is of the same size.
func (r *rectifier) stillOrSolved(k int, seen []calibrate.Sighting, size image.Point, name string) (calibrate.View, error) {
	if k >= 0 && k < len(r.mosaic) && size == image.Pt(r.mosaic[k].Camera.Width, r.mosaic[k].Camera.Height) {
		moved, shared := shift(r.tileSeen[k], seen)
		if shared >= leastShared && moved <= still {
			return r.mosaic[k], nil
		}
		if shared < leastShared && len(seen) < leastShared {
			r.flags = append(r.flags, hide.Flag{Code: "camera_unchecked", Value: float64(shared), Unit: "tags",
				Text: "too few tags to be seen in " + name + " to tell whether the camera moved; taken as not moved since top"})
			return r.mosaic[k], nil
		}
	}
	var lens *calibrate.Lens
	if c := r.view.Camera; size == image.Pt(c.Width, c.Height) {
		lens = &calibrate.Lens{Camera: c}
	}
	v, _, err := calibrate.Solve(r.in.rig, size, seen, lens, r.params.Calibrate)
	if err != nil {
		return r.view, hide.Wrapf(kindOf(err, hide.NotMeasurable), err, "%s, which top does not show from the same place", name)
	}
	return v, nil
}
