package yield

import (
	"slices"

	"hidechart/hide"
	"hidechart/plane"
)

// atom is a part of the hide that the same set of counted flaws covers: a face
// of the arrangement of their outlines, all faces of one set together.
type atom struct {
	members []int      // index into the flaws, rising
	area    float64    // mm²
	inZone  []float64  // mm², by zone of the chart
	shape   hide.Shape // for the next flaw to be laid over
	box     Box
}

// cluster is a set of flaws that overlap each other, directly or through others,
// and the atoms they make. Flaws of different clusters share no leather, so that a
// cluster is worked out once and kept while its flaws keep their shapes.
type cluster struct {
	flaws []int // index into the flaws, rising
	atoms []atom
}

// clusters finds which flaws hang together, by their boxes and then by touching.
func clusters(flaws []flaw, touching func(i, j int) bool) [][]int {
	group := make([]int, len(flaws))
	for i := range group {
		group[i] = i
	}
	root := func(i int) int {
		for group[i] != i {
			i = group[i]
		}
		return i
	}
	for j := range flaws {
		for i := range j {
			if a, b := root(i), root(j); a != b && flaws[i].box.overlaps(flaws[j].box) && touching(i, j) {
				group[max(a, b)] = min(a, b)
			}
		}
	}
	byRoot := map[int][]int{}
	var roots []int
	for i := range flaws {
		r := root(i)
		if byRoot[r] == nil {
			roots = append(roots, r)
		}
		byRoot[r] = append(byRoot[r], i)
	}
	out := make([][]int, len(roots))
	for k, r := range roots {
		out[k] = byRoot[r]
	}
	return out
}

// atomsOf cuts the flaws of a cluster into the faces of their arrangement,
// exactly, one flaw after the other: each face so far is split into its part under
// the new flaw and the rest, and what of the flaw no face covers is a face of its
// own.
func atomsOf(flaws []flaw, members []int) ([]atom, error) {
	var list []atom
	for _, m := range members {
		rest := flaws[m].onHide
		var next []atom
		for _, a := range list {
			if !a.box.overlaps(flaws[m].box) {
				next = append(next, a)
				continue
			}
			in, err := plane.Intersection(a.shape, flaws[m].onHide)
			if err != nil {
				return nil, err
			}
			if len(in) == 0 {
				next = append(next, a)
				continue
			}
			if rest, err = plane.Difference(rest, a.shape); err != nil {
				return nil, err
			}
			out, err := plane.Difference(a.shape, flaws[m].onHide)
			if err != nil {
				return nil, err
			}
			next = appendAtom(next, a.members, out)
			next = appendAtom(next, append(slices.Clone(a.members), m), in)
		}
		list = appendAtom(next, []int{m}, rest)
	}
	return list, nil
}

func appendAtom(list []atom, members []int, s hide.Shape) []atom {
	box, ok := boxOf(s)
	if !ok {
		return list
	}
	return append(list, atom{members: members, area: float64(s.Area()), shape: s, box: box})
}

// overlaps reports whether two boxes share an inside.
func (b Box) overlaps(o Box) bool {
	return b.Min.X < o.Max.X && o.Min.X < b.Max.X && b.Min.Y < o.Max.Y && o.Min.Y < b.Max.Y
}
