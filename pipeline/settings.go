package pipeline

import (
	"cmp"
	"encoding/json"
	"reflect"
	"strings"
	"unicode"

	"hidechart/hide"
)

// Settings are all settings by the keys of a settings file, stages as groups: what
// a chart stores, and what `hidechart chart --config` takes back. Values are
// as JSON has them. Error: Internal.
func (p Params) Settings() (map[string]any, error) {
	data, err := json.Marshal(settingsOf(reflect.ValueOf(p)))
	if err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "settings")
	}
	var out map[string]any
	if err := json.Unmarshal(data, &out); err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "settings")
	}
	return out, nil
}

func settingsOf(s reflect.Value) map[string]any {
	out := map[string]any{}
	for i := range s.NumField() {
		key, own := SettingKey(s.Type().Field(i))
		switch {
		case !own:
		case s.Field(i).Kind() == reflect.Struct:
			out[key] = settingsOf(s.Field(i))
		default:
			out[key] = s.Field(i).Interface()
		}
	}
	return out
}

// SettingKey is the key of a field of Params or of a stage's settings in a settings
// file: its yaml tag, or its name as Snake writes it. own is false for a field that is no
// setting of its own.
func SettingKey(f reflect.StructField) (key string, own bool) {
	name, _, _ := strings.Cut(f.Tag.Get("yaml"), ",")
	return cmp.Or(name, Snake(f.Name)), name != "-"
}

// Snake writes a Go name as a key: MMPerPX → mm_per_px, MinDM2 → min_dm2.
func Snake(name string) string {
	r := []rune(name)
	var out strings.Builder
	for i, c := range r {
		starts := unicode.IsUpper(c) && i > 0 &&
			(!unicode.IsUpper(r[i-1]) || i+1 < len(r) && unicode.IsLower(r[i+1]))
		if starts {
			out.WriteByte('_')
		}
		out.WriteRune(unicode.ToLower(c))
	}
	return out.String()
}
