// Package detect finds the hide on the table and the flaws on the hide.
//
// Frame: pictures come warped to a pix.Grid of the table, in linear light;
// everything returned is in table millimetres. Place in the pipeline: after
// calibrate has made the warp, before yield. It must not know cameras, files,
// suppliers or looks; it measures and never draws.
package detect
