package pipeline

import (
	"fmt"
	"slices"

	"hidechart/calibrate"
	"hidechart/detect"
	"hidechart/hide"
	"hidechart/pix"
	"hidechart/plane"
)

// Limits of the doubts about a photograph's quality.
const (
	// A line as wide as the blur's deviation keeps 38 % of its contrast
	// (erf(1/(2√2))): beyond 1 mm the scratches that matter are lost. Sharp
	// photographs of few pixels are not blurred, but coarse: lenses in focus spread an
	// edge by 0.5 to 1 px.
	mostBlurMM = 1.0
	mostBlurPX = 1.5
	// Blur of the most blurred edge against the mean of a tag's four: 1 out of focus, 1.3
	// where one direction has twice the blur of the other.
	oneWay = 1.25
	// Light cut off on so much of the hide hides flaws: half a percent of a hide of
	// 4.6 m² is a square of 15 cm. Highlights on single grains stay below it.
	mostClipped = 0.005
	clippedFrom = 65000 // of 65535: an 8-bit 255 lies above it, a 254 below
	// White paper so dark, of full scale, leaves the leather two and a half stops
	// under a full exposure: its shot noise is more than twice as strong.
	leastWhite = 0.15
	// The darkest tag's white against the lightest one's: at two stops the noise of
	// one side of the hide is twice that of the other.
	leastEven = 0.25
	// The edge is placed by the table's light beside it: windows of 14 mm and 4 mm off.
	leastFrameMM = 20
)

// photoFlags are the doubts that the tags tell of: focus, exposure, evenness.
func photoFlags(seen []calibrate.Sighting, pixelMM hide.MM) []hide.Flag {
	var out []hide.Flag
	var white []float64
	for _, s := range seen {
		if s.Blur > 0 {
			white = append(white, s.Light)
		}
	}
	if len(white) == 0 {
		return nil
	}
	slices.Sort(white)
	if f, blurred := blurFlag(seen, float64(pixelMM)); blurred {
		out = append(out, f)
	}
	if w := white[len(white)/2]; w < leastWhite {
		out = append(out, hide.Flag{Code: "dark", Value: 100 * w, Unit: "percent of full scale",
			Text: fmt.Sprintf("dark: the tags' white is at %.0f %% of full scale: expose longer", 100*w)})
	}
	cut := cutWhites(seen)
	if even := white[0] / white[len(white)-1]; even < leastEven {
		orLess := ""
		if cut > 0 { // of the lightest nobody knows how light it is
			orLess = " or less"
		}
		out = append(out, hide.Flag{Code: "uneven", Value: 100 * even, Unit: "percent of the lightest",
			Text: fmt.Sprintf("uneven light: the darkest tag has %.0f %%%s of the light of the lightest: move the lamps apart or up", 100*even, orLess)})
	}
	if overexposed(seen) {
		out = append(out, hide.Flag{Code: "white_clipped", Value: float64(cut), Unit: "tags",
			Text: fmt.Sprintf("overexposed: the white of %d of %d tags is cut off at full light, which moves their edges: expose shorter", cut, len(white))})
	}
	return out
}

// cutWhites is the number of tags whose paper is cut off at full light.
func cutWhites(seen []calibrate.Sighting) int {
	n := 0
	for _, s := range seen {
		if s.Light >= whiteCut {
			n++
		}
	}
	return n
}

// overexposed tells that so many tags are cut off that the fit suffers: cut-off
// white spreads over the black by up to a pixel. On a render of rising exposure the area
// was right to 0.02 % up to three of twelve tags, off by 0.12 % at seven and by 0.6 % at ten.
func overexposed(seen []calibrate.Sighting) bool { return 3*cutWhites(seen) > len(seen) }

// blurFlag is the doubt about focus and a camera that moved: flaws that lie along the
// most blurred direction are lost first, so that one counts.
func blurFlag(seen []calibrate.Sighting, pixelMM float64) (hide.Flag, bool) {
	var smear []float64
	for _, s := range seen {
		if s.Blur > 0 {
			smear = append(smear, float64(max(s.Smear, s.Blur)))
		}
	}
	slices.Sort(smear)
	px := smear[len(smear)/2]
	mm := px * pixelMM
	if mm <= mostBlurMM || px <= mostBlurPX {
		return hide.Flag{}, false
	}
	advice := "focus, or clean the lens"
	if px > oneWay*float64(blurOf(seen)) {
		advice = "the camera or the table moved while the shutter was open"
	}
	return hide.Flag{Code: "blurred", Value: mm, Unit: "mm",
		Text: fmt.Sprintf("blurred: edges are spread by %.1f mm (%.1f px): %s", mm, px, advice)}, true
}

// hideFlags are the doubts about the hide's own light and place: top is cut off,
// or the hide lies at the border of what was photographed.
func hideFlags(fine detect.Photos, outline hide.Polygon, seen hide.Ring) []hide.Flag {
	var out []hide.Flag
	if share := clippedShare(fine, outline); share > mostClipped {
		out = append(out, hide.Flag{Code: "clipped", Value: 100 * share, Unit: "percent of the hide",
			Text: fmt.Sprintf("overexposed: %.1f %% of the hide is cut off at full light: expose shorter, or turn the lamps so that they are not mirrored", 100*share)})
	}
	if mm := float64(plane.NewEdgeIndex(seen).DistanceToShape(hide.Shape{outline})); mm < leastFrameMM {
		out = append(out, hide.Flag{Code: "near_frame", Value: mm, Unit: "mm",
			Text: fmt.Sprintf("the hide comes within %.0f mm of the photograph's border: leave %d mm of table to see", mm, leastFrameMM)})
	}
	return out
}

// clippedEvery thins the pixels looked at: a share of half a percent of a hide
// of a million pixels is known to 2 % of itself still.
const clippedEvery = 4

// clippedShare is how much of the leather has a channel cut off under top light.
func clippedShare(fine detect.Photos, outline hide.Polygon) float64 {
	im, g := fine.Lights[hide.Top], fine.Grid
	data, ch := im.Uint16s(), im.Channels()
	clipped, all := 0, 0
	for y := clippedEvery / 2; y < g.Height; y += clippedEvery {
		for _, span := range crossings(outline, g, y) {
			for x := max(0, span[0]); x <= min(g.Width-1, span[1]); x += clippedEvery {
				i := (y*g.Width + x) * ch
				all++
				if slices.Max(data[i:i+ch]) >= clippedFrom {
					clipped++
				}
			}
		}
	}
	if all == 0 {
		return 0
	}
	return float64(clipped) / float64(all)
}

// crossings are the first and last columns of the polygon in a row.
func crossings(p hide.Polygon, g pix.Grid, y int) [][2]int {
	at := g.ToTable(pix.Point{Y: hide.PX(y)}).Y
	var xs []float64
	for _, r := range append([]hide.Ring{p.Outer}, p.Holes...) {
		for i, a := range r {
			b := r[(i+1)%len(r)]
			if (a.Y > at) != (b.Y > at) {
				x := a.X + (at-a.Y)/(b.Y-a.Y)*(b.X-a.X)
				xs = append(xs, float64(g.ToRaster(hide.Point{X: x, Y: at}).X))
			}
		}
	}
	slices.Sort(xs)
	var out [][2]int
	for k := 0; k+1 < len(xs); k += 2 {
		out = append(out, [2]int{int(xs[k]) + 1, int(xs[k+1])})
	}
	return out
}
