// Package pix holds pictures: decoding, filters, contours and warps. It is the
// only package that imports gocv; nothing outside it sees a Mat.
//
// Frames: image pixels, x right, y down, pixel centres at integers; Grid ties
// a raster to the table frame. Place in the pipeline: above plane, below the
// stages. It must not know what a hide is made of: no kinds, zones, charts.
package pix
