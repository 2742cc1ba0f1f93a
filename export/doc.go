// Package export turns a hide chart into files that people and other programs
// read: the chart file itself, SVG, DXF, GeoJSON, CSV and a picture for the
// cutter; and prints tag sheets.
//
// It stands behind the stages that measure: it takes a finished hide.Chart (and
// for the picture the photograph on its grid) and writes. Coordinates stay in
// the table frame (millimetres, y up) except in SVG and pictures, whose y runs
// down. It measures nothing anew, changes no figure, and must not know how a
// defect was found. A file appears under its name whole or not at all: see
// WriteFile. docs/files.md describes every file.
package export
