package pipeline

import (
	"context"
	"slices"
	"sync"

	"golang.org/x/sync/errgroup"

	"hidechart/calibrate"
	"hidechart/detect"
	"hidechart/export"
	"hidechart/hide"
	"hidechart/pix"
	"hidechart/plane"
)

// measured is what the stages found of one capture.
type measured struct {
	in         inputs
	params     Params
	view       calibrate.View
	fit        calibrate.Fit
	mmPerPX    hide.MM
	substance  hide.MM
	stated     bool    // the substance, by capture.yaml
	height     hide.MM // of the grain side above the tag plane
	outline    detect.Outline
	contrast   float64 // 1 − leather/table beside the edge under top light
	frame      plane.HideFrame
	zones      []hide.ZoneShape
	defects    []hide.Defect
	candidates []detect.Candidate // all that stood out, flaw or not
	flags      []hide.Flag
	pixelMM    hide.MM         // size of a photograph's pixel on the table
	seen       hide.Ring       // the border of what was photographed, on the plane of the grain side
	blurMM     hide.MM         // standard deviation of the photograph's blur on the table, read at the tags
	flat       *calibrate.Flat // what turns light into reflectance, at least evenly; nil: not known
	photo      export.Photo    // top light, for the picture
	lights     lightPictures   // for a review
}

// Close frees the pictures.
func (m *measured) Close() {
	m.photo.Image.Close()
	m.flat.Close()
}

// measure runs the stages over one capture. pictures: those beside the chart will be wanted.
// step is told what comes next. Errors: of the stages, or the context's.
func measure(ctx context.Context, in inputs, p Params, pictures bool, step func(string)) (m measured, err error) {
	defer func() {
		if err != nil {
			m.Close()
		}
	}()
	detect.ReadSorting()
	step("tags")
	r, m, err := begin(in, p, true)
	if err != nil {
		return m, err
	}
	defer r.Close()
	found, fine, err := m.rectified(ctx, r, step)
	if err != nil {
		return m, err
	}
	defer fine.Close()
	var group errgroup.Group
	var photo export.Photo
	var lights lightPictures
	group.Go(func() (err error) { // on one core, beside the search, which uses all
		if !pictures {
			return nil
		}
		if photo, err = picture(fine, m.flat, in.rig.Height); err != nil {
			return err
		}
		lights, err = encodeLights(ctx, in.capture.ID, fine)
		return err
	})
	err = m.chart(ctx, found, fine, step)
	if coding := group.Wait(); err == nil {
		err = coding
	}
	m.photo, m.lights = photo, lights
	return m, err
}

// begin finds the camera. The caller closes the rectifier when there is no
// error. all: every photograph will be wanted.
func begin(in inputs, p Params, all bool) (*rectifier, measured, error) {
	m := measured{in: in, params: p, substance: p.Substance}
	if s, ok := in.capture.Note.MeanSubstance(); ok {
		m.substance, m.stated = s, true
	}
	m.height = m.substance - in.rig.PlaneOffset
	r := newRectifier(in, p, m.height)
	if all {
		r.openAhead()
	}
	if err := r.solveTop(); err != nil {
		r.Close()
		return nil, m, err
	}
	m.view, m.fit, m.pixelMM = r.view, r.fit, r.scale()
	m.blurMM = blurOf(r.seen) * m.pixelMM
	m.seen = r.seenRing()
	m.addFlags(photoFlags(r.seen, m.pixelMM)...)
	return r, m, nil
}

// rectified finds the hide and brings the lights onto its raster. The caller
// closes the photographs.
func (m *measured) rectified(ctx context.Context, r *rectifier, step func(string)) (*detect.Found, detect.Photos, error) {
	in, found, err := m.find(ctx, r, step)
	if err != nil {
		return nil, detect.Photos{}, err
	}
	defer in.Coarse.Close()
	var even sync.WaitGroup
	even.Go(func() { m.flat = whitened(evenLight(in.Coarse, in.Tags, in.Seen, found.Outline), r.whites, m.in.rig) })
	defer even.Wait()
	rig := m.in.rig
	whole := pix.TableGrid(rig.Width, rig.Height, r.fineScale())
	grid := whole.Around(found.Outline, m.params.Margin)
	m.mmPerPX = grid.MMPerPX
	lights, err := r.fine(ctx, grid, step)
	m.addFlags(r.flags...)
	return found, detect.Photos{Grid: grid, Lights: lights}, err
}

// find looks for the hide on the coarse raster. The caller closes that if there is no error.
func (m *measured) find(ctx context.Context, r *rectifier, step func(string)) (detect.OutlineInput, *detect.Found, error) {
	step("outline")
	rig := m.in.rig
	g := pix.TableGrid(rig.Width, rig.Height, r.params.CoarseMMPerPX)
	lights, err := r.coarse(ctx, g)
	if err != nil {
		return detect.OutlineInput{}, nil, err
	}
	in := detect.OutlineInput{Coarse: detect.Photos{Grid: g, Lights: lights}, Tags: rig.TagPolygons(0), Seen: r.seenRing()}
	for _, id := range rig.IDs() {
		in.SeenTags = append(in.SeenTags, slices.ContainsFunc(r.seen, func(s calibrate.Sighting) bool { return s.ID == id }))
	}
	found, err := detect.Find(ctx, in, m.outlineParams())
	if err != nil {
		in.Coarse.Close()
	}
	return in, found, err
}

// chart places the edge, and finds the defects while the hide's frame is laid.
func (m *measured) chart(ctx context.Context, found *detect.Found, fine detect.Photos, step func(string)) error {
	step("edge")
	err := m.edge(ctx, found, fine)
	if err != nil {
		return err
	}
	step("defects")
	var flags []hide.Flag
	var group errgroup.Group
	frame := sync.OnceValues(m.layFrame)
	group.Go(func() error { // on one core, beside the search, which wants the frame at its end
		f, err := frame()
		if err == nil {
			m.zones = f.Zones()
			flags = m.doubts(fine)
		}
		return err
	})
	m.candidates, err = detect.Candidates(ctx, detect.Input{Photos: fine, Outline: m.outline.Polygon, Frame: frame}, m.params.Detect)
	if laid := group.Wait(); err == nil {
		err = laid
	}
	m.addFlags(flags...)
	return err
}

// doubts are those about the hide's light, its place and how it lies.
func (m *measured) doubts(fine detect.Photos) []hide.Flag {
	return append(hideFlags(fine, m.outline.Polygon, m.seen), lieFlags(fine, m.outline.Polygon, m.in.rig)...)
}

// edge places the hide's edge.
func (m *measured) edge(ctx context.Context, found *detect.Found, fine detect.Photos) (err error) {
	if m.outline, err = found.Refine(ctx, fine, m.outlineParams()); err != nil {
		return err
	}
	m.contrast = contrastBeside(fine, m.outline.Polygon.Outer)
	m.addFlags(m.outline.Flags...)
	return nil
}

// picture is the photograph under top light as the cutter's picture needs it,
// its light evened out.
func picture(fine detect.Photos, flat *calibrate.Flat, table hide.MM) (export.Photo, error) {
	top, err := evened(fine, flat, table)
	if err != nil {
		return export.Photo{}, err
	}
	defer top.Close()
	im, err := pix.Colour(top)
	return export.Photo{Image: im, Grid: fine.Grid}, err
}
