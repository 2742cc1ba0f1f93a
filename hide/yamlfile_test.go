package hide

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"gopkg.in/yaml.v3"
)

type yamlSample struct {
	Table struct {
		Width float64 `yaml:"width_mm"`
	} `yaml:"table"`
	Rules []struct {
		Rule  string    `yaml:"rule"`
		Least float64   `yaml:"least"`
		At    []float64 `yaml:"at_mm"`
	} `yaml:"rules"`
	Odd  yamlEither `yaml:"odd"`
	Side bool       `yaml:"side"`
}

type yamlEither struct{ of yamlInner }

type yamlInner struct {
	A map[string]struct {
		B float64 `yaml:"b"`
	} `yaml:"a"`
}

func (e *yamlEither) UnmarshalYAML(n *yaml.Node) error { return DecodeYAMLNode(n, &e.of) }

// The lines and keys are counted by hand in the text beside them.
func TestYAMLFaultsNameLineAndPath(t *testing.T) {
	for text, want := range map[string]string{
		"tabel: {}":                                `line 1: unknown key "tabel"`,
		"table:\n  width_mm: 3\n  widht: 4":        `line 3: unknown key "widht" in table`,
		"rules:\n- rule: a\n- rule: b\n  leest: 3": `line 4: unknown key "leest" in rules.2`,
		"side: true\n# no key\nodd:\n  a:\n    x: {b: 1}\n    y: {c: 1}": `line 6: unknown key "c" in odd.a.y`,
		"table: {width_mm: wide}":        `line 1: table.width_mm: "wide": want a number`,
		"rules:\n- rule: a\n  at_mm: 3":  `line 3: rules.1.at_mm: "3": want a list`,
		"rules:\n- at_mm: [1, x]":        `line 2: rules.1.at_mm.2: "x": want a number`,
		"side: perhaps":                  `line 1: side: "perhaps": want true or false`,
		"table: [1]":                     `line 1: table: want keys with values`,
		"odd:\n  a:\n    x: {b: one}":    `line 3: odd.a.x.b: "one": want a number`,
		"side: true\nside: false":        `already defined`,
		"side: true\n---\nside: true":    `more than one document`,
		"side: true\ntabel: 1\nrulse: 2": `line 2: unknown key "tabel"; line 3: unknown key "rulse"`,
		"side: [":                        `line 1`,
	} {
		err := DecodeYAML([]byte(text), "sample.yaml", &yamlSample{})
		require.ErrorIs(t, err, Invalid, text)
		require.ErrorContains(t, err, want, text)
		require.True(t, strings.HasPrefix(err.Error(), "sample.yaml: "), err.Error())
		require.NotContains(t, err.Error(), "hide.", text)
	}
}

func TestYAMLEmptyFiles(t *testing.T) {
	for _, text := range []string{"", "\n", "# nothing\n"} {
		require.NoError(t, DecodeYAML([]byte(text), "sample.yaml", &yamlSample{}))
		require.ErrorContains(t, DecodeYAMLFull([]byte(text), "sample.yaml", &yamlSample{}), "the file is empty")
	}
	require.NoError(t, DecodeYAMLFull([]byte("side: true"), "sample.yaml", &yamlSample{}))
}

func FuzzDecodeYAML(f *testing.F) {
	f.Add("table: {width_mm: 3}")
	f.Add("odd: {a: {x: {c: 1}}}")
	f.Add("a: &x [1]\nrules: *x")
	f.Fuzz(func(t *testing.T, text string) {
		if err := DecodeYAML([]byte(text), "sample.yaml", &yamlSample{}); err != nil {
			require.ErrorIs(t, err, Invalid)
		}
	})
}
