package detect

import (
	"image"
	"math"

	"hidechart/hide"
	"hidechart/pix"
)

// Glare on leather darker than the table can be brighter than the table. Between the two the
// leather has the table's own brightness along a curve, which is neither the hide's border nor
// a row of holes.

// glareGap is how far apart what is clearly darker and clearly brighter than the table lie at
// most: glare fades slowly.
const glareGap hide.MM = 200

// glareBorder is the least share of the smaller part's border that runs along the hide.
const glareBorder = 0.3

// glareBand is how wide the band is at most in which glare passes the table's brightness, and leastBeside
// the least share of its border with leather that the scarcer of the two kinds has.
const (
	glareBand   hide.MM = 100
	leastBeside float64 = 0.25
	leastFaded  float64 = 0.25 // of the brighter leather's brightness some 6 mm within, that is left as far outside it
)

// otherSide is the least share of the leather about a hole that must be of the other sign
// of brightness for it to lie on such a curve.
const otherSide = 0.1

// brightness of a coarse pixel under top against the table, in robust spreads: + brighter.
func (f *Found) brightness(i int) float64 {
	m, log := f.table[hide.Top], f.logs[hide.Top]
	var sum float64
	for c := range log {
		sum += float64(log[c].v[i]-m.log[c].v[i]) / m.spread[c]
	}
	return sum / float64(len(log))
}

// brighter is 1 where a coarse pixel is brighter than the table, and 0 where it is darker.
func (f *Found) brighter(i int) int {
	if f.brightness(i) > 0 {
		return 1
	}
	return 0
}

// bothSides is true if a notable share of the leather is darker than the table, and of it brighter.
func (f *Found) bothSides() bool {
	var n [2]int
	for i := 0; i < len(f.leather); i += cutEvery {
		if f.leather[i] {
			n[f.brighter(i)]++
		}
	}
	return float64(min(n[0], n[1])) > 0.03*float64(n[0]+n[1])
}

// sides counts the pixels clearly darker and clearly brighter than the table.
func (f *Found) sides(pixels []int) (darker, brighter int) {
	for _, i := range pixels {
		switch v := f.brightness(i); {
		case v < -notTable:
			darker++
		case v > notTable:
			brighter++
		}
	}
	return darker, brighter
}

// joinOverGlare makes leather of what parts leather darker than the table from leather brighter than it: a
// narrow band as bright as the table. Inlets of the hide's border have leather of one kind about them.
func (f *Found) joinOverGlare() error {
	if f.byBack || !f.bothSides() {
		return nil
	}
	table := make([]bool, len(f.leather))
	for i := range table {
		table[i] = !f.leather[i] && !f.tags[i]
	}
	wide, err := applied(table, f.grid, glareBand/2, pix.Open)
	if err != nil {
		return err
	}
	for i := range table {
		table[i] = table[i] && !wide[i]
	}
	im := maskImage(table, f.grid)
	defer im.Close()
	labels, _, err := pix.Parts(im)
	if err != nil {
		return err
	}
	defer labels.Close()
	solid, err := applied(f.leather, f.grid, 4*f.grid.MMPerPX, pix.Open) // specks of noise are of both kinds
	if err != nil {
		return err
	}
	of := labels.Int32s()
	ends := map[int32]*glareEnds{}
	for i, l := range of {
		if table[i] {
			if ends[l] == nil {
				ends[l] = &glareEnds{}
			}
			f.lookBeside(i, solid, ends[l])
		}
	}
	for i, l := range of {
		f.leather[i] = f.leather[i] || table[i] && ends[l].passes()
	}
	return nil
}

// glareEnds is what a part of the table borders on: how many pixels of darker and of brighter leather, and
// the brightness of the latter, summed, and of the part as far on its own side.
type glareEnds struct {
	darker, brighter int
	within, without  float64
}

// passes is true if brightness passes the table's within the part: leather of both kinds lies along it, and
// the brighter fades into it. Paper, or another hide, ends.
func (e *glareEnds) passes() bool {
	return float64(min(e.darker, e.brighter)) > leastBeside*float64(e.darker+e.brighter) && e.without > leastFaded*e.within
}

// lookBeside adds what the coarse pixel i borders on.
func (f *Found) lookBeside(i int, solid []bool, e *glareEnds) {
	const deep = 3 // pixels
	w, h := f.grid.Width, f.grid.Height
	if x, y := i%w, i/w; x < deep || y < deep || x >= w-deep || y >= h-deep {
		return
	}
	for _, to := range [4]int{-1, 1, -w, w} {
		switch {
		case !solid[i+to]:
		case f.brightness(i+to) < 0:
			e.darker++
		default:
			e.brighter++
			e.within += f.brightness(i + deep*to)
			e.without += f.brightness(i - (deep-1)*to)
		}
	}
}

// softBand inside its border is less than softShare as bright as its middle where a bright
// part is glare; paper or another hide is as bright up to its edge.
const (
	softBand  hide.MM = 8
	softShare float64 = 0.5
)

// judgeScrap flags a second part of what is not table, unless the hide encloses it, and refuses
// a hide that it was cut off from by glare. labels are the parts'.
func (f *Found) judgeScrap(labels []int32, hideLabel int32, part *pix.Part) error {
	var body, other []int
	for i, l := range labels {
		switch l {
		case hideLabel:
			body = append(body, i)
		case part.Label:
			other = append(other, i)
		}
	}
	if f.leather[other[0]] {
		return nil
	}
	f.Flags = append(f.Flags, hide.Flag{Code: "scrap_on_table", Text: "something else lies on the table and was left out"})
	if f.byBack {
		return nil
	}
	bodyDark, bodyBright := f.sides(body)
	otherDark, otherBright := f.sides(other)
	if bodyDark < bodyBright || otherDark > otherBright || f.borderBeside(labels, hideLabel, other) < glareBorder {
		return nil
	}
	if soft, err := f.isSoft(other); err != nil || !soft {
		return err
	}
	at := f.grid.ToTable(part.Centre)
	return hide.Faultf(hide.NotMeasurable, "the hide cannot be told from the table where glare makes it as bright: near (%.0f, %.0f) mm; move the lamp or light the table from behind", at.X, at.Y)
}

// borderBeside is the share of a part's border that lies within glareGap of the hide.
func (f *Found) borderBeside(labels []int32, hideLabel int32, part []int) float64 {
	w, reach := f.grid.Width, int(float64(glareGap/f.grid.MMPerPX))
	member := map[int]bool{}
	for _, i := range part {
		member[i] = true
	}
	border, beside := 0, 0
	for _, i := range part {
		if member[i-1] && member[i+1] && member[i-w] && member[i+w] {
			continue
		}
		border++
		if f.hasLabel(labels, hideLabel, i, reach) {
			beside++
		}
	}
	return float64(beside) / math.Max(float64(border), 1)
}

// isSoft is true if a bright part fades towards its border.
func (f *Found) isSoft(part []int) (bool, error) {
	mask := make([]bool, len(f.leather))
	for _, i := range part {
		mask[i] = true
	}
	core, err := shrink(mask, f.grid, softBand)
	if err != nil {
		return false, err
	}
	var rim, middle []float64
	for _, i := range part {
		if core[i] {
			middle = append(middle, f.brightness(i))
		} else {
			rim = append(rim, f.brightness(i))
		}
	}
	return len(middle) > 0 && median(rim) < softShare*median(middle), nil
}

// hasLabel is true if a pixel within reach of i, along either axis or diagonal, has the label.
func (f *Found) hasLabel(labels []int32, label int32, i, reach int) bool {
	w, h := f.grid.Width, f.grid.Height
	x, y := i%w, i/w
	for _, d := range [8][2]int{{1, 0}, {1, 1}, {0, 1}, {-1, 1}, {-1, 0}, {-1, -1}, {0, -1}, {1, -1}} {
		for k := 1; k <= reach; k++ {
			px, py := x+k*d[0], y+k*d[1]
			if px < 0 || py < 0 || px >= w || py >= h {
				break
			}
			if labels[py*w+px] == label {
				return true
			}
		}
	}
	return false
}

// glareReach about a hole in which the leather's brightness is looked at.
const glareReach hide.MM = 12

// onGlare is true if the leather about a hole that top alone shows is darker than the table on
// one side and brighter on the other.
func (f *Found) onGlare(at image.Rectangle, fine pix.Grid) bool {
	box := f.coarseBox(at, fine, glareReach)
	var about []int
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			about = append(about, y*f.grid.Width+x)
		}
	}
	darker, brighter := f.sides(about)
	return float64(min(darker, brighter)) > otherSide*float64(darker+brighter)
}

// coarseBox is a box of the fine grid on the coarse one, and so far around it.
func (f *Found) coarseBox(at image.Rectangle, fine pix.Grid, around hide.MM) image.Rectangle {
	g := f.grid
	corner := func(p image.Point) image.Point {
		q := g.ToRaster(fine.ToTable(pix.Point{X: hide.PX(p.X), Y: hide.PX(p.Y)}))
		return image.Pt(int(q.X), int(q.Y))
	}
	box := image.Rectangle{Min: corner(at.Min), Max: corner(at.Max)}
	return box.Inset(-int(float64(around / g.MMPerPX))).Intersect(image.Rect(0, 0, g.Width, g.Height))
}
