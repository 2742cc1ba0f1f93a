package export

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"reflect"
	"slices"
	"strings"
	"unicode/utf8"

	"hidechart/hide"
)

// mostChartBytes bounds what is read as a chart: an outline of a million
// vertices takes 20 MB; a wrong file of gigabytes is refused before it fills the memory.
const mostChartBytes = 256 << 20

// WriteChart writes the chart file whole or not at all, checked against the
// schema first. Rings are turned as RFC 7946 asks, coordinates rounded to 0.001
// mm. The same chart gives the same bytes.
//
// Errors: Invalid with the JSON path of the fault; Internal from the disk.
func WriteChart(path string, c hide.Chart) error {
	data, err := EncodeChart(c)
	if err != nil {
		return fmt.Errorf("chart %s: %w", path, err)
	}
	return WriteFile(path, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
}

// EncodeChart returns the bytes of the chart file; see WriteChart.
func EncodeChart(c hide.Chart) ([]byte, error) {
	c = settled(c)
	if c.Format != hide.Format {
		return nil, hide.Faultf(hide.Invalid, "$.format: %q, want %q", c.Format, hide.Format)
	}
	data, err := encodeJSON(c)
	if err != nil {
		return nil, hide.Wrapf(hide.Invalid, err, "chart as JSON (a figure that is no number?)")
	}
	if _, err := ParseChart(data); err != nil {
		return nil, err
	}
	return data, nil
}

// ReadChart reads a chart file and checks it against the schema.
//
// Errors: Unreadable when the file cannot be read; Invalid with the JSON path
// of the fault, or with both versions when another version wrote it.
func ReadChart(path string) (hide.Chart, error) {
	c, _, err := ReadChartSum(path)
	return c, err
}

func readLimited(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "chart")
	}
	defer func() { _ = f.Close() }() // read only: nothing to lose
	data, err := io.ReadAll(io.LimitReader(f, mostChartBytes+1))
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "chart %s", path)
	}
	if len(data) > mostChartBytes {
		return nil, hide.Faultf(hide.Invalid, "chart %s: larger than %d MiB, this is no chart", path, mostChartBytes>>20)
	}
	return data, nil
}

// ParseChart reads the bytes of a chart file; see ReadChart.
func ParseChart(data []byte) (hide.Chart, error) {
	var c hide.Chart
	if !utf8.Valid(data) {
		return c, hide.Faultf(hide.Invalid, "not UTF-8 text")
	}
	if err := checkVersion(data); err != nil {
		return c, err
	}
	doc, err := checkSchema(data)
	if err != nil {
		return c, err
	}
	if err := checkRings(doc, nil); err != nil {
		return c, err
	}
	if err := json.Unmarshal(data, &c); err != nil {
		return hide.Chart{}, hide.Wrapf(hide.Invalid, err, "chart")
	}
	if err := checkChart(c); err != nil {
		return hide.Chart{}, err
	}
	return settled(c), nil
}

// checkVersion comes before the schema, whose word on a newer file would be a
// list of unknown keys.
func checkVersion(data []byte) error {
	var head struct {
		Format *string `json:"format"`
	}
	if err := json.Unmarshal(data, &head); err != nil {
		return hide.Wrapf(hide.Invalid, err, "not a chart file")
	}
	switch {
	case head.Format == nil:
		return hide.Faultf(hide.Invalid, "$.format: missing, this is no chart file")
	case *head.Format == hide.Format:
		return nil
	case strings.HasPrefix(*head.Format, "hidechart "):
		return hide.Faultf(hide.Invalid, "$.format: this program reads %q, the file is %q: use the version of hidechart that wrote it, or chart the capture again",
			hide.Format, *head.Format)
	}
	return hide.Faultf(hide.Invalid, "$.format: %q, want %q: this is no chart file", *head.Format, hide.Format)
}

// checkRings checks what a schema cannot say: rings are closed.
func checkRings(v any, at []string) error {
	switch v := v.(type) {
	case map[string]any:
		for _, key := range []string{"outline", "zones", "defects", "geometry", "coordinates"} {
			if err := checkRings(v[key], append(at, key)); err != nil {
				return err
			}
		}
	case []any:
		if len(v) >= 4 && isPosition(v[0]) && !reflect.DeepEqual(v[0], v[len(v)-1]) {
			return hide.Faultf(hide.Invalid, "%s: the last position does not repeat the first, the ring is open", jsonPath(at))
		}
		for i, item := range v {
			if err := checkRings(item, append(at, fmt.Sprint(i))); err != nil {
				return err
			}
		}
	}
	return nil
}

func isPosition(v any) bool {
	list, ok := v.([]any)
	if !ok || len(list) != 2 {
		return false
	}
	_, ok = list[0].(float64)
	return ok
}

// checkChart checks what spans several values.
func checkChart(c hide.Chart) error {
	if c.Outline.Area() <= 0 {
		return hide.Faultf(hide.Invalid, "$.outline: encloses no area")
	}
	last := 0
	for i, d := range c.Defects {
		if d.ID <= last {
			return hide.Faultf(hide.Invalid, "$.defects[%d].id: %d after %d: ids are unique and in order", i, d.ID, last)
		}
		last = d.ID
	}
	return nil
}

// settled fills what Go leaves nil (an empty list is [] in the file), turns
// rings the way RFC 7946 asks and sorts defects by id; the caller's chart is not
// touched.
func settled(c hide.Chart) hide.Chart {
	c.Capture.Images = list(c.Capture.Images)
	c.Outline = c.Outline.Oriented()
	c.Flags, c.Tags = list(c.Flags), list(c.Tags)
	zones := make([]hide.ZoneShape, len(c.Zones))
	for i, z := range c.Zones {
		zones[i] = hide.ZoneShape{Zone: z.Zone, Geometry: oriented(z.Geometry)}
	}
	c.Zones = zones
	defects := make([]hide.Defect, len(c.Defects))
	for i, d := range c.Defects {
		d.Geometry, d.Lights = oriented(d.Geometry), list(d.Lights)
		defects[i] = d
	}
	slices.SortStableFunc(defects, func(a, b hide.Defect) int { return a.ID - b.ID })
	c.Defects = defects
	return c
}

func list[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}

func oriented(s hide.Shape) hide.Shape {
	out := make(hide.Shape, len(s))
	for i, p := range s {
		out[i] = p.Oriented()
	}
	return out
}

// encodeJSON encodes and lays out; < > & stay as they are.
func encodeJSON(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	return layoutJSON(bytes.TrimSpace(b.Bytes())), nil
}
