package calibrate

import (
	"math"

	"hidechart/hide"
	"hidechart/pix"
)

// LensTerms are a camera's focal lengths and principal point (px, pixel centres
// at integers) and its lens terms (Brown 1971, in OpenCV's order and sign: k are
// radial, p tangential, of the undistorted direction). The same type carries
// their standard uncertainties; a term that was held has uncertainty 0. The keys are
// those of lens.yaml.
type LensTerms struct {
	FX float64 `yaml:"fx"`
	FY float64 `yaml:"fy"`
	CX float64 `yaml:"cx"`
	CY float64 `yaml:"cy"`
	K1 float64 `yaml:"k1"`
	K2 float64 `yaml:"k2"`
	P1 float64 `yaml:"p1"`
	P2 float64 `yaml:"p2"`
	K3 float64 `yaml:"k3,omitempty"`
}

// termCount is the number of LensTerms; k3 is the last.
const termCount = 9

func (l LensTerms) vector() [termCount]float64 {
	return [...]float64{l.FX, l.FY, l.CX, l.CY, l.K1, l.K2, l.P1, l.P2, l.K3}
}

func termsFrom(v [termCount]float64) LensTerms {
	return LensTerms{FX: v[0], FY: v[1], CX: v[2], CY: v[3], K1: v[4], K2: v[5], P1: v[6], P2: v[7], K3: v[8]}
}

// project sends a place on a board, posed before the camera, to the photograph.
func (l LensTerms) project(p hide.Point, pose pix.BoardPose) (x, y float64) {
	q := turned(pose.Turn, [3]float64{float64(p.X), float64(p.Y), 0})
	for i := range q {
		q[i] += pose.Shift[i]
	}
	u, v := q[0]/q[2], q[1]/q[2]
	r2 := u*u + v*v
	radial := 1 + r2*(l.K1+r2*(l.K2+r2*l.K3))
	ud := u*radial + 2*l.P1*u*v + l.P2*(r2+2*u*u)
	vd := v*radial + l.P1*(r2+2*v*v) + 2*l.P2*u*v
	return l.FX*ud + l.CX, l.FY*vd + l.CY
}

// turned rotates p by the rotation vector w (Rodrigues' formula).
func turned(w, p [3]float64) [3]float64 {
	angle := math.Sqrt(w[0]*w[0] + w[1]*w[1] + w[2]*w[2])
	if angle < 1e-12 { // the formula's limit; the next term is below round-off
		return [3]float64{p[0] + w[1]*p[2] - w[2]*p[1], p[1] + w[2]*p[0] - w[0]*p[2], p[2] + w[0]*p[1] - w[1]*p[0]}
	}
	k := [3]float64{w[0] / angle, w[1] / angle, w[2] / angle}
	sin, cos := math.Sincos(angle)
	dot := k[0]*p[0] + k[1]*p[1] + k[2]*p[2]
	cross := [3]float64{k[1]*p[2] - k[2]*p[1], k[2]*p[0] - k[0]*p[2], k[0]*p[1] - k[1]*p[0]}
	var out [3]float64
	for i := range out {
		out[i] = p[i]*cos + cross[i]*sin + k[i]*dot*(1-cos)
	}
	return out
}
