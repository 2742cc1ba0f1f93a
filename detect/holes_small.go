package detect

import (
	"image"
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/pix"
)

// A hole hardly wider than the photograph's blur reaches the table's level nowhere, and its half-way
// line encloses less than the hole, or is not there. But blur moves light and loses none: what is missing of
// the leather's light, summed, is the hole's area, and a disc of that area is as deep in its middle, under
// this blur, as can be told. A mark that is only darker or lighter than the leather beside it is too shallow
// for its area. Stars are measured so, by the light in an aperture less that of the sky in a ring about it
// (aperture photometry; Howell 1989, PASP 101, 616, from memory).
const (
	dipShare           = 0.5 // of leather, on share's scale; where the search for small holes begins
	mostSmall hide.MM2 = 60  // larger ones reach the table's level in any photograph of a hide

	// depths are shares of the step from leather to table
	leastDepth     = 0.3
	leastDepthBack = 0.5  // thin spots let light through as well
	leastOfDisc    = 0.85 // depth against a disc's; noise and an oblong form take some
	mostOfDisc     = 1.5

	// of dips nearly as deep, or deeper, more than so many on a hide or so many per square metre are
	// the leather's own; holes are fewer
	alikeDepth  = 0.8
	mostAlike   = 4.0
	mostAlikeM2 = 2.0
)

// dip is a place inside the hide that is more like the table than the leather is.
type dip struct {
	at    image.Rectangle
	area  float64 // pixels of table that would make it
	depth float64
	level float32 // of the share; under it the dip is so large
	trust float64 // what its probability is multiplied by
}

// ofDisc is the depth against that of a disc of its area: a Gaussian blur's of deviation
// sigma, in pixels, in the middle.
func (d dip) ofDisc(sigma float64) float64 {
	return d.depth / (1 - math.Exp(-d.area/(2*math.Pi*sigma*sigma)))
}

// smallHoles finds them under one light: back, if there is one.
func (f *Found) smallHoles(g pix.Grid, s *share, light hide.Light, slope float64, p OutlineParams) []openHole {
	pixel := float64(g.MMPerPX * g.MMPerPX)
	sigma := blurOf(slope)
	dips := f.dips(g, s, light, sigma, p)
	least, usual := leastDepth, f.usualDepth(dips)
	if light == hide.Back { // no grain lets light through as a hole does
		least, usual = leastDepthBack, 0
	}
	var out []openHole
	for _, d := range dips {
		area, like := d.area*pixel, d.ofDisc(sigma)
		if area < float64(p.MinHole) || area > float64(mostSmall) || like < leastOfDisc || like > mostOfDisc {
			continue
		}
		if d.depth >= least && alikeDepth*d.depth > usual {
			out = append(out, d.open(g, s, light))
		}
	}
	return out
}

// usualDepth is what so many dips reach that they are the leather's own; 0 if there are few.
func (f *Found) usualDepth(dips []dip) float64 {
	own := int(max(mostAlike, mostAlikeM2*squareMetres(f.leather, f.grid)))
	if len(dips) <= own {
		return 0
	}
	var depths []float64
	for _, d := range dips {
		depths = append(depths, d.depth)
	}
	slices.Sort(depths)
	return depths[len(depths)-1-own]
}

// open is the dip as a hole. A shallow one under top light alone may be a mark of the table's colour.
func (d dip) open(g pix.Grid, s *share, light hide.Light) openHole {
	h := openHole{box: d.at, lights: []hide.Light{hide.Top}, probability: d.trust * ramp(d.depth, leastDepth, 0.95, 0.5, 0.9)}
	if light == hide.Back {
		h.lights, h.probability = []hide.Light{hide.Top, hide.Back}, ramp(d.depth, leastDepthBack, 0.95, 0.8, 0.99)
	}
	for y := d.at.Min.Y; y < d.at.Max.Y; y++ {
		for x := d.at.Min.X; x < d.at.Max.X; x++ {
			h.pixels = append(h.pixels, y*g.Width+x)
		}
	}
	h.placeBy(s, d.level)
	return h
}

// dips measures the parts under dipShare that may be small holes.
func (f *Found) dips(g pix.Grid, s *share, light hide.Light, sigma float64, p OutlineParams) []dip {
	reach := int(math.Ceil(2*sigma)) + 1
	most := int(2 * mostSmall / hide.MM2(g.MMPerPX*g.MMPerPX))
	var out []dip
	for _, part := range f.partsUnder(dipShare, s, g) {
		if part.pixels > most || light == hide.Top && f.onGlare(part.box, g) {
			continue
		}
		d, ok := s.dipAt(part.box.Inset(-reach))
		if light == hide.Top {
			d.trust = f.trust(f.toneApart(part.box, g))
		}
		if ok && d.trust > 0 {
			out = append(out, d)
		}
	}
	return out
}

// dipAt measures what a box holds against the leather in a frame of two pixels about it.
func (s *share) dipAt(box image.Rectangle) (dip, bool) {
	frame := box.Inset(-2)
	if !frame.In(image.Rect(0, 0, s.w, s.h)) {
		return dip{}, false
	}
	var around, n float64
	var within []float64
	for y := frame.Min.Y; y < frame.Max.Y; y++ {
		for x := frame.Min.X; x < frame.Max.X; x++ {
			v := float64(s.v[y*s.w+x])
			if image.Pt(x, y).In(box) {
				within = append(within, v)
			} else {
				around, n = around+v, n+1
			}
		}
	}
	around /= n
	if around < dipShare {
		return dip{}, false // a part of something larger
	}
	slices.Sort(within)
	d := dip{at: box, trust: 1, depth: (around - within[0]) / (around + 1)}
	for _, v := range within {
		d.area += (around - v) / (around + 1)
	}
	d.level = float32(within[min(max(int(d.area), 0), len(within)-1)])
	return d, true
}

// blurOf is the deviation of the photograph's blur in pixels, from the slope of the share where it crosses
// half-way: it rises by 2, as a Gaussian's integral does.
func blurOf(slope float64) float64 {
	if math.IsNaN(slope) {
		return 1
	}
	return 2 / (math.Max(slope, 0.02) * math.Sqrt(2*math.Pi))
}

// placeBy has the hole's edge lie where the share crosses the level.
func (h *openHole) placeBy(s *share, level float32) {
	h.edge = make([]float32, len(h.pixels))
	for k, i := range h.pixels {
		h.edge[k] = s.v[i] - level
	}
}

// carve puts the edge of the hole there, if a light of its own has it.
func (h openHole) carve(edge share) {
	for k, v := range h.edge {
		if v > 0 {
			v = max(v, leatherShare)
		}
		edge.v[h.pixels[k]] = v
	}
}
