package main

import (
	"fmt"
	"os"
	"reflect"
	"regexp"
	"slices"
	"strings"

	"github.com/go-viper/mapstructure/v2"
	"github.com/spf13/pflag"
	"github.com/spf13/viper"

	"hidechart/pipeline"
)

// envPrefix begins the name of every environment variable read.
const envPrefix = "HIDECHART"

// usagef makes a usage error.
func usagef(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

// chartSettings are the settings of `hidechart chart`, wherever they were given.
type chartSettings struct {
	Out, Rig    string
	Profiles    string // folder of profiles learned from reviews; empty: none
	Record      string // where the charts are filed; empty: nowhere
	Again, JSON bool
	AtOnce      int
	Params      pipeline.Params `yaml:",squash"`
}

// readSettings resolves the settings: a flag goes before the environment
// (HIDECHART_OUTLINE_EDGE_BAND for outline.edge_band), that before the file, that
// before the default. Unknown keys in the file or the environment are refused.
func readSettings(flags *pflag.FlagSet, configPath string) (chartSettings, error) {
	s := chartSettings{Params: pipeline.DefaultParams()}
	v := viper.New()
	setDefaults(v, "", reflect.ValueOf(s))
	if configPath != "" {
		v.SetConfigFile(configPath)
		if err := v.ReadInConfig(); err != nil {
			return s, usagef("settings file %s: %w", configPath, err)
		}
	}
	v.SetEnvPrefix(envPrefix)
	v.SetEnvKeyReplacer(strings.NewReplacer(".", "_"))
	v.AutomaticEnv()
	if err := knownEnv(v.AllKeys(), os.Environ()); err != nil {
		return s, err
	}
	var bindErr error
	flags.VisitAll(func(f *pflag.Flag) {
		key := strings.ReplaceAll(f.Name, "-", "_")
		if slices.Contains(v.AllKeys(), key) && bindErr == nil {
			bindErr = v.BindPFlag(key, f)
		}
	})
	if bindErr != nil {
		return s, usageError{bindErr}
	}
	if err := v.UnmarshalExact(&s, snakeCase); err != nil {
		return s, usagef("settings: %s", unmarshalWords(err))
	}
	return s, nil
}

// snakeCase lets MMPerPX match mm_per_px; a yaml tag goes before it.
func snakeCase(c *mapstructure.DecoderConfig) {
	c.TagName = "yaml"
	c.MatchName = func(key, field string) bool { return key == pipeline.Snake(field) }
}

// setDefaults enters every field as a default, so that viper knows its key.
func setDefaults(v *viper.Viper, prefix string, s reflect.Value) {
	for i := range s.NumField() {
		f := s.Type().Field(i)
		name, own := pipeline.SettingKey(f)
		key := prefix + name
		switch {
		case !own:
		case f.Tag.Get("yaml") == ",squash":
			setDefaults(v, prefix, s.Field(i))
		case f.Type.Kind() == reflect.Struct:
			setDefaults(v, key+".", s.Field(i))
		default:
			v.SetDefault(key, s.Field(i).Interface())
		}
	}
}

// knownEnv refuses variables of ours that name no setting: a slip would
// otherwise go unseen.
func knownEnv(keys, environ []string) error {
	known := map[string]bool{}
	for _, k := range keys {
		known[envPrefix+"_"+strings.ToUpper(strings.ReplaceAll(k, ".", "_"))] = true
	}
	for _, e := range environ {
		name, _, _ := strings.Cut(e, "=")
		if strings.HasPrefix(name, envPrefix+"_") && !known[name] {
			return usagef("environment variable %s names no setting: see hidechart chart --help", name)
		}
	}
	return nil
}

var quotedField = regexp.MustCompile(`'([A-Z][A-Za-z0-9]*(?:\.[A-Za-z0-9_]+)*)'`)

// unmarshalWords shortens the library's list of faults to a line with keys in
// place of Go's field names.
func unmarshalWords(err error) string {
	text := strings.ReplaceAll(err.Error(), "'' has invalid keys", "unknown keys")
	text = strings.ReplaceAll(text, "has invalid keys", "has unknown keys")
	text = strings.TrimPrefix(text, "decoding failed due to the following error(s):")
	return quotedField.ReplaceAllStringFunc(text, func(name string) string {
		parts := strings.Split(strings.Trim(name, "'"), ".")
		for i := range parts {
			parts[i] = pipeline.Snake(parts[i])
		}
		return strings.Join(parts, ".")
	})
}
