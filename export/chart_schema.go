package export

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"golang.org/x/text/language"
	"golang.org/x/text/message"

	"hidechart/docs"
	"hidechart/hide"
)

// chartSchema is compiled once: it costs more than a check.
var chartSchema = sync.OnceValues(func() (*jsonschema.Schema, error) {
	const name = "urn:hidechart:chart:1"
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(docs.ChartSchema))
	if err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "chart schema")
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource(name, doc); err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "chart schema")
	}
	s, err := c.Compile(name)
	if err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "chart schema")
	}
	return s, nil
})

// checkSchema checks JSON text against docs/chart.schema.json.
//
// Error: Invalid with the JSON path of the first fault in the file's order.
func checkSchema(data []byte) (any, error) {
	schema, err := chartSchema()
	if err != nil {
		return nil, err
	}
	var doc any // numbers as float64: the library's own decoder keeps 1e999999999 and falls over it
	if err := json.Unmarshal(data, &doc); err != nil {
		return nil, hide.Wrapf(hide.Invalid, err, "not JSON")
	}
	err = schema.Validate(doc)
	if err == nil {
		return doc, nil
	}
	fault, ok := err.(*jsonschema.ValidationError) //nolint:errorlint // the library returns it bare
	if !ok {
		return nil, hide.Wrapf(hide.Internal, err, "chart schema")
	}
	leaf := firstLeaf(fault)
	return nil, hide.Faultf(hide.Invalid, "%s: %s", jsonPath(leaf.InstanceLocation), leaf.ErrorKind.LocalizedString(message.NewPrinter(language.English)))
}

// firstLeaf finds the innermost fault that comes first by its path: the
// library walks Go maps, so that its own order differs from run to run.
func firstLeaf(e *jsonschema.ValidationError) *jsonschema.ValidationError {
	var best *jsonschema.ValidationError
	var walk func(*jsonschema.ValidationError)
	walk = func(e *jsonschema.ValidationError) {
		for _, c := range e.Causes {
			walk(c)
		}
		if len(e.Causes) == 0 && (best == nil || leafOrder(e, best) < 0) {
			best = e
		}
	}
	walk(e)
	return best
}

func leafOrder(a, b *jsonschema.ValidationError) int {
	if c := slices.Compare(a.InstanceLocation, b.InstanceLocation); c != 0 {
		return c
	}
	return strings.Compare(fmt.Sprint(a.ErrorKind), fmt.Sprint(b.ErrorKind))
}

// jsonPath writes a place as $.defects[3].kind.
func jsonPath(at []string) string {
	var b strings.Builder
	b.WriteByte('$')
	for _, step := range at {
		switch {
		case strings.Trim(step, "0123456789") == "" && step != "":
			b.WriteString("[" + step + "]")
		case strings.Trim(step, "abcdefghijklmnopqrstuvwxyz_0123456789") == "" && step != "":
			b.WriteString("." + step)
		default:
			fmt.Fprintf(&b, "[%q]", step)
		}
	}
	return b.String()
}
