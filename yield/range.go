package yield

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"hidechart/hide"
)

// Worth says what the review of one candidate would do to the yield.
type Worth struct {
	ID int `json:"id"`
	// Gained is the cuttable area won, on average over the other candidates,
	// if it is rejected instead of confirmed.
	Gained hide.MM2 `json:"gained_mm2"`
	// Moves is how far the expected cuttable area moves on average when it is
	// reviewed: 2·p·(1−p)·Gained, for the expectation moves by (1−p)·Gained with chance
	// p and by p·Gained with chance 1−p.
	Moves hide.MM2 `json:"moves_mm2"`
}

// lookFirstMost is how many candidates are named: as many as a person checks at
// the table without leaving it.
const lookFirstMost = 5

// atom is a part of the hide that the same set of uncertain flaws covers.
type atom struct {
	members []int // index into the uncertain flaws, rising
	cells   int
}

// atoms partitions the free region by which uncertain flaws cover it, on the
// raster, cells by their centre.
func atoms(free hide.Shape, flaws []flaw, cell hide.MM) []atom {
	box, ok := boxOf(free)
	if !ok {
		return nil
	}
	g, w, h := gridOver(box, cell)
	in := g.fill(free, w, h, central)
	owner := make([]int32, w*h) // atom of each cell; 0 is none
	list := []atom{{}}
	for i, f := range flaws {
		next := map[int32]int32{} // atom before → atom with this flaw added
		var rings []hide.Ring
		for _, p := range f.removed {
			rings = append(append(rings, p.Outer), p.Holes...)
		}
		g.scan(rings, h, func(r, c0, c1 int) {
			for c := max(0, c0); c <= min(w-1, c1); c++ {
				if !in.has(c, r) {
					continue
				}
				old := owner[r*w+c]
				to, known := next[old]
				if !known {
					to = int32(len(list))
					next[old] = to
					list = append(list, atom{members: append(slices.Clone(list[old].members), i)})
				}
				owner[r*w+c] = to
				list[old].cells--
				list[to].cells++
			}
		})
	}
	return slices.DeleteFunc(list[1:], func(a atom) bool { return a.cells <= 0 })
}

// stream is a seeded random stream of its own for each name: what is drawn
// for a candidate does not depend on which others a look counts or a review has
// decided, so looks are compared on the same drawings and a range moves for a reason.
func stream(seed uint64, name string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(name)) // never fails, by its contract
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// sampleRange fills in the ranges.
//
// Model: candidate i of kind k is real when z_i < Φ⁻¹(p_i), with
// z_i = √ρ·g_k + √(1−ρ)·e_i, g and e independent standard normal: a Gaussian copula
// with one factor per kind (Li 2000), so each candidate keeps its own probability.
// The area removed in a drawing is the sum of the atoms that a real candidate
// covers, on the raster, scaled so that all and none of them give the polygons'
// areas. The measured area of the hide is drawn from a normal distribution of its
// uncertainty; the share does not depend on it.
func (c *Cut) sampleRange(chart hide.Chart) error {
	sure := func(f flaw) bool { return f.p == 1 }
	free, err := c.without(sure)
	if err != nil {
		return err
	}
	least, err := c.without(func(flaw) bool { return true })
	if err != nil {
		return err
	}
	for _, f := range c.flaws {
		if !sure(f) {
			c.doubtful = append(c.doubtful, f)
		}
	}
	c.parts = atoms(free, c.doubtful, c.p.Cell)
	c.free, c.perCell = float64(free.Area()), cellArea(c.parts, free.Area()-least.Area())
	c.measured, c.leather = chart.Area, float64(chart.Outline.Area())
	if c.measured.Value <= 0 {
		c.measured = hide.Area{Value: chart.Outline.Area()}
	}
	c.summarise(c.drawn())
	return nil
}

// drawn samples what the candidates' probabilities leave open.
func (c *Cut) drawn() *drawing {
	d := &drawing{p: c.p, flaws: c.doubtful, parts: c.parts, free: c.free, perCell: c.perCell}
	d.run()
	return d
}

// Revised gives the ranges and the candidates to look at first with the
// probabilities of some candidates replaced: 1 confirmed, 0 rejected. Region,
// Area, Share, Zones and Refused stay those of the chart. It takes milliseconds, for
// nothing is cut again; ids that the look does not count change nothing.
func (c Cut) Revised(probability map[int]float64) Cut {
	c.doubtful = slices.Clone(c.doubtful)
	for i, f := range c.doubtful {
		if p, ok := probability[f.id]; ok {
			c.doubtful[i].p = min(1, max(0, p))
		}
	}
	c.summarise(c.drawn())
	return c
}

// cellArea is the area to give a cell so that all the cells make the whole.
func cellArea(parts []atom, whole hide.MM2) float64 {
	n := 0
	for _, a := range parts {
		n += a.cells
	}
	if n == 0 {
		return 0
	}
	return float64(whole) / float64(n)
}

// drawing is the sampling of one hide.
type drawing struct {
	p             Params
	flaws         []flaw
	parts         []atom
	free, perCell float64
	areas         []float64   // cuttable by the polygons, per sample
	alone         []float64   // mm² that only this flaw removes, summed over samples
	refused       int         // samples with a forbidden flaw
	real          [][]float64 // z less threshold; negative: real. By flaw, sample
}

func (d *drawing) run() {
	n := d.p.Samples
	d.areas, d.alone = make([]float64, n), make([]float64, len(d.flaws))
	d.draw()
	forbidden := d.forbidden()
	for s := range n {
		removed := 0
		for _, a := range d.parts {
			hits, last := 0, 0
			for _, m := range a.members {
				if d.real[m][s] < 0 {
					if hits++; hits > 1 {
						break
					}
					last = m
				}
			}
			if hits > 0 {
				removed += a.cells
			}
			d.credit(a, hits, last)
		}
		d.areas[s] = d.free - float64(removed)*d.perCell
		if slices.ContainsFunc(forbidden, func(i int) bool { return d.real[i][s] < 0 }) {
			d.refused++
		}
	}
}

// credit books the cells that depend on one flaw alone in this sample: on
// each of its members if none is real, on the only real one otherwise.
func (d *drawing) credit(a atom, hits, last int) {
	switch hits {
	case 0:
		for _, m := range a.members {
			d.alone[m] += float64(a.cells) * d.perCell
		}
	case 1:
		d.alone[last] += float64(a.cells) * d.perCell
	}
}

func (d *drawing) forbidden() []int {
	var out []int
	for i, f := range d.flaws {
		if f.rule == Forbidden {
			out = append(out, i)
		}
	}
	return out
}

// draw decides for each flaw and sample whether it is real.
func (d *drawing) draw() {
	common, own := math.Sqrt(d.p.Correlation), math.Sqrt(1-d.p.Correlation)
	factors := map[hide.Kind][]float64{}
	d.real = make([][]float64, len(d.flaws))
	for i, f := range d.flaws {
		g, ok := factors[f.kind]
		if !ok {
			g = normals(stream(d.p.Seed, "kind "+string(f.kind)), d.p.Samples)
			factors[f.kind] = g
		}
		threshold := distuv.UnitNormal.Quantile(f.p)
		d.real[i] = normals(stream(d.p.Seed, words("candidate %d", f.id)), d.p.Samples)
		for s, e := range d.real[i] {
			d.real[i][s] = common*g[s] + own*e - threshold
		}
	}
}

func normals(r *rand.Rand, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = r.NormFloat64()
	}
	return out
}

// summarise turns the samples into ranges.
func (c *Cut) summarise(d *drawing) {
	value, u := float64(c.measured.Value), float64(c.measured.U)
	z := normals(stream(c.p.Seed, "area"), c.p.Samples)
	cut := make([]float64, c.p.Samples)
	for s, a := range d.areas {
		d.areas[s] = a / c.leather
		cut[s] = d.areas[s] * (value + u*z[s])
	}
	q := distuv.UnitNormal.Quantile(0.9)
	c.HideMM2 = Range{Median: value, P10: value - q*u, P90: value + q*u}
	c.CuttableMM2, c.CuttableShare = sortedRange(cut), sortedRange(d.areas)
	c.RefusedChance = float64(d.refused) / float64(c.p.Samples)
	for _, f := range c.flaws {
		if f.rule == Forbidden && f.p == 1 {
			c.RefusedChance = 1
		}
	}
	c.LookFirst = d.worth()
}

func (d *drawing) worth() []Worth {
	var out []Worth
	for i, f := range d.flaws {
		gained := d.alone[i] / float64(d.p.Samples)
		if gained > 0 && f.p > 0 && f.p < 1 {
			out = append(out, Worth{ID: f.id, Gained: hide.MM2(gained), Moves: hide.MM2(2 * f.p * (1 - f.p) * gained)})
		}
	}
	slices.SortStableFunc(out, func(a, b Worth) int {
		switch {
		case a.Moves > b.Moves:
			return -1
		case a.Moves < b.Moves:
			return 1
		}
		return a.ID - b.ID
	})
	most := lookFirstMost
	if d.p.LookFirst > 0 {
		most = d.p.LookFirst
	}
	return out[:min(len(out), most)]
}
