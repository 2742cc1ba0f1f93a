package detect

import (
	"image"
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/pix"
)

// spot is a small round mark.
type spot struct {
	at     hide.Point
	score  float64
	radius hide.MM
}

// spotScales are the blob deviations sought, in work pixels: a disc of radius r
// answers most at r/√2 (Lindeberg 1998), so these hold 1.1 to 4.5 mm radius.
func spotScales() []hide.PX { return []hide.PX{0.8, 1.5, 3} }

// spots are the local maxima of the summed squared blob responses: per light
// the scale-normalised Laplacian (Lindeberg 1998), and under raking light the
// derivative along the light as well. Slope is what raking light shows, and its
// derivative is curvature, so a raised or sunken spot answers in both.
func (s *surface) spots(p Params) ([]spot, error) {
	best, scale := newField(s.grid.Width, s.grid.Height), make([]uint8, len(s.in))
	squares := 0
	for _, l := range s.lit {
		switch {
		case l.light == hide.Back:
		case l.light.Rake():
			squares += 2
		default:
			squares++
		}
	}
	sum, tiles := newField(s.grid.Width, s.grid.Height), s.tiles(spotTile)
	responses := [2]field{newField(sum.w, sum.h), newField(sum.w, sum.h)}
	for k, sigma := range spotScales() {
		clear(sum.v)
		for _, l := range s.lit {
			if l.light == hide.Back {
				continue // shot noise; what shines through is sought in thin.go
			}
			if err := s.addBlobs(sum, responses, l, sigma, tiles); err != nil {
				return nil, err
			}
		}
		rows(sum.h, func(y int) {
			for i := y * sum.w; i < (y+1)*sum.w; i++ {
				if v := sum.v[i]; v > best.v[i] {
					best.v[i], scale[i] = v, uint8(k)
				}
			}
		})
	}
	rows(best.h, func(y int) {
		for i := y * best.w; i < (y+1)*best.w; i++ {
			best.v[i] = fisher(best.v[i], max(squares, 1))
		}
	})
	return s.peaks(best, scale, p), nil
}

// spotTile in pixels: leather is looked for in parts of this size.
var spotTile = image.Pt(256, 64)

// addBlobs adds the squared scores of a light's responses, for which there is room
// in r; they are only computed on tiles.
func (s *surface) addBlobs(sum field, r [2]field, l litSurface, sigma hide.PX, tiles []image.Rectangle) error {
	kernels := [][]float64{pix.GaussianKernel(sigma, 0), pix.GaussianKernel(sigma, 1), pix.GaussianKernel(sigma, 2)}
	filters := []pix.Filter{{{2, 0}, {0, 2}}}
	if dx, dy := raking(l.light); dx != 0 {
		filters = append(filters, pix.Filter{{1, 0}})
	} else if dy != 0 {
		filters = append(filters, pix.Filter{{0, 1}})
	} else {
		kernels[1] = []float64{0} // not used
	}
	out := [][]float32{r[0].v, r[1].v}[:len(filters)]
	if err := pix.Filters(out, l.tone.v, l.tone.w, kernels, filters, tiles); err != nil {
		return err
	}
	for _, one := range r[:len(filters)] {
		noise, block, err := coarseNoise(s, one.v)
		if err != nil {
			return err
		}
		if err := pix.AddRatios(sum.v, one.v, s.in, sum.w, pix.Blocks{Values: noise.v, Side: block, Width: noise.w}); err != nil {
			return err
		}
	}
	return nil
}

// raking is the direction a raking light comes from, on the raster.
func raking(l hide.Light) (dx, dy int) {
	switch l {
	case hide.RakeE:
		return 1, 0
	case hide.RakeW:
		return -1, 0
	case hide.RakeN:
		return 0, -1
	case hide.RakeS:
		return 0, 1
	}
	return 0, 0
}

func (s *surface) peaks(best field, scale []uint8, p Params) []spot {
	var out []spot
	limit := float32(p.SpotJoin)
	w := s.grid.Width
	for y := 2; y < s.grid.Height-2; y++ {
		for x := 2; x < w-2; x++ {
			i := y*w + x
			if best.v[i] < limit || !s.in[i] || !peak(best, i) {
				continue
			}
			out = append(out, spot{at: s.grid.ToTable(pix.Point{X: hide.PX(x), Y: hide.PX(y)}),
				score:  float64(best.v[i]),
				radius: hide.MM(math.Sqrt2) * hide.MM(spotScales()[scale[i]]) * s.grid.MMPerPX})
		}
	}
	return out
}

// peak is true where no pixel within two is larger; of equals the first wins.
func peak(f field, i int) bool {
	for dy := -2; dy <= 2; dy++ {
		for dx := -2; dx <= 2; dx++ {
			j := i + dy*f.w + dx
			if f.v[j] > f.v[i] || (f.v[j] == f.v[i] && j < i) {
				return false
			}
		}
	}
	return true
}

// strongerSpot is how many times stronger than another a spot of one cluster is at most: on lively leather grain lies
// between the bites, and a cluster of both is neither.
const strongerSpot = 4

func alikeStrong(a, b spot) bool {
	return math.Max(a.score, b.score) <= strongerSpot*math.Min(a.score, b.score)
}

// clusters joins spots of like strength whose gaps are at most ClusterGap (single linkage), in
// order of their first spot; a cluster is kept if it has enough spots or a seed.
func clusters(spots []spot, p Params) [][]spot {
	group := make([]int, len(spots))
	for i := range group {
		group[i] = i
	}
	root := func(i int) int {
		for group[i] != i {
			group[i] = group[group[i]]
			i = group[i]
		}
		return i
	}
	// spots come in raster order: only those within the gap downward are near
	for i := range spots {
		for j := i + 1; j < len(spots) && spots[i].at.Y-spots[j].at.Y <= p.ClusterGap; j++ {
			if spots[i].at.Distance(spots[j].at) <= p.ClusterGap && alikeStrong(spots[i], spots[j]) {
				a, b := root(i), root(j)
				group[max(a, b)] = min(a, b)
			}
		}
	}
	members := map[int][]spot{}
	var order []int
	for i := range spots {
		r := root(i)
		if members[r] == nil {
			order = append(order, r)
		}
		members[r] = append(members[r], spots[i])
	}
	slices.Sort(order)
	var out [][]spot
	for _, r := range order {
		m := members[r]
		seed := slices.ContainsFunc(m, func(s spot) bool { return s.score >= p.SpotSeed })
		if seed || len(m) >= p.ClusterSize {
			out = append(out, m)
		}
	}
	return out
}

// disc is a regular polygon of 16 corners with the area of the circle.
func disc(at hide.Point, radius hide.MM) hide.Ring {
	const corners = 16
	r := float64(radius) * math.Sqrt(2*math.Pi/(corners*math.Sin(2*math.Pi/corners)))
	out := make(hide.Ring, corners)
	for k := range out {
		a := 2 * math.Pi * float64(k) / corners
		out[k] = hide.Point{X: at.X + hide.MM(r*math.Cos(a)), Y: at.Y + hide.MM(r*math.Sin(a))}
	}
	return out
}
