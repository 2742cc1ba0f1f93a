package detect

import (
	"context"
	"math"
	"runtime"
	"slices"

	"golang.org/x/sync/errgroup"

	"hidechart/hide"
	"hidechart/pix"
)

// This file and its neighbours own_*.go make the score map: how unlike the rest
// of the same picture each place is, with no training and no model of leather.
//
// Each level of a pyramid gives every pixel four feature vectors: colour
// against its surroundings; energies of oriented gradients and of the
// Laplacian; roughness of each colour channel; signed second derivatives. To each a Gaussian is fitted
// that leaves out what does not belong (own_gauss.go), and the Mahalanobis
// distance to it, in units of its median over the picture, says how odd the
// pixel is at that scale in that respect. The logarithms of all distances are
// added: the product of experts (Hinton 2002), which wants a place to be odd in
// several scales and respects, as flaws are and single grains are not. The sum is told in
// units of its own spread below its median, which flaws do not touch, so that maps of different
// leathers share one threshold.
//
// The single-level form of it, a robust Gaussian of colour and filter energies,
// is that of Xie & Mirmehdi 2007 (TEXEMS) and Böttger & Ulrich 2016 without
// their training.

// OwnMap is a score map on a raster of its own, over the whole picture.
type OwnMap struct {
	Width, Height   int
	Score           []float32 // row by row; 0 at the median, 1 a lower quartile's distance above it
	Colour, Texture []float32 // the part of the score that is colour, and the rest; same units

	// Not blurred and on the finest level's raster, for tracing: the sum of the
	// two finest levels' log distances in colour, and in colour and grain.
	sharpColour, sharpAll field
}

// ScoreMap scores a picture of leather as decoded (U8 or U16 in sRGB coding, one
// or three channels; borrowed). in, if not nil, says which pixels of the
// picture are leather; the others score the least. The map's raster is smaller than the
// picture. Errors: Invalid for bad settings, a kind of picture, or one under 16
// pixels a side; NotMeasurable with less than 400 pixels of leather; the context's.
func ScoreMap(ctx context.Context, im *pix.Image, in []bool, p OwnParams) (OwnMap, error) {
	if err := p.Validate(); err != nil {
		return OwnMap{}, err
	}
	if err := checkOwn(im, in); err != nil {
		return OwnMap{}, err
	}
	sizes := p.levelSizes(im.Width(), im.Height())
	finest, err := finestLevel(im, in, sizes[0])
	if err != nil {
		return OwnMap{}, err
	}
	return scoreLevels(ctx, finest, sizes, p)
}

// scoreLevels scores the planes of the finest level, over all sizes.
func scoreLevels(ctx context.Context, finest ownLevel, sizes [][2]int, p OwnParams) (OwnMap, error) {
	levels, err := finest.pyramid(sizes)
	if err != nil {
		return OwnMap{}, err
	}
	at := min(1, len(sizes)-1)
	found := make([][]expert, len(levels))
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(runtime.GOMAXPROCS(0))
	for k, l := range levels {
		group.Go(func() (err error) {
			if err = ctx.Err(); err == nil {
				found[k], err = l.experts(sizes[at], sharpSize(k, sizes), p)
			}
			return err
		})
	}
	if err := group.Wait(); err != nil {
		return OwnMap{}, err
	}
	return fuse(found, sizes[at], levels[at].in)
}

// Fewest pixels of leather and smallest side that a Gaussian of nine features
// can be fitted to with any meaning.
const (
	ownLeast     = 400
	ownLeastSide = 16
)

func checkOwn(im *pix.Image, in []bool) error {
	if im.Depth() != pix.U8 && im.Depth() != pix.U16 || im.Channels() != 1 && im.Channels() != 3 {
		return hide.Faultf(hide.Invalid, "score map: want 8 or 16 bits and one or three channels")
	}
	if min(im.Width(), im.Height()) < ownLeastSide {
		return hide.Faultf(hide.Invalid, "score map: %d × %d pixels are too few; want %d a side", im.Width(), im.Height(), ownLeastSide)
	}
	if in == nil {
		return nil
	}
	if len(in) != im.Width()*im.Height() {
		return hide.Faultf(hide.Invalid, "score map: the mask has %d pixels, the picture %d", len(in), im.Width()*im.Height())
	}
	n := 0
	for _, ok := range in {
		if ok {
			n++
		}
	}
	if n < ownLeast {
		return hide.Faultf(hide.NotMeasurable, "score map: %d pixels of leather are too few; want %d", n, ownLeast)
	}
	return nil
}

// expert is one distance of one level, on the map's raster, its median 1.
type expert struct {
	distance field
	sharp    field // on the finest level's raster, logarithmic, not blurred; empty of coarser levels
	colour   bool
	least    float32 // what a distance counts as at least
	weight   float64
}

// sharpLevels are the levels fine enough to say where a flaw ends.
const sharpLevels = 2

func sharpSize(level int, sizes [][2]int) [2]int {
	if level < sharpLevels {
		return sizes[0]
	}
	return [2]int{}
}

// fuse adds the logarithms and tells the sum in units of its lower spread.
func fuse(found [][]expert, size [2]int, in []bool) (OwnMap, error) {
	out := OwnMap{Width: size[0], Height: size[1], Score: make([]float32, size[0]*size[1])}
	out.Colour, out.Texture = make([]float32, len(out.Score)), make([]float32, len(out.Score))
	for _, level := range found {
		for _, e := range level {
			part := out.Texture
			if e.colour {
				part = out.Colour
			}
			for i, d := range e.distance.v {
				part[i] += float32(e.weight * math.Log(float64(max(d, e.least))))
			}
		}
	}
	for i := range out.Score {
		out.Score[i] = out.Colour[i] + out.Texture[i]
	}
	for _, level := range found[:min(sharpLevels, len(found))] {
		for _, e := range level {
			out.sharpAll = out.sharpAll.plus(e.sharp)
			if e.colour {
				out.sharpColour = out.sharpColour.plus(e.sharp)
			}
		}
	}
	return out, out.normalise(in)
}

// plus adds two fields of one size; the first may be empty.
func (f field) plus(g field) field {
	if f.v == nil {
		return field{g.w, g.h, slices.Clone(g.v)}
	}
	for i, v := range g.v {
		f.v[i] += v
	}
	return f
}

// ownFloor bounds a distance from below before its logarithm: a hundredth of
// the median, where a pixel cannot be told from the fit's centre.
const ownFloor = .01

// normalise shifts the score's median to 0 and divides by the distance from the
// lower quartile to it.
func (m *OwnMap) normalise(in []bool) error {
	v := sampled(m.Score, in)
	if len(v) == 0 {
		return hide.Faultf(hide.NotMeasurable, "score map: no leather left at working size")
	}
	middle := quantile(v, .5)
	unit := float32(math.Max(middle-quantile(v, .25), 1e-6))
	c, t := float32(quantile(sampled(m.Colour, in), .5)), float32(quantile(sampled(m.Texture, in), .5))
	for i := range m.Score {
		m.Score[i] = (m.Score[i] - float32(middle)) / unit
		m.Colour[i] = (m.Colour[i] - c) / unit
		m.Texture[i] = (m.Texture[i] - t) / unit
		if in != nil && !in[i] {
			m.Score[i], m.Colour[i], m.Texture[i] = ownLowest, ownLowest, ownLowest
		}
	}
	return nil
}

// ownLowest is the score of what is no leather.
const ownLowest = -8

// sampled copies the values where in is true (nil: all).
func sampled(v []float32, in []bool) []float64 {
	out := make([]float64, 0, len(v))
	for i, x := range v {
		if in == nil || in[i] {
			out = append(out, float64(x))
		}
	}
	return out
}
