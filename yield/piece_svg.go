package yield

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"

	"github.com/tdewolff/canvas"

	"hidechart/hide"
)

// svgReader walks an SVG drawing.
type svgReader struct {
	scale    float64 // mm per user unit
	forced   float64 // unit from the notes; 0: none
	stack    []svgState
	contours []contour
	warnings []string
}

// svgState is what a group hands down.
type svgState struct {
	matrix canvas.Matrix
	name   string
	attrs  map[string]string
	hidden bool
	role   role
}

// readSVG takes the shapes out of an SVG drawing (path, rect, circle, ellipse,
// line, polyline, polygon, with transforms). The unit comes from width, height
// and viewBox; px are 1/96 in. A line whose id or class begins with "grain" is a
// grain line; one that begins with "notch" or "internal" is left out. Attributes
// data-count, data-pair, data-turns, data-grain, data-stretch and data-look, on a
// shape or its group, describe the piece. A line whose id or class begins with
// "stretch" is the way it is to stretch; a shape that begins with "part" is a part of
// the piece it lies in, with a data-look of its own.
func readSVG(data []byte, forced float64) ([]contour, []string, error) {
	r := &svgReader{forced: forced}
	d := xml.NewDecoder(bytes.NewReader(data))
	d.CharsetReader = func(string, io.Reader) (io.Reader, error) { return nil, errors.New("only UTF-8 is read") }
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, nil, hide.Wrapf(hide.Invalid, err, "svg")
		}
		switch t := token.(type) {
		case xml.StartElement:
			if err := r.start(t); err != nil {
				line, _ := d.InputPos()
				return nil, nil, hide.Wrapf(hide.Invalid, err, "svg, line %d", line)
			}
		case xml.EndElement:
			r.stack = r.stack[:len(r.stack)-1]
		}
	}
	if r.scale == 0 {
		return nil, nil, hide.Faultf(hide.Invalid, "svg: no svg element")
	}
	return r.contours, r.warnings, nil
}

func (r *svgReader) start(e xml.StartElement) error {
	attrs := map[string]string{}
	for _, a := range e.Attr {
		attrs[a.Name.Local] = a.Value
	}
	s := svgState{matrix: canvas.Identity, attrs: map[string]string{}}
	if len(r.stack) > 0 {
		s = r.stack[len(r.stack)-1]
	} else if e.Name.Local != "svg" {
		return hide.Faultf(hide.Invalid, "the outer element is %q, not svg", e.Name.Local)
	}
	if t := attrs["transform"]; t != "" {
		m, err := svgTransform(t)
		if err != nil {
			return err
		}
		s.matrix = s.matrix.Mul(m)
	}
	s.inherit(attrs)
	r.stack = append(r.stack, s)
	if s.hidden {
		return nil
	}
	return r.element(e.Name.Local, attrs, s)
}

func (s *svgState) inherit(attrs map[string]string) {
	if attrs["id"] != "" {
		s.name = attrs["id"]
	}
	own := map[string]string{}
	for k, v := range s.attrs {
		own[k] = v
	}
	for _, key := range []string{"count", "pair", "turns", "grain", "stretch", "look"} {
		if v, ok := attrs["data-"+key]; ok {
			own[key] = v
		}
	}
	s.attrs = own
	for _, word := range append(strings.Fields(attrs["class"]), attrs["id"]) {
		word = strings.ToLower(word)
		switch {
		case strings.HasPrefix(word, "grain"):
			s.role = grainLine
		case strings.HasPrefix(word, "stretch"):
			s.role = stretchLine
		case strings.HasPrefix(word, "part"):
			s.role = partArea
		case strings.HasPrefix(word, "notch"), strings.HasPrefix(word, "internal"):
			s.role = ignored
		}
	}
	if attrs["display"] == "none" || strings.Contains(strings.ReplaceAll(attrs["style"], " ", ""), "display:none") {
		s.hidden = true
	}
}

func (r *svgReader) element(name string, attrs map[string]string, s svgState) error {
	var path string
	var err error
	switch name {
	case "svg":
		if len(r.stack) > 1 {
			return hide.Faultf(hide.Invalid, "an svg inside an svg is not read")
		}
		return r.unit(attrs)
	case "defs", "symbol", "clipPath", "mask", "pattern", "marker", "metadata":
		r.stack[len(r.stack)-1].hidden = true
		return nil
	case "use", "image":
		return hide.Faultf(hide.Invalid, "element %q is not read: draw it out as paths", name)
	case "path":
		path = attrs["d"]
	case "rect", "circle", "ellipse", "line":
		path, err = basicShape(name, attrs)
	case "polyline", "polygon":
		path = "M" + attrs["points"]
		if name == "polygon" {
			path += "Z"
		}
		if strings.TrimSpace(attrs["points"]) == "" {
			path = ""
		}
	default:
		return nil
	}
	if err != nil || strings.TrimSpace(path) == "" {
		return err
	}
	return r.path(path, s)
}

var svgLength = regexp.MustCompile(`^\s*([+-]?[0-9.]+(?:[eE][+-]?[0-9]+)?)\s*([a-zA-Z%]*)\s*$`)

// unit works out mm per user unit from width, height and viewBox.
func (r *svgReader) unit(attrs map[string]string) error {
	box, err := floats(attrs["viewBox"])
	if err != nil || len(box) != 0 && (len(box) != 4 || !(box[2] > 0) || !(box[3] > 0)) {
		return hide.Faultf(hide.Invalid, "viewBox %q: want four numbers", attrs["viewBox"])
	}
	px, _ := unitMM("px")
	var scales []float64
	for i, key := range []string{"width", "height"} {
		m := svgLength.FindStringSubmatch(attrs[key])
		if m == nil || m[2] == "%" {
			continue
		}
		v, err := strconv.ParseFloat(m[1], 64)
		mm, known := px, true
		if m[2] != "" {
			mm, known = unitMM(m[2])
		}
		if err != nil || !known || !(v > 0) {
			return hide.Faultf(hide.Invalid, "%s %q: want a length in mm, cm, in, pt or px", key, attrs[key])
		}
		if len(box) == 4 {
			scales = append(scales, v*mm/box[2+i])
		} else {
			scales = append(scales, px)
		}
	}
	switch {
	case r.forced > 0:
		r.scale = r.forced
	case len(scales) == 0:
		r.scale = px
		r.warnings = append(r.warnings, "the drawing states no size; its units are taken as px of 1/96 in")
	case len(scales) == 2 && math.Abs(scales[0]/scales[1]-1) > 1e-3:
		return hide.Faultf(hide.Invalid, "width, height and viewBox contradict each other: %.4f mm a unit across, %.4f up", scales[0], scales[1])
	default:
		r.scale = scales[0]
	}
	if len(r.stack) == 1 { // y up, millimetres
		r.stack[0].matrix = canvas.Identity.Scale(r.scale, -r.scale).Mul(r.stack[0].matrix)
	}
	return nil
}

// path adds the contours of path data.
func (r *svgReader) path(d string, s svgState) error {
	p, err := canvas.ParseSVGPath(d)
	if err != nil {
		return hide.Wrapf(hide.Invalid, err, "path of %q", s.name)
	}
	for i, c := range flattenPath(p, s.matrix) {
		for _, q := range c.points {
			if v := float64(q.X + q.Y); math.IsNaN(v) || math.IsInf(v, 0) {
				return hide.Faultf(hide.Invalid, "path of %q: a coordinate is not finite", s.name)
			}
		}
		c.role, c.attrs, c.name = s.role, s.attrs, s.name
		if i > 0 && c.name != "" {
			c.name = words("%s %d", s.name, i+1)
		}
		r.contours = append(r.contours, c)
	}
	return nil
}

// basicShape writes a basic shape as path data (SVG 1.1, section 9).
func basicShape(name string, attrs map[string]string) (string, error) {
	num := func(key string) (float64, error) {
		if attrs[key] == "" {
			return 0, nil
		}
		v, err := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(attrs[key]), "px"), 64)
		if err != nil {
			return 0, hide.Faultf(hide.Invalid, "%s: %s %q: want a number in user units", name, key, attrs[key])
		}
		return v, nil
	}
	keys := map[string][]string{"rect": {"x", "y", "width", "height", "rx", "ry"}, "circle": {"cx", "cy", "r"},
		"ellipse": {"cx", "cy", "rx", "ry"}, "line": {"x1", "y1", "x2", "y2"}}[name]
	v := make([]float64, len(keys))
	for i, k := range keys {
		var err error
		if v[i], err = num(k); err != nil {
			return "", err
		}
	}
	switch name {
	case "line":
		return words("M%g %gL%g %g", v[0], v[1], v[2], v[3]), nil
	case "circle":
		return ovalPath(v[0], v[1], v[2], v[2]), nil
	case "ellipse":
		return ovalPath(v[0], v[1], v[2], v[3]), nil
	}
	x, y, w, h, rx, ry := v[0], v[1], v[2], v[3], v[4], v[5]
	if attrs["rx"] == "" {
		rx = ry
	}
	if attrs["ry"] == "" {
		ry = rx
	}
	rx, ry = min(rx, w/2), min(ry, h/2)
	if rx <= 0 || ry <= 0 {
		return words("M%g %gh%gv%gh%gz", x, y, w, h, -w), nil
	}
	arc := func(dx, dy float64) string { return words("a%g %g 0 0 1 %g %g", rx, ry, dx, dy) }
	return words("M%g %gh%g", x+rx, y, w-2*rx) + arc(rx, ry) + words("v%g", h-2*ry) + arc(-rx, ry) + words("h%g", -(w-2*rx)) +
		arc(-rx, -ry) + words("v%g", -(h-2*ry)) + arc(rx, -ry) + "z", nil
}

func ovalPath(cx, cy, rx, ry float64) string {
	return words("M%g %ga%g %g 0 0 1 %g 0a%g %g 0 0 1 %g 0z", cx-rx, cy, rx, ry, 2*rx, rx, ry, -2*rx)
}

func floats(text string) ([]float64, error) {
	var out []float64
	for _, f := range strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ',' || r == '\n' || r == '\t' }) {
		v, err := strconv.ParseFloat(f, 64)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, nil
}

var transformForm = regexp.MustCompile(`\s*([a-zA-Z]+)\s*\(([^)]*)\)\s*,?`)

// svgTransform reads a transform attribute (SVG 1.1, section 7.6).
func svgTransform(text string) (canvas.Matrix, error) {
	m := canvas.Identity
	rest := transformForm.ReplaceAllString(text, "")
	if strings.TrimSpace(rest) != "" {
		return m, hide.Faultf(hide.Invalid, "transform %q cannot be read", text)
	}
	for _, t := range transformForm.FindAllStringSubmatch(text, -1) {
		v, err := floats(t[2])
		if err != nil {
			return m, hide.Faultf(hide.Invalid, "transform %q cannot be read", text)
		}
		switch {
		case t[1] == "matrix" && len(v) == 6:
			m = m.Mul(canvas.Matrix{{v[0], v[2], v[4]}, {v[1], v[3], v[5]}})
		case t[1] == "translate" && len(v) == 1:
			m = m.Translate(v[0], 0)
		case t[1] == "translate" && len(v) == 2:
			m = m.Translate(v[0], v[1])
		case t[1] == "scale" && len(v) == 1:
			m = m.Scale(v[0], v[0])
		case t[1] == "scale" && len(v) == 2:
			m = m.Scale(v[0], v[1])
		case t[1] == "rotate" && len(v) == 1:
			m = m.Rotate(v[0])
		case t[1] == "rotate" && len(v) == 3:
			m = m.Translate(v[1], v[2]).Rotate(v[0]).Translate(-v[1], -v[2])
		case t[1] == "skewX" && len(v) == 1:
			m = m.Mul(canvas.Matrix{{1, math.Tan(v[0] * math.Pi / 180), 0}, {0, 1, 0}})
		case t[1] == "skewY" && len(v) == 1:
			m = m.Mul(canvas.Matrix{{1, 0, 0}, {math.Tan(v[0] * math.Pi / 180), 1, 0}})
		default:
			return m, hide.Faultf(hide.Invalid, "transform %q cannot be read", t[0])
		}
	}
	return m, nil
}
