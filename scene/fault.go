package scene

import (
	"context"
	"fmt"
	"math"

	"hidechart/hide"
)

// Fault is what goes wrong when a hide is photographed. The zero value is a capture
// as it should be.
type Fault struct {
	Lights   []hide.Light       // taken; nil: those of the Spec
	BlurPX   float64            // out of focus: deviation of the blur instead of the lens's, to 4
	ShakePX  float64            // the camera moves this far to the right while the shutter is open
	Exposure float64            // factor of the light; 0: 1
	Lamp     *[3]float64        // one bare lamp here (x, y, height, mm) is all the top light there is
	Covered  []int              // tags hidden under something of the table's colour
	Moved    map[int]hide.Point // how far tags were moved since rig.yaml was written, mm
	// Pushed is how far the camera was pushed along the table before a light was taken, mm.
	Pushed map[hide.Light]float64
	NearMM float64 // the camera hangs so far aside that the hide comes this near to the picture's border; 0: as it should
	Waves  []Wave  // the hide does not lie flat
}

// Wave is a raised place of the hide: a Gaussian hill, a fold where it is longer than wide. Only
// its shading is rendered: neither its shadow nor that it shows nearer to the camera.
type Wave struct {
	At      hide.Point // its top, table frame
	Height  float64    // mm
	Width   float64    // standard deviation across, mm
	Length  float64    // standard deviation along, mm
	TurnDeg float64    // direction of the crest, counter-clockwise from x
}

// Steepest is the largest slope of the wave, degrees: e^(-1/2)·height/width for a
// Gaussian, one deviation off its crest.
func (v Wave) Steepest() float64 {
	return math.Atan(math.Exp(-.5)*v.Height/math.Min(v.Width, v.Length)) * 180 / math.Pi
}

// gradient of the wave's height at a place.
func (v Wave) gradient(x, y float64) (gx, gy float64) {
	sin, cos := math.Sincos(v.TurnDeg * math.Pi / 180)
	dx, dy := x-float64(v.At.X), y-float64(v.At.Y)
	a, b := (dx*cos+dy*sin)/v.Length, (-dx*sin+dy*cos)/v.Width
	h := v.Height * bell(math.Hypot(a, b))
	ga, gb := -h*a/v.Length, -h*b/v.Width
	return ga*cos - gb*sin, ga*sin + gb*cos
}

// Studio is one invented hide on its table, to be photographed more than once:
// growing the hide costs more than a photograph.
type Studio struct {
	world   *world
	skin    *skin
	texture []uint8 // the table's, the same in every photograph
	texW    int
}

// NewStudio grows the Spec's hide. Errors: as Render's.
func NewStudio(ctx context.Context, spec Spec) (*Studio, error) {
	if err := spec.Validate(); err != nil {
		return nil, err
	}
	u := &Studio{world: newWorld(spec.filled())}
	var err error
	u.skin, err = u.world.grow(ctx)
	return u, err
}

// Outline is the true edge of the hide.
func (u *Studio) Outline() hide.Ring { return u.world.outline }

// Tags are the ids of the table's tags with the places that rig.yaml has.
func (u *Studio) Tags() map[int]hide.Point {
	out := map[int]hide.Point{}
	for _, g := range u.world.table.tags {
		out[g.id] = g.at
	}
	return out
}

// PixelMM is the size of a photograph's pixel on the table, mm.
func (u *Studio) PixelMM() float64 { return u.world.cam.mmPerPX() }

// Take photographs the hide with a fault into the folder dir: a JPEG per light,
// rig.yaml and capture.yaml; no truth. Errors: as Render's.
func (u *Studio) Take(ctx context.Context, fault Fault, dir string) error {
	f, err := newFolder(dir)
	if err != nil {
		return err
	}
	defer f.discard()
	if err := f.write("rig.yaml", u.world.table.yaml()); err != nil {
		return err
	}
	if err := f.write("capture.yaml", u.world.facts()); err != nil {
		return err
	}
	lights := fault.Lights
	if lights == nil {
		lights = u.world.spec.Lights
	}
	for _, l := range lights {
		jpg, err := u.photograph(ctx, fault, l)
		if err != nil {
			return fmt.Errorf("scene: faulty capture of seed %d: %w", u.world.spec.Seed, err)
		}
		if err := f.write(string(l)+".jpg", jpg); err != nil {
			return err
		}
	}
	return f.publish()
}

// photograph takes one light.
func (u *Studio) photograph(ctx context.Context, fault Fault, l hide.Light) ([]byte, error) {
	w := u.world
	cam := *w.cam
	if fault.NearMM > 0 {
		cam = cam.aside(w.outline, w.leather.thick, fault.NearMM)
	}
	cam.t[0] += fault.Pushed[l]
	st, err := newStage(stream(w.spec.Seed, "stage"), &cam, fault.table(w.table), w.leather, u.skin.raised(fault.Waves), w.outline, w.holes)
	if err != nil {
		return nil, err
	}
	if u.texture == nil {
		if err := st.weave(ctx); err != nil {
			return nil, err
		}
		u.texture, u.texW = st.texture, st.texW
	}
	st.texture, st.texW = u.texture, u.texW
	spec := w.spec
	if fault.BlurPX > 0 {
		spec.BlurPX = fault.BlurPX
	}
	n := drawSensor(stream(w.spec.Seed, "sensor"), spec)
	n.shake = int(math.Round(fault.ShakePX))
	g := drawLighting(w.spec.Seed, l, w.spec, w.table)
	if fault.Exposure > 0 {
		g.level *= fault.Exposure
	}
	if p := fault.Lamp; p != nil && !l.Rake() && l != hide.Back {
		g.lamps, g.vignette = []lamp{{p[0], p[1], p[2], 1}}, 0
		g.normalise(w.table)
	}
	return st.photograph(ctx, g, n)
}

// table is the table as it has become since rig.yaml was written.
func (f Fault) table(t table) table {
	var tags []tag
	for _, g := range t.tags {
		hidden := false
		for _, id := range f.Covered {
			hidden = hidden || id == g.id
		}
		if by, ok := f.Moved[g.id]; ok {
			g.at = hide.Point{X: g.at.X + by.X, Y: g.at.Y + by.Y}
		}
		if !hidden {
			tags = append(tags, g)
		}
	}
	t.tags = tags
	return t
}

// raised is the skin with the slopes of waves added; without any the skin itself.
func (k *skin) raised(waves []Wave) *skin {
	if len(waves) == 0 {
		return k
	}
	out := *k
	out.tex = append([]texel{}, k.tex...)
	for i := range out.tex {
		x, y := k.xy(i)
		for _, v := range waves {
			gx, gy := v.gradient(x, y)
			out.tex[i].sx = addSlope(out.tex[i].sx, float32(gx*slopeUnit))
			out.tex[i].sy = addSlope(out.tex[i].sy, float32(gy*slopeUnit))
		}
	}
	return &out
}

// aside is the camera pushed along the table until the outline comes within
// near mm of the border of what it sees at the leather's height.
func (c *camera) aside(outline hide.Ring, thick, near float64) camera {
	lo, hi := 0.0, c.distanceAlong() // beyond, nothing of the table is seen
	for range 30 {                   // to a millionth of a millimetre
		mid := (lo + hi) / 2
		moved := *c
		moved.t[0] += mid
		if moved.room(outline, thick) > near {
			lo = mid
		} else {
			hi = mid
		}
	}
	moved := *c
	moved.t[0] += lo
	return moved
}

// room is how much table the camera shows beside the outline on the right, mm; negative
// when the outline leaves the picture.
func (c *camera) room(outline hide.Ring, thick float64) float64 {
	least := math.Inf(1)
	for _, p := range outline {
		at := c.project(p, thick)
		border := c.ground(float64(c.width)-.5, float64(at.Y), thick)
		least = math.Min(least, float64(border.X-p.X))
	}
	return least
}

// smear is what a camera that moves along the rows does to linear light.
func (n *sensor) smear(lin []float32, w int) {
	if n.shake < 1 {
		return
	}
	row := make([]float32, 3*w)
	for y := 0; y+3*w <= len(lin); y += 3 * w {
		copy(row, lin[y:])
		for x := range w {
			for c := range 3 {
				sum := float32(0)
				for k := range n.shake {
					at := min(max(x+k-n.shake/2, 0), w-1)
					sum += row[3*at+c]
				}
				lin[y+3*x+c] = sum / float32(n.shake)
			}
		}
	}
}
