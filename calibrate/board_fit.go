package calibrate

import (
	"errors"
	"fmt"
	"image"
	"math"
	"sort"

	"hidechart/hide"
	"hidechart/pix"
)

// BoardView is one photograph of the board: corners as FindBoard returns them.
type BoardView struct {
	Name    string
	Corners []pix.Point
}

// BoardFit is a lens fitted to photographs of a board.
type BoardFit struct {
	Terms    LensTerms
	U        LensTerms // standard uncertainties, see FitBoards
	Size     image.Point
	HasK3    bool
	RMS      hide.PX // root mean square distance of corners from the fit
	Mean     hide.PX // mean distance
	Views    []BoardViewFit
	Dropped  []DroppedView
	Coverage float64 // share of the photograph's width and height that corners reach, the smaller of both
	Notes    []hide.Flag
}

// BoardViewFit is how one photograph agrees with the fit.
type BoardViewFit struct {
	Name           string
	RMS, Mean, Max hide.PX
	Corners        []pix.Point // as seen
	Residuals      []pix.Point // seen less fitted
	Pose           pix.BoardPose
}

// DroppedView is a photograph that was left out, and why.
type DroppedView struct{ Name, Why string }

// BoardParams are the settings of FitBoards.
type BoardParams struct {
	K3         bool    // fit the third radial term; default false: it and k2 trade against each other but for wide lenses
	DropRatio  float64 // leave out a view whose RMS is this many times the median's (> 1); default 3: a view of good corners stays below 2
	DropPX     hide.PX // but never one below this RMS (> 0); default 0.3: what sharp corners of a flat board reach
	LeastViews int     // ≥ 3 (Zhang 2000: three for all terms); default 4: one to spare for the check
}

// DefaultBoardParams returns the defaults.
func DefaultBoardParams() BoardParams {
	return BoardParams{DropRatio: 3, DropPX: 0.3, LeastViews: 4}
}

// Validate lists all faults.
func (p BoardParams) Validate() error {
	var faults []error
	if !(p.DropRatio > 1) {
		faults = append(faults, hide.Faultf(hide.Invalid, "drop ratio %g must be above 1", p.DropRatio))
	}
	if !(p.DropPX > 0) {
		faults = append(faults, hide.Faultf(hide.Invalid, "drop limit %g px must be positive", float64(p.DropPX)))
	}
	if p.LeastViews < 3 {
		faults = append(faults, hide.Faultf(hide.Invalid, "least views %d, three are needed", p.LeastViews))
	}
	return errors.Join(faults...)
}

// FitBoards fits the lens and every photograph's pose to the corners (Zhang
// 2000; OpenCV's solver), leaves out the photographs that disagree, one at a
// time, and fits again. The uncertainties are the larger of two: from the
// covariance of the fit, which takes corners as independent, and from leaving
// out each photograph in turn (jackknife), which sees what photographs have in
// common, as a bent board.
//
// Error: NotMeasurable with too few photographs, or when they do not determine
// the lens (all from one side); Invalid for settings or lists that do not match.
func FitBoards(views []BoardView, b Board, size image.Point, p BoardParams) (BoardFit, error) {
	if err := errors.Join(p.Validate(), b.Validate()); err != nil {
		return BoardFit{}, err
	}
	kept := append([]BoardView(nil), views...)
	var dropped []DroppedView
	for {
		if len(kept) < p.LeastViews {
			return BoardFit{}, hide.Faultf(hide.NotMeasurable, "lens: %d usable photographs of the board, want at least %d", len(kept), p.LeastViews)
		}
		fit, err := fitOnce(kept, b, size, p.K3)
		if err != nil {
			return BoardFit{}, err
		}
		worst, why := disagreeing(fit.Views, p)
		if worst < 0 {
			fit.Dropped = dropped
			return fit.complete(kept, b)
		}
		dropped = append(dropped, DroppedView{Name: kept[worst].Name, Why: why})
		kept = append(kept[:worst:worst], kept[worst+1:]...)
	}
}

func fitOnce(views []BoardView, b Board, size image.Point, k3 bool) (BoardFit, error) {
	corners := make([][]pix.Point, len(views))
	for i, v := range views {
		corners[i] = v.Corners
	}
	s, err := pix.SolveBoards(b.places(), corners, size, k3)
	if err != nil {
		return BoardFit{}, fmt.Errorf("lens: %w", err)
	}
	fit := BoardFit{Size: size, HasK3: k3, Terms: LensTerms{FX: s.FX, FY: s.FY, CX: s.CX, CY: s.CY,
		K1: s.K1, K2: s.K2, P1: s.P1, P2: s.P2, K3: s.K3}}
	var squares, sum float64
	var n int
	for i, v := range views {
		f := fit.Terms.viewFit(v, b, s.Poses[i])
		fit.Views = append(fit.Views, f)
		squares += float64(f.RMS*f.RMS) * float64(len(v.Corners))
		sum += float64(f.Mean) * float64(len(v.Corners))
		n += len(v.Corners)
	}
	fit.RMS, fit.Mean = hide.PX(math.Sqrt(squares/float64(n))), hide.PX(sum/float64(n))
	return fit, nil
}

func (l LensTerms) viewFit(v BoardView, b Board, pose pix.BoardPose) BoardViewFit {
	f := BoardViewFit{Name: v.Name, Corners: v.Corners, Pose: pose}
	var squares, sum, most float64
	for i, place := range b.places() {
		x, y := l.project(place, pose)
		r := pix.Point{X: v.Corners[i].X - hide.PX(x), Y: v.Corners[i].Y - hide.PX(y)}
		d := math.Hypot(float64(r.X), float64(r.Y))
		squares, sum, most = squares+d*d, sum+d, math.Max(most, d)
		f.Residuals = append(f.Residuals, r)
	}
	n := float64(len(v.Corners))
	f.RMS, f.Mean, f.Max = hide.PX(math.Sqrt(squares/n)), hide.PX(sum/n), hide.PX(most)
	return f
}

// disagreeing returns the worst view when it is beyond the limits, else -1.
func disagreeing(views []BoardViewFit, p BoardParams) (int, string) {
	all := make([]float64, len(views))
	worst := 0
	for i, v := range views {
		all[i] = float64(v.RMS)
		if v.RMS > views[worst].RMS {
			worst = i
		}
	}
	sort.Float64s(all)
	median := all[len(all)/2]
	rms := float64(views[worst].RMS)
	if rms <= p.DropRatio*median || rms <= float64(p.DropPX) {
		return -1, ""
	}
	return worst, fmt.Sprintf("its corners lie %.2f px (RMS) off the fit, the median photograph's %.2f px: blurred, moved or wrongly found", rms, median)
}
