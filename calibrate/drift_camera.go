package calibrate

import (
	"fmt"
	"math"

	"hidechart/hide"
)

// CameraMove says that the camera looks elsewhere than it did.
type CameraMove struct {
	At int     // first entry of which that holds
	By hide.MM // how far what it shows has gone on the table, a metre from the picture's middle
}

// String says it for people.
func (m CameraMove) String() string {
	return fmt.Sprintf("camera: what it shows has gone by %.0f mm: it was shifted, turned or zoomed; its place is found anew in every capture, so areas hold", float64(m.By))
}

const (
	// cameraStill is how far a camera that nobody touched may seem to have gone, mm:
	// tags place what it shows to some tenths of a millimetre, a stand gives way by one
	// or two.
	cameraStill = 5.0
	// cameraScatter: a camera that is not fixed, or fixed badly, must go by so many times
	// the usual difference between its captures.
	cameraScatter = 5.0
	// cameraHistory charts are needed to know what is usual, and the last cameraMost
	// of them count.
	cameraHistory, cameraMost = 3, 20
	// lever, mm: half the width of a middling table, on which a turn or a change of scale acts.
	lever = 1000.0
)

// aimsApart is how far what two captures show lies apart on the table, mm.
func aimsApart(a, b hide.Aim) float64 {
	turn := math.Remainder(a.TurnDeg-b.TurnDeg, 360) * math.Pi / 180
	return float64(a.At.Distance(b.At)) + lever*(math.Abs(math.Log(a.MMPerPX/b.MMPerPX))+math.Abs(turn))
}

// cameraMoves compares each chart with the one in the middle of those before it since
// the last move or the last rig file.
func cameraMoves(entries []DriftEntry, restarts []int) []CameraMove {
	var out []CameraMove
	var history []hide.Aim
	for i, e := range entries {
		for _, r := range restarts {
			if r == i {
				history = nil
			}
		}
		if e.Aim == nil || !(e.Aim.MMPerPX > 0) {
			continue
		}
		if len(history) >= cameraHistory {
			centre, usual := middleAim(history)
			if d := aimsApart(*e.Aim, centre); d > math.Max(cameraStill, cameraScatter*usual) {
				out = append(out, CameraMove{At: i, By: hide.MM(d)})
				history = nil
			}
		}
		history = append(history, *e.Aim)
		history = history[max(0, len(history)-cameraMost):]
	}
	return out
}

// middleAim is the aim with the least sum of distances to the others, and the median
// of these distances.
func middleAim(list []hide.Aim) (hide.Aim, float64) {
	best, least, usual := list[0], math.Inf(1), 0.0
	for _, a := range list {
		var d []float64
		sum := 0.0
		for _, b := range list {
			d = append(d, aimsApart(a, b))
			sum += aimsApart(a, b)
		}
		if sum < least {
			best, least, usual = a, sum, middle(d)
		}
	}
	return best, usual
}
