package export

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"slices"
	"strings"

	"hidechart/hide"
	"hidechart/pix"
)

// Photo is the photograph behind the picture for the cutter: U8, three
// channels BGR, on Grid. Image may be nil: the picture is then drawn on plain
// ground. Borrowed. Lights are the pictures beside the chart, if there are any.
type Photo struct {
	Image  *pix.Image
	Grid   pix.Grid
	Lights Lights
}

// Format is one kind of file a chart can be written as.
type Format struct {
	Name   string // as given to `hidechart export --to`
	Ending string // of the file's name, with the unit where the format has no place for it
	Words  string // what it is for, one line
	Write  func(w io.Writer, c hide.Chart, p Photo) error
}

// Formats lists every format in the order of the documentation.
func Formats() []Format {
	plain := func(write func(io.Writer, hide.Chart) error) func(io.Writer, hide.Chart, Photo) error {
		return func(w io.Writer, c hide.Chart, _ Photo) error { return write(w, c) }
	}
	return []Format{
		{"png", ".png", "picture for the cutter, to be read from two metres",
			func(w io.Writer, c hide.Chart, p Photo) error { return Overlay(w, c, p.Image, p.Grid) }},
		{"svg", ".svg", "drawing true to size, one group a layer", plain(WriteSVG)},
		{"dxf", ".mm.dxf", "drawing for CAD and cutting software, millimetres", plain(WriteDXF)},
		{"geojson", ".geojson", "shapes with their properties, planar millimetres", plain(WriteGeoJSON)},
		{"csv", ".csv", "table of the defects", plain(WriteCSV)},
		{"budget", ".budget.txt", "table of the area's uncertainty", plain(WriteBudget)},
	}
}

// OnRequest lists formats that are written only when asked for: they are for
// other programs, and need the pictures beside the chart.
func OnRequest() []Format {
	return []Format{
		{"webannotation", ".annotations.json", "shapes on the picture, W3C Web Annotation",
			func(w io.Writer, c hide.Chart, p Photo) error { return WriteWebAnnotations(w, c, p.Lights) }},
		{"coco", ".coco.json", "shapes on the picture, COCO",
			func(w io.Writer, c hide.Chart, p Photo) error { return WriteCOCO(w, c, p.Lights) }},
	}
}

// FindFormats resolves names, in their order, each once.
//
// Error: Invalid naming the unknown name and those there are.
func FindFormats(names []string) ([]Format, error) {
	all := append(Formats(), OnRequest()...)
	known := make([]string, len(all))
	for i, f := range all {
		known[i] = f.Name
	}
	var out []Format
	for _, name := range names {
		i := slices.Index(known, strings.ToLower(strings.TrimSpace(name)))
		if i < 0 {
			return nil, hide.Faultf(hide.Invalid, "format %q: want %s", name, strings.Join(known, ", "))
		}
		if !slices.ContainsFunc(out, func(f Format) bool { return f.Name == all[i].Name }) {
			out = append(out, all[i])
		}
	}
	return out, nil
}

// FileName is the file's name for a hide id: the id with every character that
// some file system refuses replaced, and the ending.
func (f Format) FileName(id string) string { return SafeName(id) + f.Ending }

// nameLimit leaves room for endings within the 255 bytes of common file systems.
const nameLimit = 100

// SafeName makes a file or folder name of a hide id: letters, digits, "-", "_"
// and inner dots of ASCII stay, all else becomes "_". A name so changed
// gets eight digits of the id's hash, so that two ids never meet.
func SafeName(id string) string {
	safe := strings.Map(func(r rune) rune {
		if r < 0x80 && (r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '_' || r == '.') {
			return r
		}
		return '_'
	}, id)
	safe = strings.Trim(safe, ".")
	if strings.HasPrefix(safe, "-") { // a command would take it for a flag
		safe = "_" + safe
	}
	if len(safe) > nameLimit {
		safe = safe[:nameLimit]
	}
	if safe == id && !reservedName(safe) {
		return safe
	}
	sum := sha256.Sum256([]byte(id))
	return strings.TrimLeft(safe+"_"+hex.EncodeToString(sum[:4]), "_.")
}

// reservedName: empty, or a device on Windows whatever the ending.
func reservedName(s string) bool {
	base, _, _ := strings.Cut(strings.ToLower(s), ".")
	switch base {
	case "", "con", "prn", "aux", "nul":
		return true
	}
	return len(base) == 4 && (strings.HasPrefix(base, "com") || strings.HasPrefix(base, "lpt")) && base[3] >= '0' && base[3] <= '9'
}
