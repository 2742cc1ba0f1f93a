// Package hide is the domain: the chart of a hide, its defects, kinds, zones,
// lights, units and errors.
//
// Frame: the table frame, millimetres, origin at the table's near left corner
// as the camera sees it, x right, y up (away). Place in the pipeline: the
// bottom; every other package imports it. It must not know OpenCV, SQL, HTTP
// or the file system.
package hide
