package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

// The area of a disc is πr². An edge placed 0.05 mm off would be 0.043 % here.
func TestOutlineOfADisc(t *testing.T) {
	for name, s := range map[string]tableScene{"dark on light": darkOnLight(), "light on dark": lightOnDark()} {
		for _, lights := range [][]hide.Light{{hide.Top}, {hide.Top, hide.Empty}} {
			t.Run(name, func(t *testing.T) {
				o, err := s.outline(t, lights...)
				require.NoError(t, err)
				require.InEpsilon(t, math.Pi*230*230, float64(o.Polygon.Area()), 5e-4)
				require.Empty(t, o.Holes)
				require.Less(t, float64(o.EdgeU), 0.2)
			})
		}
	}
}

// A rotated rectangle keeps its corners: area 320 × 180 less the blur's rounding.
func TestOutlineOfATurnedRectangle(t *testing.T) {
	s := lightOnDark()
	c, n := math.Cos(0.4), math.Sin(0.4)
	s.inside = func(x, y float64) float64 {
		u, v := c*(x-440)+n*(y-360), -n*(x-440)+c*(y-360)
		return math.Min(160-math.Abs(u), 90-math.Abs(v))
	}
	o, err := s.outline(t, hide.Top)
	require.NoError(t, err)
	require.InEpsilon(t, 320*180, float64(o.Polygon.Area()), 1e-3)
}

// Round holes of 3 and 12 mm are found with their area; the table shows in them.
func TestOutlineHoles(t *testing.T) {
	for name, s := range map[string]tableScene{"dark on light": darkOnLight(), "light on dark": lightOnDark()} {
		t.Run(name, func(t *testing.T) {
			disc, big, small := s.inside, discAt(400, 300, 6), discAt(520, 420, 1.5)
			s.inside = func(x, y float64) float64 {
				return math.Min(disc(x, y), -math.Max(big(x, y), small(x, y)))
			}
			o, err := s.outline(t, hide.Top)
			require.NoError(t, err)
			require.Len(t, o.Holes, 2)
			var areas []float64
			for k, h := range o.Polygon.Holes {
				areas = append(areas, -float64(h.SignedArea()))
				require.GreaterOrEqual(t, o.Holes[k].Probability, 0.5)
			}
			require.InEpsilon(t, math.Pi*36, math.Max(areas[0], areas[1]), 0.03)
			require.InEpsilon(t, math.Pi*2.25, math.Min(areas[0], areas[1]), 0.35) // as wide as six blurs
		})
	}
}

// A dark flaw half as deep as a hole is none.
func TestStainIsNoHole(t *testing.T) {
	s := lightOnDark()
	spot := discAt(400, 300, 5)
	s.extra = func(x, y float64) float64 {
		if spot(x, y) > 0 {
			return -0.6
		}
		return 0
	}
	o, err := s.outline(t, hide.Top)
	require.NoError(t, err)
	require.Empty(t, o.Holes)
}

func TestFindRefuses(t *testing.T) {
	none := darkOnLight()
	none.inside = func(x, y float64) float64 { return -100 }
	two := darkOnLight()
	a, b := discAt(250, 350, 140), discAt(650, 350, 120)
	two.inside = func(x, y float64) float64 { return math.Max(a(x, y), b(x, y)) }
	over := darkOnLight()
	over.inside = discAt(860, 360, 230)
	pieces := darkOnLight() // what is left of a dark hide on a dark table
	pieces.inside = func(x, y float64) float64 {
		in := discAt(250, 350, 140)(x, y)
		for k := range 8 {
			in = math.Max(in, discAt(480+70*float64(k%4), 200+200*float64(k/4), 30)(x, y))
		}
		return in
	}
	for name, c := range map[string]struct {
		scene tableScene
		says  string
	}{"pieces": {pieces, "cannot be told from the table"}, "no hide": {none, "no hide"}, "two hides": {two, "two hides"}, "over the edge": {over, "table's edge"}} {
		t.Run(name, func(t *testing.T) {
			_, err := c.scene.find(t, hide.Top)
			require.ErrorIs(t, err, hide.NotMeasurable)
			require.ErrorContains(t, err, c.says)
		})
	}
}

// What the photograph's frame cuts off is not measured.
func TestFindRefusesAHideCutOff(t *testing.T) {
	s := darkOnLight()
	g := pix.TableGrid(s.width, s.height, 2)
	in := OutlineInput{Coarse: Photos{Grid: g, Lights: map[hide.Light]*pix.Image{hide.Top: s.paint(t, g, false)}},
		Seen: hide.Ring{{X: -50, Y: -50}, {X: 600, Y: -50}, {X: 600, Y: 800}, {X: -50, Y: 800}}}
	_, err := Find(t.Context(), in, DefaultOutlineParams())
	require.ErrorIs(t, err, hide.NotMeasurable)
	require.ErrorContains(t, err, "cut off")
}

// A tag sheet under the hide's edge is bridged: the chord over the sheet and its
// margin, 132 mm, cuts 132³/(12·230) mm² off this small disc, 0.5 % of it; the
// mask's opening at the sheet's corners takes as much again.
func TestOutlineOverATag(t *testing.T) {
	s := darkOnLight()
	g := pix.TableGrid(s.width, s.height, 2)
	tag := hide.Polygon{Outer: hide.Ring{{X: 610, Y: 300}, {X: 730, Y: 300}, {X: 730, Y: 420}, {X: 610, Y: 420}}}
	in := OutlineInput{Coarse: Photos{Grid: g, Lights: map[hide.Light]*pix.Image{hide.Top: s.paint(t, g, false)}},
		Tags: []hide.Polygon{tag}, SeenTags: []bool{true}}
	f, err := Find(t.Context(), in, DefaultOutlineParams())
	require.NoError(t, err)
	fine := Photos{Grid: pix.TableGrid(s.width, s.height, 0.5).Around(f.Outline, 25), Lights: map[hide.Light]*pix.Image{}}
	fine.Lights[hide.Top] = s.paint(t, fine.Grid, false)
	o, err := f.Refine(t.Context(), fine, DefaultOutlineParams())
	require.NoError(t, err)
	require.InEpsilon(t, math.Pi*230*230, float64(o.Polygon.Area()), 1e-2)
}

// A hide over a tag shows its leather there: nothing need be bridged. The tag is
// a chequerboard of paper and ink 20 mm wide, hidden by a third.
func TestOutlineOverAHiddenTag(t *testing.T) {
	s := darkOnLight()
	s.leather = [3]float64{0.12, 0.2, 0.3}
	tag := hide.Polygon{Outer: hide.Ring{{X: 620, Y: 300}, {X: 720, Y: 300}, {X: 720, Y: 400}, {X: 620, Y: 400}}}
	g := pix.TableGrid(s.width, s.height, 2)
	top := s.paint(t, g, false)
	v := top.Uint16s()
	for i := range g.Width * g.Height {
		p := g.ToTable(pix.Point{X: hide.PX(i % g.Width), Y: hide.PX(i / g.Width)})
		if s.inside(float64(p.X), float64(p.Y)) > 0 || !within(tag.Outer, p) {
			continue
		}
		ink := uint16(1311) // 2 % of white
		if (int(p.X/20)+int(p.Y/20))%2 == 0 {
			ink = 39321 // 60 %
		}
		v[3*i], v[3*i+1], v[3*i+2] = ink, ink, ink
	}
	in := OutlineInput{Coarse: Photos{Grid: g, Lights: map[hide.Light]*pix.Image{hide.Top: top}}, Tags: []hide.Polygon{tag}, SeenTags: []bool{false}}
	f, err := Find(t.Context(), in, DefaultOutlineParams())
	require.NoError(t, err)
	require.InEpsilon(t, math.Pi*230*230, float64(f.Outline.SignedArea()), 4e-3)
}

func TestOutlineParamsNameEveryFault(t *testing.T) {
	require.NoError(t, DefaultOutlineParams().Validate())
	err := OutlineParams{}.Validate()
	require.ErrorIs(t, err, hide.Invalid)
	require.ErrorContains(t, err, "border share")
	require.ErrorContains(t, err, "simplify")
}
