package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// A line ends where its mark does, to some 3 mm on the mean, whatever its length, its direction and
// whether it is colour or relief: averaging along it had drawn it out by 7. Where grain at an end happens to look
// like the mark it still is off by up to 8.
func TestLinesEndWhereTheirMarkDoes(t *testing.T) {
	const grain = 0.02
	var sum, n float64
	for k, length := range []float64{30, 45, 70, 110, 160} {
		turn := 0.8 + 0.35*float64(k)
		dx, dy := length/2*math.Cos(turn), length/2*math.Sin(turn)
		a, b := at(200-dx, 150-dy), at(200+dx, 150+dy)
		mark := stroke(200-dx, 150-dy, 200+dx, 150+dy, -5*grain)
		flank := func(x, y float64) float64 { // a ridge lit from the east: light on one side, dark on the other
			return mark(x-0.8, y) - mark(x+0.8, y)
		}
		for _, tone := range []map[hide.Light]func(x, y float64) float64{
			{hide.Top: mark},
			{hide.Top: mark, hide.RakeE: mark, hide.RakeN: mark},
			{hide.Top: plain, hide.RakeE: flank, hide.RakeN: plain},
		} {
			s := surfaceOf(t, leatherScene{grain, tone}.input(t))
			found, err := s.lineCandidates(DefaultParams())
			require.NoError(t, err)
			require.NotEmpty(t, found)
			line := found[0].line
			from, to := line[0], line[len(line)-1]
			if from.Distance(a) > to.Distance(a) {
				from, to = to, from
			}
			off := math.Max(float64(from.Distance(a)), float64(to.Distance(b)))
			t.Logf("%3.0f mm: found %.1f, off by %.1f", length, float64(found[0].length), off)
			require.Less(t, off, 9.0)
			sum, n = sum+off, n+1
		}
	}
	require.Less(t, sum/n, 3.5)
}

// The outline of a line reaches as far as the line, not half its width beyond.
func TestOutlineEndsWithTheLine(t *testing.T) {
	c := candidate{form: lineForm, line: []hide.Point{at(10, 20), at(12, 20), at(13, 20), at(60, 20)}, length: 50, width: 6}
	got, err := c.outline()
	require.NoError(t, err)
	b := boxOf(got)
	require.InDeltaSlice(t, []float64{10, 17, 60, 23}, []float64{float64(b.left), float64(b.bottom), float64(b.right), float64(b.top)}, float64(shapeTolerance))
	require.InDelta(t, 44*6+math.Pi*9, float64(got.Area()), 2, "a stadium")

	require.InDelta(t, 44, float64((trace{line: pulledIn(c.line, 3)}).length()), 1e-9)
	require.Equal(t, []hide.Point{at(10, 20), at(12, 20), at(13, 20), at(60, 20)}, c.line, "stays as it was")

	c.length, c.width, c.shape = 50, 50, hide.Shape{{Outer: disc(at(35, 20), 25)}}
	got, err = c.outline()
	require.NoError(t, err)
	require.Equal(t, c.shape, got)
}

func TestMostGain(t *testing.T) {
	from, to := mostGain([]float64{-1, 2, -1, 3, -5, 4, -2})
	require.Equal(t, []int{1, 4}, []int{from, to})
	from, to = mostGain([]float64{-3, -1, -2})
	require.Equal(t, []int{1, 2}, []int{from, to})
}
