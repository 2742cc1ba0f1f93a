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

// stream is a seeded random stream of its own for each name: what is drawn
// for a candidate does not depend on which others a look counts or a review has
// decided, so looks are compared on the same drawings and a range moves for a reason.
func stream(seed uint64, name string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(name)) // never fails, by its contract
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// draw fills in the ranges.
//
// Model: candidate i of kind k is real when z_i < Φ⁻¹(p_i), with
// z_i = √ρ·g_k + √(1−ρ)·e_i, g and e independent standard normal: a Gaussian copula
// with one factor per kind (Li 2000), so each candidate keeps its own probability.
// The area removed in a drawing is the sum of the atoms that a real flaw covers:
// polygons, so that every drawing is as exact as the region, and a look that takes
// less off never shows less. The measured area of the hide is drawn from a normal
// distribution of its uncertainty; the share does not depend on it.
func (c *Cut) draw() {
	d := &drawing{p: c.p, flaws: c.flaws, atoms: c.atoms, free: float64(c.base.Area()), normals: c.cutter.normals}
	d.run()
	c.summarise(d)
}

// Revised gives the ranges and the candidates to look at first with the
// probabilities of some candidates replaced: 1 confirmed, 0 rejected. Region,
// Area, Share, Zones and Refused stay those of the chart: Cutter.Cut gives these
// too. Ids that the look does not count change nothing.
func (c Cut) Revised(probability map[int]float64) Cut {
	c.cutter.mu.Lock()
	defer c.cutter.mu.Unlock()
	c.flaws = slices.Clone(c.flaws)
	for i, f := range c.flaws {
		if p, ok := probability[f.id]; ok {
			c.flaws[i].p = min(1, max(0, p))
		}
	}
	c.draw()
	return c
}

// drawing is the sampling of one hide.
type drawing struct {
	p       Params
	flaws   []flaw
	atoms   []atom
	free    float64 // mm² without any flaw
	normals func(name string) []float64
	areas   []float64 // cuttable, mm², per sample
	alone   []float64 // mm² that only this flaw removes, summed over samples
	refused int       // samples with a forbidden flaw
	real    [][]bool  // by flaw, sample
}

func (d *drawing) run() {
	n := d.p.Samples
	d.areas, d.alone = make([]float64, n), make([]float64, len(d.flaws))
	d.decide()
	for s := range n {
		removed := 0.0
		for _, a := range d.atoms {
			hits, last := 0, 0
			for _, m := range a.members {
				if d.real[m][s] {
					if hits++; hits > 1 {
						break
					}
					last = m
				}
			}
			if hits > 0 {
				removed += a.area
			}
			d.credit(a, hits, last)
		}
		d.areas[s] = d.free - removed
	}
	forbidden := slices.DeleteFunc(seq(len(d.flaws)), func(i int) bool { return d.flaws[i].rule != Forbidden })
	for s := range n {
		if slices.ContainsFunc(forbidden, func(i int) bool { return d.real[i][s] }) {
			d.refused++
		}
	}
}

func seq(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// credit books the leather that depends on one flaw alone in this sample: on
// each member of the atom if none is real, on the only real one otherwise.
func (d *drawing) credit(a atom, hits, last int) {
	switch hits {
	case 0:
		for _, m := range a.members {
			d.alone[m] += a.area
		}
	case 1:
		d.alone[last] += a.area
	}
}

// decide says for each flaw and sample whether it is real.
func (d *drawing) decide() {
	common, own := math.Sqrt(d.p.Correlation), math.Sqrt(1-d.p.Correlation)
	d.real = make([][]bool, len(d.flaws))
	for i, f := range d.flaws {
		d.real[i] = make([]bool, d.p.Samples)
		if f.p <= 0 {
			continue
		}
		g, e := d.normals("kind "+string(f.kind)), d.normals(words("candidate %d", f.id))
		threshold := distuv.UnitNormal.Quantile(f.p) // +Inf for a certain one
		for s := range d.real[i] {
			d.real[i][s] = f.p >= 1 || common*g[s]+own*e[s] < threshold
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
	z := c.cutter.normals("area")
	leather := float64(c.cutter.outline.Area())
	cut := make([]float64, c.p.Samples)
	for s, a := range d.areas {
		d.areas[s] = a / leather
		cut[s] = d.areas[s] * (value + u*z[s])
	}
	q := distuv.UnitNormal.Quantile(0.9)
	c.HideMM2 = Range{Median: value, P10: value - q*u, P90: value + q*u}
	c.CuttableMM2, c.CuttableShare = sortedRange(cut), sortedRange(d.areas)
	c.RefusedChance = float64(d.refused) / float64(c.p.Samples)
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
