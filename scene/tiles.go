package scene

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"

	"hidechart/hide"
)

// Tiling says how a table too large for one photograph is photographed: from
// Across × Up places with one camera, the photographs lapping over each other.
type Tiling struct {
	Across, Up int     // places; 1 to 6 each
	Overlap    float64 // share of a tile's side that its neighbour shows too; 0.02 to 0.6
	Exposure   float64 // spread of the tiles' exposure, factor; 0: the same for all; 0.3: from 1/1.3 to 1
	Missing    []int   // numbers of tiles that are not taken, from 1
}

// Validate lists what is wrong with the tiling as one Invalid error.
func (g Tiling) Validate() error {
	if g.Across < 1 || g.Up < 1 || g.Across > 6 || g.Up > 6 || g.Overlap < -0.2 || g.Overlap > 0.6 || g.Exposure < 0 || g.Exposure > 1 {
		return hide.Faultf(hide.Invalid, "scene: tiling %d × %d, overlap %g, exposure %g: want 1 to 6, -0.2 to 0.6, 0 to 1", g.Across, g.Up, g.Overlap, g.Exposure)
	}
	return nil
}

// RenderTiles renders as Render does, but every light in tiles: top.1.jpg,
// top.2.jpg and so on, row by row from the far left, the camera carried from place to
// place and hung at slightly another height, tilt and turn each time; at each place all lights
// are taken. camera.1.json and so on give the poses. Errors: as Render's.
func RenderTiles(ctx context.Context, spec Spec, g Tiling, dir string) error {
	if err := spec.Validate(); err != nil {
		return err
	}
	if err := g.Validate(); err != nil {
		return err
	}
	f, err := newFolder(dir)
	if err != nil {
		return err
	}
	defer f.discard()
	if err := renderTiles(ctx, spec.filled(), g, f); err != nil {
		return fmt.Errorf("scene: render seed %d in tiles: %w", spec.Seed, err)
	}
	return f.publish()
}

func renderTiles(ctx context.Context, spec Spec, g Tiling, f *folder) error {
	w := newWorld(spec)
	cams := w.tileCameras(g)
	w.cam = cams[0]
	k, err := w.grow(ctx)
	if err != nil {
		return err
	}
	if err := w.record(ctx, f); err != nil {
		return err
	}
	exposure := stream(spec.Seed, "tile exposure")
	number := 0
	for i, cam := range cams {
		level := math.Exp(-exposure.in(0, math.Log1p(g.Exposure)))
		if skipped(g.Missing, i+1) {
			continue
		}
		number++
		if err := w.tile(ctx, f, k, cam, number, level); err != nil {
			return err
		}
	}
	return nil
}

func skipped(missing []int, n int) bool {
	for _, m := range missing {
		if m == n {
			return true
		}
	}
	return false
}

// tile takes all lights from one place.
func (w *world) tile(ctx context.Context, f *folder, k *skin, cam *camera, number int, level float64) error {
	st, err := newStage(stream(w.spec.Seed, "stage"), cam, w.table, w.leather, k, w.outline, w.holes)
	if err != nil {
		return err
	}
	if err := st.weave(ctx); err != nil {
		return err
	}
	n := drawSensor(stream(w.spec.Seed, "sensor"), w.spec)
	n.seed = splitMix(n.seed + uint64(number))
	for _, l := range w.spec.Lights {
		light := drawLighting(w.spec.Seed, l, w.spec, w.table)
		light.level *= level
		jpg, err := st.photograph(ctx, light, n)
		if err != nil {
			return err
		}
		if err := f.write(fmt.Sprintf("%s.%d.jpg", l, number), jpg); err != nil {
			return err
		}
	}
	data, err := json.Marshal(cam)
	if err != nil {
		return hide.Wrapf(hide.Internal, err, "scene: camera")
	}
	return f.write(fmt.Sprintf("camera.%d.json", number), data)
}

// tileCameras hangs the world's camera over each part of the table in turn.
func (w *world) tileCameras(g Tiling) []*camera {
	s := stream(w.spec.Seed, "tiles")
	// parts of equal size that lap over each other by the share
	pw := w.table.width / (float64(g.Across) - float64(g.Across-1)*g.Overlap)
	ph := w.table.height / (float64(g.Up) - float64(g.Up-1)*g.Overlap)
	var out []*camera
	for row := g.Up - 1; row >= 0; row-- { // far to near
		for col := range g.Across {
			x, y := float64(col)*pw*(1-g.Overlap), float64(row)*ph*(1-g.Overlap)
			out = append(out, w.cam.over(s, w.spec, x, y, pw, ph))
		}
	}
	return out
}

// over is the same camera hung over a part of the table (mm, y up) so that all
// of it is seen, and little more.
func (c *camera) over(s source, spec Spec, x, y, width, height float64) *camera {
	out := *c
	tilt := func() float64 { return s.in(-spec.tilt(), spec.tilt()) * math.Pi / 180 }
	out.r = rotation(tilt(), tilt(), tilt())
	aimX, aimY := x+width*s.in(.48, .52), c.tableHeight-(y+height*s.in(.48, .52))
	out.stand(aimX, aimY, out.fx*width/float64(out.width)*s.in(.8, .9))
	for range 200 { // away, 1 % a time
		if out.seesPart(rectangle(x, y, x+width, y+height)) {
			break
		}
		out.stand(aimX, aimY, out.distanceAlong()*1.01)
	}
	return &out
}

// seesPart reports whether a part of the table is inside the picture.
func (c *camera) seesPart(r hide.Ring) bool {
	for _, p := range c.ring(r, 0) {
		if float64(p.X) < 0 || float64(p.Y) < 0 || float64(p.X) > float64(c.width) || float64(p.Y) > float64(c.height) {
			return false
		}
	}
	return true
}

// dropTiles removes tiles that an earlier capture left in the folder.
func (f *folder) dropTiles() error {
	for _, pattern := range []string{"*.[0-9].jpg", "*.[0-9][0-9].jpg", "camera.[0-9].json", "camera.[0-9][0-9].json"} {
		old, err := filepath.Glob(filepath.Join(f.dir, pattern))
		if err != nil {
			return hide.Wrapf(hide.Internal, err, "scene: replace tiles")
		}
		for _, path := range old {
			if err := os.Remove(path); err != nil {
				return hide.Wrapf(hide.Internal, err, "scene: replace tiles")
			}
		}
	}
	return nil
}
