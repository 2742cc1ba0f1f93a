package score

import (
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hidechart/hide"
	"hidechart/pix"
	"hidechart/plane"
)

// Random star-shaped polygons against the point-in-polygon test of package
// plane, pixel by pixel.
func TestFillIsPointInPolygon(t *testing.T) {
	g := pix.Grid{Left: 3, Top: 41, MMPerPX: 0.5, Width: 70, Height: 60}
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 12).Draw(t, "n")
		ring := make(hide.Ring, n)
		for i := range ring {
			angle := 2 * math.Pi * float64(i) / float64(n)
			radius := rapid.Float64Range(2, 25).Draw(t, "radius") // may leave the grid
			ring[i] = hide.Point{X: 20 + hide.MM(radius*math.Cos(angle)), Y: 26 + hide.MM(radius*math.Sin(angle))}
		}
		s := hide.Shape{{Outer: ring}}
		edge := plane.NewEdgeIndex(ring)
		p := fill(s, g)
		for y := range g.Height {
			for x := range g.Width {
				at := image.Pt(x, y)
				got := at.In(p.box) && p.row(y)[x-p.box.Min.X]
				centre := g.ToTable(pix.Point{X: hide.PX(x), Y: hide.PX(y)})
				want := plane.ContainsShape(s, centre)
				// which side a pixel on the border itself is on is a matter of rounding
				if got != want && edge.Distance(centre) > 1e-9 {
					t.Fatalf("pixel %v: got %v, want %v", at, got, want)
				}
			}
		}
	})
}

func TestFillLeavesHolesOut(t *testing.T) {
	g := pix.TableGrid(50, 50, 0.5)
	s := rect(10, 10, 30, 30)
	s[0].Holes = []hide.Ring{rect(15, 15, 20, 20)[0].Outer}
	n := 0
	fill(s, g).each(g.Width, func(int) { n++ })
	require.Equal(t, (20*20-5*5)*4, n)
}

func TestFillKeepsWhatIsThinnerThanAPixel(t *testing.T) {
	g := pix.TableGrid(50, 50, 0.5)
	n := 0
	fill(rect(10.01, 10.01, 10.04, 10.04), g).each(g.Width, func(int) { n++ })
	require.Equal(t, 1, n)
}

// Against the definition: every pixel within the distance of a covered one.
func TestGrownIsWithinDistance(t *testing.T) {
	g := pix.TableGrid(20, 16, 0.5)
	rapid.Check(t, func(t *rapid.T) {
		p := newPatch(image.Rect(5, 4, 25, 20))
		for range rapid.IntRange(1, 60).Draw(t, "n") {
			p.in[rapid.IntRange(0, len(p.in)-1).Draw(t, "i")] = true
		}
		distance := rapid.Float64Range(0.5, 7).Draw(t, "distance")
		q := p.grown(distance, g)
		for y := range g.Height {
			for x := range g.Width {
				want := false
				p.each(g.Width, func(i int) {
					want = want || math.Hypot(float64(i%g.Width-x), float64(i/g.Width-y)) <= distance
				})
				at := image.Pt(x, y)
				if got := at.In(q.box) && q.row(y)[x-q.box.Min.X]; got != want {
					t.Fatalf("pixel %v, distance %v: got %v, want %v", at, distance, got, want)
				}
			}
		}
	})
}
