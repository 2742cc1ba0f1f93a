package export

import (
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/docs"
	"hidechart/hide"
)

func TestChartComesBackEqual(t *testing.T) {
	for _, name := range hostileNames() {
		path := filepath.Join(t.TempDir(), "chart.json")
		c := sampleChart(name)
		require.NoError(t, WriteChart(path, c), "%q", name)
		got, err := ReadChart(path)
		require.NoError(t, err)
		assert.Equal(t, c, got, "%q", name)
	}
}

func TestChartWithNothingOptional(t *testing.T) {
	c := hide.Chart{Format: hide.Format, Frame: hide.Frame{Unit: "mm", Y: "up", MMPerPX: 1},
		Area: hide.Area{Value: 1}, Outline: hide.Polygon{Outer: oval(0, 0, 10, 10, 0, 8)}}
	data, err := EncodeChart(c)
	require.NoError(t, err)
	assert.NotContains(t, string(data), "null")
	got, err := ParseChart(data)
	require.NoError(t, err)
	again, err := EncodeChart(got)
	require.NoError(t, err)
	assert.Equal(t, string(data), string(again), "the same chart is the same bytes")
}

func TestChartIsLaidOutForReading(t *testing.T) {
	data, err := EncodeChart(sampleChart("A-1"))
	require.NoError(t, err)
	require.True(t, json.Valid(data))
	for line := range strings.SplitSeq(string(data), "\n") {
		assert.LessOrEqual(t, len(line), lineWidth+40, "a key may stand before a full line")
	}
	assert.Contains(t, string(data), "\n  \"flags\": [{\"code\": \"few_tags\"")
}

// faulty charts: what is changed in the JSON, and the path the error must name.
func TestFaultIsNamedByItsPath(t *testing.T) {
	data, err := EncodeChart(sampleChart("A-1"))
	require.NoError(t, err)
	for _, x := range []struct{ old, new, want string }{
		{`"kind": "scar"`, `"kind": "crack"`, "$.defects[3].kind"},
		{`"probability": 0.93`, `"probability": 1.3`, "$.defects[0].probability"},
		{`"unit": "mm"`, `"unit": "inch"`, "$.frame.unit"},
		{`"supplier":`, `"vendor":`, "$.capture"},
		{`"side": false`, `"side": 0`, "$.side"},
		{`"id": 2,`, `"id": 1,`, "$.defects[1].id"},
		{`"id": 2,`, `"id": 1.5,`, "$.defects[1].id"},
		{`[1060, 1050], [1060.951`, `[1060, 1051], [1060.951`, "$.defects[1].geometry.coordinates[0]: the last position"},
		{`"side": false`, `"side": 1e999999999`, "1e999999999"},
		{`"probability": 0.93`, `"probability": 1e999999999`, "1e999999999"},
		{`"hidechart 1"`, `"hidechart 2"`, `this program reads "hidechart 1", the file is "hidechart 2"`},
		{`"hidechart 1"`, `"nothing"`, "no chart file"},
		{`"humidity_percent": 63`, `"humidity_percent": 163`, "$.capture.humidity_percent"},
		{`"flags": [`, `"flags": ["x", `, "$.flags[0]"},
		{`"zone": "butt", "geometry"`, `"zone": "back", "geometry"`, "$.zones[0].zone"},
		{`"MultiPolygon"`, `"Polygon"`, ".geometry.coordinates"},
		{`"format"`, `"Format"`, "$"},
	} {
		bad := strings.Replace(string(data), x.old, x.new, 1)
		if bad == string(data) { // laid out over several lines
			bad = strings.Replace(string(data), strings.ReplaceAll(x.old, `, "`, ",\n      \""), strings.ReplaceAll(x.new, `, "`, ",\n      \""), 1)
		}
		require.NotEqual(t, string(data), bad, "%s: not found in the sample", x.old)
		_, err := ParseChart([]byte(bad))
		require.ErrorIs(t, err, hide.Invalid, x.new)
		assert.Contains(t, err.Error(), x.want, x.new)
	}
}

func TestChartThatBreaksTheSchemaIsNotWritten(t *testing.T) {
	dir := t.TempDir()
	c := sampleChart("A-1")
	c.Defects[2].Kind = "crack"
	err := WriteChart(filepath.Join(dir, "chart.json"), c)
	require.ErrorIs(t, err, hide.Invalid)
	assert.Contains(t, err.Error(), "$.defects[2].kind")
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Empty(t, left)
}

func TestReadChartFaults(t *testing.T) {
	_, err := ReadChart(filepath.Join(t.TempDir(), "none.json"))
	require.ErrorIs(t, err, hide.Unreadable)
	for _, text := range []string{"", "null", "[]", "3", "{}", "{\"format\": 1}", "\xff", `{"format": "hidechart 1"}`} {
		_, err := ParseChart([]byte(text))
		require.ErrorIs(t, err, hide.Invalid, "%q", text)
	}
}

// The schema and the Go type name the same keys, and the schema's lists of words
// are the domain's.
func TestSchemaIsTheGoType(t *testing.T) {
	var s struct {
		Defs map[string]struct {
			Properties map[string]json.RawMessage
			Required   []string
			Enum       []string
		} `json:"$defs"`
		Properties map[string]json.RawMessage
		Required   []string
	}
	require.NoError(t, json.Unmarshal([]byte(docs.ChartSchema), &s))
	assert.ElementsMatch(t, jsonKeys(hide.Chart{}), keysOf(s.Properties))
	for def, v := range map[string]any{"capture": hide.CaptureFacts{}, "image": hide.ImageFact{}, "substance": hide.Substance{}, "frame": hide.Frame{},
		"area": hide.Area{}, "budget_part": hide.BudgetPart{}, "zone_shape": hide.ZoneShape{}, "defect": hide.Defect{}, "flag": hide.Flag{},
		"tag": hide.TagFit{}, "made_by": hide.MadeBy{}} {
		assert.ElementsMatch(t, jsonKeys(v), keysOf(s.Defs[def].Properties), def)
		assert.ElementsMatch(t, requiredKeys(v), s.Defs[def].Required, def)
	}
	var enum struct{ Enum []string }
	require.NoError(t, json.Unmarshal(s.Defs["defect"].Properties["kind"], &enum))
	assert.Equal(t, words(hide.Kinds()), enum.Enum)
	assert.Equal(t, words(hide.Zones()), s.Defs["zone"].Enum)
	assert.Equal(t, words(hide.Lights()), s.Defs["light"].Enum)
}

func words[T ~string](list []T) []string {
	out := make([]string, len(list))
	for i, w := range list {
		out[i] = string(w)
	}
	return out
}

func jsonKeys(v any) []string {
	var out []string
	for f := range reflect.TypeOf(v).NumField() {
		name, _, _ := strings.Cut(reflect.TypeOf(v).Field(f).Tag.Get("json"), ",")
		out = append(out, name)
	}
	return out
}

func requiredKeys(v any) []string {
	var out []string
	for f := range reflect.TypeOf(v).NumField() {
		name, option, _ := strings.Cut(reflect.TypeOf(v).Field(f).Tag.Get("json"), ",")
		if option != "omitempty" {
			out = append(out, name)
		}
	}
	return out
}

func keysOf(m map[string]json.RawMessage) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	return out
}

func FuzzParseChart(f *testing.F) {
	small := sampleChart("A-1")
	small.Outline = hide.Polygon{Outer: oval(1600, 1200, 1100, 800, 0, 6)} // short seeds are changed more often
	small.Zones, small.Defects = nil, small.Defects[3:6]
	for i := range small.Defects {
		small.Defects[i].Geometry = hide.Shape{{Outer: oval(1500, 1000, 9, 5, 0, 4)}, {Outer: oval(1600, 1000, 9, 5, 0, 4)}}
	}
	data, err := EncodeChart(small)
	require.NoError(f, err)
	f.Add(data)
	f.Add([]byte(`{"format": "hidechart 1", "outline": {"type": "Polygon", "coordinates": [[[0,0],[1,0],[0,1],[0,0]]]}}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := ParseChart(data)
		if err != nil {
			require.ErrorIs(t, err, hide.Invalid)
			return
		}
		if c.Outline.Area() < 1e4 {
			return // a hide of less than a square decimetre may vanish when rounded to 0.001 mm
		}
		again, err := EncodeChart(c)
		require.NoError(t, err, "what was read can be written")
		_, err = ParseChart(again)
		require.NoError(t, err)
	})
}
