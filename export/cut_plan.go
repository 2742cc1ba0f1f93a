package export

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"hidechart/hide"
)

// CutPlan is what is drawn for the cutter of one hide under one look: where
// leather can be cut, how good it is, and where pieces were laid. Table
// millimetres, y up.
type CutPlan struct {
	Hide, Look string
	Outline    hide.Polygon
	Backbone   [2]hide.Point // neck, tail; both at one place: unknown
	Cuttable   hide.Shape
	Quality    []QualityArea // best first; they do not overlap
	Pieces     []CutPiece    // in the order placed
	Notes      []string      // figures and doubts, a line each
}

// QualityArea is the leather of one quality.
type QualityArea struct {
	Name  string // one word of the project's own, also the layer's name
	Words string // what it means
	Shape hide.Shape
}

// CutPiece is a piece laid on the hide.
type CutPiece struct {
	Name   string
	Turn   float64 // degrees, as the piece's allowed turns count them
	Mirror bool
	Shape  hide.Polygon
	Grain  *[2]hide.Point // grain line as it lies; nil: none
}

// Layers of a cut plan.
const (
	layerCuttable     = "cuttable"
	layerCuttableHole = "cuttable holes"
	layerQualityHole  = "quality holes"
	layerPieces       = "pieces"
	layerCutOuts      = "piece cut-outs"
	layerPieceNames   = "piece names"
	layerGrain        = "grain lines"
)

func qualityLayer(q QualityArea) string { return "quality " + oneLine(q.Name) }

// check refuses what cannot be drawn.
func (p CutPlan) check() error {
	if len(p.Outline.Outer) < 3 {
		return hide.Faultf(hide.Invalid, "cut plan: no outline")
	}
	return nil
}

func (p CutPlan) box() box {
	b := emptyBox().withRing(p.Outline.Outer)
	for _, q := range p.Pieces {
		b = b.withRing(q.Shape.Outer)
	}
	return b
}

func (p CutPlan) title() string {
	return strings.TrimSpace("hide "+oneLine(p.Hide)) + ", look " + oneLine(p.Look)
}

// knifeCaution stands on everything that goes to the table.
func knifeCaution() string {
	return "An estimate to plan with: cut by what you see and feel on the leather. Cut away from your hand, on a mat, and close the knife after; " +
		"keep hands out of presses. Leather that carries load or protects is judged by a trained person under local rules; open scars and bites " +
		"never go into a stressed part."
}

// middleOf is where a piece's number stands: the middle of its box.
func middleOf(r hide.Ring) (x, y float64) {
	b := emptyBox().withRing(r)
	return (b.minX + b.maxX) / 2, (b.minY + b.maxY) / 2
}

// pieceLabel is a piece's number on the plan and its name.
func pieceLabel(i int, p CutPiece) string {
	s := fmt.Sprintf("%d %s", i+1, oneLine(p.Name))
	if p.Mirror {
		s += " (mirrored)"
	}
	return s
}

// pieceCounts lists the pieces by name with their numbers, in the order first
// placed: "front: 1, 3, 5".
func pieceCounts(list []CutPiece) []string {
	var names []string
	numbers := map[string][]string{}
	for i, p := range list {
		if !slices.Contains(names, p.Name) {
			names = append(names, p.Name)
		}
		numbers[p.Name] = append(numbers[p.Name], fmt.Sprint(i+1))
	}
	var out []string
	for _, n := range names {
		out = append(out, fmt.Sprintf("%d × %s: %s", len(numbers[n]), oneLine(n), strings.Join(numbers[n], ", ")))
	}
	return out
}

// CutFormat is one kind of file a cut plan can be written as.
type CutFormat struct {
	Name, Ending, Words string
	Write               func(w io.Writer, p CutPlan, o CutOptions) error
}

// CutOptions of the files that go to the table.
type CutOptions struct {
	Paper    string  // A4 or A3, of the PDFs
	MMPerPX  float64 // of the projection
	OverlapM hide.MM // of the tiles: how far neighbours show the same leather
}

// DefaultCutOptions are for a printer and a projector at hand: A4 is in every printer; 1 mm a pixel is what a projector of
// 3840 × 2160 pixels shows of a table of 3.3 m; 15 mm of overlap leave room for tape
// beyond the printer's margin.
func DefaultCutOptions() CutOptions { return CutOptions{Paper: "A4", MMPerPX: 1, OverlapM: 15} }

// CutFormats lists them in the order of the documentation.
func CutFormats() []CutFormat {
	plain := func(write func(io.Writer, CutPlan) error) func(io.Writer, CutPlan, CutOptions) error {
		return func(w io.Writer, p CutPlan, _ CutOptions) error { return write(w, p) }
	}
	return []CutFormat{
		{"svg", ".cut.svg", "drawing true to size, one group a layer", plain(WriteCutSVG)},
		{"dxf", ".cut.mm.dxf", "drawing for CAD, nesting and cutting software, millimetres", plain(WriteCutDXF)},
		{"geojson", ".cut.geojson", "shapes with their properties, planar millimetres", plain(WriteCutGeoJSON)},
		{"sheet", ".cut.pdf", "one page for the cutter, at scale with a bar", WriteCutSheet},
		{"tiles", ".cut.tiles.pdf", "the hide at full size on many pages, to be taped together", WriteCutTiles},
		{"projection", ".cut.png", "picture to project on the table, with corner marks", WriteCutProjection},
	}
}

// FindCutFormats resolves names, in the order of the list. Error: Invalid naming
// the unknown one and those there are.
func FindCutFormats(names []string) ([]CutFormat, error) {
	all := CutFormats()
	var known []string
	for _, f := range all {
		known = append(known, f.Name)
	}
	for _, n := range names {
		if !slices.Contains(known, n) {
			return nil, hide.Faultf(hide.Invalid, "format %q: want %s", n, strings.Join(known, ", "))
		}
	}
	return slices.DeleteFunc(all, func(f CutFormat) bool { return !slices.Contains(names, f.Name) }), nil
}
