package yield

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// reference holds areas in mm² by librsvg and ezdxf: testdata/pieces/reference.py.
func reference(t *testing.T) map[string]float64 {
	t.Helper()
	data, err := os.ReadFile("testdata/pieces/reference.json")
	require.NoError(t, err)
	var out map[string]float64
	require.NoError(t, json.Unmarshal(data, &out))
	return out
}

func byName(p Pieces) map[string]Piece {
	out := map[string]Piece{}
	for _, q := range p.List {
		out[q.Name] = q
	}
	return out
}

// Every path command and basic shape, under transforms and mixed units, against
// the pixels librsvg fills.
func TestSVGAgainstLibrsvg(t *testing.T) {
	p, err := ReadPieces("testdata/pieces/shapes.svg")
	require.NoError(t, err)
	got := byName(p)
	n := 0
	for key, area := range reference(t) {
		name, ok := strings.CutPrefix(key, "svg ")
		if !ok {
			continue
		}
		n++
		require.Contains(t, got, name)
		// chords within 0.02 mm of curves, and 20 pixels a mm: along the edge
		require.InDelta(t, area, float64(got[name].Area()), 0.02*float64(got[name].Shape.Outer.Length())+0.1, name)
	}
	require.Len(t, p.List, n, "text, notches and grain lines are no pieces")
	require.Len(t, got["ring"].Shape.Holes, 1)
	star := got["polygon"]
	require.Equal(t, []float64{0, 45}, star.Turns)
	require.True(t, star.Pair)
	require.Equal(t, 3, star.Count)
	require.InDelta(t, 0, *star.Grain, 1e-9)
	require.Nil(t, got["disc"].Grain)
	require.InDelta(t, math.Pi*19.05*19.05, float64(got["disc"].Area()), 2, "75 units of 0.254 mm")
	require.Len(t, p.Warnings, 1)
	require.Contains(t, p.Warnings[0], "a gap of 0.38 mm was closed")
}

// Files written and audited by ezdxf.
func TestDXFAgainstEzdxf(t *testing.T) {
	for _, file := range []string{"plain", "astm"} {
		p, err := ReadPieces("testdata/pieces/" + file + ".dxf")
		require.NoError(t, err)
		got := byName(p)
		n := 0
		for key, area := range reference(t) {
			name, ok := strings.CutPrefix(key, file+" ")
			if !ok {
				continue
			}
			n++
			require.Contains(t, got, name)
			require.InDelta(t, area, float64(got[name].Area()), 0.02*float64(got[name].Shape.Outer.Length())+20*0.3, "%s %s: chords, and the gap closed by 0.3 mm", file, name)
		}
		require.Len(t, p.List, n)
		if file == "astm" {
			require.Equal(t, []int{1, 2}, []int{got["front panel"].Count, got["back panel"].Count})
			require.Len(t, got["front panel"].Shape.Holes, 1)
			require.InDelta(t, 90, *got["front panel"].Grain, 1e-9)
			require.Equal(t, []float64{0, 180}, got["front panel"].Turns)
			require.Empty(t, p.Warnings, "the text says the unit")
			continue
		}
		require.InDelta(t, math.Atan2(3, 1)*180/math.Pi, *got["kite"].Grain, 1e-9)
		require.Len(t, got["slot"].Shape.Holes, 1)
		require.Contains(t, p.Warnings[0], "a gap of 0.30 mm was closed")
	}
}

func svg(body string) []byte {
	return []byte(`<svg xmlns="http://www.w3.org/2000/svg" width="500mm" height="500mm" viewBox="0 0 500 500">` + body + `</svg>`)
}

func TestPieceNotes(t *testing.T) {
	drawing := svg(`<rect id="a" width="90" height="40"/><rect id="b" x="200" width="50" height="50"/>`)
	p, err := ParsePieces(".svg", drawing, []byte(`
gap_mm: 3
pieces:
  a: {count: 2, pair: true, turns_deg: [0, 30], grain_deg: 90, look: rustic, substance_mm: {from: 1.2, to: 1.6}}
`))
	require.NoError(t, err)
	a := byName(p)["a"]
	require.InDelta(t, 3, float64(p.Gap), 0)
	require.Equal(t, "rustic", a.Look)
	require.Equal(t, 2, a.Count)
	require.True(t, a.Pair)
	require.Equal(t, []float64{0, 30}, a.Turns)
	require.Equal(t, [2]hide.MM{1.2, 1.6}, a.Substance)
	require.Equal(t, []float64{0, 90, 180, 270}, byName(p)["b"].Turns)
	p, err = ParsePieces(".svg", drawing, []byte("unit: in"))
	require.NoError(t, err)
	require.InDelta(t, 90*40*25.4*25.4, float64(byName(p)["a"].Area()), 1e-6)
}

// What cannot be used is refused with its place or name; what looks wrong by
// 25.4 is said.
func TestPiecesRefuse(t *testing.T) {
	for body, want := range map[string]string{
		`<path id="x" d="M10 20 L100 20 L100 120 L10 120 L10 23"/>`: "ends at 10.00, -20.00 and 10.00, -23.00 mm are 3.00 mm apart",
		`<path id="bow" d="M0 0 L100 100 L100 0 L0 100 Z"/>`:        "crosses itself",
		`<path id="line" d="M0 0 L100 0 L50 0 Z"/>`:                 "no area",
		`<path id="dot" d="M0 0 h0.5 v0.5 h-0.5 z"/>`:               `piece "dot" has an area of 0.250`,
		``:                                       "no closed contour",
		`<use href="#a"/>`:                       "draw it out",
		`<path id="x" d="M0 0 L 1 x"/>`:          `path of "x"`,
		`<rect id="a" width="10%" height="40"/>`: "user units",
		`<g transform="spin(3)"><rect id="a" width="9" height="9"/></g>`:                "transform",
		`<rect id="a" width="90" height="40" data-count="many"/>`:                       `count "many"`,
		`<rect id="a" width="90" height="40" data-count="0"/>`:                          "count 0",
		`<rect id="a" width="90" height="40" data-turns="up"/>`:                         `turns "up"`,
		`<rect id="a" width="9" height="9"/><rect id="a" x="50" width="9" height="9"/>`: `two pieces are named "a"`,
	} {
		_, err := ParsePieces(".svg", svg(body), nil)
		require.Error(t, err, body)
		require.ErrorIs(t, err, hide.Invalid, body)
		require.Contains(t, err.Error(), want, body)
	}
	for notes, want := range map[string]string{"pieces: {z: {count: 1}}": `no piece "z"`, "peices: {}": `unknown key "peices"`, "unit: ell": `unit "ell"`, "gap_mm: -1": "gap_mm",
		"pieces: {a: {substance_mm: {from: 2, to: 1}}}": "contradict"} {
		_, err := ParsePieces(".svg", svg(`<rect id="a" width="9" height="9"/>`), []byte(notes))
		require.ErrorContains(t, err, want)
	}
	_, err := ParsePieces(".ai", nil, nil)
	require.ErrorContains(t, err, ".svg and .dxf")
	_, err = ParsePieces(".svg", []byte(`<svg width="100mm" height="100mm" viewBox="0 0 100 50"><rect width="9" height="9"/></svg>`), nil)
	require.ErrorContains(t, err, "contradict each other")
	_, err = ReadPieces(filepath.Join(t.TempDir(), "none.svg"))
	require.ErrorIs(t, err, hide.Unreadable)
}

func TestWrongUnitIsSuspected(t *testing.T) {
	wide := []byte("unit: in")
	p, err := ParsePieces(".svg", svg(`<rect id="a" width="300" height="200"/>`), wide)
	require.NoError(t, err)
	require.ErrorContains(t, errors.New(strings.Join(p.Warnings, " ")), "7620 mm long, longer than a hide: was it drawn in millimetres and read as inches? Divided by 25.4 it is 300 mm")
	p, err = ParsePieces(".svg", svg(`<rect id="a" width="8" height="4"/>`), nil)
	require.NoError(t, err)
	require.Contains(t, strings.Join(p.Warnings, " "), "only 8.00 mm long")
	p, err = ParsePieces(".svg", svg(`<rect id="a" width="300" height="200"/>`), nil)
	require.NoError(t, err)
	require.Empty(t, p.Warnings)
}

func TestDXFRefuses(t *testing.T) {
	head := "0\nSECTION\n2\nENTITIES\n"
	for text, want := range map[string]string{
		"AutoCAD Binary DXF\r\n": "ASCII",
		"x\ny\n":                 "line 1",
		head + "0\nLINE\n10\nzero\n20\n0\n11\n1\n21\n1\n":          "line 8",
		head + "0\nLINE\n10\n0\n20\n0\n11\n50\n21\n0\n0\nENDSEC\n": "50.00 mm apart",
		head + "0\nSPLINE\n8\n0\n0\nENDSEC\n":                      "SPLINE is not read",
		head + "0\nINSERT\n2\nB\n41\n2\n0\nENDSEC\n":               "scale",
		head + "0": "ends within a group",
	} {
		_, err := ParsePieces(".dxf", []byte(text), nil)
		require.Error(t, err, text)
		require.ErrorIs(t, err, hide.Invalid, text)
		require.Contains(t, err.Error(), want, text)
	}
}

// The mirror image of a mirror image, and a turn by 360 degrees, is the piece.
func TestTurned(t *testing.T) {
	p := pieceOf(hide.Ring{at(0, 0), at(60, 10), at(50, 45), at(5, 50)})
	require.InDelta(t, float64(p.Shape.Area()), float64(p.turned(360, false).Area()), 1e-9)
	twice := Piece{Shape: p.turned(0, true)}.turned(0, true)
	require.InDelta(t, 0, float64(twice.Outer[0].Distance(p.Shape.Outer[0])), 1e-9)
	require.InDelta(t, float64(p.Shape.Area()), float64(p.turned(33, true).Area()), 1e-9)
	box, _ := boxOf(hide.Shape{p.turned(90, false)})
	require.Equal(t, hide.Point{X: 50, Y: 60}, box.Max)
}

func FuzzParsePieces(f *testing.F) {
	for _, name := range []string{"shapes.svg", "plain.dxf", "astm.dxf"} {
		data, err := os.ReadFile("testdata/pieces/" + name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(filepath.Ext(name), data, []byte("gap_mm: 1"))
	}
	f.Fuzz(func(t *testing.T, ending string, data, notes []byte) {
		p, err := ParsePieces(ending, data, notes)
		if err != nil {
			require.ErrorIs(t, err, hide.Invalid, err.Error())
			return
		}
		for _, q := range p.List {
			require.Positive(t, float64(q.Area()))
		}
	})
}

func ExampleParsePieces() {
	p, _ := ParsePieces(".svg", svg(`<path id="flap" d="M0 0 H120 V60 A60 60 0 0 1 0 60 Z"/>`), nil)
	for _, q := range p.List {
		w, h := q.Size()
		fmt.Printf("%s: %.0f × %.0f mm, %.1f cm²\n", q.Name, w, h, float64(q.Area())/100)
	}
	// Output:
	// flap: 120 × 120 mm, 128.5 cm²
}
