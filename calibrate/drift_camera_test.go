package calibrate

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

func aimed(n int, at func(i int) hide.Aim) []DriftEntry {
	var out []DriftEntry
	for i := range n {
		a := at(i)
		out = append(out, DriftEntry{Name: string(rune('a' + i)), When: time.Date(2026, 3, 1+i, 9, 0, 0, 0, time.UTC), Rig: "r", Tags: map[int]hide.MM{0: 0.1, 1: 0.2}, Aim: &a})
	}
	return out
}

// Moves of known size, by hand: a shift of 3 and 4 mm each way is one of 5; a turn by a
// tenth of a degree moves what lies 1 m off by 1.745 mm.
func TestCameraMoves(t *testing.T) {
	rnd := newRand(4)
	still := func(int) hide.Aim {
		return hide.Aim{At: hide.Point{X: hide.MM(1650 + 0.2*rnd.NormFloat64()), Y: 1300}, MMPerPX: 0.7 * (1 + 1e-4*rnd.NormFloat64()), TurnDeg: 0.3}
	}
	require.Empty(t, cameraMoves(aimed(25, still), nil), "nobody touched it")
	require.InDelta(t, 5+1.745, aimsApart(hide.Aim{MMPerPX: 1}, hide.Aim{At: hide.Point{X: 3, Y: 4}, MMPerPX: 1, TurnDeg: 0.1}), 1e-3)
	require.InDelta(t, lever*math.Pi/90, aimsApart(hide.Aim{MMPerPX: 1, TurnDeg: 179}, hide.Aim{MMPerPX: 1, TurnDeg: -179}), 1e-9, "over the half turn")
	for name, moved := range map[string]func(a hide.Aim) hide.Aim{
		"shifted": func(a hide.Aim) hide.Aim { a.At.X += 30; return a },
		"turned":  func(a hide.Aim) hide.Aim { a.TurnDeg += 2; return a },
		"zoomed":  func(a hide.Aim) hide.Aim { a.MMPerPX *= 1.04; return a },
	} {
		got := cameraMoves(aimed(25, func(i int) hide.Aim {
			if i >= 14 {
				return moved(still(i))
			}
			return still(i)
		}), nil)
		require.Len(t, got, 1, name)
		require.Equal(t, 14, got[0].At, name)
		require.InDelta(t, 35, float64(got[0].By), 6, name) // 30; 34.9; 39.2, each with the scatter of the rest
	}
	// held by hand, it is elsewhere in every capture
	held := aimed(25, func(int) hide.Aim {
		return hide.Aim{At: hide.Point{X: hide.MM(1650 + 60*rnd.NormFloat64()), Y: hide.MM(1300 + 60*rnd.NormFloat64())}, MMPerPX: 0.7 * (1 + 0.03*rnd.NormFloat64()), TurnDeg: 3 * rnd.NormFloat64()}
	})
	require.LessOrEqual(t, len(cameraMoves(held, nil)), 1)
	require.Empty(t, cameraMoves(aimed(6, func(i int) hide.Aim { a := still(i); a.At.X += hide.MM(100 * (i / 3)); return a }), []int{3}), "a new rig file begins anew")
}

// The log tells it beside the tags' alarms; charts without an aim are passed over.
func TestDriftTellsCameraMoves(t *testing.T) {
	entries := aimed(20, func(i int) hide.Aim {
		return hide.Aim{At: hide.Point{X: hide.MM(1600 + 50*(i/10)), Y: 1300}, MMPerPX: 0.7}
	})
	entries[4].Aim = nil
	log, err := Drift(entries, DefaultDriftParams())
	require.NoError(t, err)
	require.Empty(t, log.Alarms)
	require.Equal(t, []CameraMove{{At: 10, By: 50}}, log.Camera)
	require.Contains(t, log.Camera[0].String(), "50 mm")
}
