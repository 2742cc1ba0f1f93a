package hide

import (
	"fmt"
	"math"

	"gopkg.in/yaml.v3"
)

// CaptureNote is what a person wrote about a capture in its capture.yaml. The
// zero value stands for a capture without one.
type CaptureNote struct {
	ID        string         // name of the hide; empty: the folder's name
	Supplier  string         // who sold it
	Lot       string         // delivery it came with
	Article   string         // kind of leather: tannage, finish, colour
	Stamp     string         // area stamped on the hide, as written: see ParseStamp
	Substance []NotedReading // thickness readings, in the order written
	Temper    string         // how soft or firm, in words
	TempC     *float64       // of the room, °C
	Humidity  *float64       // relative, %
	Note      string         // anything else
	Backbone  *[2]Point      // neck end and tail end, if the person states it
	Side      *bool          // a side or a whole hide, if the person states it
}

// NotedReading is a thickness as it was written, with its place.
type NotedReading struct {
	Range SubstanceRange
	Place string // a zone, or words
	At    *Point // table frame
}

// noteFile is capture.yaml. Every key is optional.
type noteFile struct {
	ID       string        `yaml:"id"`
	Supplier string        `yaml:"supplier"`
	Lot      string        `yaml:"lot"`
	Article  string        `yaml:"article"`
	Stamp    string        `yaml:"stamp"`
	Readings readingList   `yaml:"substance"`
	Temper   string        `yaml:"temper"`
	TempC    *float64      `yaml:"temperature_c"`
	Humidity *float64      `yaml:"humidity_percent"`
	Note     string        `yaml:"note"`
	Backbone *[][2]float64 `yaml:"backbone_mm"`
	Side     *bool         `yaml:"side"`
}

// readingFile is one entry of substance: {mm: 1.6, place: butt}, or {oz: 4}.
type readingFile struct {
	MM    *float64    `yaml:"mm"`
	OZ    *float64    `yaml:"oz"`
	Text  string      `yaml:"reading"` // as ParseSubstance reads it: "6–7 oz"
	Place string      `yaml:"place"`
	At    *[2]float64 `yaml:"at_mm"`
}

// readingList takes one reading or a list of them; a plain text stands for
// {reading: text}.
type readingList []readingFile

// UnmarshalYAML implements yaml.Unmarshaler.
func (l *readingList) UnmarshalYAML(n *yaml.Node) error {
	nodes := []*yaml.Node{n}
	if n.Kind == yaml.SequenceNode {
		nodes = n.Content
	}
	for _, c := range nodes {
		var r readingFile
		if c.Kind == yaml.ScalarNode {
			r.Text = c.Value
		} else if err := DecodeYAMLNode(c, &r); err != nil {
			return err
		}
		*l = append(*l, r)
	}
	return nil
}

// ParseCaptureNote reads a capture.yaml. Keys: id, supplier, lot, article,
// stamp, substance (one reading or a list; a text such as "6–7 oz", or
// {mm: 1.6} or {oz: 4} with place and at_mm), temper, temperature_c,
// humidity_percent, note, backbone_mm ([[x, y] neck, [x, y] tail], table
// frame), side. An empty file is an empty note. Error: Invalid, naming the key,
// for an unknown or repeated key, a value of the wrong type, or one out of range.
func ParseCaptureNote(data []byte) (CaptureNote, error) {
	var f noteFile
	if err := DecodeYAML(data, "capture.yaml", &f); err != nil {
		return CaptureNote{}, err
	}
	n := CaptureNote{ID: f.ID, Supplier: f.Supplier, Lot: f.Lot, Article: f.Article, Stamp: f.Stamp,
		Temper: f.Temper, TempC: f.TempC, Humidity: f.Humidity, Note: f.Note, Side: f.Side}
	if err := n.take(f); err != nil {
		return CaptureNote{}, err
	}
	return n, nil
}

// take fills and checks what is not copied as it is.
func (n *CaptureNote) take(f noteFile) error {
	if f.Stamp != "" {
		if _, err := ParseStamp(f.Stamp); err != nil {
			return Wrapf(Invalid, err, "capture.yaml: stamp")
		}
	}
	if err := inRange("temperature_c", f.TempC, -40, 60); err != nil { // outside it no one works
		return err
	}
	if err := inRange("humidity_percent", f.Humidity, 0, 100); err != nil {
		return err
	}
	for i, r := range f.Readings {
		noted, err := r.noted()
		if err != nil {
			return Wrapf(Invalid, err, "capture.yaml: substance %d", i+1)
		}
		n.Substance = append(n.Substance, noted)
	}
	if f.Backbone == nil {
		return nil
	}
	if len(*f.Backbone) != 2 {
		return Faultf(Invalid, "capture.yaml: backbone_mm: want two points, neck end and tail end, got %d", len(*f.Backbone))
	}
	n.Backbone = &[2]Point{}
	for i, c := range *f.Backbone {
		if !finite(c[0]) || !finite(c[1]) {
			return Faultf(Invalid, "capture.yaml: backbone_mm: want finite numbers")
		}
		n.Backbone[i] = Point{X: MM(c[0]), Y: MM(c[1])}
	}
	return nil
}

func inRange(key string, v *float64, lo, hi float64) error {
	if v != nil && !(*v >= lo && *v <= hi) {
		return Faultf(Invalid, "capture.yaml: %s: %g is not between %g and %g", key, *v, lo, hi)
	}
	return nil
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

func (r readingFile) noted() (NotedReading, error) {
	out := NotedReading{Place: r.Place}
	if r.At != nil {
		if !finite(r.At[0]) || !finite(r.At[1]) {
			return out, Faultf(Invalid, "at_mm: want finite numbers")
		}
		out.At = &Point{X: MM(r.At[0]), Y: MM(r.At[1])}
	}
	text, given := r.Text, 0
	for _, stated := range []struct {
		v    *float64
		unit string
	}{{r.MM, "mm"}, {r.OZ, "oz"}} {
		if stated.v != nil {
			text = fmt.Sprintf("%g %s", *stated.v, stated.unit)
			given++
		}
	}
	if r.Text != "" {
		given++
	}
	if given != 1 {
		return out, Faultf(Invalid, "give the thickness once: as mm, as oz or as a text with its unit")
	}
	var err error
	out.Range, err = ParseSubstance(text)
	return out, err
}

// MeanSubstance is the mean of the readings' middles; ok is false without any.
func (n CaptureNote) MeanSubstance() (mean MM, ok bool) {
	for _, r := range n.Substance {
		mean += r.Range.Middle() / MM(len(n.Substance))
	}
	return mean, len(n.Substance) > 0
}

// Facts turns the note into the chart's facts; the images are the caller's.
func (n CaptureNote) Facts() CaptureFacts {
	f := CaptureFacts{ID: n.ID, Supplier: n.Supplier, Lot: n.Lot, Article: n.Article, Stamp: n.Stamp,
		Temper: n.Temper, TempC: n.TempC, Humidity: n.Humidity, Note: n.Note}
	for _, r := range n.Substance {
		f.Substance = append(f.Substance, Substance{MM: MM(Micron(r.Range.Middle())), Place: r.Place, At: r.At})
	}
	return f
}
