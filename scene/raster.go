package scene

import (
	"context"
	"math"

	"hidechart/hide"
	"hidechart/pix"
)

// texel is what the hide's surface does to light at one place.
type texel struct {
	sx, sy     int16     // slope of the surface along table x and y, in 1/slopeUnit
	colour     [3]uint16 // linear reflectance r, g, b, in 1/65535
	pass, shin uint16    // transmission and peak of the highlight, in 1/65535
}

const slopeUnit = 4096 // slopes to ±8, steps far below what a rake light shows

// skin is the hide's surface as a raster of the table.
type skin struct {
	grid    pix.Grid
	tex     []texel
	height  []float32 // mm, relief above the hide's own level; nil once slopes are taken
	inside  depths
	passRGB [3]float64 // colour of the light that comes through, largest 1
}

// newSkin makes the clean leather: grain, colour, gloss, transmission.
func newSkin(ctx context.Context, l leather, lay layout, outline hide.Ring, t table, stepMM float64) (*skin, error) {
	whole := pix.TableGrid(hide.MM(t.width), hide.MM(t.height), hide.MM(stepMM))
	g := whole.Around(outline, 8) // mm: farther than any shadow or blur reaches in
	k := &skin{grid: g, inside: newDepths(outline, t)}
	k.tex = make([]texel, g.Width*g.Height)
	k.height = make([]float32, g.Width*g.Height)
	top := math.Max(l.pass[0], math.Max(l.pass[1], l.pass[2]))
	for i := range k.passRGB {
		k.passRGB[i] = l.pass[i] / top
	}
	f := newGrain(l, lay, stepMM, top)
	return k, bands(ctx, g.Height, func(row int) { k.cleanRow(row, f) })
}

func (k *skin) cleanRow(row int, f grain) {
	g := k.grid
	_, y := k.xy(row * g.Width)
	for c := range g.Width {
		i := row*g.Width + c
		x := float64(g.Left) + (float64(c)+.5)*float64(g.MMPerPX)
		if k.inside.at(x, y) < -12 { // mm: nothing looks that far past the edge
			continue
		}
		k.height[i], k.tex[i] = f.at(x, y)
	}
}

// xy is the table position of a raster index.
func (k *skin) xy(i int) (x, y float64) {
	p := k.grid.ToTable(pix.Point{X: hide.PX(i % k.grid.Width), Y: hide.PX(i / k.grid.Width)})
	return float64(p.X), float64(p.Y)
}

// slopes replaces the height by its slope, added to the undulation already
// in the texels.
func (k *skin) slopes(ctx context.Context) error {
	w, h := k.grid.Width, k.grid.Height
	per := slopeUnit / (2 * float32(k.grid.MMPerPX))
	err := bands(ctx, h, func(row int) {
		up, down := max(row-1, 0)*w, min(row+1, h-1)*w
		for c := range w {
			i := row*w + c
			left, right := row*w+max(c-1, 0), row*w+min(c+1, w-1)
			k.tex[i].sx = addSlope(k.tex[i].sx, (k.height[right]-k.height[left])*per)
			k.tex[i].sy = addSlope(k.tex[i].sy, (k.height[up+c]-k.height[down+c])*per)
		}
	})
	k.height = nil
	return err
}

func addSlope(a int16, b float32) int16 {
	return int16(math.Max(-32767, math.Min(32767, float64(a)+float64(b))))
}

// ink is what a mark adds to the surface at one place.
type ink struct {
	dh               float64    // mm of height
	colour           [3]float64 // factor of the reflectance
	over             float64    // 0…1: how much of paint covers the surface
	paint            [3]float64 // reflectance of what covers it
	passMul, passAdd float64    // transmission: factor and addend
	shinMul, shinAdd float64
}

func plain() ink { return ink{colour: [3]float64{1, 1, 1}, passMul: 1, shinMul: 1} }

// shade multiplies the colour by 1 + amount in all channels.
func (a ink) shade(amount float64) ink {
	for i := range a.colour {
		a.colour[i] *= math.Max(0.05, 1+amount)
	}
	return a
}

// dab applies ink to a texel.
func (k *skin) dab(i int, a ink) {
	t := &k.tex[i]
	k.height[i] += float32(a.dh)
	for c := range t.colour {
		v := float64(t.colour[c]) / 65535 * a.colour[c]
		v += a.over * (a.paint[c] - v)
		t.colour[c] = unit16(v)
	}
	t.pass = unit16(float64(t.pass)/65535*a.passMul + a.passAdd)
	t.shin = unit16(float64(t.shin)/65535*a.shinMul + a.shinAdd)
}

func unit16(v float64) uint16 { return uint16(clamp(v, 0, 1)*65535 + .5) }
