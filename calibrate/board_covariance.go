package calibrate

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"hidechart/hide"
)

// unsure is the relative standard uncertainty of the focal length beyond which
// a set of photographs does not determine the lens: 2 % would be 4 % of an area
// if nothing else fixed the scale.
const unsure = 0.02

// reach is the share of the photograph the corners should cover: outside them
// the lens terms are extrapolated (common practice, no source).
const reach = 0.7

// complete adds the uncertainties, the coverage and what should be said.
func (f BoardFit) complete(views []BoardView, b Board) (BoardFit, error) {
	byFit, err := f.covariance(b)
	if err != nil {
		return BoardFit{}, err
	}
	byViews, err := f.jackknife(views, b)
	if err != nil {
		return BoardFit{}, err
	}
	var u [termCount]float64
	for i := range u {
		u[i] = math.Max(byFit[i], byViews[i])
	}
	f.U = termsFrom(u)
	if f.U.FX > unsure*f.Terms.FX || f.U.FY > unsure*f.Terms.FY || math.IsNaN(f.U.FX+f.U.FY) {
		return BoardFit{}, hide.Faultf(hide.NotMeasurable, "lens: the photographs leave the focal length open (%.0f ± %.0f px); "+
			"tilt the board by 20° to 40° to each side, and fill the picture's corners with it", f.Terms.FX, f.U.FX)
	}
	f.Coverage = f.coverage()
	if f.Coverage < reach {
		f.Notes = append(f.Notes, hide.Flag{Code: "lens_coverage", Text: fmt.Sprintf(
			"the board's corners reach over %.0f %% of the photograph; beyond them the lens is extrapolated", 100*f.Coverage)})
	}
	return f, nil
}

func (f BoardFit) terms() int {
	if f.HasK3 {
		return termCount
	}
	return termCount - 1
}

// covariance returns the terms' standard deviations from the normal equations
// at the solution: with J the derivatives of the corners by the terms (A) and by
// each view's pose (V), the terms' part of (JᵀJ)⁻¹ is the inverse of the Schur
// complement A − Σ B V⁻¹ Bᵀ (Triggs et al. 2000, section 6.1), times the
// residual variance.
func (f BoardFit) covariance(b Board) ([termCount]float64, error) {
	var sd [termCount]float64
	n := f.terms()
	schur := mat.NewDense(n, n, nil)
	var squares float64
	var residuals int
	for _, v := range f.Views {
		jc, jv := f.jacobians(b, v)
		var a, cross, vv, solved, part mat.Dense
		a.Mul(jc.T(), jc)
		cross.Mul(jv.T(), jc)
		vv.Mul(jv.T(), jv)
		if err := solved.Solve(&vv, &cross); err != nil && !isCondition(err) {
			return sd, hide.Wrapf(hide.NotMeasurable, err, "lens: pose of %s is undetermined", v.Name)
		}
		part.Mul(cross.T(), &solved)
		schur.Add(schur, &a)
		schur.Sub(schur, &part)
		squares += float64(v.RMS*v.RMS) * float64(len(v.Corners))
		residuals += 2 * len(v.Corners)
	}
	var inverse mat.Dense
	if err := inverse.Inverse(schur); err != nil && !isCondition(err) {
		return sd, hide.Wrapf(hide.NotMeasurable, err, "lens: the photographs do not determine it; tilt the board to several sides")
	}
	variance := squares / float64(residuals-n-6*len(f.Views))
	for i := range n {
		sd[i] = math.Sqrt(variance * inverse.At(i, i))
	}
	return sd, nil
}

// isCondition says that gonum solved but found the matrix ill-conditioned, as
// it is here by the terms' different units.
func isCondition(err error) bool {
	var c mat.Condition
	return errors.As(err, &c) && !math.IsInf(float64(c), 1)
}

// jacobians differentiates a view's corners by the lens terms and by the pose,
// by central differences: x and y of each corner are two rows.
func (f BoardFit) jacobians(b Board, v BoardViewFit) (terms, pose *mat.Dense) {
	places := b.places()
	terms = mat.NewDense(2*len(places), f.terms(), nil)
	pose = mat.NewDense(2*len(places), 6, nil)
	base := f.Terms.vector()
	for k := range f.terms() {
		h := 1e-5 * math.Max(1, math.Abs(base[k])) // error ~h², round-off ~1e-16/h: both far below 1e-6
		up, down := base, base
		up[k] += h
		down[k] -= h
		for i, p := range places {
			x1, y1 := termsFrom(up).project(p, v.Pose)
			x0, y0 := termsFrom(down).project(p, v.Pose)
			terms.Set(2*i, k, (x1-x0)/(2*h))
			terms.Set(2*i+1, k, (y1-y0)/(2*h))
		}
	}
	for k := range 6 {
		up, down := v.Pose, v.Pose
		at := func(turn, shift *[3]float64) *float64 {
			if k < 3 {
				return &turn[k]
			}
			return &shift[k-3]
		}
		h := 1e-5 * math.Max(1, math.Abs(*at(&up.Turn, &up.Shift)))
		*at(&up.Turn, &up.Shift) += h
		*at(&down.Turn, &down.Shift) -= h
		for i, p := range places {
			x1, y1 := f.Terms.project(p, up)
			x0, y0 := f.Terms.project(p, down)
			pose.Set(2*i, k, (x1-x0)/(2*h))
			pose.Set(2*i+1, k, (y1-y0)/(2*h))
		}
	}
	return terms, pose
}

// jackknife returns the terms' standard deviations from the fits without each
// view in turn: sqrt((n−1)/n · Σ(θᵢ − θ̄)²) (Efron & Stein 1981).
func (f BoardFit) jackknife(views []BoardView, b Board) ([termCount]float64, error) {
	var sum, squares [termCount]float64
	n := float64(len(views))
	all := make([][termCount]float64, 0, len(views))
	for i := range views {
		rest := append(append([]BoardView(nil), views[:i]...), views[i+1:]...)
		fit, err := fitOnce(rest, b, f.Size, f.HasK3)
		if err != nil {
			return sum, err
		}
		all = append(all, fit.Terms.vector())
	}
	for k := range sum {
		for _, t := range all {
			sum[k] += t[k] / n
		}
		for _, t := range all {
			squares[k] += (t[k] - sum[k]) * (t[k] - sum[k])
		}
		squares[k] = math.Sqrt(squares[k] * (n - 1) / n)
	}
	return squares, nil
}

func (f BoardFit) coverage() float64 {
	left, right, top, bottom := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, v := range f.Views {
		for _, c := range v.Corners {
			left, right = math.Min(left, float64(c.X)), math.Max(right, float64(c.X))
			top, bottom = math.Min(top, float64(c.Y)), math.Max(bottom, float64(c.Y))
		}
	}
	return math.Min((right-left)/float64(f.Size.X), (bottom-top)/float64(f.Size.Y))
}
