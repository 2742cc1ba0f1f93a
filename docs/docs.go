// Package docs carries the documents that the program itself needs, so that
// there is one true copy of each: the one people read.
package docs

import _ "embed" // chart.schema.json

// ChartSchema is the JSON Schema (2020-12) of the chart file.
//
//go:embed chart.schema.json
var ChartSchema string
