package pix

import "gocv.io/x/gocv"

// OpenCVVersion is the version of the OpenCV library in use, as "4.6.0".
func OpenCVVersion() string { return gocv.OpenCVVersion() }
