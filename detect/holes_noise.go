package detect

import (
	"image"
	"math"

	"hidechart/hide"
	"hidechart/pix"
)

// noisySpreads is how many spreads of the share of plain leather half-way to the table must lie off: noise
// passes five once in millions of pixels, and a hide has millions.
const noisySpreads = 5

// mostQuieting is the widest Gaussian that shares are smoothed by against noise; turns of a hide's edge are wider.
const mostQuieting hide.MM = 2

// quieted is the share under the narrowest Gaussian that leaves plain leather quiet; nearly always under
// none. Smoothed alike on both sides of an edge, the share crosses half-way where it did.
func (s share) quieted(f *Found, g pix.Grid) (share, error) {
	sharp := s.field
	for sigma := hide.PX(1); s.noise(f, g) > 1.0/noisySpreads && hide.MM(sigma)*g.MMPerPX <= mostQuieting; sigma *= math.Sqrt2 {
		var err error
		if s.field, err = sharp.blurred(sigma); err != nil {
			return s, err
		}
	}
	return s, nil
}

// noiseBlock is how many pixels wide the blocks are within which noise is told from clouds.
const noiseBlock = 16

// noise is the spread of the share within a block of plain leather, in the middle.
func (s share) noise(f *Found, g pix.Grid) float64 {
	look := newLookup(g, f.grid)
	var all []float64
	for y := 0; y+noiseBlock <= g.Height; y += 4 * noiseBlock {
		for x := 0; x+noiseBlock <= g.Width; x += 4 * noiseBlock {
			if f.near[look.at(x, y)] != insideBand || f.near[look.at(x+noiseBlock-1, y+noiseBlock-1)] != insideBand {
				continue
			}
			block := make([]float64, 0, noiseBlock*noiseBlock)
			for v := y; v < y+noiseBlock; v++ {
				for _, share := range s.v[v*s.w+x : v*s.w+x+noiseBlock] {
					block = append(block, float64(share))
				}
			}
			all = append(all, lowerSpread(block))
		}
	}
	if len(all) == 0 {
		return 0
	}
	return median(all)
}

// lowerSpread is how far the lower sixth lies under the middle: one standard deviation of a normal
// distribution, and told of shares as well, which are cut off at 1.
func lowerSpread(v []float64) float64 { return median(v) - quantile(v, 0.159) }

// surroundings of a hole, in pixels, the rim that blur makes of it, and how many spreads of the share there
// half-way to the table lies off: a hole is some twenty pixels that touch, which all would have to pass.
const (
	surroundings = 12
	blurredRim   = 2
	holeSpreads  = 3.5
)

// standsOut is true if what surrounds the box is quiet enough for half-way to the table not to be noise:
// where leather is hardly darker or lighter than the table, every speck is a hole of that table's colour.
func (f *Found) standsOut(box image.Rectangle, s *share, g pix.Grid) bool {
	outer := box.Inset(-surroundings).Intersect(image.Rect(0, 0, s.w, s.h))
	inner, look := box.Inset(-blurredRim), newLookup(g, f.grid)
	var about []float64
	for y := outer.Min.Y; y < outer.Max.Y; y++ {
		for x := outer.Min.X; x < outer.Max.X; x++ {
			if !image.Pt(x, y).In(inner) && f.leather[look.at(x, y)] {
				about = append(about, float64(s.v[y*s.w+x]))
			}
		}
	}
	return len(about) > 0 && median(about) > holeSpreads*lowerSpread(about)
}
