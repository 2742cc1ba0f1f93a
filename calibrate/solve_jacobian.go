package calibrate

import "math"

// differences are the steps of the numeric derivatives: each moves a pixel by about 0.01 to 1, where
// central differences are exact to 1e-8 and rounding is below that.
func (s *solution) differences() [cameraN]float64 {
	z := max(math.Abs(s.t[2]), 1)
	return [cameraN]float64{1e-5, 1e-5, 1e-5, 1e-5 * z, 1e-5 * z, 1e-5 * z, 1e-5, 1e-5, 1e-2, 1e-2, 1e-4, 1e-4, 1e-5, 1e-5}
}

// jacobian of every corner's pixel: camera parameters, then the place on the
// table. Layout: [tag][corner][2][cameraN+2].
func (pr *problem) jacobian(s *solution) [][4][2][cameraN + 2]float64 {
	out := make([][4][2][cameraN + 2]float64, len(pr.seen))
	at := make([][4][2]float64, len(pr.seen))
	for i := range at {
		for k := range at[i] {
			at[i][k][0], at[i][k][1] = pr.corner(s, i, k)
		}
	}
	h := s.differences()
	for j := range cameraN {
		d := make([]float64, cameraN)
		d[j] = h[j]
		plus := s.stepped(d)
		d[j] = -h[j]
		minus := s.stepped(d)
		vp, vm := plus.view(), minus.view()
		for i := range pr.seen {
			for k := range 4 {
				x, y := at[i][k][0], at[i][k][1]
				ax, ay := vp.project(x, y, 0)
				bx, by := vm.project(x, y, 0)
				out[i][k][0][j], out[i][k][1][j] = (ax-bx)/(2*h[j]), (ay-by)/(2*h[j])
			}
		}
	}
	v := s.view()
	for i := range pr.seen {
		for k := range 4 {
			x, y := at[i][k][0], at[i][k][1]
			const e = 0.01 // mm
			for j, d := range [2][2]float64{{e, 0}, {0, e}} {
				ax, ay := v.project(x+d[0], y+d[1], 0)
				bx, by := v.project(x-d[0], y-d[1], 0)
				out[i][k][0][cameraN+j], out[i][k][1][cameraN+j] = (ax-bx)/(2*e), (ay-by)/(2*e)
			}
		}
	}
	return out
}

// row is one residual's derivatives by all parameters that it depends on.
type row struct {
	at [pTags + perTag]int
	d  [pTags + perTag]float64
}

func (pr *problem) row(s *solution, jac *[cameraN + 2]float64, i, k int) row {
	var r row
	for j := range cameraN {
		r.at[j], r.d[j] = j, jac[j]
	}
	jx, jy := jac[cameraN], jac[cameraN+1]
	x, y := pr.corner(s, i, k)
	c := pr.centre(i)
	rx, ry := x-float64(c.X)-s.tags[i].dx, y-float64(c.Y)-s.tags[i].dy
	r.at[pPrint], r.d[pPrint] = pPrint, jx*rx+jy*ry
	base := pTags + perTag*i
	for j, v := range [perTag]float64{jx, jy, -jx*ry + jy*rx} {
		r.at[pTags+j], r.d[pTags+j] = base+j, v
	}
	return r
}
