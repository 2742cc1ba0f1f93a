package detect

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/graph"
	"gonum.org/v1/gonum/graph/simple"
	"gonum.org/v1/gonum/graph/topo"

	"hidechart/hide"
)

// A vein branches, and again; nothing else that leaves thin lines does (common practice, no source): two wounds may cross,
// but not at two places. A twig by itself looks like a healed scar, so that the network tells more than its lines.
// (Where lines part or cross is what trees of vessels are known and followed by in images of the eye: Fraz et al.
// 2012, "Blood vessel segmentation methodologies in retinal images", Computer Methods and Programs in Biomedicine 108.)

// A network parts at two places forkGap from one another: the strokes of one scrape cross a scar side by side.
const (
	forkGap          = 2 * branchReach
	forkTurn         = 0.35 // radians: the least angle at which lines part
	ripples  float64 = 0.5  // of a network's length called loose: its lines are an area's ripples
)

// veinsBranch calls sure lines of one tone that make a network veins. It leaves folds, which scars may cross, and strokes
// of brands as they are.
func veinsBranch(found []sorted) {
	g, forks := simple.NewUndirectedGraph(), map[int64][]hide.Point{}
	var lines []int
	for i, s := range found {
		if s.from.found.form != lineForm || s.Probability < surePart || s.Kind == hide.Wrinkle || s.Kind == hide.Brand {
			continue
		}
		g.AddNode(simple.Node(i))
		for _, k := range lines {
			p, q := s.from, found[k].from
			if p.darker() != q.darker() {
				continue
			}
			meet, at, fork := together(p.found, q.found)
			if meet {
				g.SetEdge(simple.Edge{F: simple.Node(i), T: simple.Node(k)})
			}
			if fork {
				forks[int64(i)] = append(forks[int64(i)], at)
			}
		}
		lines = append(lines, i)
	}
	for _, network := range topo.ConnectedComponents(g) {
		slices.SortFunc(network, func(a, b graph.Node) int { return cmp.Compare(a.ID(), b.ID()) }) // they come in any order
		if !forksTwice(network, forks) || looseShare(found, network) >= ripples {
			continue
		}
		for _, n := range network {
			found[n.ID()].Kind = hide.Vein
		}
	}
}

// darker than the leather beside.
func (c Candidate) darker() bool { return c.Features[fTopTone] < 0 }

// forksTwice is whether two of a network's forks lie forkGap apart.
func forksTwice(network []graph.Node, at map[int64][]hide.Point) bool {
	var all []hide.Point
	for _, n := range network {
		all = append(all, at[n.ID()]...)
	}
	for i, p := range all {
		if slices.ContainsFunc(all[:i], func(q hide.Point) bool { return p.Distance(q) >= forkGap }) {
			return true
		}
	}
	return false
}

func looseShare(found []sorted, network []graph.Node) float64 {
	var loose, all hide.MM
	for _, n := range network {
		s := found[n.ID()]
		all += s.from.found.length
		if s.Kind == hide.Loose {
			loose += s.from.found.length
		}
	}
	return float64(loose / all)
}

// together is whether two lines meet or one goes on where the other ends, where they are nearest, and whether they part there.
func together(a, b candidate) (meet bool, at hide.Point, fork bool) {
	p, q, gap := nearest(headings(a.line), headings(b.line))
	near := gap <= branchReach
	return near || goesOn(a.line, b.line), p.at, near && math.Abs(math.Sin(p.angle-q.angle)) >= forkTurn
}

// goesOn is whether one line ends where the other begins, as pieces that are linked do.
func goesOn(a, b []hide.Point) bool {
	p, q := trace{line: a}, trace{line: b}
	for _, front := range []bool{false, true} {
		end, along := p.tip(front)
		for _, fromFront := range []bool{false, true} {
			start, away := q.tip(fromFront)
			d := end.Distance(start)
			if d < linkGap && aligned(along, direction(end, start), d) && math.Abs(angleGap(along, away+math.Pi)) < linkTurn {
				return true
			}
		}
	}
	return false
}

// nearest are the places of two lines that lie nearest to one another, of those that directions are taken at.
func nearest(a, b []heading) (p, q heading, gap hide.MM) {
	gap = hide.MM(math.Inf(1))
	for _, u := range a {
		for _, v := range b {
			if d := u.at.Distance(v.at); d < gap {
				p, q, gap = u, v, d
			}
		}
	}
	return p, q, gap
}
