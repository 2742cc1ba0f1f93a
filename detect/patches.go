package detect

import (
	"cmp"
	"math"
	"runtime"
	"slices"

	"golang.org/x/sync/errgroup"

	"hidechart/hide"
	"hidechart/pix"
)

// patch is an area set off from the leather round it by a border.
type patch struct {
	shape hide.Polygon
	edge  float64 // mean step across its border, in the leather's own slopes
}

// patchLevel is the pixel of the patch search in work pixels: 2 mm holds a
// border and is quick.
const patchLevel = 2

// patchLevels is how many cuts of the range are tried, from 0.5 to 6 spreads.
const patchLevels = 14

// patches finds stains as the level sets whose border is steep all round: of
// the nested parts of a thresholded picture (the component tree; Matas et al.
// 2002 choose by stability, here by the mean slope across the border) the one
// with the steepest border is kept. Mottling is as dark as many a stain but fades
// out. Tone and both hues are searched, lighter and darker, under top light.
func (s *surface) patches(p Params) ([]patch, error) {
	var channels []field
	for _, l := range s.lit {
		if l.light == hide.Top {
			channels = append([]field{l.tone, l.wide}, l.hue...)
		}
	}
	parts := make([][]scored, len(channels))
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	for k, c := range channels {
		group.Go(func() (err error) { parts[k], err = s.patchChannel(c, p); return err })
	}
	if err := group.Wait(); err != nil {
		return nil, err
	}
	found := slices.Concat(parts...)
	return s.separatePatches(found), nil
}

// scored is a part of a level set on the patch grid.
type scored struct {
	pixels []int
	edge   float64
	shape  hide.Polygon
}

func (s *surface) patchGrid() pix.Grid { return s.grid.Scaled(s.grid.MMPerPX * patchLevel) }

func (s *surface) patchChannel(channel field, p Params) ([]scored, error) {
	g := s.patchGrid()
	small, weight := channel.blocks(s.in, patchLevel)
	in := make([]bool, len(small.v))
	for i, w := range weight.v {
		small.v[i] /= max(w, 1)
		in[i] = w > patchLevel*patchLevel/2
	}
	smooth, err := small.blurred(1.2)
	if err != nil {
		return nil, err
	}
	slope, typical := slopes(smooth, in)
	if typical == 0 {
		return nil, nil
	}
	var sample []float64
	for i, ok := range in {
		if ok {
			sample = append(sample, float64(smooth.v[i]))
		}
	}
	unit, above := float32(spread(sample)), newField(small.w, small.h)
	var out []scored
	for _, sign := range []float32{1, -1} {
		for k := range patchLevels {
			cut := unit * float32(0.5+5.5*float64(k)/(patchLevels-1))
			if err := pix.CutAt(above.v, smooth.v, in, sign, cut); err != nil {
				return nil, err
			}
			parts, err := s.cutParts(above, slope, g, sign, typical, p)
			if err != nil {
				return nil, err
			}
			out = append(out, parts...)
		}
	}
	return out, nil
}

// slopeEvery thins the slopes whose median is taken; a prime, so that all columns
// are visited.
const slopeEvery = 23

// slopes returns the gradient and its usual magnitude on the leather.
func slopes(f field, in []bool) ([2]field, float64) {
	g := [2]field{newField(f.w, f.h), newField(f.w, f.h)}
	var all []float64
	for y := 1; y < f.h-1; y++ {
		for x := 1; x < f.w-1; x++ {
			i := y*f.w + x
			if !in[i] || !in[i-1] || !in[i+1] || !in[i-f.w] || !in[i+f.w] {
				continue
			}
			g[0].v[i], g[1].v[i] = (f.v[i+1]-f.v[i-1])/2, (f.v[i+f.w]-f.v[i-f.w])/2
			if i%slopeEvery == 0 {
				all = append(all, math.Hypot(float64(g[0].v[i]), float64(g[1].v[i])))
			}
		}
	}
	if len(all) == 0 {
		return g, 0
	}
	// 1.82 is the ratio of the two for slopes of normal noise (Rayleigh): a photograph
	// of few levels is flat at the median and steep at each of its steps
	return g, math.Max(median(all), quantile(all, 0.9)/1.82)
}

// cutParts are the parts above 0, of fitting size, whose border is steep.
func (s *surface) cutParts(above field, slope [2]field, g pix.Grid, sign float32, typical float64, p Params) ([]scored, error) {
	curves, err := pix.IsolinesIn(above.v, above.w)
	if err != nil {
		return nil, err
	}
	var out []scored
	for _, c := range curves {
		ring := tableRing(c, g)
		if a := ring.SignedArea(); a < p.PatchMin || a > p.PatchMax {
			continue
		}
		if e := borderStep(c, slope, sign) / typical; e >= p.PatchEdge {
			out = append(out, scored{edge: e, shape: hide.Polygon{Outer: simplified(ring, 0.5)}})
		}
	}
	return out, nil
}

// borderStep is the mean slope across a closed curve, inward positive.
func borderStep(c []pix.Point, slope [2]field, sign float32) float64 {
	var sum, length float64
	for k, a := range c {
		b := c[(k+1)%len(c)]
		dx, dy := float64(b.X-a.X), float64(b.Y-a.Y)
		i := int(math.Round(float64(a.Y+b.Y)/2))*slope[0].w + int(math.Round(float64(a.X+b.X)/2))
		if i < 0 || i >= len(slope[0].v) {
			continue
		}
		// the inside lies left of travel as seen: normal (dy, −dx) on the raster
		sum += float64(sign) * (float64(slope[0].v[i])*dy - float64(slope[1].v[i])*dx)
		length += math.Hypot(dx, dy)
	}
	if length == 0 {
		return 0
	}
	return sum / length
}

// evidence of a border is its steepness, weighed up a little by its length: a blot
// of mottling within a stain may be steeper than the stain, but a cloud round it
// must not swallow it.
func (f scored) evidence() float64 { return f.edge * math.Pow(float64(f.shape.Outer.Length()), 0.25) }

// separatePatches keeps, of overlapping parts, the one with the most evidence, and
// lists those first.
func (s *surface) separatePatches(found []scored) []patch {
	slices.SortStableFunc(found, func(a, b scored) int {
		return cmp.Compare(b.evidence(), a.evidence())
	})
	g := s.patchGrid()
	taken := make([]bool, g.Width*g.Height)
	var out []patch
	for _, f := range found {
		f.pixels = pixelsIn(f.shape.Outer, g)
		free := true
		for _, i := range f.pixels {
			free = free && !taken[i]
		}
		if !free || len(f.pixels) == 0 {
			continue
		}
		for _, i := range f.pixels {
			taken[i] = true
		}
		out = append(out, patch{shape: f.shape, edge: f.edge})
	}
	return out
}

// pixelsIn lists the pixels whose centres lie in the ring, in raster order.
func pixelsIn(r hide.Ring, g pix.Grid) []int {
	box := g.Around(r, 0)
	left := int(math.Round(float64((box.Left - g.Left) / g.MMPerPX)))
	top := int(math.Round(float64((g.Top - box.Top) / g.MMPerPX)))
	var out []int
	for i, in := range filled(r, box) {
		if in {
			out = append(out, (top+i/box.Width)*g.Width+left+i%box.Width)
		}
	}
	return out
}
