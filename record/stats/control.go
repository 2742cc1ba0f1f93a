package stats

import (
	"math"

	"hidechart/hide"
)

// LotCount is a lot on a control chart.
type LotCount struct {
	Lot  string
	N    float64 // flaws
	Area float64 // inspected; the unit of the rate is one over this one's
	A2   float64 // Σ of the squares of its hides' areas
}

// leastForSigma is the number of lots from which their spread is told from
// Poisson's: with fewer the estimate of Laney's σ_z is as wide as itself.
const leastForSigma = 6

// UChart draws the limits ū ± 3·√(ū/a_i) (ISO 7870-2; Montgomery, "Introduction to
// Statistical Quality Control", the u chart with variable sample size). Where lots
// spread by more than Poisson's, those limits cry out at every second lot: with six
// lots or more they are widened by σ_z, the lots' own spread from one to the next
// (Laney 2002, "Improved control charts for attributes", Quality Engineering 14:531).
// With fewer, by what hides within the lots differ by: φ is their dispersion, see Rate; a lot's count
// then has the variance μ + φū²Σa². φ = 0 gives the plain chart. Lots in the order of time;
// those without area are left out.
func UChart(lots []LotCount, phi float64) hide.ControlChart {
	var c hide.ControlChart
	var n, area float64
	for _, l := range lots {
		if l.Area > 0 {
			n, area = n+l.N, area+l.Area
		}
	}
	if area == 0 {
		return c
	}
	c.Centre = n / area
	for _, l := range lots {
		if l.Area > 0 {
			c.Points = append(c.Points, hide.ControlPoint{Lot: l.Lot, N: l.N, Area: l.Area, U: l.N / l.Area})
		}
	}
	c.SigmaZ = sigmaZ(c)
	if len(c.Points) < leastForSigma {
		squares := 0.0
		for _, l := range lots {
			squares += l.A2
		}
		c.SigmaZ = math.Sqrt(1 + phi*c.Centre*squares/area)
	}
	for i := range c.Points {
		p := &c.Points[i]
		s := math.Sqrt(c.Centre / p.Area)
		p.Wide = math.Abs(p.U-c.Centre) > 3*s
		p.Low, p.High = max(0, c.Centre-3*s*c.SigmaZ), c.Centre+3*s*c.SigmaZ
		p.Alarm = p.U < p.Low || p.U > p.High
	}
	c.Trend = kendall(c.Points)
	return c
}

// sigmaZ is the mean moving range of the lots' z over 1.128, the mean range of two
// standard normals (d₂ of two); never below 1.
func sigmaZ(c hide.ControlChart) float64 {
	if len(c.Points) < leastForSigma || c.Centre == 0 {
		return 1
	}
	sum, last := 0.0, 0.0
	for i, p := range c.Points {
		z := (p.U - c.Centre) / math.Sqrt(c.Centre/p.Area)
		if i > 0 {
			sum += math.Abs(z - last)
		}
		last = z
	}
	return max(1, sum/float64(len(c.Points)-1)/1.128)
}

// kendall is the two-sided p of Kendall's rank correlation with the order of the
// lots (Mann 1945, normal approximation with continuity correction, ties counted);
// 1 below four lots, which cannot reach 5 %.
func kendall(points []hide.ControlPoint) float64 {
	n := len(points)
	if n < 4 {
		return 1
	}
	s, ties := 0.0, map[float64]float64{}
	for i, p := range points {
		ties[p.U]++
		for _, q := range points[:i] {
			if p.U > q.U {
				s++
			} else if p.U < q.U {
				s--
			}
		}
	}
	m := float64(n)
	v := m * (m - 1) * (2*m + 5)
	for _, t := range ties {
		v -= t * (t - 1) * (2*t + 5)
	}
	if v <= 0 {
		return 1
	}
	z := max(0, math.Abs(s)-1) / math.Sqrt(v/18)
	return math.Erfc(z / math.Sqrt2)
}
