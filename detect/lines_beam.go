package detect

import (
	"image"
	"math"
	"runtime"
	"sync/atomic"

	"golang.org/x/sync/errgroup"

	"hidechart/pix"
)

// beam sums responses along one direction after another; best.z holds sums of
// squares until lineResponses is done.
type beam struct {
	s         *surface
	doublings []int
	weighted  []response
	turns     [2]turn           // the direction being summed, and the one before it
	tiles     []image.Rectangle // that hold leather
	buffers   [][]float32       // of each core
	best      lineResponse
}

// turn is one direction's.
type turn struct {
	name  int
	line  pix.Stretch
	sums  [][][]pix.Short // per length, per response: summed along the line
	noise [][]pix.Blocks  // of each: 1/noise², per block
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
	for k := range b.turns {
		b.turns[k] = newTurn(len(level.doublings), len(b.weighted), w*h)
	}
	b.buffers = make([][]float32, runtime.GOMAXPROCS(0))
	return b
}

func newTurn(lengths, responses, pixels int) turn {
	var t turn
	for range lengths {
		sums := make([][]pix.Short, responses)
		for k := range sums {
			sums[k] = make([]pix.Short, pixels)
		}
		t.sums = append(t.sums, sums)
		t.noise = append(t.noise, make([]pix.Blocks, responses))
	}
	return t
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

// search keeps the strongest response of all directions. While one is summed, the
// noise of the one before is measured, so that no core waits for another.
func (b *beam) search(directions int) error {
	for o := range directions + 1 {
		var tasks []task
		now, before := &b.turns[o%2], &b.turns[(o+1)%2]
		if o > 0 {
			tasks = b.measureNoise(before)
		}
		if o < directions {
			tasks = append(tasks, b.sum(now, o)...)
		}
		if err := b.do(tasks); err != nil {
			return err
		}
		if o == 0 {
			continue
		}
		if err := b.do(b.keep(before)); err != nil {
			return err
		}
	}
	return nil
}

// task is some work that writes what no other one of its kind does, so the result does not
// depend on the number of cores. It may write to a buffer, which has the room it wants.
type task struct {
	room int
	do   func(buffer []float32) error
}

// do shares tasks out over the cores.
func (b *beam) do(tasks []task) error {
	var group errgroup.Group
	var next atomic.Int64
	for core := range b.buffers {
		group.Go(func() error {
			for {
				i := int(next.Add(1)) - 1
				if i >= len(tasks) {
					return nil
				}
				if len(b.buffers[core]) < tasks[i].room {
					b.buffers[core] = make([]float32, tasks[i].room)
				}
				if err := tasks[i].do(b.buffers[core]); err != nil {
					return err
				}
			}
		})
	}
	return group.Wait()
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

// sum begins a turn: the o-th direction's.
func (b *beam) sum(t *turn, o int) []task {
	angle := float64(o) * b.best.step
	t.name, t.line = o, stretch(angle, b.doublings)
	c, n := float32(math.Cos(angle)), float32(math.Sin(angle))
	last, room := t.sums[len(t.sums)-1], t.line.Room(tileSize)
	var out []task
	for _, tile := range b.tiles {
		out = append(out, task{room, func(buffer []float32) error {
			for k, r := range b.weighted {
				v := pix.Weighted{Rasters: r.of, Weights: r.weights(c, n)}
				if err := t.line.Sum(t.sums[0][k], last[k], v, b.s.grid.Width, tile, buffer); err != nil {
					return err
				}
			}
			return nil
		}})
	}
	return out
}

func (b *beam) measureNoise(t *turn) []task {
	var out []task
	for l, sums := range t.sums {
		for k, r := range sums {
			out = append(out, task{0, func([]float32) error {
				noise, block, err := coarseNoise(b.s, r)
				if err != nil {
					return err
				}
				for i, v := range noise.v {
					noise.v[i] = 1 / (v * v)
				}
				t.noise[l][k] = pix.Blocks{Values: noise.v, Side: block, Width: noise.w}
				return nil
			}})
		}
	}
	return out
}

// keep adds the squared scores of all responses, moved from a stretch's start to
// its middle, and keeps where they are the most so far.
func (b *beam) keep(t *turn) []task {
	var out []task
	for _, tile := range b.tiles {
		out = append(out, task{0, func([]float32) error {
			for l, doublings := range b.doublings {
				err := pix.KeepSquares(b.best.z.v, b.best.angle, b.s.in, uint8(t.name), b.s.grid.Width, tile, t.line.Middle(doublings), t.sums[l], t.noise[l])
				if err != nil {
					return err
				}
			}
			return nil
		}})
	}
	return out
}
