package detect

import (
	"fmt"
	"math"

	"hidechart/hide"
)

// A border that glare or noise drew lies within the leather: the light changes along a slope there, not at
// a step. Beside a hide's edge it has changed in full.
const (
	edgeStep             = 2.0  // mm along the edge
	edgeBeside   hide.MM = 4    // on either side of the edge, clear of a coarse pixel
	besideBlurs          = 2.5  // deviations of the edge's blur that this is at least
	edgeFar              = 2.5  // times as far off leather and table are themselves
	edgeDeep             = 3    // places that are averaged over across the edge, against noise
	edgeDeeper           = 0.25 // of the nearer ones' distance off that they are apart
	edgeRunning          = 8    // steps to either side that are averaged over: 32 mm in all
	leastStep            = 0.6  // of the change from far to far that lies between beside and beside; a slope has 0.4
	mostEdgeless         = 0.11 // of the edge; more, and the hide is not told from the table

	// a shorter piece is a corner; of a longer one's place guessedU is the standard uncertainty
	leastEdgeless hide.MM = 20
	guessedU      hide.MM = 15
)

// checkEdge refuses an outline that runs where top light shows no edge, and says how much of one does.
// Back light that parts the two alone has drawn no glare and no noise.
func (f *Found) checkEdge(out *Outline) error {
	if f.byBack {
		return nil
	}
	share, length := f.edgeless(out.Polygon.Outer, max(edgeBeside, besideBlurs*out.Blur)), out.Polygon.Outer.Length()
	switch unseen := hide.MM(share) * length; {
	case share > mostEdgeless:
		return hide.Faultf(hide.NotMeasurable, "the hide cannot be told from the table: along %.0f of %.0f mm of its outline no edge shows, as where glare makes "+
			"leather as bright as the table; move the lamp, use a table that is clearly lighter or darker, or light it from behind", unseen, length)
	case unseen > leastEdgeless:
		out.EdgeU = hide.MM(math.Hypot(float64(out.EdgeU), float64(guessedU)*share))
		out.Flags = append(out.Flags, hide.Flag{Code: "edge_unseen", Value: float64(unseen), Unit: "mm", Text: fmt.Sprintf("along %.0f mm of the outline no edge shows, as where glare makes leather as "+
			"bright as the table: check it on the picture; move the lamp or light the table from behind", unseen)})
	}
	return nil
}

// edgeless is the share of a ring along which top light shows no step between so far on either side.
func (f *Found) edgeless(ring hide.Ring, aside hide.MM) float64 {
	log := f.logs[hide.Top]
	var beside, far [][3]float64
	var seen []bool
	for _, s := range stations(ring, edgeStep) {
		var b, w [3]float64
		ok := true
		for c := range log {
			across := func(off hide.MM) (step float64) {
				for k := range edgeDeep {
					at := off + edgeDeeper*hide.MM(k)*aside
					out, shownOut := f.logAt(log[c], hide.Point{X: s.at.X + at*s.nx, Y: s.at.Y + at*s.ny})
					in, shownIn := f.logAt(log[c], hide.Point{X: s.at.X - at*s.nx, Y: s.at.Y - at*s.ny})
					ok = ok && shownOut && shownIn
					step += (out - in) / edgeDeep
				}
				return step
			}
			b[c], w[c] = across(aside), across(edgeFar*aside)
		}
		beside, far, seen = append(beside, b), append(far, w), append(seen, ok)
	}
	n, without, all := len(seen), 0, 0
	for k := range n {
		var b, w [3]float64
		count := 0
		for d := -edgeRunning; d <= edgeRunning; d++ {
			if i := (k + d + n) % n; seen[i] {
				count++
				for c := range b {
					b[c] += beside[i][c]
					w[c] += far[i][c]
				}
			}
		}
		if count <= edgeRunning {
			continue
		}
		all++
		var dot, square float64
		for c := range b {
			dot += b[c] * w[c]
			square += w[c] * w[c]
		}
		if dot < leastStep*square {
			without++
		}
	}
	return float64(without) / math.Max(float64(all), 1)
}

// logAt is the logarithm of light at a place; false under a tag or beyond the raster.
func (f *Found) logAt(log field, at hide.Point) (float64, bool) {
	p := f.grid.ToRaster(at)
	x, y := int(math.Round(float64(p.X))), int(math.Round(float64(p.Y)))
	if x < 0 || y < 0 || x >= log.w || y >= log.h || f.tags[y*log.w+x] {
		return 0, false
	}
	return float64(log.v[y*log.w+x]), true
}

// station is a place on a ring and the direction out of it.
type station struct {
	at     hide.Point
	nx, ny hide.MM
}

// stations are places every so many mm along a counter-clockwise ring.
func stations(ring hide.Ring, every float64) []station {
	var out []station
	left := 0.0
	for i, p := range ring {
		q := ring[(i+1)%len(ring)]
		dx, dy := float64(q.X-p.X), float64(q.Y-p.Y)
		length := math.Hypot(dx, dy)
		for ; left < length; left += every {
			t := left / length
			out = append(out, station{at: hide.Point{X: p.X + hide.MM(t*dx), Y: p.Y + hide.MM(t*dy)}, nx: hide.MM(dy / length), ny: hide.MM(-dx / length)})
		}
		left -= length
	}
	return out
}
