package export

import (
	"encoding/binary"
	"encoding/json"
	"image"
	"image/png"
	"io"
	"math"

	"hidechart/hide"
)

// SwatchFormat names the file and its version.
const SwatchFormat = "hidechart swatch 1"

// Swatch is what is written of a close-up without a table: <name>.swatch.json.
// Coordinates are millimetres from the picture's lower left corner, y up; they
// are as true as the millimetres per pixel that the user gave.
type Swatch struct {
	Format     string            `json:"format"`
	Image      SwatchImage       `json:"image"`
	Frame      SwatchFrame       `json:"frame"`
	ScoreMap   SwatchScore       `json:"score_map"`
	Candidates []SwatchCandidate `json:"candidates"`
	MadeBy     SwatchMaker       `json:"made_by"`
}

// SwatchImage is the photograph.
type SwatchImage struct {
	File   string `json:"file"`
	SHA256 string `json:"sha256"`
	Width  int    `json:"width_px"`
	Height int    `json:"height_px"`
}

// SwatchFrame is the frame of the coordinates.
type SwatchFrame struct {
	Unit    string  `json:"unit"`
	Y       string  `json:"y"`
	MMPerPX hide.MM `json:"mm_per_px"`
	EdgeU   hide.MM `json:"edge_u_mm"` // standard uncertainty of where an outline lies
}

// SwatchScore says what a value of the score map means: score = (value − zero) ÷
// per_unit; 0 is the picture's median, 1 the distance from its lower quartile to it.
type SwatchScore struct {
	File    string  `json:"file"`
	Zero    int     `json:"zero"`
	PerUnit int     `json:"per_unit"`
	Seed    float64 `json:"seed"`   // a candidate's highest score is at least this
	Follow  float64 `json:"follow"` // and it reaches down to this
}

// SwatchCandidate is a place unlike the rest of the picture.
type SwatchCandidate struct {
	ID          int        `json:"id"` // by falling score, from 1
	Probability float64    `json:"probability"`
	Score       float64    `json:"score"`        // highest
	Mean        float64    `json:"mean_score"`   // over it
	Colour      float64    `json:"colour_share"` // of the score, 0 to 1; the rest is grain
	Geometry    hide.Shape `json:"geometry"`
	Pieces      int        `json:"count"` // of the geometry
	Area        SwatchArea `json:"area_mm2"`
	Length      hide.MM    `json:"length_mm"` // of the smallest rectangle around it
	Width       hide.MM    `json:"width_mm"`
}

// SwatchArea is an area with its standard uncertainty: perimeter × edge_u_mm.
type SwatchArea struct {
	Value hide.MM2 `json:"value"`
	U     hide.MM2 `json:"u"`
}

// SwatchMaker is what made the file.
type SwatchMaker struct {
	Version  string `json:"version"`
	OpenCV   string `json:"opencv"`
	Settings string `json:"settings_sha256"`
}

// The coding of a score in 16 bits: scores from −8, under which nothing is told
// apart, to 123, above what the logarithms of all distances add up to, in steps of
// a hundredth of what tells a flaw.
const (
	scoreZero    = 4000
	scorePerUnit = 500
)

// NewSwatchScore is the coding as the file states it.
func NewSwatchScore(file string) SwatchScore {
	return SwatchScore{File: file, Zero: scoreZero, PerUnit: scorePerUnit}
}

// WriteSwatch writes the file. Errors: Internal from the writer.
func WriteSwatch(w io.Writer, s Swatch) error {
	s.Format = SwatchFormat
	if s.Candidates == nil {
		s.Candidates = []SwatchCandidate{}
	}
	e := json.NewEncoder(w)
	e.SetIndent("", " ")
	if err := e.Encode(s); err != nil {
		return hide.Wrapf(hide.Internal, err, "write the swatch")
	}
	return nil
}

// WriteScoreMap writes scores, row by row, as a 16-bit grey PNG. Errors: Invalid
// when the size is not that of the scores; Internal from the writer.
func WriteScoreMap(w io.Writer, width, height int, score []float32) error {
	if width < 1 || height < 1 || len(score) != width*height {
		return hide.Faultf(hide.Invalid, "score map: %d values for %d × %d pixels", len(score), width, height)
	}
	im := image.NewGray16(image.Rect(0, 0, width, height))
	for i, v := range score {
		binary.BigEndian.PutUint16(im.Pix[2*i:], ScoreLevel(v))
	}
	e := png.Encoder{CompressionLevel: png.BestSpeed} // smooth maps shrink well at any effort
	if err := e.Encode(w, im); err != nil {
		return hide.Wrapf(hide.Internal, err, "score map")
	}
	return nil
}

// ScoreLevel is a score in 16 bits (see SwatchScore).
func ScoreLevel(v float32) uint16 {
	return uint16(min(max(math.Round(float64(v)*scorePerUnit)+scoreZero, 0), math.MaxUint16))
}
