package stats

import (
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"hidechart/hide"
)

// KindMap is what the record knows of where marks of one kind lie on the hides of
// a group, all of one form (whole or side).
type KindMap struct {
	Kind  hide.Kind
	Hides [Cells]int  // hides with one mark or more in the cell
	Marks [Cells]int  // marks
	Times map[int]int // hides by how many marks of this kind they have, none left out
}

// Places finds cells where a kind comes back. By chance, a hide with k marks has one
// in a cell of the area share s with probability 1−(1−s)^k, whatever its
// number of marks, so a hide full of marks does not count as proof. The number of such
// hides is a sum of unlike Bernoulli trials, whose upper tail Poisson's bounds from
// above (Hoeffding 1956, "On the distribution of the number of successes in independent
// trials"). Holm's correction runs over all cells of all kinds. Neighbours that pass
// are joined into one place. Ordered by p, then by kind and cell.
func Places(maps []KindMap, o hide.HalfWidths) []hide.Place {
	shares := Shares(o)
	var all []cellTest
	var ps []float64
	for k, m := range maps {
		for c := range m.Hides {
			if shares[c] > 0 {
				t := m.test(k, c, shares[c])
				all, ps = append(all, t), append(ps, t.p)
			}
		}
	}
	for i, p := range Holm(ps) {
		all[i].p = p
	}
	all = slices.DeleteFunc(all, func(t cellTest) bool { return t.p >= 1-Level })
	slices.SortStableFunc(all, func(a, b cellTest) int {
		switch {
		case a.p < b.p:
			return -1
		case a.p > b.p:
			return 1
		}
		return 0
	})
	return joined(all, maps)
}

type cellTest struct {
	kind, cell int
	expected   float64
	p          float64
}

func (m KindMap) test(kind, cell int, share float64) cellTest {
	t := cellTest{kind: kind, cell: cell, p: 1}
	for _, k := range slices.Sorted(maps.Keys(m.Times)) {
		t.expected += float64(m.Times[k]) * -math.Expm1(float64(k)*math.Log1p(-share))
	}
	t.p = poissonTail(m.Hides[cell], t.expected)
	return t
}

// poissonTail is the probability of n or more.
func poissonTail(n int, mean float64) float64 {
	if n == 0 {
		return 1
	}
	if mean <= 0 {
		return 0
	}
	return distuv.Gamma{Alpha: float64(n), Beta: 1}.CDF(mean) // P(N ≥ n) = P(Γ(n) ≤ mean)
}

// joined makes one place of neighbouring cells of a kind, the strongest first.
func joined(tests []cellTest, maps []KindMap) []hide.Place {
	var out []hide.Place
	used := make([]bool, len(tests))
	for i, t := range tests {
		if used[i] {
			continue
		}
		m := maps[t.kind]
		p := hide.Place{Kind: m.Kind, Hides: m.Hides[t.cell], Expected: t.expected, P: t.p}
		for _, n := range m.Times {
			p.Of += n
		}
		p.Cells = grow(tests, used, i)
		p.U, p.V = m.centre(p.Cells)
		out = append(out, p)
	}
	return out
}

// grow collects the cells that hang together with test i.
func grow(tests []cellTest, used []bool, i int) []int {
	used[i] = true
	cells := []int{tests[i].cell}
	for at := 0; at < len(cells); at++ {
		for j, t := range tests {
			if !used[j] && t.kind == tests[i].kind && adjacent(cells[at], t.cell) {
				used[j] = true
				cells = append(cells, t.cell)
			}
		}
	}
	slices.Sort(cells)
	return cells
}

func adjacent(a, b int) bool {
	du, dv := a/GridV-b/GridV, a%GridV-b%GridV
	return max(du, -du) <= 1 && max(dv, -dv) <= 1
}

// centre is the mean place of the marks in the cells.
func (m KindMap) centre(cells []int) (u, v float64) {
	sum := 0.0
	for _, c := range cells {
		cu, cv := CellCentre(c)
		w := float64(m.Marks[c])
		u, v, sum = u+w*cu, v+w*cv, sum+w
	}
	if sum == 0 {
		return CellCentre(cells[0])
	}
	return u / sum, v / sum
}
