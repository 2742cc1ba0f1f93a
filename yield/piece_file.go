package yield

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"

	"hidechart/hide"
)

// pieceNotes is the YAML beside a drawing.
type pieceNotes struct {
	Unit   string               `yaml:"unit"`
	Gap    float64              `yaml:"gap_mm"`
	Pieces map[string]pieceNote `yaml:"pieces"`
}

type pieceNote struct {
	Count     *int      `yaml:"count"`
	Pair      *bool     `yaml:"pair"`
	Turns     []float64 `yaml:"turns_deg"`
	Grain     *float64  `yaml:"grain_deg"`
	Stretch   *float64  `yaml:"stretch_deg"`
	Look      string    `yaml:"look"`
	Substance *struct {
		From float64 `yaml:"from"`
		To   float64 `yaml:"to"`
	} `yaml:"substance_mm"`
}

// ReadPieces reads a drawing of pattern pieces, .svg or .dxf, and the file of
// the same name with .yaml beside it, where there is one: unit (mm, cm, in, px;
// goes before the drawing's own), gap_mm, and pieces, by name, with count, pair,
// turns_deg, grain_deg, stretch_deg, look, substance_mm {from, to}.
//
// Without turns a piece with a grain line may be turned by 0 and 180 degrees, one
// without by 0, 90, 180 and 270.
//
// Errors: Unreadable; Invalid for another ending, an unknown key or piece, an open
// or self-crossing contour, a piece without area.
func ReadPieces(path string) (Pieces, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return Pieces{}, hide.Wrapf(hide.Unreadable, err, "pieces")
	}
	notes, err := os.ReadFile(strings.TrimSuffix(path, filepath.Ext(path)) + ".yaml")
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return Pieces{}, hide.Wrapf(hide.Unreadable, err, "pieces")
	}
	p, err := ParsePieces(filepath.Ext(path), data, notes)
	if err != nil {
		return Pieces{}, hide.Wrapf(hide.KindOf(err), err, "%s", path)
	}
	return p, nil
}

// ParsePieces is ReadPieces on bytes; ending is .svg or .dxf, notes may be empty.
func ParsePieces(ending string, data, notes []byte) (Pieces, error) {
	var n pieceNotes
	if len(bytes.TrimSpace(notes)) > 0 {
		if err := hide.DecodeYAMLFull(notes, "notes on the pieces", &n); err != nil {
			return Pieces{}, err
		}
	}
	if !(n.Gap >= 0 && n.Gap <= largestMargin) {
		return Pieces{}, hide.Faultf(hide.Invalid, "gap_mm: %g is not between 0 and %d", n.Gap, largestMargin)
	}
	var unit float64
	if n.Unit != "" {
		var ok bool
		if unit, ok = unitMM(n.Unit); !ok {
			return Pieces{}, hide.Faultf(hide.Invalid, "unit %q is unknown: want mm, cm, in or px", n.Unit)
		}
	}
	var contours []contour
	var warnings []string
	var err error
	switch strings.ToLower(ending) {
	case ".svg":
		contours, warnings, err = readSVG(data, unit)
	case ".dxf":
		contours, warnings, err = readDXF(data, unit)
	default:
		return Pieces{}, hide.Faultf(hide.Invalid, "pieces are read from .svg and .dxf, not from %q", ending)
	}
	if err != nil {
		return Pieces{}, err
	}
	out, err := assemble(contours)
	if err != nil {
		return Pieces{}, err
	}
	out.Gap, out.Warnings = hide.MM(n.Gap), append(warnings, out.Warnings...)
	return out.finish(n)
}

// finish applies the notes, fills defaults and checks every piece.
func (p Pieces) finish(n pieceNotes) (Pieces, error) {
	seen := map[string]bool{}
	for i := range p.List {
		q := &p.List[i]
		if seen[q.Name] {
			return Pieces{}, hide.Faultf(hide.Invalid, "two pieces are named %q", q.Name)
		}
		seen[q.Name] = true
		if note, ok := n.Pieces[q.Name]; ok {
			note.apply(q)
		}
		if len(q.Turns) == 0 {
			q.Turns = []float64{0, 180}
			if q.Grain == nil && q.Stretch == nil {
				q.Turns = []float64{0, 90, 180, 270}
			}
		}
		if err := q.check(); err != nil {
			return Pieces{}, err
		}
	}
	for name := range n.Pieces {
		if !seen[name] {
			return Pieces{}, hide.Faultf(hide.Invalid, "notes on the pieces: there is no piece %q", name)
		}
	}
	if text, doubt := unitSuspicion(p.List); doubt {
		p.Warnings = append(p.Warnings, text)
	}
	return p, nil
}

func (n pieceNote) apply(p *Piece) {
	if n.Count != nil {
		p.Count = *n.Count
	}
	if n.Pair != nil {
		p.Pair = *n.Pair
	}
	if n.Turns != nil {
		p.Turns = n.Turns
	}
	if n.Grain != nil {
		p.Grain = n.Grain
	}
	if n.Stretch != nil {
		p.Stretch = n.Stretch
	}
	if n.Look != "" {
		p.Look = n.Look
	}
	if n.Substance != nil {
		p.Substance = [2]hide.MM{hide.MM(n.Substance.From), hide.MM(n.Substance.To)}
	}
}

// unitMM is a unit of length in mm. A pixel is 1/96 in, a point 1/72 in, a
// pica 1/6 in (CSS Values and Units 3, section 6.2).
func unitMM(name string) (float64, bool) {
	v, ok := map[string]float64{"mm": 1, "cm": 10, "in": 25.4, "px": 25.4 / 96, "pt": 25.4 / 72, "pc": 25.4 / 6, "q": 0.25}[strings.ToLower(name)]
	return v, ok
}
