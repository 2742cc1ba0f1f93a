package detect

import (
	"image"
	"math"
	"runtime"

	"golang.org/x/sync/errgroup"

	"hidechart/pix"
)

// beam sums responses along one direction after another; best.z holds sums of
// squares until lineResponses is done.
type beam struct {
	s         *surface
	doublings []int
	weighted  []response
	sums      [][][]pix.Short // per length, per response: summed along the line
	noise     [][]pix.Blocks
	tiles     []image.Rectangle // that hold leather
	best      lineResponse
}

// response is a derivative across a line, as a sum of derivatives along x and y.
type response struct {
	of      [3][]float32
	weights func(c, n float32) [3]float32 // the line's direction is (c, n), its normal (−n, c)
}

// tileSize in pixels: a tile and its sums stay in a core's cache.
var tileSize = image.Pt(512, 128)

func newBeam(s *surface, d []gradients, level lineLevel) *beam {
	w, h := s.grid.Width, s.grid.Height
	b := &beam{s: s, doublings: level.doublings, tiles: s.tiles(tileSize)}
	b.best = lineResponse{z: newField(w, h), angle: make([]uint8, w*h), step: math.Pi / float64(level.directions)}
	for _, g := range d {
		b.weighted = append(b.weighted, response{[3][]float32{g.xx.v, g.xy.v, g.yy.v},
			func(c, n float32) [3]float32 { return [3]float32{n * n, -2 * n * c, c * c} }})
		if g.odd {
			b.weighted = append(b.weighted, response{[3][]float32{g.x.v, g.y.v},
				func(c, n float32) [3]float32 { return [3]float32{-n, c} }})
		}
	}
	for range level.doublings {
		sums := make([][]pix.Short, len(b.weighted))
		for k := range sums {
			sums[k] = make([]pix.Short, w*h)
		}
		b.sums = append(b.sums, sums)
		b.noise = append(b.noise, make([]pix.Blocks, len(sums)))
	}
	return b
}

// tiles cover the raster where there is leather.
func (s *surface) tiles(size image.Point) []image.Rectangle {
	all := image.Rect(0, 0, s.grid.Width, s.grid.Height)
	var out []image.Rectangle
	for y := 0; y < all.Max.Y; y += size.Y {
		for x := 0; x < all.Max.X; x += size.X {
			t := image.Rect(x, y, x+size.X, y+size.Y).Intersect(all)
			if s.leatherIn(t) {
				out = append(out, t)
			}
		}
	}
	return out
}

func (s *surface) leatherIn(t image.Rectangle) bool {
	for y := t.Min.Y; y < t.Max.Y; y++ {
		for _, in := range s.in[y*s.grid.Width+t.Min.X : y*s.grid.Width+t.Max.X] {
			if in {
				return true
			}
		}
	}
	return false
}

// direction keeps the strongest response so far.
func (b *beam) direction(o int) error {
	angle := float64(o) * b.best.step
	line := stretch(angle, b.doublings)
	if err := b.sum(line, float32(math.Cos(angle)), float32(math.Sin(angle))); err != nil {
		return err
	}
	if err := b.measureNoise(); err != nil {
		return err
	}
	return b.keep(line, uint8(o))
}

// stretch of 2^doublings pixels, for the last of the doublings; the one before,
// if there is one, is wanted as well.
func stretch(angle float64, doublings []int) pix.Stretch {
	var s pix.Stretch
	for k := range doublings[len(doublings)-1] {
		l := float64(int(1) << k)
		s.Steps = append(s.Steps, image.Pt(int(math.Round(l*math.Cos(angle))), int(math.Round(l*math.Sin(angle)))))
	}
	if len(doublings) > 1 {
		s.First = doublings[0]
	}
	return s
}

// eachTile shares the tiles out over the cores; a tile is all one worker's, so
// the result does not depend on their number.
func (b *beam) eachTile(room int, work func(t image.Rectangle, buffer []float32) error) error {
	var group errgroup.Group
	next := make(chan image.Rectangle, len(b.tiles))
	for _, t := range b.tiles {
		next <- t
	}
	close(next)
	for range min(runtime.GOMAXPROCS(0), len(b.tiles)) {
		group.Go(func() error {
			buffer := make([]float32, room)
			for t := range next {
				if err := work(t, buffer); err != nil {
					return err
				}
			}
			return nil
		})
	}
	return group.Wait()
}

func (b *beam) sum(line pix.Stretch, c, n float32) error {
	last := b.sums[len(b.sums)-1]
	return b.eachTile(line.Room(tileSize), func(t image.Rectangle, buffer []float32) error {
		for k, r := range b.weighted {
			v := pix.Weighted{Rasters: r.of, Weights: r.weights(c, n)}
			if err := line.Sum(b.sums[0][k], last[k], v, b.s.grid.Width, t, buffer); err != nil {
				return err
			}
		}
		return nil
	})
}

// measureNoise of every sum: 1/noise², per block.
func (b *beam) measureNoise() error {
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	for l, sums := range b.sums {
		for k, r := range sums {
			group.Go(func() error {
				noise, block, err := coarseNoise(b.s, r)
				if err != nil {
					return err
				}
				for i, v := range noise.v {
					noise.v[i] = 1 / (v * v)
				}
				b.noise[l][k] = pix.Blocks{Values: noise.v, Side: block, Width: noise.w}
				return nil
			})
		}
	}
	return group.Wait()
}

// keep adds the squared scores of all responses, moved from a stretch's start to
// its middle, and keeps where they are the most so far.
func (b *beam) keep(line pix.Stretch, o uint8) error {
	width := b.s.grid.Width
	return b.eachTile(0, func(t image.Rectangle, _ []float32) error {
		for l, doublings := range b.doublings {
			if err := pix.KeepSquares(b.best.z.v, b.best.angle, b.s.in, o, width, t, line.Middle(doublings), b.sums[l], b.noise[l]); err != nil {
				return err
			}
		}
		return nil
	})
}
