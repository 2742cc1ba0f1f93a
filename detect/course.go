package detect

import (
	"math"

	"hidechart/hide"
)

// course is how a line runs: a thorn scratches nearly straight, a scar wanders, a
// brand bends round.
type course struct {
	bow  float64 // height of the fitted parabola over its chord, relative to the length
	wave hide.MM // root mean square distance from the parabola
	turn float64 // largest change of direction between its quarters, radians
}

// courseOf fits a parabola to the line in the frame of its ends (least squares).
func courseOf(line []hide.Point) course {
	n := len(line)
	a, b := line[0], line[n-1]
	dx, dy := float64(b.X-a.X), float64(b.Y-a.Y)
	chord := math.Hypot(dx, dy)
	if n < 4 || chord == 0 {
		return course{}
	}
	// basis 1, t, t² on t from −1 to 1; normal equations of three unknowns
	var m [3][4]float64
	at := func(p hide.Point) (t, v float64) {
		x, y := float64(p.X-a.X), float64(p.Y-a.Y)
		return 2*(x*dx+y*dy)/(chord*chord) - 1, (y*dx - x*dy) / chord
	}
	for _, p := range line {
		t, v := at(p)
		row := [3]float64{1, t, t * t}
		for i := range 3 {
			for j := range 3 {
				m[i][j] += row[i] * row[j]
			}
			m[i][3] += row[i] * v
		}
	}
	c := solve3(m)
	var square float64
	for _, p := range line {
		t, v := at(p)
		e := v - c[0] - c[1]*t - c[2]*t*t
		square += e * e
	}
	return course{bow: math.Abs(c[2]) / chord, wave: hide.MM(math.Sqrt(square / float64(n))), turn: turnOf(line)}
}

// solve3 solves three normal equations by elimination with pivoting; a line that
// does not determine one gives 0 for it.
func solve3(m [3][4]float64) (c [3]float64) {
	for k := range 3 {
		for i := k + 1; i < 3; i++ {
			if math.Abs(m[i][k]) > math.Abs(m[k][k]) {
				m[i], m[k] = m[k], m[i]
			}
		}
		if math.Abs(m[k][k]) < 1e-9 {
			continue
		}
		for i := range 3 {
			if i == k {
				continue
			}
			f := m[i][k] / m[k][k]
			for j := k; j < 4; j++ {
				m[i][j] -= f * m[k][j]
			}
		}
	}
	for k := range 3 {
		if math.Abs(m[k][k]) >= 1e-9 {
			c[k] = m[k][3] / m[k][k]
		}
	}
	return c
}

func turnOf(line []hide.Point) float64 {
	var most float64
	quarter := func(k int) float64 {
		a, b := line[k*(len(line)-1)/4], line[(k+1)*(len(line)-1)/4]
		return math.Atan2(float64(b.Y-a.Y), float64(b.X-a.X))
	}
	for i := range 4 {
		for j := range i {
			most = math.Max(most, math.Abs(math.Remainder(quarter(i)-quarter(j), 2*math.Pi)))
		}
	}
	return most
}
