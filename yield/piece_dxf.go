package yield

import (
	"bufio"
	"bytes"
	"math"
	"strconv"
	"strings"

	"hidechart/hide"
	"hidechart/plane"
)

// dxfPair is one group code and its value.
type dxfPair struct {
	code  int
	value string
	line  int
}

// dxfEntity is an entity with its pairs; a POLYLINE holds its vertices.
type dxfEntity struct {
	kind, block string
	pairs       []dxfPair
	vertices    []dxfEntity
}

// dxfText is a text and where it stands.
type dxfText struct {
	group, text string
	at          hide.Point
}

// readDXF takes the pieces out of an ASCII DXF drawing: LWPOLYLINE, POLYLINE,
// LINE, ARC, CIRCLE. A file with lines on layer 1 is read by the layers of ASTM
// D6673 (1 boundary, 4 notch, 7 grain line, 8 internal line, 11 cut-out; others left
// out); any other by nesting, layers named grain, notch and internal apart. A
// block is a piece of its own. The unit is that of $INSUNITS, else of the text
// "Units:" of D6673, else of $MEASUREMENT; without any it is taken as mm and
// that is said. Source: DXF reference (group codes), ASTM D6673-10.
func readDXF(data []byte, forced float64) ([]contour, []string, error) {
	pairs, err := dxfPairs(data)
	if err != nil {
		return nil, nil, err
	}
	header, entities, err := dxfEntities(pairs)
	if err != nil {
		return nil, nil, err
	}
	texts := dxfTexts(entities)
	unit, warnings := dxfUnit(header, texts, forced)
	astm := false
	for _, e := range entities {
		astm = astm || e.get(8) == "1" && e.kind != "TEXT" && e.kind != "POINT"
	}
	var contours []contour
	for _, e := range entities {
		c, ok, err := e.contour(unit)
		if err != nil {
			return nil, nil, err
		}
		if ok {
			c.role, c.group = dxfRole(e.get(8), astm), e.block
			if c.role == partArea {
				c.name = e.get(8)
			}
			contours = append(contours, c)
		}
	}
	contours, closedGaps, err := joinContours(contours)
	if err != nil {
		return nil, nil, err
	}
	nameContours(contours, texts, unit)
	return contours, append(warnings, closedGaps...), nil
}

func dxfPairs(data []byte) ([]dxfPair, error) {
	if bytes.HasPrefix(data, []byte("AutoCAD Binary DXF")) {
		return nil, hide.Faultf(hide.Invalid, "dxf: binary DXF is not read; save it as ASCII")
	}
	s := bufio.NewScanner(bytes.NewReader(data))
	s.Buffer(nil, 1<<20)
	var out []dxfPair
	for line := 1; s.Scan(); line += 2 {
		code, err := strconv.Atoi(strings.TrimSpace(s.Text()))
		if err != nil {
			return nil, hide.Faultf(hide.Invalid, "dxf, line %d: %.40q is no group code", line, s.Text())
		}
		if !s.Scan() {
			return nil, hide.Faultf(hide.Invalid, "dxf, line %d: the file ends within a group", line)
		}
		out = append(out, dxfPair{code, strings.TrimSpace(s.Text()), line + 1})
	}
	if err := s.Err(); err != nil {
		return nil, hide.Wrapf(hide.Invalid, err, "dxf")
	}
	return out, nil
}

// dxfEntities splits the file into its header variables and its entities, in
// blocks and out of them.
func dxfEntities(pairs []dxfPair) (header map[string]string, out []dxfEntity, err error) {
	header = map[string]string{}
	section, block, variable := "", "", ""
	for i := 0; i < len(pairs); {
		p := pairs[i]
		if p.code == 9 && section == "HEADER" {
			variable = p.value
		} else if section == "HEADER" && variable != "" && p.code != 0 {
			header[variable] = p.value
			variable = ""
		}
		if p.code != 0 {
			i++
			continue
		}
		e := dxfEntity{kind: p.value, block: block}
		for i++; i < len(pairs) && pairs[i].code != 0; i++ {
			if section == "HEADER" && p.value != "SECTION" {
				break
			}
			if p.value == "SECTION" && pairs[i].code == 9 {
				break
			}
			e.pairs = append(e.pairs, pairs[i])
		}
		switch {
		case e.kind == "SECTION":
			section = e.get(2)
		case e.kind == "ENDSEC":
			section = ""
		case section == "BLOCKS" && e.kind == "BLOCK":
			block = e.get(2)
		case section == "BLOCKS" && e.kind == "ENDBLK":
			block = ""
		case section != "ENTITIES" && section != "BLOCKS":
		case e.kind == "VERTEX" && len(out) > 0 && out[len(out)-1].kind == "POLYLINE":
			out[len(out)-1].vertices = append(out[len(out)-1].vertices, e)
		case e.kind == "SEQEND":
		case e.kind == "INSERT" && (e.scale(41) != 1 || e.scale(42) != 1):
			return nil, nil, hide.Faultf(hide.Invalid, "dxf, line %d: block %q is inserted with a scale: explode it", p.line, e.get(2))
		default:
			out = append(out, e)
		}
	}
	return header, out, nil
}

func (e dxfEntity) get(code int) string {
	for _, p := range e.pairs {
		if p.code == code {
			return p.value
		}
	}
	return ""
}

func (e dxfEntity) scale(code int) float64 {
	if v := e.get(code); v != "" {
		f, err := strconv.ParseFloat(v, 64)
		if err != nil {
			return math.NaN()
		}
		return f
	}
	return 1
}

// number reads a value that must be a finite number; 0 when missing.
func (e dxfEntity) number(code int) (float64, error) {
	for _, p := range e.pairs {
		if p.code == code {
			return p.number()
		}
	}
	return 0, nil
}

func (p dxfPair) number() (float64, error) {
	v, err := strconv.ParseFloat(p.value, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, hide.Faultf(hide.Invalid, "dxf, line %d: %.40q is no number", p.line, p.value)
	}
	return v, nil
}

func (e dxfEntity) numbers(codes ...int) ([]float64, error) {
	out := make([]float64, len(codes))
	for i, c := range codes {
		var err error
		if out[i], err = e.number(c); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// bulged is a vertex with the bulge of the segment after it: the tangent of a
// quarter of its arc's angle, positive to the left.
type bulged struct{ x, y, bulge float64 }

// contour converts an entity; ok is false for one that draws no line.
func (e dxfEntity) contour(unit float64) (c contour, ok bool, err error) {
	var v []bulged
	switch e.kind {
	case "LINE":
		n, err := e.numbers(10, 20, 11, 21)
		if err != nil {
			return c, false, err
		}
		v = []bulged{{n[0], n[1], 0}, {n[2], n[3], 0}}
	case "CIRCLE":
		n, err := e.numbers(10, 20, 40)
		if err != nil {
			return c, false, err
		}
		v, c.closed = []bulged{{n[0] + n[2], n[1], 1}, {n[0] - n[2], n[1], 1}}, true
	case "ARC":
		n, err := e.numbers(10, 20, 40, 50, 51)
		if err != nil {
			return c, false, err
		}
		a, b := n[3]*math.Pi/180, n[4]*math.Pi/180
		sweep := math.Mod(b-a+4*math.Pi, 2*math.Pi)
		v = []bulged{{n[0] + n[2]*math.Cos(a), n[1] + n[2]*math.Sin(a), math.Tan(sweep / 4)}, {n[0] + n[2]*math.Cos(b), n[1] + n[2]*math.Sin(b), 0}}
	case "LWPOLYLINE":
		v, err = e.lwVertices()
		c.closed = flagSet(e.get(70))
	case "POLYLINE":
		for _, x := range e.vertices {
			n, err := x.numbers(10, 20, 42)
			if err != nil {
				return c, false, err
			}
			v = append(v, bulged{n[0], n[1], n[2]})
		}
		c.closed = flagSet(e.get(70))
	case "SPLINE", "ELLIPSE":
		return c, false, hide.Faultf(hide.Invalid, "dxf, line %d: a %s is not read: turn it into polylines", e.firstLine(), e.kind)
	}
	if err != nil || len(v) < 2 {
		return c, false, err
	}
	c.points = flattenBulges(v, c.closed, unit)
	// a closed polyline that repeats its first vertex at the end
	if c.closed && len(c.points) > 1 && c.points[0].Distance(c.points[len(c.points)-1]) < 1e-9 {
		c.points = c.points[:len(c.points)-1]
	}
	return c, true, nil
}

func (e dxfEntity) firstLine() int {
	if len(e.pairs) == 0 {
		return 0
	}
	return e.pairs[0].line
}

func flagSet(v string) bool {
	n, err := strconv.Atoi(v)
	return err == nil && n&1 == 1
}

func (e dxfEntity) lwVertices() ([]bulged, error) {
	var v []bulged
	for _, p := range e.pairs {
		if p.code != 10 && p.code != 20 && p.code != 42 {
			continue
		}
		n, err := p.number()
		if err != nil {
			return nil, err
		}
		switch {
		case p.code == 10:
			v = append(v, bulged{x: n})
		case len(v) == 0:
		case p.code == 20:
			v[len(v)-1].y = n
		default:
			v[len(v)-1].bulge = n
		}
	}
	return v, nil
}

// flattenBulges turns arcs into chords within flatness of them, in mm.
func flattenBulges(v []bulged, closed bool, unit float64) []hide.Point {
	var out []hide.Point
	add := func(x, y float64) { out = append(out, hide.Point{X: hide.MM(x * unit), Y: hide.MM(y * unit)}) }
	for i, a := range v {
		add(a.x, a.y)
		if i == len(v)-1 && !closed || a.bulge == 0 {
			continue
		}
		b := v[(i+1)%len(v)]
		// centre: from the chord's middle along its left normal by (1−b²)/4b chords
		dx, dy := b.x-a.x, b.y-a.y
		k := (1 - a.bulge*a.bulge) / (4 * a.bulge)
		cx, cy := (a.x+b.x)/2-dy*k, (a.y+b.y)/2+dx*k
		r := math.Hypot(a.x-cx, a.y-cy)
		sweep := 4 * math.Atan(a.bulge)
		steps := arcSteps(r*unit, sweep)
		from := math.Atan2(a.y-cy, a.x-cx)
		for s := 1; s < steps; s++ {
			sin, cos := math.Sincos(from + sweep*float64(s)/float64(steps))
			add(cx+r*cos, cy+r*sin)
		}
	}
	return out
}

// arcSteps is the number of chords for which the sagitta r(1−cos(θ/2)) stays
// within flatness; at most 4096, a radius of 85 km.
func arcSteps(r, sweep float64) int {
	if r <= flatness {
		return 4
	}
	return min(4096, max(2, int(math.Ceil(math.Abs(sweep)/(2*math.Acos(1-flatness/r))))))
}

func dxfRole(layer string, astm bool) role {
	lower := strings.ToLower(layer)
	switch {
	case astm && layer == "1":
		return boundary
	case astm && layer == "11":
		return cutOut
	case astm && layer == "7", strings.HasPrefix(lower, "grain"):
		return grainLine
	case !astm && strings.HasPrefix(lower, "stretch"):
		return stretchLine
	case !astm && strings.HasPrefix(lower, "part "):
		return partArea
	case astm, strings.HasPrefix(lower, "notch"), strings.HasPrefix(lower, "internal"):
		return ignored
	}
	return anyLine
}

func dxfTexts(entities []dxfEntity) []dxfText {
	var out []dxfText
	for _, e := range entities {
		if e.kind == "TEXT" || e.kind == "MTEXT" {
			n, err := e.numbers(10, 20)
			if err != nil {
				continue // a text without a place names nothing
			}
			out = append(out, dxfText{e.block, e.get(1), hide.Point{X: hide.MM(n[0]), Y: hide.MM(n[1])}})
		}
	}
	return out
}

// dxfUnit is mm per drawing unit.
func dxfUnit(header map[string]string, texts []dxfText, forced float64) (float64, []string) {
	if forced > 0 {
		return forced, nil
	}
	if mm, ok := map[string]float64{"1": 25.4, "2": 304.8, "4": 1, "5": 10, "6": 1000}[header["$INSUNITS"]]; ok {
		return mm, nil
	}
	for _, t := range texts {
		if v, ok := labelled(t.text, "units"); ok {
			if strings.HasPrefix(strings.ToLower(v), "english") || strings.HasPrefix(strings.ToLower(v), "in") {
				return 25.4, nil
			}
			return 1, nil
		}
	}
	switch header["$MEASUREMENT"] {
	case "0":
		return 25.4, []string{"the drawing gives no unit but says that it is not metric; taken as inches"}
	case "1":
		return 1, []string{"the drawing gives no unit but says that it is metric; taken as millimetres"}
	}
	return 1, []string{"the drawing gives no unit; taken as millimetres"}
}

// labelled reads "Key: value" of a D6673 text.
func labelled(text, key string) (string, bool) {
	k, v, ok := strings.Cut(text, ":")
	return strings.TrimSpace(v), ok && strings.EqualFold(strings.TrimSpace(k), key)
}

// nameContours gives contours the name and count that texts say: in a block
// "Piece Name:" and "Quantity:", else the block's name; outside blocks the text
// that stands in the contour.
func nameContours(contours []contour, texts []dxfText, unit float64) {
	for i := range contours {
		c := &contours[i]
		c.attrs = map[string]string{}
		if c.role == partArea { // layer "part NAME-OF-LOOK"
			c.attrs["look"] = strings.TrimSpace(c.name[len("part "):])
			continue
		}
		if c.group != "" {
			c.name = c.group
		}
		for _, t := range texts {
			at := hide.Point{X: t.at.X * hide.MM(unit), Y: t.at.Y * hide.MM(unit)}
			if t.group != c.group || c.group == "" && (!c.closed || !plane.Contains(hide.Polygon{Outer: c.points}, at)) {
				continue
			}
			if v, ok := labelled(t.text, "piece name"); ok {
				c.name = v
			} else if v, ok := labelled(t.text, "quantity"); ok {
				c.attrs["count"] = v
			} else if c.group == "" && c.name == "" && !strings.Contains(t.text, ":") {
				c.name = t.text
			}
		}
	}
}
