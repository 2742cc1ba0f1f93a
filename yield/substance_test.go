package yield

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hidechart/hide"
)

func measuredHide() hide.Chart {
	chart := square()
	for _, r := range [][3]float64{{200, 300, 1.30}, {800, 250, 1.62}, {700, 800, 1.55}, {150, 900, 1.18}, {500, 520, 1.45}, {950, 600, 1.70}} {
		p := at(r[0], r[1])
		chart.Capture.Substance = append(chart.Capture.Substance, hide.Substance{MM: hide.MM(r[2]), At: &p})
	}
	return chart
}

// Reference: gdal_grid 3.6.2 (Debian 12, package gdal-bin), algorithm
// invdist:power=2:smoothing=0 on the same six readings; testdata/substance_map.sh
// has the call that made these values.
func TestSubstanceMapAgainstGDAL(t *testing.T) {
	m, err := NewSubstanceMap(measuredHide())
	require.NoError(t, err)
	for _, c := range gdalGrid() {
		require.InDelta(t, c[2], float64(m.At(at(c[0], c[1]))), 1e-6, "gdal prints float32")
	}
}

func TestSubstanceMapKeepsToItsReadings(t *testing.T) {
	chart := measuredHide()
	m, err := NewSubstanceMap(chart)
	require.NoError(t, err)
	for _, r := range chart.Capture.Substance {
		require.InDelta(t, float64(r.MM), float64(m.At(*r.At)), 1e-12)
	}
	rapid.Check(t, func(t *rapid.T) {
		v := float64(m.At(at(rapid.Float64Range(-3000, 3000).Draw(t, "x"), rapid.Float64Range(-3000, 3000).Draw(t, "y"))))
		require.False(t, math.IsNaN(v))
		require.GreaterOrEqual(t, v, 1.18-1e-9)
		require.LessOrEqual(t, v, 1.70+1e-9)
	})
}

// Pieces laid where the map is thin are too thin, where it is thick they are split: the
// left of the hide has 1.2 mm, the right 1.8.
func TestPlacedSubstance(t *testing.T) {
	chart := square()
	for _, r := range [][3]float64{{100, 100, 1.2}, {100, 900, 1.2}, {100, 500, 1.2}, {900, 100, 1.8}, {900, 900, 1.8}, {900, 500, 1.8}} {
		p := at(r[0], r[1])
		chart.Capture.Substance = append(chart.Capture.Substance, hide.Substance{MM: hide.MM(r[2]), At: &p})
	}
	p := pieceOf(rect(0, 0, 100, 1000))
	p.Substance = [2]hide.MM{1.4, 1.6}
	r, _, err := Evaluate(t.Context(), chart, plain(), &Pieces{List: []Piece{p}}, DefaultOptions())
	require.NoError(t, err)
	s := r.Substance[0]
	require.GreaterOrEqual(t, float64(s.Least), 1.2)
	require.LessOrEqual(t, float64(s.Most), 1.8)
	require.Equal(t, s.TooThin, s.Split, "the readings are symmetric about the middle, where it is 1.5")
	require.GreaterOrEqual(t, s.TooThin, 3)
	require.LessOrEqual(t, s.TooThin, 5)
	chart.Capture.Substance = chart.Capture.Substance[:4]
	r, _, err = Evaluate(t.Context(), chart, plain(), &Pieces{List: []Piece{p}}, DefaultOptions())
	require.NoError(t, err)
	require.Nil(t, r.Substance, "four readings make no map")
}

// A reading noted by zone stands at the zone's centre; one without a place does
// not make the map.
func TestSubstanceMapPlaces(t *testing.T) {
	chart := measuredHide()
	chart.Capture.Substance = append(chart.Capture.Substance[:4], hide.Substance{MM: 1.1, Place: "Butt"})
	m, err := NewSubstanceMap(chart)
	require.NoError(t, err)
	require.InDelta(t, 1.1, float64(m.At(at(625, 500))), 1e-9, "the middle of 250..1000 by 0..1000")
	chart.Capture.Substance[4].Place = "somewhere"
	_, err = NewSubstanceMap(chart)
	require.ErrorIs(t, err, hide.NotFound)
	require.ErrorContains(t, err, "4 readings")
}

func TestFitSubstance(t *testing.T) {
	asked := [2]hide.MM{1.4, 1.6}
	for mm, want := range map[hide.MM]SubstanceFit{1.3: TooThin, 1.396: Fits, 1.4: Fits, 1.5: Fits, 1.6: Fits, 1.604: Fits, 1.7: Split} {
		require.Equal(t, want, FitSubstance(mm, asked), "%v mm", mm)
	}
	require.Equal(t, Fits, FitSubstance(9, [2]hide.MM{}))
}

// gdalGrid is the output of testdata/substance_map.sh: x, y, mm.
func gdalGrid() [][3]float64 {
	return [][3]float64{
		{125, 875, 1.18452751636505127},
		{375, 875, 1.35898947715759277},
		{625, 875, 1.53333652019500732},
		{875, 875, 1.56270229816436768},
		{125, 625, 1.33557355403900146},
		{375, 625, 1.43156075477600098},
		{625, 625, 1.50373148918151855},
		{875, 625, 1.66779518127441406},
		{125, 375, 1.32120752334594727},
		{375, 375, 1.40525281429290771},
		{625, 375, 1.51567566394805908},
		{875, 375, 1.6047966480255127},
		{125, 125, 1.34699761867523193},
		{375, 125, 1.40767621994018555},
		{625, 125, 1.54358506202697754},
		{875, 125, 1.59623873233795166},
	}
}
