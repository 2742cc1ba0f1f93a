package pipeline

import (
	"context"

	"hidechart/calibrate"
	"hidechart/hide"
	"hidechart/pix"
)

// Baseline is the least work that any measurement of a capture must do, for
// comparing with: each photograph decoded once and warped once to the chart's
// raster. The camera is solved beforehand and not timed.
//
// outline is that of the finished chart: the raster is the one it was measured
// on. Errors: as Run's, of one capture.
func Baseline(ctx context.Context, j Job, p Params, outline hide.Ring) (Cost, error) {
	c, err := OpenCapture(j.Dir)
	if err != nil {
		return Cost{}, err
	}
	in, err := readInputs(c, j.Rig, p)
	if err != nil {
		return Cost{}, err
	}
	r := newRectifier(in, p, p.Substance)
	defer r.Close()
	if err := r.solveTop(); err != nil {
		return Cost{}, err
	}
	r.drop(hide.Top)
	g := pix.TableGrid(in.rig.Width, in.rig.Height, r.fineScale()).Around(outline, p.Margin)
	watch := StartWatch()
	for i, im := range in.images {
		if err := ctx.Err(); err != nil {
			return Cost{}, err
		}
		if err := decodeAndWarp(c.Photos[i].Path, im.SHA256, r.view, g, p); err != nil {
			return Cost{}, err
		}
	}
	return watch.Read(), nil
}

func decodeAndWarp(path, sum string, v calibrate.View, g pix.Grid, p Params) error {
	data, err := readHashed(path, sum)
	if err != nil {
		return err
	}
	im, err := pix.Decode(data, pix.Limits{MaxPixels: p.MaxPixels})
	if err != nil {
		return err
	}
	defer im.Close()
	out, err := v.Warp(im, g, p.Substance, pix.Bilinear)
	if err != nil {
		return err
	}
	out.Close()
	return nil
}
