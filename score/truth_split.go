package score

import (
	"image"
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/pix"
)

// splitLabels tells the defects of one kind apart: the raster names kinds
// only. A connected part (eight neighbours) goes to the smallest box that holds
// all of it; a part that no box holds (two of a kind that cross) is shared, each
// pixel to the smallest box around it. It also counts each defect's pixels; one
// that lies wholly under others keeps none. A part in no box is an error: then
// the two files do not belong together.
func splitLabels(labels []uint8, g pix.Grid, kinds []hide.Kind, defects []TruthDefect) ([]uint16, error) {
	for _, v := range labels {
		if v != labelLeather && v != labelTable && int(v) > len(kinds) {
			return nil, hide.Faultf(hide.Invalid, "truth_label.png: value %d names no kind", v)
		}
	}
	s := splitter{labels: labels, id: make([]uint16, len(labels)), width: g.Width, height: g.Height,
		boxes: make([]image.Rectangle, len(defects))}
	for i, d := range defects {
		s.boxes[i] = pixelBox(g, d.Box)
	}
	for v, kind := range kinds {
		s.value, s.rivals = uint8(v+1), nil
		for i, d := range defects {
			if d.Kind == kind {
				s.rivals = append(s.rivals, i)
			}
		}
		slices.SortStableFunc(s.rivals, func(a, b int) int { return area(s.boxes[a]) - area(s.boxes[b]) })
		s.split()
	}
	var strays int
	for i, v := range labels {
		switch {
		case s.id[i] != 0:
			defects[s.id[i]-1].Pixels++
		case v != labelLeather && v != labelTable:
			strays++
		}
	}
	if strays > 0 {
		return nil, hide.Faultf(hide.Invalid, "truth: %d pixels of the label raster lie in no defect's bbox_mm", strays)
	}
	return s.id, nil
}

// pixelBox is the box in pixels, one wider on each side: writers differ by half
// a pixel in what they call a pixel's place.
func pixelBox(g pix.Grid, b Box) image.Rectangle {
	col := func(x hide.MM) float64 { return float64((x - g.Left) / g.MMPerPX) }
	row := func(y hide.MM) float64 { return float64((g.Top - y) / g.MMPerPX) }
	r := image.Rect(int(math.Floor(col(b.Left)))-1, int(math.Floor(row(b.Top)))-1,
		int(math.Ceil(col(b.Right)))+1, int(math.Ceil(row(b.Bottom)))+1)
	return r.Intersect(image.Rect(0, 0, g.Width, g.Height))
}

func area(r image.Rectangle) int { return r.Dx() * r.Dy() }

// splitter works through one kind at a time.
type splitter struct {
	labels        []uint8
	id            []uint16
	width, height int
	boxes         []image.Rectangle // by defect
	rivals        []int             // defects of the kind, smallest box first
	value         uint8             // the kind's label
	part          []int             // pixels of the part in hand
}

func (s *splitter) split() {
	for _, d := range s.rivals {
		b := s.boxes[d]
		for y := b.Min.Y; y < b.Max.Y; y++ {
			for x := b.Min.X; x < b.Max.X; x++ {
				if i := y*s.width + x; s.labels[i] == s.value && s.id[i] == 0 {
					s.give(s.flood(i))
				}
			}
		}
	}
}

// pending marks a pixel that is in the part in hand but not given away yet.
const pending = math.MaxUint16

// flood collects the part around pixel i and returns the box around it.
func (s *splitter) flood(i int) image.Rectangle {
	s.part = append(s.part[:0], i)
	s.id[i] = pending
	box := image.Rectangle{}
	for n := 0; n < len(s.part); n++ {
		x, y := s.part[n]%s.width, s.part[n]/s.width
		box = box.Union(image.Rect(x, y, x+1, y+1))
		for v := max(y-1, 0); v <= min(y+1, s.height-1); v++ {
			for u := max(x-1, 0); u <= min(x+1, s.width-1); u++ {
				if j := v*s.width + u; s.labels[j] == s.value && s.id[j] == 0 {
					s.id[j] = pending
					s.part = append(s.part, j)
				}
			}
		}
	}
	return box
}

func (s *splitter) give(box image.Rectangle) {
	for _, d := range s.rivals {
		if box.In(s.boxes[d]) {
			for _, i := range s.part {
				s.id[i] = uint16(d + 1)
			}
			return
		}
	}
	for _, i := range s.part {
		s.id[i] = s.smallestAround(image.Pt(i%s.width, i/s.width))
	}
}

func (s *splitter) smallestAround(p image.Point) uint16 {
	for _, d := range s.rivals {
		if p.In(s.boxes[d]) {
			return uint16(d + 1)
		}
	}
	return 0
}
