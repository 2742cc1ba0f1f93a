// Package calibrate ties photographs to the table: it finds the rig's tags,
// fits the camera's pose and lens to them, warps photographs onto the table
// raster, evens out the light, and says how sure all of that is.
//
// Frames: image pixels (x right, y down, centres at integers) and the table
// frame (mm, y up); heights z are above the plane of the tags, up. Place in the
// pipeline: after decoding, before detect. It must not know hides or defects.
package calibrate
