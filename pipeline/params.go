package pipeline

import (
	"encoding/json"
	"slices"
	"strings"

	"hidechart/calibrate"
	"hidechart/detect"
	"hidechart/hide"
)

// Params are all settings that can change a chart. Their hash goes into it.
type Params struct {
	// MMPerPX is the raster the hide is measured on, mm; 0 chooses it from the
	// photograph's scale, never finer than 0.5: see fineScale.
	MMPerPX hide.MM
	// CoarseMMPerPX is the raster on which the hide is looked for, mm. 2: a
	// table of 3 m is 1500 px across, and a hide's legs are 30 px wide.
	CoarseMMPerPX hide.MM
	// Margin of table kept around the hide on the fine raster, mm. 40: three
	// times the window in which the table's level is read beside the edge.
	Margin hide.MM
	// Substance assumed where none is stated, mm. 1.5: the middle of upholstery,
	// bag and garment leathers, 0.8–2.4 mm (common practice, no source).
	Substance hide.MM
	// SubstanceU is the standard uncertainty of an assumed substance, mm. 0.6:
	// a rectangle from 0.5 to 2.5 mm, 2/√12.
	SubstanceU hide.MM
	// StatedSubstanceU is that of a stated one, mm. 0.1: half a trade step of
	// half an ounce (0.2 mm).
	StatedSubstanceU hide.MM
	// LieU is the standard uncertainty of how high a spread hide lies above the
	// table on average, mm. 0.5: a hide smoothed by hand touches the table but
	// for a few soft folds (common practice, no source).
	LieU hide.MM
	// SpreadingU is the relative standard uncertainty of the area from spreading
	// the hide again. 0: not known from one capture; the chart then says that its
	// area is of the hide as it lay.
	SpreadingU float64
	// MaxPixels refuses a photograph of more, by its header, before it is decoded.
	MaxPixels int64
	Calibrate calibrate.Params
	Outline   detect.OutlineParams
	Detect    detect.Params
	// Profiles learned from reviews; that of the capture's article counts.
	Profiles []*detect.Profile `yaml:"-"`
}

// DefaultParams returns the settings used unless told otherwise.
func DefaultParams() Params {
	return Params{CoarseMMPerPX: 2, Margin: 40, Substance: 1.5, SubstanceU: 0.6, StatedSubstanceU: 0.1, LieU: 0.5,
		MaxPixels: 400e6, // design: the default limit
		Calibrate: calibrate.DefaultParams(), Outline: detect.DefaultOutlineParams(), Detect: detect.DefaultParams()}
}

// Validate lists every setting out of range as one Invalid error.
func (p Params) Validate() error {
	var bad []string
	for _, rule := range []struct {
		ok   bool
		text string
	}{
		{p.MMPerPX == 0 || p.MMPerPX >= 0.1 && p.MMPerPX <= 5, "mm_per_px: want 0 (chosen from the photograph) or 0.1 to 5"},
		{p.CoarseMMPerPX >= 1 && p.CoarseMMPerPX <= 8, "coarse_mm_per_px: want 1 to 8"},
		{p.Margin >= 10 && p.Margin <= 500, "margin: want 10 to 500 mm"},
		{p.Substance > 0 && p.Substance <= 25, "substance: want more than 0, at most 25 mm"},
		{p.SubstanceU >= 0 && p.StatedSubstanceU >= 0 && p.LieU >= 0, "uncertainties of the height must not be negative"},
		{p.SpreadingU >= 0 && p.SpreadingU < 0.2, "spreading_u: want 0 to 0.2 (a share of the area)"},
		{p.MaxPixels > 0, "max_pixels must be positive"},
	} {
		if !rule.ok {
			bad = append(bad, rule.text)
		}
	}
	for _, err := range []error{p.Calibrate.Validate(), p.Outline.Validate(), p.Detect.Validate()} {
		if err != nil {
			bad = append(bad, err.Error())
		}
	}
	if bad == nil {
		return nil
	}
	return hide.Faultf(hide.Invalid, "settings: %s", strings.Join(bad, "; "))
}

// settingsSum is the hash of everything but pictures, rig and program that
// decides a chart: the settings, what capture.yaml says, the lens file and the
// sorting model.
// encoding/json writes struct fields in order, so it is the same on every run.
func settingsSum(p Params, note hide.CaptureNote, lensSum string) (string, error) {
	p.Profiles = slices.DeleteFunc(slices.Clone(p.Profiles), func(x *detect.Profile) bool { return x.Article != note.Article })
	data, err := json.Marshal(struct {
		Params Params
		Note   hide.CaptureNote
		Lens   string
		Model  string
	}{p, note, lensSum, detect.SortingSum()})
	if err != nil {
		return "", hide.Wrapf(hide.Internal, err, "settings")
	}
	return hashBytes(data), nil
}
