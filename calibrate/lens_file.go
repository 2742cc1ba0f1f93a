package calibrate

import (
	"bytes"
	"fmt"
	"strings"

	"gopkg.in/yaml.v3"

	"hidechart/hide"
)

// LensFile is lens.yaml: a lens fitted to photographs of a board. Terms as in
// LensTerms; u are their standard uncertainties. ParseLens reads size_px, terms
// and u; the rest is for people.
type LensFile struct {
	SizePX  [2]int         `yaml:"size_px,flow"` // width, height
	Terms   LensTerms      `yaml:"terms"`
	U       LensTerms      `yaml:"u"`
	RMSPX   float64        `yaml:"rms_px"`
	MeanPX  float64        `yaml:"mean_px"`
	Reach   float64        `yaml:"reach,omitempty"` // share of the photograph that corners reach over
	Views   []LensFileView `yaml:"views"`
	Dropped []LensFileDrop `yaml:"dropped,omitempty"`
	Notes   []string       `yaml:"notes,omitempty"`
}

// LensFileView is how one photograph agrees with the fit.
type LensFileView struct {
	Photo  string  `yaml:"photo"`
	RMSPX  float64 `yaml:"rms_px"`
	MeanPX float64 `yaml:"mean_px"`
	MaxPX  float64 `yaml:"max_px"`
}

// LensFileDrop is a photograph left out.
type LensFileDrop struct {
	Photo string `yaml:"photo"`
	Why   string `yaml:"why"`
}

// File returns what lens.yaml says of the fit.
func (f BoardFit) File() LensFile {
	out := LensFile{SizePX: [2]int{f.Size.X, f.Size.Y}, Terms: f.Terms, U: f.U,
		RMSPX: float64(f.RMS), MeanPX: float64(f.Mean), Reach: f.Coverage}
	for _, v := range f.Views {
		out.Views = append(out.Views, LensFileView{Photo: v.Name, RMSPX: float64(v.RMS), MeanPX: float64(v.Mean), MaxPX: float64(v.Max)})
	}
	for _, d := range f.Dropped {
		out.Dropped = append(out.Dropped, LensFileDrop{Photo: d.Name, Why: d.Why})
	}
	for _, n := range f.Notes {
		out.Notes = append(out.Notes, n.Text)
	}
	return out
}

// lensFileHead explains the file to whoever opens it.
const lensFileHead = `# A lens, fitted to photographs of a chessboard. Pixels, centres at integers;
# k1 k2 k3 radial, p1 p2 tangential (Brown 1971), order and sign as in OpenCV.
# u: standard uncertainties. Valid for this camera, lens, focus and zoom only.
`

// Encode returns the bytes of lens.yaml. Figures have eight significant digits,
// beyond what any fit of photographs is good for, so that round-off does not
// change the file. Error: Internal.
func (l LensFile) Encode() ([]byte, error) {
	var buf bytes.Buffer
	buf.WriteString(lensFileHead)
	var node yaml.Node
	if err := node.Encode(l); err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "lens file")
	}
	shortFloats(&node)
	e := yaml.NewEncoder(&buf)
	e.SetIndent(2)
	if err := e.Encode(&node); err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "lens file")
	}
	return buf.Bytes(), nil
}

// shortFloats rewrites every float of the tree with eight significant digits.
func shortFloats(n *yaml.Node) {
	if n.Kind == yaml.ScalarNode && n.Tag == "!!float" {
		var v float64
		if n.Decode(&v) == nil {
			n.Value = fmt.Sprintf("%.8g", v)
			if !strings.ContainsAny(n.Value, ".e") {
				n.Value += ".0" // stays a float
			}
		}
	}
	for _, c := range n.Content {
		shortFloats(c)
	}
}
