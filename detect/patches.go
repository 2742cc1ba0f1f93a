package detect

import (
	"cmp"
	"errors"
	"math"
	"runtime"
	"slices"

	"golang.org/x/sync/errgroup"

	"hidechart/hide"
	"hidechart/pix"
)

// patch is an area set off from the leather round it by a border.
type patch struct {
	shape    hide.Polygon
	edge     float64 // mean slope across its border, of one sign, in the leather's own slopes
	evidence float64 // of it, by how long the border is
}

// patchLevel is the pixel of the patch search in work pixels: 4 mm holds the
// smallest stain and is quick; the border is then found anew on the work raster.
const patchLevel = 4

// patchBlur in pixels of the search: more would round small stains and drown fine borders.
const patchBlur hide.PX = 0.8

// toneShare of the patches are found by tone, the others by colour.
const toneShare = 0.75

// patches finds stains as parts of the leather with a border of one sign all round. The
// leather is parted where its tone is steepest and the parts are joined again, faintest border first
// (regions.go); a cloud fades out and has no border, however dark it is. Of parts one within the
// other the one with the most evidence is kept. Tone and both hues are searched under top light.
func (s *surface) patches(p Params) ([]patch, error) {
	var channels []field // tone first
	for _, l := range s.lit {
		if l.light == hide.Top {
			channels = append([]field{l.wide}, l.hue...)
		}
	}
	if len(channels) == 0 {
		return nil, nil
	}
	parts := make([][]part, len(channels))
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	for k, c := range channels {
		group.Go(func() (err error) { parts[k], err = s.partsOf(c, p); return err })
	}
	if err := group.Wait(); err != nil {
		return nil, err
	}
	kept := s.strongest(parts[0], slices.Concat(parts[1:]...), p.PatchesPerM2*s.area())
	out, errs := make([]patch, len(kept)), make([]error, len(kept))
	rows(len(kept), func(k int) {
		out[k].edge, out[k].evidence = kept[k].edge, kept[k].evidence
		out[k].shape.Outer, errs[k] = s.borderAround(kept[k].channel, kept[k].pixels)
	})
	out = slices.DeleteFunc(out, func(f patch) bool { return f.shape.Outer == nil })
	return out, errors.Join(errs...)
}

func (s *surface) patchGrid() pix.Grid { return s.grid.Scaled(s.grid.MMPerPX * patchLevel) }

// part is a patch as pixels of the patch raster.
type part struct {
	pixels   []int32
	edge     float64
	evidence float64
	channel  field // where it was found
}

func (s *surface) partsOf(channel field, p Params) ([]part, error) {
	g := s.patchGrid()
	small, in := channel.blockMeansIn(s.in, patchLevel)
	smooth, _, err := small.localMean(in, patchBlur)
	if err != nil {
		return nil, err
	}
	slope, typical := slopes(smooth, in)
	if typical == 0 {
		return nil, nil
	}
	b := basinsOf(slope, in)
	regions, places := b.joined(slope, smooth, in), b.places()
	edge := func(r region) float64 { return math.Abs(r.meanStep()) / (crossingSpan * typical) }
	var out []part
	for _, k := range apart(regions, func(r region) float64 {
		area := hide.MM2(r.pixels) * hide.MM2(g.MMPerPX*g.MMPerPX)
		if area < p.PatchMin || area > p.PatchMax || edge(r) < p.PatchEdge {
			return 0
		}
		return evidence(edge(r), float64(r.border))
	}) {
		r := regions[k]
		f := part{edge: edge(r), evidence: evidence(edge(r), float64(r.border)), channel: channel}
		for _, basin := range basinsIn(regions, k) {
			f.pixels = append(f.pixels, places[basin]...)
		}
		out = append(out, f)
	}
	return out, nil
}

// evidence of a border is its steepness, weighed up by its length: chance agrees along few pixels
// only, and a blot of mottling within a stain may be steeper than the stain.
func evidence(edge, length float64) float64 { return edge * math.Sqrt(length) }

// blockMeansIn are the means over k × k blocks and whether more than half of a block counts.
func (f field) blockMeansIn(in []bool, k int) (field, []bool) {
	mean, weight := f.blocks(in, k)
	most := make([]bool, len(mean.v))
	for i, w := range weight.v {
		mean.v[i] /= max(w, 1)
		most[i] = w > float32(k*k)/2
	}
	return mean, most
}

// slopeEvery thins the slopes whose median is taken; a prime, so that all columns
// are visited.
const slopeEvery = 23

// slopes returns the magnitude of the gradient, per pixel, and what is usual on the leather.
func slopes(f field, in []bool) (field, float64) {
	g := newField(f.w, f.h)
	var all []float64
	for i, ok := range in {
		if !ok {
			continue
		}
		x, y := i%f.w, i/f.w
		v := math.Hypot(f.rise(in, i, 1, x > 0, x < f.w-1), f.rise(in, i, f.w, y > 0, y < f.h-1))
		g.v[i] = float32(v)
		if i%slopeEvery == 0 {
			all = append(all, v)
		}
	}
	if len(all) == 0 {
		return g, 0
	}
	// 1.82 is the ratio of the two for slopes of normal noise (Rayleigh): a photograph
	// of few levels is flat at the median and steep at each of its steps
	return g, math.Max(median(all), quantile(all, 0.9)/1.82)
}

// rise is the slope at a pixel along one axis, from the neighbours on the leather: by pixels step
// before and behind it, where the raster has them.
func (f field) rise(in []bool, i, step int, before, behind bool) float64 {
	a, b, n := i, i, 0
	if before && in[i-step] {
		a, n = i-step, n+1
	}
	if behind && in[i+step] {
		b, n = i+step, n+1
	}
	return float64(f.v[b]-f.v[a]) / float64(max(n, 1))
}

// strongest are those of most evidence, the given number of them: by tone, and by colour where none by
// tone has as much. They may overlap: which of them is the flaw, their looks tell.
func (s *surface) strongest(tone, hue []part, limit float64) []part {
	byTone := tone[:min(len(tone), int(toneShare*limit)+1)]
	g := s.patchGrid()
	taken := make([]float64, g.Width*g.Height) // by evidence
	for _, f := range byTone {
		for _, i := range f.pixels {
			taken[i] = f.evidence
		}
	}
	slices.SortStableFunc(hue, func(a, b part) int { return cmp.Compare(b.evidence, a.evidence) })
	hue = slices.DeleteFunc(hue, func(f part) bool {
		for _, i := range f.pixels {
			if taken[i] >= f.evidence {
				return true
			}
		}
		for _, i := range f.pixels {
			taken[i] = f.evidence
		}
		return false
	})
	return slices.Concat(byTone, hue[:min(len(hue), int((1-toneShare)*limit)+1)])
}

// pixelsIn lists the pixels whose centres lie in the ring, in raster order.
func pixelsIn(r hide.Ring, g pix.Grid) []int {
	box := g.Around(r, 0)
	left, top := cornerOf(box, g)
	var out []int
	eachRun(r, box, func(y, from, to int) {
		for x := from; x < to; x++ {
			out = append(out, (top+y)*g.Width+left+x)
		}
	})
	return out
}

// cornerOf is the pixel of g that a part of it begins with.
func cornerOf(part, g pix.Grid) (left, top int) {
	return int(math.Round(float64((part.Left - g.Left) / g.MMPerPX))), int(math.Round(float64((g.Top - part.Top) / g.MMPerPX)))
}
