package yield

import (
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"

	"gopkg.in/yaml.v3"

	"hidechart/hide"
)

// lookFile is a look's YAML.
type lookFile struct {
	Look      string                    `yaml:"look"`
	Words     string                    `yaml:"words"`
	EdgeStrip float64                   `yaml:"edge_strip_mm"`
	Margin    float64                   `yaml:"margin_mm"`
	Defects   map[hide.Kind]clauseFiles `yaml:"defects"`
	Substance *struct {
		From float64 `yaml:"from"`
		To   float64 `yaml:"to"`
	} `yaml:"substance_mm"`
	Temper wordList `yaml:"temper"`
	Finish wordList `yaml:"finish"`
}

type clauseFile struct {
	Rule       Rule        `yaml:"rule"`
	State      State       `yaml:"state"`
	Zones      []hide.Zone `yaml:"zones"`
	FromLength float64     `yaml:"from_length_mm"`
	FromWidth  float64     `yaml:"from_width_mm"`
	FromArea   float64     `yaml:"from_area_mm2"`
	Margin     *float64    `yaml:"margin_mm"`
}

// clauseFiles takes a word, one clause or a list of clauses.
type clauseFiles []clauseFile

// UnmarshalYAML implements yaml.Unmarshaler.
func (l *clauseFiles) UnmarshalYAML(n *yaml.Node) error {
	nodes := []*yaml.Node{n}
	if n.Kind == yaml.SequenceNode {
		nodes = n.Content
	}
	for _, c := range nodes {
		var f clauseFile
		if c.Kind == yaml.ScalarNode {
			f.Rule = Rule(c.Value)
		} else if err := hide.DecodeYAMLNode(c, &f); err != nil {
			return err
		}
		*l = append(*l, f)
	}
	return nil
}

// wordList takes one word or a list.
type wordList []string

// UnmarshalYAML implements yaml.Unmarshaler.
func (l *wordList) UnmarshalYAML(n *yaml.Node) error {
	if n.Kind == yaml.ScalarNode {
		*l = wordList{n.Value}
		return nil
	}
	var s []string
	if err := n.Decode(&s); err != nil {
		return err
	}
	*l = s
	return nil
}

// ParseLook reads a look. Keys: look (its name), words, edge_strip_mm,
// margin_mm, defects, substance_mm {from, to}, temper, finish. Under defects, by
// kind: a rule (forbidden, counted, not_counted), a clause or a list of clauses
// with rule, state (open, healed), zones, from_length_mm, from_width_mm,
// from_area_mm2, margin_mm (default: the look's). Error: Invalid, naming the
// unknown key, kind, zone or rule, and sizes that contradict each other.
func ParseLook(data []byte) (Look, error) {
	var f lookFile
	if err := hide.DecodeYAMLFull(data, "look", &f); err != nil {
		return Look{}, err
	}
	l := Look{Name: f.Look, Words: f.Words, EdgeStrip: hide.MM(f.EdgeStrip), Margin: hide.MM(f.Margin),
		Temper: f.Temper, Finish: f.Finish, Kinds: map[hide.Kind][]Clause{}}
	if f.Substance != nil {
		l.Substance = [2]hide.MM{hide.MM(f.Substance.From), hide.MM(f.Substance.To)}
		if f.Substance.To == 0 {
			return Look{}, hide.Faultf(hide.Invalid, "look %q: substance_mm: give from and to", f.Look)
		}
	}
	for k, clauses := range f.Defects {
		l.Kinds[k] = nil
		for _, c := range clauses {
			l.Kinds[k] = append(l.Kinds[k], c.clause(l.Margin))
		}
	}
	return l, l.Validate()
}

func (f clauseFile) clause(margin hide.MM) Clause {
	c := Clause{Rule: f.Rule, State: f.State, Zones: f.Zones, FromLength: hide.MM(f.FromLength),
		FromWidth: hide.MM(f.FromWidth), FromArea: hide.MM2(f.FromArea)}
	if f.Margin != nil {
		c.Margin = hide.MM(*f.Margin)
	} else if f.Rule != NotCounted {
		c.Margin = margin
	}
	return c
}

// FindLook gives the look of a name that comes with the program, or reads the
// file of that path. Errors: NotFound for a name that is neither, Unreadable,
// Invalid.
func FindLook(name string) (Look, error) {
	if slices.Contains(LookNames(), name) {
		data, err := lookFiles.ReadFile("looks/" + name + ".yaml")
		if err != nil {
			return Look{}, hide.Wrapf(hide.Internal, err, "look %s", name)
		}
		return ParseLook(data)
	}
	data, err := os.ReadFile(name)
	if errors.Is(err, os.ErrNotExist) {
		return Look{}, hide.Faultf(hide.NotFound, "look %q: no such file, and no look of that name; there are %s", name, strings.Join(LookNames(), ", "))
	}
	if err != nil {
		return Look{}, hide.Wrapf(hide.Unreadable, err, "look")
	}
	l, err := ParseLook(data)
	if err != nil {
		return Look{}, hide.Wrapf(hide.Invalid, err, "%s", name)
	}
	return l, nil
}

func words(format string, args ...any) string { return fmt.Sprintf(format, args...) }

func kindList() string { return joined(hide.Kinds()) }

func zoneList() string { return joined(hide.Zones()) }

func joined[T ~string](list []T) string {
	parts := make([]string, len(list))
	for i, v := range list {
		parts[i] = string(v)
	}
	return strings.Join(parts, ", ")
}
