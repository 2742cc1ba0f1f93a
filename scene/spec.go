package scene

import (
	"math"

	"hidechart/hide"
)

// Spec says what to render. The zero value of every field means "as the seed
// has it", except where said otherwise.
type Spec struct {
	Seed     int64
	Article  string       // a name of Articles(), or DrawnArticle; empty: one of them
	Side     *bool        // a side instead of a whole hide; nil: drawn
	Lights   []hide.Light // nil: top, back, rake-n, rake-e, empty
	WidthPX  int          // width of the photographs, 3:2; 0: 6000 (24 megapixels)
	Table    string       // "black" or "white"; empty: drawn
	Phone    bool         // hand-held: more tilt, noise and compression; 0 width: 4242 (12 megapixels); nil Lights: top and empty
	Grey     bool         // a camera without colour
	Cast     bool         // lamps with a strong colour cast
	OverTag  bool         // the hide may lie over tags
	Defects  float64      // multiplier of the number of defects; 0: 1; negative: none
	Contrast float64      // multiplier of the contrast of defects; 0: 1 (drawn from 0.3 to 1.7 each)
	Crossed  float64      // share of scars and scratches that another one is drawn across, 0 to 1

	NoLookAlikes bool // leave the harmless look-alikes out

	Tags    int         // number of tags on the table, 4 to 32; 0: drawn
	TiltDeg float64     // largest angle of the camera to the upright, to 30; 0: 2.5, hand-held 4
	BlurPX  float64     // standard deviation of the lens's blur, to 4; 0: drawn
	Outline hide.Ring   // this edge on the table instead of an invented one, mm, counter-clockwise
	Holes   []hide.Ring // holes of Outline, mm

	TableMM [2]float64 // width and height of the table, mm; 0: drawn

	ID, Supplier, Lot string // written to capture.yaml; empty: invented
}

// Defaults of Spec: sizes of the job's reference captures.
const (
	fullWidthPX  = 6000 // 24 megapixels at 3:2
	phoneWidthPX = 4242 // 12 megapixels at 3:2
	minWidthPX   = 600  // below, a tag's cell is smaller than two pixels
	maxWidthPX   = 12000
)

// Validate lists what is wrong with the Spec as one Invalid error.
func (s Spec) Validate() error {
	if s.WidthPX != 0 && (s.WidthPX < minWidthPX || s.WidthPX > maxWidthPX) {
		return hide.Faultf(hide.Invalid, "scene: width %d px, want %d to %d", s.WidthPX, minWidthPX, maxWidthPX)
	}
	if s.Table != "" && s.Table != "black" && s.Table != "white" {
		return hide.Faultf(hide.Invalid, "scene: table %q, want black or white", s.Table)
	}
	if err := checkArticle("scene", s.Article); err != nil {
		return err
	}
	if s.Contrast < 0 || math.IsNaN(s.Contrast) || math.IsNaN(s.Defects) {
		return hide.Faultf(hide.Invalid, "scene: contrast %g, defects %g: want numbers, contrast not negative", s.Contrast, s.Defects)
	}
	if !(s.Crossed >= 0 && s.Crossed <= 1) {
		return hide.Faultf(hide.Invalid, "scene: crossed %g: want a share, 0 to 1", s.Crossed)
	}
	if err := s.validateStage(); err != nil {
		return err
	}
	if s.TableMM != [2]float64{} && (s.TableMM[0] < 1500 || s.TableMM[1] < 1200 || s.TableMM[0] > 8000 || s.TableMM[1] > 5000) {
		return hide.Faultf(hide.Invalid, "scene: table of %v mm, want 1500 x 1200 to 8000 x 5000", s.TableMM)
	}
	for _, l := range s.Lights {
		if !known(l) {
			return hide.Faultf(hide.Invalid, "scene: light %q is not known; one of %v", l, hide.Lights())
		}
	}
	return nil
}

// validateStage checks what Spec asks of table, camera and shape.
func (s Spec) validateStage() error {
	if s.Tags != 0 && (s.Tags < 4 || s.Tags > 32) {
		return hide.Faultf(hide.Invalid, "scene: %d tags, want 4 to 32", s.Tags)
	}
	if !(s.TiltDeg >= 0 && s.TiltDeg <= 30 && s.BlurPX >= 0 && s.BlurPX <= 4) {
		return hide.Faultf(hide.Invalid, "scene: tilt %g°, blur %g px: want 0 to 30 and 0 to 4", s.TiltDeg, s.BlurPX)
	}
	if s.Outline != nil && (len(s.Outline) < 3 || s.Outline.SignedArea() <= 0) || s.Outline == nil && s.Holes != nil {
		return hide.Faultf(hide.Invalid, "scene: outline: want three places or more, counter-clockwise; holes only with an outline")
	}
	return nil
}

func known(l hide.Light) bool {
	for _, k := range hide.Lights() {
		if k == l {
			return true
		}
	}
	return false
}

// filled returns the Spec with defaults in place of zeros; what is drawn
// from the seed stays open.
func (s Spec) filled() Spec {
	if s.WidthPX == 0 {
		s.WidthPX = fullWidthPX
		if s.Phone {
			s.WidthPX = phoneWidthPX
		}
	}
	s.WidthPX += s.WidthPX % 2 // chroma is stored for pairs of pixels
	if s.Lights == nil {
		s.Lights = []hide.Light{hide.Top, hide.Back, hide.RakeN, hide.RakeE, hide.Empty}
		if s.Phone {
			s.Lights = []hide.Light{hide.Top, hide.Empty}
		}
	}
	if s.Defects == 0 {
		s.Defects = 1
	}
	if s.Contrast == 0 {
		s.Contrast = 1
	}
	return s
}

func (s Spec) heightPX() int {
	h := (s.WidthPX*2 + 1) / 3
	return h + h%2
}

// tilt is the largest angle of the camera to the upright, degrees.
func (s Spec) tilt() float64 {
	if s.TiltDeg > 0 {
		return s.TiltDeg
	}
	if s.Phone {
		return 4
	}
	return 2.5
}

// isSide draws whether the hide is a side.
func (s Spec) isSide(r source) bool {
	drawn := r.chance(0.35)
	if s.Side != nil {
		return *s.Side
	}
	return drawn
}

// DemoLot is an invented lot of three hides at 12 megapixels.
func DemoLot() []Spec {
	yes, no := true, false
	lights := []hide.Light{hide.Top, hide.Back, hide.RakeN, hide.RakeE, hide.Empty}
	base := Spec{WidthPX: phoneWidthPX, Lights: lights, Supplier: "Moorhen Hollow Tannery (invented)", Lot: "MH-0417"}
	one, two, three := base, base, base
	one.Seed, one.ID, one.Article, one.Side, one.Table = 417001, "MH-0417-01", "aniline tan", &no, "black"
	two.Seed, two.ID, two.Article, two.Side, two.Table = 417002, "MH-0417-02", "black glazed", &no, "white"
	three.Seed, three.ID, three.Article, three.Side, three.Table = 417003, "MH-0417-03", "pull-up brown", &yes, "white"
	return []Spec{one, two, three}
}
