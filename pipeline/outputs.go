package pipeline

import (
	"io"

	"hidechart/export"
	"hidechart/hide"
)

// outputs of a capture in the order they are written: one file per format of
// package export, chart.json last.
func outputs(c hide.Chart, photo export.Photo) []file {
	var out []file
	for _, f := range export.Formats() {
		out = append(out, file{f.FileName(c.Capture.ID), func(w io.Writer) error { return f.Write(w, c, photo) }})
	}
	return append(out, file{chartName, func(w io.Writer) error {
		data, err := export.EncodeChart(c)
		if err != nil {
			return err
		}
		_, err = w.Write(data)
		return err
	}})
}

// outputNames are the names of a capture's outputs.
func outputNames(id string) []string {
	names := []string{chartName, export.LightsName}
	for _, f := range export.Formats() {
		names = append(names, f.FileName(id))
	}
	return names
}
