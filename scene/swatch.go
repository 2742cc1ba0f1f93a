package scene

import (
	"context"
	"image"
	"math"

	"hidechart/hide"
	"hidechart/pix"
)

// SwatchSpec says what close-up of invented leather to render: no table, no
// tags, the leather fills the picture. Zero values mean "as the seed has it",
// except where said otherwise.
type SwatchSpec struct {
	Seed     int64
	Article  string  // a name of Articles(), or DrawnArticle; empty: one of them
	SidePX   int     // width and height of the picture; 0: 1024
	MMPerPX  float64 // 0: drawn from 0.08 to 0.25
	Flaws    int     // how many; 0: none to three, as drawn; negative: none
	Contrast float64 // multiplier of the contrast of flaws; 0: 1
}

// Swatch is a rendered close-up with its truth.
type Swatch struct {
	Picture *image.RGBA // sRGB
	Mask    *image.Gray // 255 where a flaw is, else 0
	Article string
	MMPerPX float64
	Flaws   []string // what each is, in words
}

// Defaults and bounds of SwatchSpec.
const (
	swatchSidePX    = 1024
	minSwatchPX     = 64
	maxSwatchPX     = 6000
	swatchFlawless  = .2  // share of swatches without a flaw
	swatchMarginMM  = .25 // a person who draws around a flaw stays about this far off it
	swatchMinMM     = .08 // a pore is just seen at twice this
	swatchMaxMM     = .25 // above, a table capture shows as much
	swatchContrast  = 2.5 // flaws of a close-up are stronger: who takes one means the flaw
	swatchSteeper   = 6   // times: a close-up is lit to show the grain
	swatchValley    = .35 // darkening of the grain's valleys, beside the article's own
	swatchTableLess = 500 // mm: the hide reaches at least this far beyond the picture
)

// Validate lists what is wrong with the spec as one Invalid error.
func (s SwatchSpec) Validate() error {
	if s.SidePX != 0 && (s.SidePX < minSwatchPX || s.SidePX > maxSwatchPX) {
		return hide.Faultf(hide.Invalid, "swatch: %d px a side, want %d to %d", s.SidePX, minSwatchPX, maxSwatchPX)
	}
	if !(s.MMPerPX >= 0 && s.MMPerPX < 10) || !(s.Contrast >= 0) {
		return hide.Faultf(hide.Invalid, "swatch: %g mm per pixel, contrast %g: want small positive numbers", s.MMPerPX, s.Contrast)
	}
	if err := checkArticle("swatch", s.Article); err != nil {
		return err
	}
	return nil
}

// RenderSwatch renders one close-up. The same spec gives the same pixels at any
// GOMAXPROCS. Errors: Invalid for a bad spec; the context's.
func RenderSwatch(ctx context.Context, spec SwatchSpec) (Swatch, error) {
	if err := spec.Validate(); err != nil {
		return Swatch{}, err
	}
	s := stream(spec.Seed, "swatch")
	side, step, contrast := spec.SidePX, spec.MMPerPX, spec.Contrast
	drawn := s.log(swatchMinMM, swatchMaxMM) // drawn also when given, so that the rest stays the same
	if side == 0 {
		side = swatchSidePX
	}
	if step == 0 {
		step = drawn
	}
	if contrast == 0 {
		contrast = 1
	}
	contrast *= swatchContrast
	l := drawLeather(stream(spec.Seed, "leather"), spec.Article)
	l.steep *= s.log(1, swatchSteeper)
	l.valley += s.in(0, swatchValley)
	g := newSwatchGrain(l, side, step)
	k, m := newSwatchSkin(s, l, side, step, contrast)
	if err := bands(ctx, side, func(row int) { k.cleanRow(row, g) }); err != nil {
		return Swatch{}, err
	}
	out := Swatch{Mask: image.NewGray(image.Rect(0, 0, side, side)), Article: l.name, MMPerPX: step}
	n := s.count(1, 3)
	if s.chance(swatchFlawless) {
		n = 0
	}
	if spec.Flaws != 0 {
		n = max(spec.Flaws, 0)
	}
	for range n {
		out.addFlaw(k, m)
	}
	if err := k.slopes(ctx); err != nil {
		return Swatch{}, err
	}
	var err error
	out.Picture, err = k.swatchPhoto(ctx, spec.Seed)
	return out, err
}

// newSwatchSkin is the bare surface and who draws the flaws on it: for the
// latter the picture is the whole hide, its backbone along the lower edge.
func newSwatchSkin(s source, l leather, side int, step, contrast float64) (*skin, *maker) {
	size := float64(side) * step
	t := table{width: size, height: size}
	far := hide.MM(swatchTableLess)
	edge := hide.MM(size) + far
	ring := hide.Ring{{X: -far, Y: -far}, {X: edge, Y: -far}, {X: edge, Y: edge}, {X: -far, Y: edge}}
	k := &skin{grid: pix.TableGrid(hide.MM(size), hide.MM(size), hide.MM(step)), inside: newDepths(ring, t)}
	k.grid.Width, k.grid.Height = side, side
	k.tex, k.height = make([]texel, side*side), make([]float32, side*side)
	m := &maker{source: s, lay: layout{length: size, half: size, side: true}, leather: l, inside: k.inside, contrast: contrast}
	return k, m
}

// newSwatchGrain puts the picture somewhere on a hide of two metres, most often
// on the butt, where swatches are cut.
func newSwatchGrain(l leather, side int, step float64) grain {
	s := stream(int64(l.seed), "swatch place")
	lay := layout{length: 2000, half: 900, side: true, angle: s.turn()}
	u, v := s.in(.4, .8)*lay.length, s.in(.05, .45)*lay.half
	if s.chance(.25) { // belly or shoulder
		u, v = s.in(.1, .9)*lay.length, s.in(.1, .9)*lay.half
	}
	sin, cos := math.Sincos(lay.angle)
	mid := float64(side) * step / 2
	lay.x, lay.y = mid-(u*cos-v*sin), mid-(u*sin+v*cos)
	top := math.Max(l.pass[0], math.Max(l.pass[1], l.pass[2]))
	return newGrain(l, lay, step, top)
}

func (s source) turn() float64 { return s.in(0, 2*math.Pi) }
