// Package plane is geometry in table millimetres: buffer, union, difference,
// intersection, simplification, distance to the edge, the smallest rectangle,
// and the hide frame (backbone, head end, u and v, zones).
//
// Frame: the table frame, millimetres, y up; the hide frame is defined in
// HideFrame. Place in the pipeline: above hide, below pix. It must not know
// images, OpenCV, files or kinds of defect.
//
// The work on polygons is done by GEOS (Debian's libgeos 3.11) through
// simplefeatures; this package converts, puts results in one stable order and
// turns faults into hide errors. Shapes that come in need not be valid: a
// self-crossing ring is repaired first by the even-odd rule (GEOSMakeValid).
// Shapes that go out are valid, oriented by RFC 7946 and sorted.
package plane
