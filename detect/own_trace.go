package detect

import (
	"image"
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/pix"
	"hidechart/plane"
)

const (
	// traceReach, in pixels of the finest level, is how far beyond the map's own
	// outline a flaw's true one is sought: the map's blur at its default.
	traceReach = 6
	// traceBlur, in pixels of the finest level, keeps single grains out of an outline.
	traceBlur hide.PX = 1
	// flawTolerance bounds what simplifying a flaw's outline may move it.
	flawTolerance hide.MM = .2
	// pieceShare of the largest piece: smaller ones are the grain's.
	pieceShare = .05
	// mostPieces and holes of one flaw: with more, the outline follows the grain.
	mostPieces = 12
)

// trace outlines the flaw that holds the given pixels of the map. The map is
// blurred so that it finds; where a flaw ends is read from the finest two levels'
// own distances around it: their values there fall into two heaps, flaw
// and leather, parted by Otsu's threshold (Otsu 1979). Of colour alone and
// colour with grain the one that parts the better is taken; where both fall to
// pieces, as on a flaw that is only another grain, the map's own outline stays. g is the
// map's grid.
func (m OwnMap) trace(core []int, g pix.Grid, p FlawParams) (hide.Shape, error) {
	sharp := pix.Grid{Left: g.Left, Top: g.Top, Width: m.sharpAll.w, Height: m.sharpAll.h}
	sharp.MMPerPX = g.MMPerPX * hide.MM(g.Width) / hide.MM(max(sharp.Width, 1))
	window, cover := m.window(core, sharp)
	part := sharp.Crop(window)
	in, err := grow(cover, part, traceReach*part.MMPerPX)
	if err != nil {
		return nil, err
	}
	cuts, err := m.cuts(window, in)
	if err != nil {
		return nil, err
	}
	own := newField(window.Dx(), window.Dy())
	for i, c := range cover {
		if own.v[i] = -1; c {
			own.v[i] = 1
		}
	}
	var shape hide.Shape
	for _, f := range append(cuts, own) {
		var whole int
		if shape, whole, err = piecesOf(f, part, p.Least); err != nil || len(shape) > 0 && whole <= mostPieces {
			return shape, err
		}
	}
	return shape, nil
}

// cuts are the finest levels' sums, blurred a little, less their threshold
// within the region and negative outside; the one that parts the best first.
func (m OwnMap) cuts(window image.Rectangle, in []bool) ([]field, error) {
	var out []field
	var first float64
	for _, f := range []field{m.sharpColour, m.sharpAll} {
		if f.v == nil {
			continue
		}
		soft, err := f.crop(window).blurred(traceBlur)
		if err != nil {
			return nil, err
		}
		limit, share := otsu(sampled(soft.v, in))
		if share == 0 { // an even field: nothing to part
			continue
		}
		for i := range soft.v {
			if soft.v[i] -= float32(limit); !in[i] {
				soft.v[i] = -1
			}
		}
		if out = append(out, soft); len(out) > 1 && share > first {
			slices.Reverse(out)
		}
		first = share
	}
	return out, nil
}

// window is the part of the finest level around some of the map's pixels, and
// which of its pixels they cover.
func (m OwnMap) window(core []int, sharp pix.Grid) (image.Rectangle, []bool) {
	box := image.Rectangle{Min: image.Pt(m.Width, m.Height)}
	is := make(map[int]bool, len(core))
	for _, i := range core {
		x, y := i%m.Width, i/m.Width
		box.Min.X, box.Min.Y = min(box.Min.X, x), min(box.Min.Y, y)
		box.Max.X, box.Max.Y = max(box.Max.X, x+1), max(box.Max.Y, y+1)
		is[i] = true
	}
	kx, ky := float64(sharp.Width)/float64(m.Width), float64(sharp.Height)/float64(m.Height)
	margin := traceReach + 2
	out := image.Rect(int(float64(box.Min.X)*kx)-margin, int(float64(box.Min.Y)*ky)-margin,
		int(math.Ceil(float64(box.Max.X)*kx))+margin, int(math.Ceil(float64(box.Max.Y)*ky))+margin).
		Intersect(image.Rect(0, 0, sharp.Width, sharp.Height))
	in := make([]bool, out.Dx()*out.Dy())
	for i := range in {
		x, y := out.Min.X+i%out.Dx(), out.Min.Y+i/out.Dx()
		in[i] = is[int((float64(y)+.5)/ky)*m.Width+int((float64(x)+.5)/kx)]
	}
	return out, in
}

func (f field) crop(r image.Rectangle) field {
	out := newField(r.Dx(), r.Dy())
	for y := range out.h {
		copy(out.v[y*out.w:(y+1)*out.w], f.v[(r.Min.Y+y)*f.w+r.Min.X:])
	}
	return out
}

// otsu is the threshold that parts values into two classes with the most
// variance between them, and the share of the variance that is (Otsu 1979, η).
// It reorders v. Fewer than two different values give share 0.
func otsu(v []float64) (threshold, share float64) {
	slices.Sort(v)
	n := float64(len(v))
	var total, square float64
	for _, x := range v {
		total += x
		square += x * x
	}
	variance := square/math.Max(n, 1) - total*total/math.Max(n*n, 1)
	if !(variance > 0) {
		return 0, 0
	}
	var low, between float64
	for i := 0; i+1 < len(v); i++ {
		low += v[i]
		if v[i+1] <= v[i] {
			continue
		}
		a, b := float64(i+1), n-float64(i+1)
		gap := low/a - (total-low)/b
		if q := a * b / (n * n) * gap * gap; q > between {
			threshold, between = (v[i]+v[i+1])/2, q
		}
	}
	return threshold, between / variance
}

// piecesOf traces where a field is not negative: pieces and holes of at least
// the given area, the largest first, and how many of both there are before the
// small pieces beside a large one are dropped.
func piecesOf(v field, g pix.Grid, least hide.MM2) (hide.Shape, int, error) {
	im := v.image()
	defer im.Close()
	curves, err := pix.Isolines(im)
	if err != nil {
		return nil, 0, err
	}
	n := 0
	largest := largestRing(curves, g).SignedArea()
	tolerance := min(g.MMPerPX/4, flawTolerance)
	var out hide.Shape
	var holes []hide.Ring
	for _, c := range curves {
		r := tableRing(c, g)
		if area := r.SignedArea(); max(area, -area) >= least {
			n++
		}
		switch area := r.SignedArea(); {
		case len(r) < 4:
		case area >= max(least, pieceShare*largest):
			out = append(out, hide.Polygon{Outer: r})
		case -area >= least:
			holes = append(holes, r)
		}
	}
	for k := range out {
		for _, h := range holes {
			if within(out[k].Outer, h[0]) {
				out[k].Holes = append(out[k].Holes, simplified(h, tolerance))
			}
		}
	}
	for k := range out {
		out[k].Outer = simplified(out[k].Outer, tolerance)
	}
	slices.SortStableFunc(out, func(a, b hide.Polygon) int { return int(math.Copysign(1, float64(b.Area()-a.Area()))) })
	if len(out) == 0 {
		return nil, 0, nil
	}
	valid, err := plane.MakeValid(out)
	return valid, n, err
}

// edgeDeviation, in pixels of the finest level, is how far traced outlines lie
// from those of rendered flaws: root mean square of 63 pieces (docs/accuracy.md), most of
// it where a flaw fades out.
const edgeDeviation = 9.4

// EdgeU is the standard uncertainty of where a flaw's outline lies, for a
// picture of the given width.
func (m OwnMap) EdgeU(width int, mmPerPX hide.MM) hide.MM {
	return edgeDeviation * hide.MM(width) / hide.MM(m.sharpAll.w) * mmPerPX
}
