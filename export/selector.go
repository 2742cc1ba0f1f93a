package export

import (
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/tdewolff/canvas"

	"hidechart/hide"
	"hidechart/pix"
	"hidechart/plane"
)

const (
	// mostSelector characters of an SVG from outside.
	mostSelector = 4 << 20
	// selectorFlat is how far a chord may lie from a curve, pixels.
	selectorFlat = 0.1
	// mostCorners of one shape from outside.
	mostCorners = 100000
)

// readSelector takes the shapes out of an SVG from outside: path, polygon, rect, circle
// and ellipse, by the even-odd rule, in pixels of the picture. Everything else in it (scripts,
// styles, links, pictures, event handlers) is left where it is: only numbers
// come out. Errors: Invalid for a document type, a transform, or no shape.
func readSelector(svg string, g pix.Grid) (hide.Shape, error) {
	if len(svg) > mostSelector {
		return nil, hide.Faultf(hide.Invalid, "the SVG is larger than %d MiB", mostSelector>>20)
	}
	e := xml.NewDecoder(strings.NewReader(svg))
	var rings []hide.Ring
	corners := 0
	for {
		t, err := e.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, hide.Wrapf(hide.Invalid, err, "SVG")
		}
		switch t := t.(type) {
		case xml.Directive:
			return nil, hide.Faultf(hide.Invalid, "SVG: a document type is not taken")
		case xml.StartElement:
			more, err := elementRings(t, g)
			if err != nil {
				return nil, err
			}
			for _, r := range more {
				corners += len(r)
			}
			if corners > mostCorners {
				return nil, hide.Faultf(hide.Invalid, "SVG: more than %d corners", mostCorners)
			}
			rings = append(rings, more...)
		}
	}
	return evenOdd(rings)
}

func elementRings(t xml.StartElement, g pix.Grid) ([]hide.Ring, error) {
	attr := map[string]string{}
	for _, a := range t.Attr {
		attr[a.Name.Local] = a.Value
	}
	if attr["transform"] != "" {
		return nil, hide.Faultf(hide.Invalid, "SVG: a transform is not taken, give pixels of the picture")
	}
	number := func(name string) float64 {
		v, err := strconv.ParseFloat(strings.TrimSpace(attr[name]), 64)
		if err != nil {
			return 0
		}
		return v
	}
	var d string
	switch t.Name.Local {
	case "path":
		d = attr["d"]
	case "polygon":
		if attr["points"] != "" {
			d = "M" + attr["points"] + "Z"
		}
	case "rect":
		x, y, w, h := number("x"), number("y"), number("width"), number("height")
		return pixelRings(g, [][][2]float64{{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}}})
	case "circle", "ellipse":
		rx, ry := number("rx"), number("ry")
		if t.Name.Local == "circle" {
			rx, ry = number("r"), number("r")
		}
		return pixelRings(g, [][][2]float64{ellipse(number("cx"), number("cy"), rx, ry)})
	}
	if d == "" {
		return nil, nil
	}
	return pathRings(d, g)
}

// ellipse of 180 corners: 0.02 % of its radius off.
func ellipse(cx, cy, rx, ry float64) [][2]float64 {
	out := make([][2]float64, 180)
	for i := range out {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(len(out)))
		out[i] = [2]float64{cx + rx*c, cy + ry*s}
	}
	return out
}

// pathRings flattens SVG path data. The parser is a library's and made for files
// of one's own: a panic in it is a fault of the data.
func pathRings(d string, g pix.Grid) (rings []hide.Ring, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = hide.Faultf(hide.Invalid, "SVG: path data cannot be read")
		}
	}()
	p, err := canvas.ParseSVGPath(d)
	if err != nil {
		return nil, hide.Wrapf(hide.Invalid, err, "SVG path")
	}
	if p.Empty() {
		return nil, nil
	}
	for _, c := range p.Coords() {
		if !(math.Abs(c.X) < farPixel && math.Abs(c.Y) < farPixel) {
			return nil, hide.Faultf(hide.Invalid, "SVG: a place that is no pixel")
		}
	}
	var lists [][][2]float64
	for _, part := range p.Flatten(selectorFlat).Split() {
		var list [][2]float64
		for _, c := range part.Coords() {
			list = append(list, [2]float64{c.X, c.Y})
		}
		lists = append(lists, list)
	}
	return pixelRings(g, lists)
}

// farPixel: ten times the side of the largest picture taken.
const farPixel = 1e6

func pixelRings(g pix.Grid, lists [][][2]float64) ([]hide.Ring, error) {
	var out []hide.Ring
	for _, list := range lists {
		var r hide.Ring
		for _, c := range list {
			if !(math.Abs(c[0]) < farPixel && math.Abs(c[1]) < farPixel) {
				return nil, hide.Faultf(hide.Invalid, "SVG: a place that is no pixel")
			}
			p := fromEdgePixel(g, c[0], c[1])
			if len(r) == 0 || r[len(r)-1] != p {
				r = append(r, p)
			}
		}
		if len(r) > 1 && r[0] == r[len(r)-1] {
			r = r[:len(r)-1]
		}
		if len(r) >= 3 {
			out = append(out, r)
		}
	}
	return out, nil
}

// evenOdd makes a shape of rings: outer rings and the holes in them. Rings
// that are a valid shape as they are keep their corners.
func evenOdd(rings []hide.Ring) (hide.Shape, error) {
	if len(rings) == 0 {
		return nil, hide.Faultf(hide.Invalid, "there is no shape")
	}
	var out hide.Shape
	for _, r := range rings {
		// a ring within an odd number of others is a hole
		depth, owner := 0, -1
		for k, p := range out {
			if plane.Contains(hide.Polygon{Outer: p.Outer}, r[0]) {
				depth++
				owner = k
			}
		}
		if depth%2 == 1 {
			out[owner].Holes = append(out[owner].Holes, r)
		} else {
			out = append(out, hide.Polygon{Outer: r})
		}
	}
	for i := range out {
		out[i] = out[i].Oriented()
		if plane.IsValid(out[i]) != nil {
			return plane.MakeValid(out)
		}
	}
	return out, nil
}
