package export

import (
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"

	"hidechart/hide"
	"hidechart/pix"
)

// The W3C Web Annotation Data Model (Recommendation, 23 February 2017): one
// annotation a defect, its place an SvgSelector (4.2.8) in pixels of the picture,
// the picture named by its hash (RFC 6920).
const (
	annoContext = "http://www.w3.org/ns/anno.jsonld"
	ourTerms    = "urn:hidechart:terms:"
)

type annoPage struct {
	Context []any        `json:"@context"`
	ID      string       `json:"id"`
	Type    string       `json:"type"`
	Items   []annotation `json:"items"`
}

type annotation struct {
	ID          string     `json:"id"`
	Type        string     `json:"type"`
	Motivation  string     `json:"motivation"`
	Body        []annoBody `json:"body"`
	Target      annoTarget `json:"target"`
	Probability *float64   `json:"hidechart:probability,omitempty"`
	Open        bool       `json:"hidechart:open,omitempty"`
}

type annoBody struct {
	Type    string `json:"type"`
	Value   string `json:"value"`
	Purpose string `json:"purpose"`
}

type annoTarget struct {
	Source   string       `json:"source"`
	Selector annoSelector `json:"selector"`
}

type annoSelector struct {
	Type  string `json:"type"`
	Value string `json:"value"`
}

// pictureName is the address of a picture by its SHA-256 (RFC 6920, section 3).
func pictureName(sum string) (string, error) {
	raw, err := hex.DecodeString(sum)
	if err != nil {
		return "", hide.Wrapf(hide.Invalid, err, "picture hash %q", sum)
	}
	return "ni:///sha-256;" + base64.RawURLEncoding.EncodeToString(raw), nil
}

// WriteWebAnnotations writes the defects of a chart as annotations of the
// picture under top light. Rejected ones are there, with their status. Errors: Invalid without
// that picture.
func WriteWebAnnotations(w io.Writer, c hide.Chart, l Lights) error {
	source, err := annotated(l)
	if err != nil {
		return err
	}
	name, err := pictureName(source.SHA256)
	if err != nil {
		return err
	}
	page := annoPage{Context: []any{annoContext, map[string]string{"hidechart": ourTerms}}, ID: "urn:hidechart:page:" + source.SHA256,
		Type: "AnnotationPage", Items: []annotation{}}
	for _, d := range c.Defects {
		p := d.Probability
		page.Items = append(page.Items, annotation{ID: fmt.Sprintf("urn:hidechart:%s:defect-%d", source.SHA256, d.ID), Type: "Annotation", Motivation: "classifying",
			Body: []annoBody{{"TextualBody", string(d.Kind), "classifying"}, {"TextualBody", string(d.Status), "assessing"}},
			Target: annoTarget{name, annoSelector{"SvgSelector",
				`<svg xmlns="http://www.w3.org/2000/svg"><path fill-rule="evenodd" d="` + selectorPath(d.Geometry, l.Grid()) + `"/></svg>`}},
			Probability: &p, Open: d.Open})
	}
	data, err := encodeJSON(page)
	if err != nil {
		return hide.Wrapf(hide.Internal, err, "annotations")
	}
	_, err = w.Write(data)
	return err
}

// annotated is the picture that shapes are given on: top light, else the first.
func annotated(l Lights) (LightPicture, error) {
	if p, ok := l.Find(hide.Top); ok {
		return p, nil
	}
	if len(l.Pictures) == 0 {
		return LightPicture{}, hide.Faultf(hide.Invalid, "there is no picture beside the chart to give shapes on: chart the capture again")
	}
	return l.Pictures[0], nil
}

// edgePixel is a place in pixels from the picture's corner, as SVG and COCO
// count: half a pixel more than pix.Point, whose pixels have their centre at integers.
func edgePixel(g pix.Grid, p hide.Point) (x, y float64) {
	return float64((p.X - g.Left) / g.MMPerPX), float64((g.Top - p.Y) / g.MMPerPX)
}

// fromEdgePixel is its inverse, rounded as charts are.
func fromEdgePixel(g pix.Grid, x, y float64) hide.Point {
	return hide.Point{X: hide.MM(hide.Micron(g.Left + hide.MM(x)*g.MMPerPX)), Y: hide.MM(hide.Micron(g.Top - hide.MM(y)*g.MMPerPX))}
}

// pixelDigits after the point: a ten-thousandth of a pixel, so that 0.001 mm
// comes back exact down to 0.1 mm a pixel and up to 9.
const pixelDigits = 4

func selectorPath(s hide.Shape, g pix.Grid) string {
	var b strings.Builder
	for _, p := range s {
		for _, r := range append([]hide.Ring{p.Outer}, p.Holes...) {
			for i, q := range r {
				verb := " L "
				if i == 0 {
					verb = "M "
				}
				x, y := edgePixel(g, q)
				b.WriteString(verb + pixelText(x) + " " + pixelText(y))
			}
			b.WriteString(" Z ")
		}
	}
	return strings.TrimSpace(b.String())
}

func pixelText(v float64) string {
	t := strconv.FormatFloat(v, 'f', pixelDigits, 64)
	return strings.TrimSuffix(strings.TrimRight(t, "0"), ".")
}

// Annotated is a shape that somebody drew on a picture, read from outside.
type Annotated struct {
	Defect int // id on our chart; 0: none given
	Kind   hide.Kind
	Status hide.Status // candidate if none is given
	Open   bool
	Shape  hide.Shape // table millimetres
}

// mostAnnotations in one file: more than the worst hide has flaws.
const mostAnnotations = 20000

// ReadWebAnnotations reads annotations (one, a list, or a page) of pictures that lie
// beside a chart. Of an SvgSelector only the shapes are taken, see
// readSelector; nothing of it is ever shown. Errors: Invalid, naming the annotation.
func ReadWebAnnotations(data []byte, l Lights) ([]Annotated, error) {
	items, err := annotationItems(data)
	if err != nil {
		return nil, err
	}
	if len(items) > mostAnnotations {
		return nil, hide.Faultf(hide.Invalid, "more than %d annotations", mostAnnotations)
	}
	var out []Annotated
	for i, raw := range items {
		a, err := readAnnotation(raw, l)
		if err != nil {
			return nil, hide.Wrapf(hide.Invalid, err, "annotation %d", i+1)
		}
		out = append(out, a)
	}
	return out, nil
}

func annotationItems(data []byte) ([]json.RawMessage, error) {
	var list []json.RawMessage
	if json.Unmarshal(data, &list) == nil {
		return list, nil
	}
	var page struct {
		Type  string            `json:"type"`
		Items []json.RawMessage `json:"items"`
	}
	if err := json.Unmarshal(data, &page); err != nil {
		return nil, hide.Wrapf(hide.Invalid, err, "annotations")
	}
	switch page.Type {
	case "Annotation":
		return []json.RawMessage{data}, nil
	case "AnnotationPage":
		return page.Items, nil
	}
	return nil, hide.Faultf(hide.Invalid, "type %q: want Annotation or AnnotationPage", page.Type)
}

func readAnnotation(raw json.RawMessage, l Lights) (Annotated, error) {
	var a struct {
		ID     string          `json:"id"`
		Body   json.RawMessage `json:"body"`
		Target annoTarget      `json:"target"`
		Open   bool            `json:"hidechart:open"`
	}
	out := Annotated{Status: hide.Candidate}
	if err := json.Unmarshal(raw, &a); err != nil {
		return out, hide.Wrapf(hide.Invalid, err, "not an annotation with one target")
	}
	var bodies []annoBody
	if json.Unmarshal(a.Body, &bodies) != nil {
		bodies = make([]annoBody, 1)
		if err := json.Unmarshal(a.Body, &bodies[0]); err != nil {
			return out, hide.Wrapf(hide.Invalid, err, "body")
		}
	}
	for _, b := range bodies {
		switch k, s := hide.Kind(b.Value), hide.Status(b.Value); {
		case k.Valid() && (b.Purpose == "classifying" || b.Purpose == "tagging"):
			out.Kind = k
		case b.Purpose == "assessing" && (s == hide.Candidate || s == hide.Confirmed || s == hide.Rejected || s == hide.Added):
			out.Status = s
		}
	}
	if out.Kind == "" {
		return out, hide.Faultf(hide.Invalid, "no body with purpose classifying or tagging names a kind of flaw")
	}
	if !picturedBy(a.Target.Source, l) {
		return out, hide.Faultf(hide.Invalid, "source %q is no picture of this chart", a.Target.Source)
	}
	if a.Target.Selector.Type != "SvgSelector" {
		return out, hide.Faultf(hide.Invalid, "selector %q: want SvgSelector", a.Target.Selector.Type)
	}
	if _, id, ok := strings.Cut(a.ID, ":defect-"); ok && strings.HasPrefix(a.ID, "urn:hidechart:") {
		out.Defect, _ = strconv.Atoi(id) // of another form: none of ours
	}
	out.Open = a.Open
	var err error
	out.Shape, err = readSelector(a.Target.Selector.Value, l.Grid())
	return out, err
}

func picturedBy(source string, l Lights) bool {
	for _, p := range l.Pictures {
		if name, err := pictureName(p.SHA256); err == nil && (source == name || source == "urn:sha256:"+p.SHA256) {
			return true
		}
	}
	return false
}
