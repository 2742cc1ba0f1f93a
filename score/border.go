package score

import (
	"image"
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/pix"
)

// borderOff is how far a charted shape's border lies from that of truth defect i, mm: the average
// symmetric surface distance (Heimann et al. 2009, "Comparison and evaluation of methods for liver
// segmentation", IEEE Trans. Medical Imaging 28(8)), the mean distance from points of either border to the
// nearest of the other. NaN where one has none.
func (t Truth) borderOff(i int, s hide.Shape) float64 {
	a, b := t.border(i), along(rasterRings(s, t.Grid), t.Grid.Width+t.Grid.Height)
	if len(a) == 0 || len(b) == 0 {
		return math.NaN()
	}
	return (sumOfNearest(a, b) + sumOfNearest(b, a)) / float64(len(a)+len(b)) * float64(t.Grid.MMPerPX)
}

// border of a truth defect: the middles of the sides between its pixels and others.
func (t Truth) border(i int) []pix.Point {
	w := t.Grid.Width
	all := image.Rect(0, 0, w, t.Grid.Height)
	box := pixelBox(t.Grid, t.Defects[i].Box)
	own := func(x, y int) bool { return image.Pt(x, y).In(all) && int(t.ID[y*w+x]) == i+1 }
	var out []pix.Point
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			if !own(x, y) {
				continue
			}
			for _, to := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
				if !own(x+to[0], y+to[1]) {
					out = append(out, pix.Point{X: hide.PX(x) + hide.PX(to[0])/2, Y: hide.PX(y) + hide.PX(to[1])/2})
				}
			}
		}
	}
	return out
}

// along are points of closed rings a pixel or less apart; sides longer than the whole raster, which lie
// off it for the most part, have no more than most.
func along(rings [][]pix.Point, most int) []pix.Point {
	var out []pix.Point
	for _, r := range rings {
		for k, p := range r {
			q := r[(k+1)%len(r)]
			n := int(max(1, min(math.Ceil(math.Hypot(float64(q.X-p.X), float64(q.Y-p.Y))), float64(most))))
			for i := range n {
				f := hide.PX(i) / hide.PX(n)
				out = append(out, pix.Point{X: p.X + f*(q.X-p.X), Y: p.Y + f*(q.Y-p.Y)})
			}
		}
	}
	return out
}

func sumOfNearest(from, to []pix.Point) float64 {
	var sum float64
	for _, p := range from {
		best := math.Inf(1)
		for _, q := range to {
			dx, dy := float64(q.X-p.X), float64(q.Y-p.Y)
			best = min(best, dx*dx+dy*dy)
		}
		sum += math.Sqrt(best)
	}
	return sum
}

// medianOff is the median of the borders' distances among outcomes, nil of none.
func medianOff(all []TruthOutcome) *float64 {
	var off []float64
	for _, o := range all {
		if o.BorderOff != nil {
			off = append(off, *o.BorderOff)
		}
	}
	if len(off) == 0 {
		return nil
	}
	slices.Sort(off)
	return &off[len(off)/2]
}
