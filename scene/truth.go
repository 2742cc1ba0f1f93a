package scene

import (
	"bytes"
	"context"
	"encoding/json"
	"image"
	"image/png"
	"math"

	"hidechart/hide"
	"hidechart/pix"
)

// labelMM is the pixel of truth_label.png, as in the job's reference
// captures.
const labelMM = 0.5

// offHide is the label of places that are not the hide.
const offHide = 255

// labelKinds is the order of kinds in the label: label k is labelKinds()[k-1].
func labelKinds() []hide.Kind {
	return []hide.Kind{hide.Scar, hide.Scratch, hide.Hole, hide.Bites, hide.Brand, hide.FlayCut,
		hide.Loose, hide.Wrinkle, hide.Vein, hide.Stain, hide.Wart, hide.Thin}
}

// truthFile is truth.json.
type truthFile struct {
	Seed        int64         `json:"seed"`
	Article     string        `json:"article"`
	Side        bool          `json:"side"`
	MMPerPX     float64       `json:"mm_per_px"`
	TableMM     [2]float64    `json:"table_mm"`
	Area        float64       `json:"area_mm2"`
	OutlineArea float64       `json:"outline_area_mm2"`
	HoleArea    float64       `json:"hole_area_mm2"`
	Neck        [2]float64    `json:"neck_mm"`
	Tail        [2]float64    `json:"tail_mm"`
	Kinds       []hide.Kind   `json:"kinds"`
	SubstanceMM float64       `json:"substance_mm"` // height of the upper surface over the table
	Defects     []truthDefect `json:"defects"`
	LookAlikes  []truthAlike  `json:"look_alikes"`
	Outline     []hide.Point  `json:"outline_mm"`
}

type truthDefect struct {
	ID         int        `json:"id"`
	Kind       hide.Kind  `json:"kind"`
	Area       float64    `json:"area_mm2"` // of its pixels in the label
	Box        [4]float64 `json:"bbox_mm"`
	Visibility float64    `json:"visibility"`
	Open       bool       `json:"open"`
	Tone       float64    `json:"tone"`      // strongest relative change of reflectance
	HeightMM   float64    `json:"height_mm"` // strongest change of height
}

type truthAlike struct {
	Kind string     `json:"kind"`
	Box  [4]float64 `json:"bbox_mm"`
}

// marks is the raster of defect ids: 0 clean, n the n-th defect, outside the
// outline offMarks.
type marks struct {
	grid pix.Grid
	id   []uint16
}

const offMarks = 0xffff

func newMarks(ctx context.Context, outline hide.Ring, t table) (marks, error) {
	m := marks{grid: pix.TableGrid(hide.MM(t.width), hide.MM(t.height), labelMM)}
	w, h := m.grid.Width, m.grid.Height
	m.id = make([]uint16, w*h)
	ring := onGrid(m.grid, outline)
	const rows = 128
	err := bands(ctx, (h+rows-1)/rows, func(i int) {
		y0, y1 := i*rows, min((i+1)*rows, h)
		c := newCover(0, y0, w, y1-y0)
		c.ring(ring)
		in := make([]float32, w)
		for y := y0; y < y1; y++ {
			c.row(y-y0, in)
			for x, a := range in {
				if a < .5 {
					m.id[y*w+x] = offMarks
				}
			}
		}
	})
	return m, err
}

// stamp writes the n-th defect.
func (m marks) stamp(n int, d defect) {
	for _, p := range d.parts {
		if p.marked == nil {
			continue
		}
		p.shape.visit(m.grid, func(s spot) {
			if m.id[s.i] != offMarks && p.marked(s) {
				m.id[s.i] = uint16(n)
			}
		})
	}
	for _, h := range d.holes {
		m.fill(n, h)
	}
}

// fill writes the inside of a ring.
func (m marks) fill(n int, r hide.Ring) {
	box := window(m.grid, r, 1)
	c := newCover(box.Min.X, box.Min.Y, box.Dx(), box.Dy())
	c.ring(onGrid(m.grid, r))
	in := make([]float32, box.Dx())
	for y := range box.Dy() {
		c.row(y, in)
		for x, a := range in {
			if i := (y+box.Min.Y)*m.grid.Width + x + box.Min.X; a >= .5 && m.id[i] != offMarks {
				m.id[i] = uint16(n)
			}
		}
	}
}

// measure returns area and bounding box of each of n defects.
func (m marks) measure(n int) []truthDefect {
	out := make([]truthDefect, n)
	for i := range out {
		out[i] = truthDefect{ID: i + 1, Box: [4]float64{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}}
	}
	w := m.grid.Width
	for i, v := range m.id {
		if v == 0 || v == offMarks {
			continue
		}
		d := &out[v-1]
		d.Area += labelMM * labelMM
		x, y := float64(i%w)*labelMM, float64(m.grid.Top)-float64(i/w+1)*labelMM
		d.Box = [4]float64{math.Min(d.Box[0], x), math.Min(d.Box[1], y), math.Max(d.Box[2], x+labelMM), math.Max(d.Box[3], y+labelMM)}
	}
	return out
}

// label codes the raster as truth_label.png.
func (m marks) label(defects []defect) ([]byte, error) {
	code := make([]uint8, len(defects)+1)
	for i, d := range defects {
		for k, kind := range labelKinds() {
			if kind == d.kind {
				code[i+1] = uint8(k + 1)
			}
		}
	}
	im := image.NewGray(image.Rect(0, 0, m.grid.Width, m.grid.Height))
	for i, v := range m.id {
		im.Pix[i] = offHide
		if v != offMarks {
			im.Pix[i] = code[v]
		}
	}
	var out bytes.Buffer
	enc := png.Encoder{CompressionLevel: png.BestSpeed}
	if err := enc.Encode(&out, im); err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "scene: encode label")
	}
	return out.Bytes(), nil
}

// boxOf is the bounding box of all that parts visit.
func boxOf(g pix.Grid, parts []part) [4]float64 {
	box := [4]float64{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, p := range parts {
		p.shape.visit(g, func(s spot) {
			box = [4]float64{math.Min(box[0], s.x), math.Min(box[1], s.y), math.Max(box[2], s.x), math.Max(box[3], s.y)}
		})
	}
	for i := range box {
		box[i] = math.Round(box[i]*100) / 100
	}
	return box
}

// truth gathers truth.json.
func (w *world) truth(m marks) ([]byte, error) {
	f := truthFile{Seed: w.spec.Seed, Article: w.leather.name, Side: w.lay.side, MMPerPX: labelMM,
		TableMM: [2]float64{w.table.width, w.table.height}, Kinds: labelKinds(), SubstanceMM: w.leather.thick,
		Defects: []truthDefect{}, LookAlikes: []truthAlike{}, Outline: w.outline}
	f.OutlineArea = float64(w.outline.SignedArea())
	for _, h := range w.holes {
		f.HoleArea += math.Abs(float64(h.SignedArea()))
	}
	f.Area = f.OutlineArea - f.HoleArea
	f.Neck, f.Tail = pair(w.neck), pair(w.tail)
	for i, d := range m.measure(len(w.defects)) {
		from := w.defects[i]
		d.Kind, d.Visibility, d.Open, d.Tone, d.HeightMM = from.kind, from.visibility, from.open, from.tone, from.height
		if d.Area > 0 { // else wholly under another one
			f.Defects = append(f.Defects, d)
		}
	}
	for _, a := range w.alikes {
		f.LookAlikes = append(f.LookAlikes, truthAlike{a.kind, a.box})
	}
	data, err := json.Marshal(f)
	if err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "scene: truth")
	}
	return data, nil
}

func pair(p hide.Point) [2]float64 {
	return [2]float64{math.Round(float64(p.X)*100) / 100, math.Round(float64(p.Y)*100) / 100}
}
