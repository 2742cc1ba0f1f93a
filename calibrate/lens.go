package calibrate

import (
	"fmt"
	"image"
	"math"
	"strings"

	"hidechart/hide"
)

// Lens is a camera measured beforehand, from lens.yaml.
type Lens struct {
	Camera Camera
	U      LensTerms // standard uncertainties; 0 for a term that was held
}

// ParseLens reads a lens.yaml as LensFile writes it: size_px, terms and u; the
// rest is for people. Error: Invalid, naming the key, for unknown keys and
// impossible values.
func ParseLens(data []byte) (Lens, error) {
	var f LensFile
	if err := hide.DecodeYAMLFull(data, "lens.yaml", &f); err != nil {
		return Lens{}, err
	}
	t := f.Terms
	l := Lens{U: f.U, Camera: Camera{FX: t.FX, FY: t.FY, CX: t.CX, CY: t.CY, K1: t.K1, K2: t.K2, P1: t.P1, P2: t.P2, K3: t.K3,
		Width: f.SizePX[0], Height: f.SizePX[1]}}
	return l, l.Validate()
}

// Validate lists what is wrong with the lens.
func (l Lens) Validate() error {
	var faults []string
	c := l.Camera
	if c.Width < 1 || c.Height < 1 {
		faults = append(faults, fmt.Sprintf("size_px: %d × %d", c.Width, c.Height))
	}
	// a tenth to thirty times the picture's longer side: fisheye to telescope
	long := float64(max(c.Width, c.Height))
	for key, v := range map[string]float64{"terms.fx": c.FX, "terms.fy": c.FY} {
		if !(v > long/10 && v < long*30) {
			faults = append(faults, fmt.Sprintf("%s: %g does not fit a picture %g px long", key, v, long))
		}
	}
	if !(c.CX > 0 && c.CX < float64(c.Width) && c.CY > 0 && c.CY < float64(c.Height)) {
		faults = append(faults, fmt.Sprintf("terms.cx, cy: %g, %g is outside the picture", c.CX, c.CY))
	}
	for _, v := range []float64{c.K1, c.K2, c.K3, c.P1, c.P2} {
		if !(math.Abs(v) < 10) {
			faults = append(faults, "terms: a lens term is not a number below 10")
		}
	}
	for _, u := range l.U.vector() {
		if !(u >= 0) || math.IsInf(u, 0) {
			faults = append(faults, "u: want numbers from 0 up")
		}
	}
	if len(faults) > 0 {
		return hide.Faultf(hide.Invalid, "lens.yaml: %s", strings.Join(faults, "; "))
	}
	return nil
}

// fitted is the lens for photographs of the given size. Error: NotMeasurable
// when their shape differs, so that they come from another camera or a crop.
func (l Lens) fitted(size image.Point) (Lens, error) {
	c := l.Camera
	if c.Width == size.X && c.Height == size.Y {
		return l, nil
	}
	sx, sy := float64(size.X)/float64(c.Width), float64(size.Y)/float64(c.Height)
	if math.Abs(sx/sy-1) > 2/float64(min(size.X, size.Y)) { // whole pixels cannot keep a ratio better
		return l, hide.Faultf(hide.NotMeasurable, "the lens file is for photographs of %d × %d, this one is %d × %d; calibrate this camera or leave the lens out of rig.yaml",
			c.Width, c.Height, size.X, size.Y)
	}
	l.Camera = c.scaled(size.X, size.Y)
	l.U.FX, l.U.FY, l.U.CX, l.U.CY = l.U.FX*sx, l.U.FY*sy, l.U.CX*sx, l.U.CY*sy
	return l, nil
}
