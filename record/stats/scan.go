package stats

import (
	"maps"
	"math"
	"math/rand/v2"
	"slices"

	"hidechart/hide"
)

// Mark is a flaw of one kind on one hide of a lot.
type Mark struct {
	Hide int // of the lot, any number
	U, V float64
}

// Again is a place at which a lot's hides carry the same kind of mark.
type Again struct {
	U, V     float64
	Hides    []int   // in rising order
	Marks    []int   // indices of the marks
	Expected float64 // hides by chance
	P        float64 // Monte Carlo, of the whole search for this kind
}

// Density is the share of a kind's marks that each cell gets by chance.
type Density [Cells]float64

// evenShare is how much of a density is spread evenly over the leather: a
// place where no other lot has shown a mark is rare, not impossible.
const evenShare = 0.2

// Background is the density of a kind from the marks of other lots, smoothed over
// neighbouring cells (binomial weights 1-2-1 both ways) and mixed with an even one;
// without marks it is even.
func Background(marks [Cells]int, o hide.HalfWidths) Density {
	shares := Shares(o)
	var out Density
	total := 0.0
	for c := range marks {
		if shares[c] == 0 {
			continue
		}
		for du := -1; du <= 1; du++ {
			for dv := -1; dv <= 1; dv++ {
				iu, iv := c/GridV+du, c%GridV+dv
				if iu >= 0 && iu < GridU && iv >= 0 && iv < GridV {
					out[c] += float64((2-du*du)*(2-dv*dv)*marks[iu*GridV+iv]) / 16
				}
			}
		}
		total += out[c]
	}
	for c := range out {
		if total > 0 {
			out[c] = evenShare*shares[c] + (1-evenShare)*out[c]/total
		} else {
			out[c] = shares[c]
		}
	}
	return out
}

// Either is the greater of two densities in each cell: a place that either of them
// explains is explained. It may add up to more than one, which is the careful side.
func Either(a, b Density) Density {
	for c := range a {
		a[c] = max(a[c], b[c])
	}
	return a
}

// Limits of Repeats.
const (
	sameRadius = 0.04 // of the hide's length, 9 cm on a cowhide: twice what the hide frame is sure of
	leastHides = 3    // two hides that agree are a pair, not a pattern
	mostAgain  = 4    // places named per kind; a machine has few faults at a time
	mostTrials = 499  // Monte Carlo trials: the least p is 1/500
	stopAfter  = 20   // trials as extreme after which p can no longer be small (Besag & Clifford 1991, Biometrika 78:301)
	scanSeed   = 0x68696465
)

// Repeats searches one kind's marks of one lot for places that come back from hide to hide,
// as a nick in a blade or a roller leaves them. Around each mark a disc is laid and the hides
// with a mark in it are counted; the disc least likely by chance is the statistic, and
// its p comes from lots drawn at random: each hide keeps its number of marks, their
// places are drawn from the density of other lots (scan statistic: Kulldorff 1997, "A
// spatial scan statistic", Commun. Stat. 26:1481). So what nature or a brand puts in one place on every
// hide is no finding. What is found is taken out and the search goes on, with p below
// limit; the caller divides its limit by the number of kinds.
func Repeats(marks []Mark, d Density, o hide.HalfWidths, limit float64) []Again {
	left := make([]int, len(marks))
	for i := range left {
		left[i] = i
	}
	var out []Again
	for len(out) < mostAgain {
		s := newScan(pick(marks, left), d, o)
		best, ok := s.best()
		if !ok {
			return out
		}
		if best.P = s.chance(best); best.P > limit {
			return out
		}
		found := best.again(left)
		out = append(out, found)
		left = slices.DeleteFunc(left, func(i int) bool { return slices.Contains(found.Marks, i) })
	}
	return out
}

func pick(marks []Mark, of []int) []Mark {
	out := make([]Mark, len(of))
	for i, k := range of {
		out[i] = marks[k]
	}
	return out
}

type scan struct {
	marks   []Mark
	xy      [][2]float64
	hides   []int       // in rising order
	counts  map[int]int // marks by hide
	outline hide.HalfWidths
	mass    [Cells]float64 // of a disc around the cell's centre
	density Density
	total   []float64 // running sum of density
}

func newScan(marks []Mark, d Density, o hide.HalfWidths) *scan {
	s := &scan{marks: marks, counts: map[int]int{}, outline: o, density: d}
	for _, m := range marks {
		s.counts[m.Hide]++
	}
	s.hides = slices.Sorted(maps.Keys(s.counts))
	s.xy = s.placed(marks)
	s.mass = discMasses(d, o)
	sum := 0.0
	for _, v := range d {
		sum += v
		s.total = append(s.total, sum)
	}
	return s
}

func (s *scan) placed(marks []Mark) [][2]float64 {
	out := make([][2]float64, len(marks))
	for i, m := range marks {
		out[i][0], out[i][1] = s.outline.At(m.U, m.V)
	}
	return out
}

// discMasses is, by cell, the probability that a mark falls into a disc around
// its centre: the greatest density of the cells that the disc can touch, so that
// a place at the border of a dense cell is not taken for a rare one.
func discMasses(d Density, o hide.HalfWidths) [Cells]float64 {
	var out [Cells]float64
	for c := range out {
		u, v := CellCentre(c)
		for du := -1.0; du <= 1; du++ {
			for dv := -1.0; dv <= 1; dv++ {
				n := Cell(u+du*sameRadius, v+dv*sameRadius/max(0.1, o.Width(u, v)))
				nu, nv := CellCentre(n)
				if area := o.Width(nu, nv) / GridU * 2 / GridV; area > 0 {
					out[c] = max(out[c], d[n]/area*math.Pi*sameRadius*sameRadius)
				}
			}
		}
		out[c] = min(1, out[c])
	}
	return out
}

// disc is a candidate place.
type disc struct {
	centre   int // index of the mark
	members  []int
	hides    []int
	expected float64
	score    float64 // tail probability
	u, v     float64
	P        float64
}

func (b disc) again(left []int) Again {
	a := Again{U: b.u, V: b.v, Hides: b.hides, Expected: b.expected, P: b.P}
	for _, m := range b.members {
		a.Marks = append(a.Marks, left[m])
	}
	return a
}

// best is the disc least likely by chance; ok is false when no disc holds enough hides.
func (s *scan) best() (disc, bool) {
	at, members, hides, expected, score := s.search(s.marks, s.xy)
	if at < 0 {
		return disc{}, false
	}
	b := disc{centre: at, members: members, hides: hides, expected: expected, score: score}
	for _, m := range members {
		b.u += s.marks[m].U / float64(len(members))
		b.v += s.marks[m].V / float64(len(members))
	}
	return b, true
}

// search lays a disc around every mark.
func (s *scan) search(marks []Mark, xy [][2]float64) (at int, members, hides []int, expected, score float64) {
	index := bucketed(xy)
	at, score = -1, 2
	for i := range marks {
		near := index.near(xy, xy[i])
		by := distinct(marks, near)
		if len(by) < leastHides {
			continue
		}
		want := s.expected(marks[i])
		// the centre's own hide has its mark by construction
		if p := poissonTail(len(by)-1, want); p < score || p == score && at < 0 {
			at, members, hides, expected, score = i, near, by, want, p
		}
	}
	return at, members, hides, expected, score
}

// expected is the number of other hides with a mark in the disc around m.
func (s *scan) expected(m Mark) float64 {
	mass := s.mass[Cell(m.U, m.V)]
	sum := 0.0
	for _, h := range s.hides {
		if h != m.Hide {
			sum += 1 - math.Pow(1-mass, float64(s.counts[h]))
		}
	}
	return sum
}

func distinct(marks []Mark, of []int) []int {
	var out []int
	for _, i := range of {
		out = append(out, marks[i].Hide)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// chance is the share of random lots whose best disc is as unlikely.
func (s *scan) chance(b disc) float64 {
	rng := rand.New(rand.NewPCG(scanSeed, uint64(len(s.marks))))
	drawn := slices.Clone(s.marks)
	hit := 0
	for trial := 1; trial <= mostTrials; trial++ {
		for i := range drawn {
			drawn[i].U, drawn[i].V = s.draw(rng)
		}
		if at, _, _, _, score := s.search(drawn, s.placed(drawn)); at >= 0 && score <= b.score {
			if hit++; hit == stopAfter {
				return float64(hit) / float64(trial)
			}
		}
	}
	return float64(hit+1) / (mostTrials + 1)
}

// draw is a random place by the density.
func (s *scan) draw(rng *rand.Rand) (u, v float64) {
	at := rng.Float64() * s.total[len(s.total)-1]
	c, _ := slices.BinarySearch(s.total, at)
	cu, cv := CellCentre(min(c, Cells-1))
	return cu + (rng.Float64()-0.5)/GridU, cv + (rng.Float64()-0.5)*2/GridV
}

// buckets find marks near a place without looking at all of them.
type buckets map[[2]int][]int

func bucketed(xy [][2]float64) buckets {
	b := buckets{}
	for i, p := range xy {
		k := bucketOf(p)
		b[k] = append(b[k], i)
	}
	return b
}

func bucketOf(p [2]float64) [2]int {
	return [2]int{int(math.Floor(p[0] / sameRadius)), int(math.Floor(p[1] / sameRadius))}
}

// near lists marks within sameRadius, in rising order.
func (b buckets) near(xy [][2]float64, p [2]float64) []int {
	k := bucketOf(p)
	var out []int
	for dx := -1; dx <= 1; dx++ {
		for dy := -1; dy <= 1; dy++ {
			for _, i := range b[[2]int{k[0] + dx, k[1] + dy}] {
				if math.Hypot(xy[i][0]-p[0], xy[i][1]-p[1]) <= sameRadius {
					out = append(out, i)
				}
			}
		}
	}
	slices.Sort(out)
	return out
}
