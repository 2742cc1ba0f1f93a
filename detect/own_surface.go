package detect

import (
	"context"
	"errors"
	"math"

	"hidechart/hide"
	"hidechart/pix"
)

const (
	// surfaceLevel is the pixel of the finest level on a hide, in millimetres:
	// half of what lines need, since what stands out at 2 mm stands out.
	surfaceLevel hide.MM = 2
	// surfaceZone is about the size of a zone with a grain of its own: neck,
	// belly and butt of a hide are two or three each.
	surfaceZone hide.MM = 400
)

// scoreMap scores the hide under one light (index into lit) against itself, as a
// swatch's, with a grain of its own to each zone; outside the leather is ownLowest. The map's
// grid covers the surface's. Cost: docs/accuracy.md, "On a hide".
func (s *surface) scoreMap(ctx context.Context, light int, p OwnParams) (OwnMap, pix.Grid, error) {
	k := math.Min(1, float64(s.grid.MMPerPX/surfaceLevel))
	w, h := max(ownLeastSide, int(math.Round(k*float64(s.grid.Width)))), max(ownLeastSide, int(math.Round(k*float64(s.grid.Height))))
	p.FinestPX = max(w, h, p.CoarsestPX)
	p.LargestPX = max(p.LargestPX, p.FinestPX)
	p.Zones = max(1, int(math.Round(float64(max(w, h))*float64(surfaceLevel/surfaceZone))))
	p.Detrend = false // flat already
	p.Curve = 0       // measured on close-ups only
	sizes := p.levelSizes(w, h)
	lit := s.lit[light]
	planes := []field{lit.tone}
	planes = append(planes, lit.hue...)
	finest := ownLevel{planes: planes, in: s.in}
	m, err := scoreLevels(ctx, finest, sizes, p)
	if err != nil {
		return m, pix.Grid{}, err
	}
	return m, pix.Grid{Left: s.grid.Left, Top: s.grid.Top, MMPerPX: s.grid.MMPerPX * hide.MM(s.grid.Width) / hide.MM(m.Width),
		Width: m.Width, Height: m.Height}, nil
}

// over is the highest and the mean score within a shape, and the mean share that is
// colour: features of a candidate. g is the map's grid. A shape smaller than a pixel has the
// score of the pixel it lies in.
func (m OwnMap) over(shape hide.Shape, g pix.Grid) (highest, mean, colour float64) {
	var at []int
	for _, p := range shape {
		at = append(at, pixelsIn(p.Outer, g)...)
	}
	if len(at) == 0 && len(shape) > 0 && len(shape[0].Outer) > 0 {
		at = []int{clampedIndex(g.ToRaster(shape[0].Outer[0]), g)}
	}
	highest = ownLowest
	for _, i := range at {
		highest = math.Max(highest, float64(m.Score[i]))
		mean += float64(m.Score[i]) / float64(len(at))
		colour += math.Max(float64(m.Colour[i]), 0) / math.Max(float64(max(m.Colour[i], 0)+max(m.Texture[i], 0)), 1e-6) / float64(len(at))
	}
	return highest, mean, colour
}

// HideScores scores a whole hide under one light against itself: see scoreMap.
// Photos and outline are as in Input, in linear light; borrowed. Errors: Invalid for bad
// settings or photographs; NotFound without that light; NotMeasurable with too little leather.
func HideScores(ctx context.Context, photos Photos, outline hide.Polygon, light hide.Light, p Params, own OwnParams) (OwnMap, pix.Grid, error) {
	if err := errors.Join(p.Validate(), own.Validate()); err != nil {
		return OwnMap{}, pix.Grid{}, hide.Wrapf(hide.Invalid, err, "score map of a hide")
	}
	im, ok := photos.Lights[light]
	if !ok {
		return OwnMap{}, pix.Grid{}, hide.Faultf(hide.NotFound, "score map of a hide: no photograph under light %s", light)
	}
	one := Photos{Grid: photos.Grid, Lights: map[hide.Light]*pix.Image{light: im}}
	if err := photos.check(); err != nil {
		return OwnMap{}, pix.Grid{}, err
	}
	s, err := newSurface(one, outline, p)
	if err != nil {
		return OwnMap{}, pix.Grid{}, err
	}
	return s.scoreMap(ctx, 0, own)
}
