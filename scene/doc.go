// Package scene renders captures of invented hides with exact truth, for the
// demo, for training and for tests.
//
// A Spec with a seed says what to draw; Render writes a capture folder: one
// photograph per light, the bare table, the rig, the camera and the truth.
// Everything random comes from the seed through named streams or through
// noise that is a pure function of place, so the same Spec gives the same
// bytes at any GOMAXPROCS.
//
// How a picture comes about: the hide is designed in its own frame (contour,
// grain, defects, look-alikes), laid on the table, and kept as a raster of
// slope, albedo, gloss and transmission. Per light each pixel of the
// photograph looks that raster up through the camera (pinhole with Brown
// distortion) at the height of the hide's upper surface, is shaded in linear
// light, blurred by the lens, given shot and read noise, coded to sRGB and
// compressed. Edges (outline, holes, tags, table) are not taken from a raster:
// their polygons are projected into the photograph and their coverage of each
// pixel is integrated exactly.
//
// Frame: table millimetres, y up, as in package hide; camera.json is in a
// frame with y down, like OpenCV's. Place in the pipeline: a source of input;
// it must not know how anything is detected, and no detector may import it.
package scene
