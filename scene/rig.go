package scene

import (
	"fmt"
	"math"
	"strings"

	"hidechart/hide"
)

// table is the bare table with its tags.
type table struct {
	width, height float64 // mm
	white         bool
	edge          float64 // mm, outer edge of a tag's black square
	tags          []tag
	reflect       [3]float64 // linear reflectance
	grain         float64    // relative strength of its own texture
	seams         []float64  // x of panel joints, mm
	seed          uint32
}

// tag is one printed tag and how it is glued on.
type tag struct {
	id    int
	at    hide.Point
	turns int // quarter turns counter-clockwise
}

func (t table) ring() hide.Ring { return rectangle(0, 0, t.width, t.height) }

func rectangle(x0, y0, x1, y1 float64) hide.Ring {
	a, b, c, d := hide.MM(x0), hide.MM(y0), hide.MM(x1), hide.MM(y1)
	return hide.Ring{{X: a, Y: b}, {X: c, Y: b}, {X: c, Y: d}, {X: a, Y: d}}
}

// sheet is half the width of a tag's paper: the white ring is one cell.
func (t table) sheet() float64 { return t.edge * tagCells / blackCells / 2 }

// drawTable invents a table; whole hides get a big one.
func drawTable(s source, spec Spec) table {
	t := table{width: math.Round(s.in(300, 350)) * 10, seed: s.noiseSeed()}
	t.height = math.Round(clamp(t.width*s.in(0.72, 0.82), 2200, 2750)/10) * 10
	if spec.TableMM[0] > 0 {
		t.width, t.height = spec.TableMM[0], spec.TableMM[1]
	}
	t.edge = math.Round(s.in(12, 24)) * 5
	// a cell must span five pixels to be read well: small pictures need bigger tags
	mmPerPX := t.width / (.8 * float64(spec.WidthPX))
	t.edge = math.Max(t.edge, math.Ceil(blackCells*mmPerPX)*5)
	t.white = s.chance(0.5)
	if spec.Table != "" {
		t.white = spec.Table == "white"
	}
	base := s.in(0.016, 0.05)
	if t.white {
		base = s.in(0.55, 0.85)
	}
	for i := range t.reflect {
		t.reflect[i] = base * (1 + s.in(-0.03, 0.03))
	}
	t.grain = s.in(0.004, 0.03)
	if s.chance(0.4) {
		for n := s.count(1, 2); n > 0; n-- {
			t.seams = append(t.seams, t.width*s.in(0.2, 0.8))
		}
	}
	t.layTags(s, spec)
	return t
}

// layTags lays 8 to 24 tags along the border.
func (t *table) layTags(s source, spec Spec) {
	inset := t.sheet() + s.in(8, 40)
	across, up := s.count(3, 7), s.count(1, 5)
	if s.chance(0.1) {
		across, up = 3, 1 // eight: the fewest laid
	}
	turned := s.chance(0.15)
	if n := spec.Tags; n > 0 {
		t.layCount(n, inset)
		return
	}
	add := func(x, y float64) {
		g := tag{id: len(t.tags), at: hide.Point{X: hide.MM(math.Round(x)), Y: hide.MM(math.Round(y))}}
		if turned && s.chance(0.3) {
			g.turns = s.count(1, 3)
		}
		t.tags = append(t.tags, g)
	}
	for _, y := range []float64{t.height - inset, inset} {
		for i := range across {
			add(inset+(t.width-2*inset)*float64(i)/float64(across-1), y)
		}
	}
	for _, x := range []float64{inset, t.width - inset} {
		for i := range up {
			add(x, t.height-inset-(t.height-2*inset)*float64(i+1)/float64(up+1))
		}
	}
	if first := s.count(0, 60); s.chance(0.3) { // other ids of the family
		for i := range t.tags {
			t.tags[i].id += first
		}
	}
}

// layCount lays n tags: one in each corner, the others spread over far, near,
// left and right side in turn.
func (t *table) layCount(n int, inset float64) {
	w, h := t.width-2*inset, t.height-2*inset
	add := func(x, y float64) {
		t.tags = append(t.tags, tag{id: len(t.tags), at: hide.Point{X: hide.MM(math.Round(inset + x)), Y: hide.MM(math.Round(inset + y))}})
	}
	add(0, h)
	add(w, h)
	add(0, 0)
	add(w, 0)
	for side := range 4 {
		k := (n - 4 + 3 - side) / 4
		for i := range k {
			f := float64(i+1) / float64(k+1)
			switch side {
			case 0:
				add(f*w, h)
			case 1:
				add(f*w, 0)
			case 2:
				add(0, f*h)
			default:
				add(w, f*h)
			}
		}
	}
}

// yaml writes rig.yaml.
func (t table) yaml() []byte {
	var b strings.Builder
	fmt.Fprintf(&b, "table:\n  width_mm: %g\n  height_mm: %g\n", t.width, t.height)
	fmt.Fprintf(&b, "tags:\n  family: tag36h11\n  edge_mm: %g\n  centres_mm:\n", t.edge)
	turned := ""
	for _, g := range t.tags {
		fmt.Fprintf(&b, "    %d: [%.1f, %.1f]\n", g.id, float64(g.at.X), float64(g.at.Y))
		if g.turns != 0 {
			turned += fmt.Sprintf("    %d: %d\n", g.id, 90*g.turns)
		}
	}
	if turned != "" {
		b.WriteString("  turns_deg:\n" + turned)
	}
	return []byte(b.String())
}

// black returns the black cells of a tag as rings on the table, joined along
// rows so that no seam shows between cells.
func (t table) black(g tag) ([]hide.Ring, error) {
	cells, err := tagPicture(g.id)
	if err != nil {
		return nil, err
	}
	size := t.edge / blackCells
	var out []hide.Ring
	for r := range tagCells {
		for c := 0; c < tagCells; c++ {
			if cells[r][c] {
				continue
			}
			end := c
			for end < tagCells && !cells[r][end] {
				end++
			}
			out = append(out, g.place(rectangle(float64(c-5)*size, float64(4-r)*size, float64(end-5)*size, float64(5-r)*size)))
			c = end
		}
	}
	return out, nil
}

// place turns a ring about the tag's centre and moves it there.
func (g tag) place(r hide.Ring) hide.Ring {
	out := make(hide.Ring, len(r))
	for i, p := range r {
		for range g.turns {
			p = hide.Point{X: -p.Y, Y: p.X}
		}
		out[i] = hide.Point{X: p.X + g.at.X, Y: p.Y + g.at.Y}
	}
	return out
}
