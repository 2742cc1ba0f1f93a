package detect

import (
	"image"
	"slices"

	"hidechart/hide"
	"hidechart/pix"
)

// borderBlur in work pixels: the least at which grain is not a border everywhere.
const borderBlur hide.PX = 1.5

// borderAround traces a part of the patch raster on the work raster: what is clear of
// the part's rim is flooded from both sides up the slope, and where the floods meet is the
// border (Meyer & Beucher 1990, "Morphological segmentation", J. Visual Communication and
// Image Representation 1). None where the part is too thin to have an inside.
func (s *surface) borderAround(tone field, pixels []int32) (hide.Ring, error) {
	box := s.boxOf(pixels)
	g := s.grid.Crop(box)
	marks := s.marksOf(pixels, box)
	if !slices.Contains(marks, inside) {
		return nil, nil
	}
	part := newField(g.Width, g.Height)
	for y := range g.Height {
		copy(part.v[y*part.w:(y+1)*part.w], tone.v[(box.Min.Y+y)*tone.w+box.Min.X:])
	}
	smooth, err := part.blurred(borderBlur)
	if err != nil {
		return nil, err
	}
	all := slices.Repeat([]bool{true}, len(part.v))
	slope, _ := slopes(smooth, all)
	slope.flood(marks)
	for i, m := range marks {
		part.v[i] = 0
		if m == inside {
			part.v[i] = 1
		}
	}
	if part, err = part.blurred(1); err != nil {
		return nil, err
	}
	for i := range part.v {
		part.v[i] -= 0.5
	}
	curves, err := pix.IsolinesIn(part.v, part.w)
	if err != nil || len(curves) == 0 {
		return nil, err
	}
	return simplified(largestRing(curves, g), shapeTolerance), nil
}

// boxOf is the part of the work raster that holds the patch pixels and some round them.
func (s *surface) boxOf(pixels []int32) image.Rectangle {
	w := s.patchGrid().Width
	var box image.Rectangle
	for _, i := range pixels {
		x, y := int(i)%w, int(i)/w
		box = box.Union(image.Rect(x-3, y-3, x+4, y+4))
	}
	box.Min, box.Max = box.Min.Mul(patchLevel), box.Max.Mul(patchLevel)
	return box.Intersect(image.Rect(0, 0, s.grid.Width, s.grid.Height))
}

// What is known of a pixel before the flood, and of each after it.
const (
	unknown uint8 = iota
	inside
	outside
)

// marksOf marks, on the work raster's box, pixels whose patch pixel lies with all its eight
// neighbours in the part or beyond it.
func (s *surface) marksOf(pixels []int32, box image.Rectangle) []uint8 {
	coarse := image.Rect(box.Min.X/patchLevel-1, box.Min.Y/patchLevel-1, (box.Max.X-1)/patchLevel+2, (box.Max.Y-1)/patchLevel+2)
	w, full := coarse.Dx(), s.patchGrid().Width
	part := make([]bool, w*coarse.Dy())
	for _, i := range pixels {
		part[(int(i)/full-coarse.Min.Y)*w+int(i)%full-coarse.Min.X] = true
	}
	fillHoles(part, w)
	out := make([]uint8, box.Dx()*box.Dy())
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			at := (y/patchLevel-coarse.Min.Y)*w + x/patchLevel - coarse.Min.X
			n := 0
			for _, k := range [9]int{-w - 1, -w, -w + 1, -1, 0, 1, w - 1, w, w + 1} {
				if part[at+k] {
					n++
				}
			}
			switch n {
			case 9:
				out[(y-box.Min.Y)*box.Dx()+x-box.Min.X] = inside
			case 0:
				out[(y-box.Min.Y)*box.Dx()+x-box.Min.X] = outside
			}
		}
	}
	return out
}

// fillHoles makes true what the border of the raster cannot be reached from.
func fillHoles(part []bool, w int) {
	open := make([]bool, len(part))
	var stack []int
	visit := func(i int) {
		if !part[i] && !open[i] {
			open[i] = true
			stack = append(stack, i)
		}
	}
	for i := range part {
		if x := i % w; x == 0 || x == w-1 || i < w || i >= len(part)-w {
			visit(i)
		}
	}
	for len(stack) > 0 {
		i := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		for _, k := range [4]int{i - w, i - 1, i + 1, i + w} {
			if k >= 0 && k < len(part) && (k/w == i/w || k%w == i%w) {
				visit(k)
			}
		}
	}
	for i := range part {
		part[i] = !open[i]
	}
}

// floodLevels is how finely slopes are told apart in a flood.
const floodLevels = 256

// flood gives each unknown pixel the mark that reaches it first when marks spread over the
// least slopes first.
func (f field) flood(marks []uint8) {
	top := max(slices.Max(f.v), 1e-12)
	queues := make([][]int32, floodLevels)
	level := 0
	push := func(i, least int) {
		k := max(least, int(f.v[i]/top*(floodLevels-1)))
		queues[k] = append(queues[k], int32(i)) //nolint:gosec // a small raster
	}
	wet := func(i int) {
		x := i % f.w
		for _, k := range [4]int{i - f.w, i - 1, i + 1, i + f.w} {
			if k < 0 || k >= len(marks) || marks[k] != unknown || x == 0 && k == i-1 || x == f.w-1 && k == i+1 {
				continue
			}
			marks[k] = marks[i]
			push(k, level)
		}
	}
	for i, m := range slices.Clone(marks) {
		if m != unknown {
			wet(i)
		}
	}
	for ; level < floodLevels; level++ {
		for len(queues[level]) > 0 {
			i := queues[level][0]
			queues[level] = queues[level][1:]
			wet(int(i))
		}
	}
}
