package hide

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"gopkg.in/yaml.v3"
)

// DecodeYAML reads the one document of a file strictly; what names the file or
// what it holds, and begins every message. An empty file leaves into as it is.
// Error: Invalid, with line, key and the keys above it, for an unknown or repeated
// key, a value of the wrong type, and a second document.
func DecodeYAML(data []byte, what string, into any) error {
	d := yaml.NewDecoder(bytes.NewReader(data))
	d.KnownFields(true)
	err := d.Decode(into)
	if errors.Is(err, io.EOF) {
		return nil
	}
	if err != nil {
		return Faultf(Invalid, "%s: %s", what, yamlWords(err, data))
	}
	if err := d.Decode(new(any)); !errors.Is(err, io.EOF) {
		return Faultf(Invalid, "%s: more than one document in the file; keep the first", what)
	}
	return nil
}

// DecodeYAMLFull is DecodeYAML for a file that must say something. Error: Invalid,
// also for an empty file.
func DecodeYAMLFull(data []byte, what string, into any) error {
	if emptyYAML(data) {
		return Faultf(Invalid, "%s: the file is empty", what)
	}
	return DecodeYAML(data, what, into)
}

// emptyYAML tells whether there is no document, comments aside.
func emptyYAML(data []byte) bool {
	return errors.Is(yaml.NewDecoder(bytes.NewReader(data)).Decode(new(yaml.Node)), io.EOF)
}

// DecodeYAMLNode decodes a node strictly, for UnmarshalYAML: below one, yaml.v3
// forgets to refuse unknown keys, so the node is written out and read again. The
// error is yaml.v3's own, its lines those of the file.
func DecodeYAMLNode(n *yaml.Node, into any) error {
	data, err := yaml.Marshal(n)
	if err != nil {
		return err
	}
	d := yaml.NewDecoder(bytes.NewReader(data))
	d.KnownFields(true)
	err = d.Decode(into)
	var faults *yaml.TypeError
	if !errors.As(err, &faults) {
		return err
	}
	lines := linesOf(n, data)
	out := &yaml.TypeError{}
	for _, text := range faults.Errors {
		out.Errors = append(out.Errors, atLine.ReplaceAllStringFunc(text, func(s string) string {
			k, _ := strconv.Atoi(strings.TrimPrefix(s, "line ")) // digits by the pattern
			if line, ok := lines[k]; ok {
				k = line
			}
			return fmt.Sprintf("line %d", k)
		}))
	}
	return out
}

var atLine = regexp.MustCompile(`^line \d+`)

// linesOf tells for each line of a node's text, written out, on which line of the file it
// stood.
func linesOf(n *yaml.Node, written []byte) map[int]int {
	var again yaml.Node
	if yaml.Unmarshal(written, &again) != nil || len(again.Content) != 1 {
		return nil
	}
	lines := map[int]int{}
	var walk func(was, now *yaml.Node)
	walk = func(was, now *yaml.Node) {
		if _, there := lines[now.Line]; !there {
			lines[now.Line] = was.Line
		}
		for i := range min(len(was.Content), len(now.Content)) {
			walk(was.Content[i], now.Content[i])
		}
	}
	walk(n, again.Content[0])
	return lines
}

var (
	unknownKey = regexp.MustCompile(`^line (\d+): field (.+) not found in type `)
	wrongType  = regexp.MustCompile(`^line (\d+): cannot unmarshal (\S+)( .*)? into (.+)$`)
)

// yamlWords turns the reader's faults into a sentence without Go's type names,
// each with the keys that lead to it.
func yamlWords(err error, data []byte) string {
	var faults *yaml.TypeError
	if !errors.As(err, &faults) {
		return strings.Join(strings.Fields(strings.TrimPrefix(err.Error(), "yaml: ")), " ")
	}
	var root yaml.Node
	if yaml.Unmarshal(data, &root) != nil { // a repeated key: the reader said so itself
		root = yaml.Node{}
	}
	out := make([]string, len(faults.Errors))
	for i, text := range faults.Errors {
		out[i] = text
		if m := unknownKey.FindStringSubmatch(text); m != nil {
			out[i] = fmt.Sprintf("line %s: unknown key %q", m[1], m[2])
			if above := keysTo(&root, m[1], func(k, _ *yaml.Node) bool { return k.Value == m[2] }); len(above) > 1 {
				out[i] += " in " + strings.Join(above[:len(above)-1], ".")
			}
		} else if m := wrongType.FindStringSubmatch(text); m != nil {
			out[i] = fmt.Sprintf("line %s: ", m[1])
			// the deepest value of that line and tag
			if at := keysTo(&root, m[1], func(_, v *yaml.Node) bool { return v.ShortTag() == m[2] }); at != nil {
				out[i] += strings.Join(at, ".") + ": "
			}
			out[i] += fmt.Sprintf("%swant %s", quoted(m[3]), goWord(m[4]))
		}
	}
	return strings.Join(out, "; ")
}

// quoted is what stands in the place of the value wanted.
func quoted(value string) string {
	if value = strings.Trim(value, " `"); value == "" {
		return ""
	}
	return fmt.Sprintf("%q: ", value)
}

// keysTo gives the keys that lead to the key or value on a line that is meant;
// entries of lists count from 1. nil: there is none.
func keysTo(n *yaml.Node, line string, meant func(key, value *yaml.Node) bool) []string {
	on := func(n *yaml.Node) bool { return strconv.Itoa(n.Line) == line }
	for i, c := range n.Content {
		var step []string
		switch n.Kind {
		case yaml.MappingNode:
			if i%2 == 1 {
				continue
			}
			value := n.Content[i+1]
			if (on(c) || on(value)) && meant(c, value) {
				return []string{c.Value}
			}
			step, c = []string{c.Value}, value
		case yaml.SequenceNode:
			step = []string{strconv.Itoa(i + 1)}
			if c.Kind == yaml.ScalarNode && on(c) && meant(c, c) {
				return step
			}
		}
		if below := keysTo(c, line, meant); below != nil {
			return slices.Concat(step, below)
		}
	}
	return nil
}

// goWord says what a Go type holds, in words.
func goWord(t string) string {
	switch {
	case strings.HasPrefix(t, "[]") || strings.HasPrefix(t, "["):
		return "a list"
	case strings.HasPrefix(t, "float") || t == "hide.MM" || t == "hide.MM2" || t == "hide.PX":
		return "a number"
	case strings.HasPrefix(t, "int") || strings.HasPrefix(t, "uint"):
		return "a whole number"
	case t == "bool":
		return "true or false"
	case strings.HasPrefix(t, "map") || strings.HasSuffix(t, "File") || strings.HasPrefix(t, "struct"):
		return "keys with values"
	}
	return "a text"
}
