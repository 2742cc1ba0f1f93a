package calibrate

import (
	"image"
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/pix"
)

// FindSurveyTags finds all tags in a photograph (linear light, U16, one
// channel) at full resolution; sightings come by ascending id, corners as
// FindTags fits them. Error: Invalid for another kind of picture, or for an id seen
// twice in the photograph called name: which of the two is meant cannot be told.
func FindSurveyTags(name string, linearGrey *pix.Image) ([]Sighting, error) {
	if linearGrey.Depth() != pix.U16 || linearGrey.Channels() != 1 {
		return nil, hide.Faultf(hide.Invalid, "tags: want one channel of 16-bit linear light")
	}
	raw, err := searchAt(linearGrey, 1)
	if err != nil {
		return nil, err
	}
	raw = slices.Clone(raw)
	slices.SortStableFunc(raw, func(a, b rawTag) int { return a.id - b.id })
	var double []int
	for i := 1; i < len(raw); i++ {
		if raw[i].id == raw[i-1].id && twoSquares(raw[i], raw[i-1]) {
			double = append(double, raw[i].id)
		}
	}
	if len(double) > 0 {
		return nil, twice(name, slices.Compact(double))
	}
	raw = slices.CompactFunc(raw, func(a, b rawTag) bool { return a.id == b.id })
	return refined(linearGrey, raw), nil
}

// twoSquares says that two finds of one id are two squares: the library reports the
// inner and outer border of a thick print as two finds of the same place.
func twoSquares(a, b rawTag) bool {
	var d, side float64
	for k := range a.corners {
		d = max(d, math.Hypot(a.corners[k][0]-b.corners[k][0], a.corners[k][1]-b.corners[k][1]))
		n := a.corners[(k+1)%4]
		side = max(side, math.Hypot(a.corners[k][0]-n[0], a.corners[k][1]-n[1]))
	}
	return d > side/2
}

// OnSensor turns sightings of a photograph that was brought upright (size is the
// upright picture's) back to how the sensor saw it, so that photographs taken with
// the camera turned share one principal point; orientation as in TIFF 6.0, tag
// 274. The second result is the size on the sensor. Error: Invalid for a mirrored
// picture, which no camera takes and in which tags are not found.
func OnSensor(seen []Sighting, size image.Point, orientation int) ([]Sighting, image.Point, error) {
	w, h := hide.PX(size.X-1), hide.PX(size.Y-1)
	var back func(p pix.Point) pix.Point
	switch orientation {
	case 0, 1:
		return seen, size, nil
	case 3:
		back = func(p pix.Point) pix.Point { return pix.Point{X: w - p.X, Y: h - p.Y} }
	case 6: // stored row 0 is the right side
		back = func(p pix.Point) pix.Point { return pix.Point{X: p.Y, Y: w - p.X} }
		size = image.Pt(size.Y, size.X)
	case 8: // stored row 0 is the left side
		back = func(p pix.Point) pix.Point { return pix.Point{X: h - p.Y, Y: p.X} }
		size = image.Pt(size.Y, size.X)
	default:
		return nil, size, hide.Faultf(hide.Invalid, "the photograph's orientation tag %d says that it is mirrored; save it unmirrored", orientation)
	}
	out := slices.Clone(seen)
	for i := range out {
		for k, c := range out[i].Corners {
			out[i].Corners[k] = back(c)
		}
	}
	return out, size, nil
}
