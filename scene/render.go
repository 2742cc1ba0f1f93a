package scene

import (
	"context"
	"encoding/json"
	"fmt"
	"math"

	"hidechart/hide"
)

// world is all that a capture shows, before any light.
type world struct {
	spec       Spec
	table      table
	cam        *camera
	leather    leather
	lay        layout
	outline    hide.Ring
	neck, tail hide.Point
	defects    []defect
	alikes     []lookAlike
	holes      []hide.Ring
}

// Render renders a capture into the folder dir, which is made if missing:
// one JPEG per light of the Spec, rig.yaml, capture.yaml, camera.json,
// truth.json and truth_label.png, laid out as the job's reference captures.
//
// The truth outline is the contour of the hide's upper surface, which lies
// truth.json's substance_mm above the table (capture.yaml states it too);
// areas are exact to the polygon. Each file appears whole or not at all;
// photographs of lights not asked for that an earlier call left are removed.
// The same Spec gives the same bytes at any GOMAXPROCS.
//
// Errors: Invalid for a Spec that breaks a rule, Internal when a file cannot
// be written, the context's own when cancelled. At 24 megapixels it needs
// about 1 GiB of memory.
func Render(ctx context.Context, spec Spec, dir string) error {
	if err := spec.Validate(); err != nil {
		return err
	}
	f, err := newFolder(dir)
	if err != nil {
		return err
	}
	defer f.discard()
	if err := render(ctx, spec.filled(), f); err != nil {
		return fmt.Errorf("scene: render seed %d: %w", spec.Seed, err)
	}
	return f.publish()
}

func render(ctx context.Context, spec Spec, f *folder) error {
	w := newWorld(spec)
	skin, err := w.grow(ctx)
	if err != nil {
		return err
	}
	if err := w.record(ctx, f); err != nil {
		return err
	}
	st, err := newStage(stream(spec.Seed, "stage"), w.cam, w.table, w.leather, skin, w.outline, w.holes)
	if err != nil {
		return err
	}
	if err := st.weave(ctx); err != nil {
		return err
	}
	n := drawSensor(stream(spec.Seed, "sensor"), spec)
	for _, l := range spec.Lights {
		jpg, err := st.photograph(ctx, drawLighting(spec.Seed, l, spec, w.table), n)
		if err != nil {
			return err
		}
		if err := f.write(string(l)+".jpg", jpg); err != nil {
			return err
		}
	}
	return nil
}

// newWorld invents table, camera, leather, contour and layout.
func newWorld(spec Spec) *world {
	w := &world{spec: spec}
	w.table = drawTable(stream(spec.Seed, "table"), spec)
	w.cam = drawCamera(stream(spec.Seed, "camera"), spec, w.table)
	w.leather = drawLeather(stream(spec.Seed, "leather"), spec.Article)
	side := spec.isSide(stream(spec.Seed, "side"))
	lay, contour := drawLayout(stream(spec.Seed, "contour"), spec, side, w.table)
	w.lay, w.outline = lay, laid(contour, lay)
	w.neck, w.tail = lay.ends(contour)
	if spec.Outline != nil {
		w.outline = spec.Outline
		w.neck, w.tail = farthest(spec.Outline)
	}
	return w
}

// farthest are the ring's left and right ends.
func farthest(r hide.Ring) (left, right hide.Point) {
	left, right = r[0], r[0]
	for _, p := range r {
		if p.X < left.X {
			left = p
		}
		if p.X > right.X {
			right = p
		}
	}
	return left, right
}

// grow makes the hide's surface with all that is on it.
func (w *world) grow(ctx context.Context) (*skin, error) {
	// finer than a pixel, no finer than the label
	stepMM := clamp(math.Round(w.cam.mmPerPX()*.6*20)/20, labelMM, 2)
	k, err := newSkin(ctx, w.leather, w.lay, w.outline, w.table, stepMM)
	if err != nil {
		return nil, err
	}
	w.holes = append(w.holes, w.spec.Holes...)
	m := &maker{source: stream(w.spec.Seed, "defects"), lay: w.lay, leather: w.leather, inside: k.inside, contrast: w.spec.Contrast}
	w.defects = m.drawDefects(w.spec.Defects, w.spec.Crossed)
	for i := range w.defects {
		d := &w.defects[i]
		w.holes = append(w.holes, d.holes...)
		d.tone, d.height = k.paint(d.parts)
	}
	if !w.spec.NoLookAlikes {
		m.source = stream(w.spec.Seed, "look-alikes")
		w.alikes = m.drawLookAlikes()
	}
	for i := range w.alikes {
		w.alikes[i].box = boxOf(k.grid, w.alikes[i].parts)
		k.paint(w.alikes[i].parts)
	}
	return k, k.slopes(ctx)
}

// record writes everything but the photographs.
func (w *world) record(ctx context.Context, f *folder) error {
	m, err := newMarks(ctx, w.outline, w.table)
	if err != nil {
		return err
	}
	for i, d := range w.defects {
		m.stamp(i+1, d)
	}
	truth, err := w.truth(m)
	if err != nil {
		return err
	}
	label, err := m.label(w.defects)
	if err != nil {
		return err
	}
	cam, err := json.Marshal(w.cam)
	if err != nil {
		return hide.Wrapf(hide.Internal, err, "scene: camera")
	}
	files := []struct {
		name string
		data []byte
	}{{"truth.json", truth}, {"truth_label.png", label}, {"camera.json", cam}, {"rig.yaml", w.table.yaml()}, {"capture.yaml", w.facts()}}
	for _, x := range files {
		if err := f.write(x.name, x.data); err != nil {
			return err
		}
	}
	return nil
}
