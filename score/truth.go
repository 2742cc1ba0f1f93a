package score

import (
	"encoding/json"
	"errors"
	"image"
	"image/png"
	"math"
	"os"
	"path/filepath"

	"hidechart/hide"
	"hidechart/pix"
)

// Truth is what is really on the table.
type Truth struct {
	Article  string
	Side     bool
	Area     hide.MM2       // of the hide, its holes taken off
	Outline  hide.Ring      // outer edge
	Backbone *[2]hide.Point // neck end, tail end; nil when not known
	Defects  []TruthDefect
	Grid     pix.Grid
	// ID is, for each pixel of the grid, 1 + the index of the defect in
	// Defects that lies there, or 0.
	ID []uint16
}

// TruthDefect is one defect that is really there.
type TruthDefect struct {
	ID         int
	Kind       hide.Kind
	Area       hide.MM2 // as stated, before another defect was laid over it
	Visibility float64  // contrast relative to the article's usual, 0: not stated
	Pixels     int      // pixels of the label raster that are its own
	Box        Box
}

// Box is an upright rectangle in the table frame.
type Box struct{ Left, Bottom, Right, Top hide.MM }

// Label values of the raster that are no defect.
const (
	labelLeather = 0
	labelTable   = 255
)

// maxTruthPixels bounds the label raster: a table of 10 m × 5 m at 0.5 mm.
const maxTruthPixels = 200e6

// truthFile is truth.json. Other keys are allowed: they describe the capture.
type truthFile struct {
	Article string       `json:"article"`
	Side    bool         `json:"side"`
	MMPerPX float64      `json:"mm_per_px"`
	Table   [2]float64   `json:"table_mm"`
	Area    float64      `json:"area_mm2"`
	Neck    *hide.Point  `json:"neck_mm"`
	Tail    *hide.Point  `json:"tail_mm"`
	Kinds   []hide.Kind  `json:"kinds"`
	Outline []hide.Point `json:"outline_mm"`
	Defects []struct {
		ID         int        `json:"id"`
		Kind       hide.Kind  `json:"kind"`
		Area       float64    `json:"area_mm2"`
		Box        [4]float64 `json:"bbox_mm"`
		Visibility float64    `json:"visibility"`
	} `json:"defects"`
}

// ReadTruth reads truth.json and truth_label.png from a folder. A path to the
// truth.json itself is taken too. Errors: NotFound without the files,
// Unreadable, or Invalid when the two contradict each other.
func ReadTruth(path string) (Truth, error) {
	if filepath.Ext(path) == ".json" {
		path = filepath.Dir(path)
	}
	name := filepath.Join(path, "truth.json")
	data, err := os.ReadFile(name)
	if err != nil {
		return Truth{}, fileFault(err, name)
	}
	var f truthFile
	if err := json.Unmarshal(data, &f); err != nil {
		return Truth{}, hide.Wrapf(hide.Invalid, err, "truth %s", name)
	}
	t, err := f.truth()
	if err != nil {
		return Truth{}, hide.Wrapf(hide.Invalid, err, "truth %s", name)
	}
	labels, err := readLabels(filepath.Join(path, "truth_label.png"), t.Grid)
	if err != nil {
		return Truth{}, err
	}
	t.ID, err = splitLabels(labels, t.Grid, f.Kinds, t.Defects)
	return t, err
}

func fileFault(err error, name string) error {
	if errors.Is(err, os.ErrNotExist) {
		return hide.Faultf(hide.NotFound, "%s does not exist", name)
	}
	return hide.Wrapf(hide.Unreadable, err, "read %s", name)
}

func (f truthFile) truth() (Truth, error) {
	t := Truth{Article: f.Article, Side: f.Side, Area: hide.MM2(f.Area), Outline: f.Outline}
	if !(f.MMPerPX > 0) || !(f.Table[0] > 0) || !(f.Table[1] > 0) ||
		f.Table[0]/f.MMPerPX*f.Table[1]/f.MMPerPX > maxTruthPixels {
		return t, hide.Faultf(hide.Invalid, "table_mm %v at mm_per_px %v is no usable raster", f.Table, f.MMPerPX)
	}
	if !(f.Area > 0) || len(f.Outline) < 3 {
		return t, hide.Faultf(hide.Invalid, "needs area_mm2 and outline_mm")
	}
	if !f.knows(f.Kinds...) {
		return t, hide.Faultf(hide.Invalid, "kinds %v: not all are kinds of defect", f.Kinds)
	}
	if f.Neck != nil && f.Tail != nil {
		t.Backbone = &[2]hide.Point{*f.Neck, *f.Tail}
	}
	t.Grid = pix.TableGrid(hide.MM(f.Table[0]), hide.MM(f.Table[1]), hide.MM(f.MMPerPX))
	for _, d := range f.Defects {
		if !f.knows(d.Kind) {
			return t, hide.Faultf(hide.Invalid, "defect %d has kind %q", d.ID, d.Kind)
		}
		b := Box{hide.MM(d.Box[0]), hide.MM(d.Box[1]), hide.MM(d.Box[2]), hide.MM(d.Box[3])}
		t.Defects = append(t.Defects, TruthDefect{ID: d.ID, Kind: d.Kind, Area: hide.MM2(d.Area), Visibility: d.Visibility, Box: b})
	}
	if len(t.Defects) > math.MaxUint16-1 {
		return t, hide.Faultf(hide.Invalid, "%d defects, want at most %d", len(t.Defects), math.MaxUint16-1)
	}
	return t, nil
}

func (f truthFile) knows(kinds ...hide.Kind) bool {
	for _, k := range kinds {
		if !k.Valid() {
			return false
		}
	}
	return true
}

// readLabels returns the raster, one byte per pixel.
func readLabels(name string, g pix.Grid) ([]uint8, error) {
	file, err := os.Open(name)
	if err != nil {
		return nil, fileFault(err, name)
	}
	defer func() { _ = file.Close() }() // only read
	head, err := png.DecodeConfig(file)
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "decode %s", name)
	}
	if head.Width != g.Width || head.Height != g.Height {
		return nil, hide.Faultf(hide.Invalid, "%s is %d × %d pixels, truth.json says %d × %d",
			name, head.Width, head.Height, g.Width, g.Height)
	}
	if _, err := file.Seek(0, 0); err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "read %s", name)
	}
	im, err := png.Decode(file)
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "decode %s", name)
	}
	if grey, ok := im.(*image.Gray); ok {
		return grey.Pix, nil // decoded without padding: one byte per pixel
	}
	return nil, hide.Faultf(hide.Invalid, "%s: want a grey picture of 8 bits", name)
}
