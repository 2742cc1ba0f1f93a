package scene

import "math"

// hash2 mixes a cell and a seed into 32 bits: a pure function of place, so
// rows can be computed in any order. The multipliers are those of the
// "lowbias32" integer hash (C. Wellons, "Prospecting for hash functions", 2018).
func hash2(x, y int32, seed uint32) uint32 {
	h := uint32(x)*0x9e3779b1 ^ (uint32(y)*0x85ebca77 + seed)
	h ^= h >> 16
	h *= 0x7feb352d
	h ^= h >> 15
	h *= 0x846ca68b
	return h ^ h>>16
}

// splitMix is the finaliser of SplitMix64 (Steele, Lea & Flood 2014): 64 good
// bits from a counter, for the noise of the sensor.
func splitMix(z uint64) uint64 {
	z += 0x9e3779b97f4a7c15
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

const hashScale = 1.0 / (1 << 31) // 32 bits to 0…2, so that minus one gives −1…1

func fade(t float64) float64 { return t * t * (3 - 2*t) }

func floor32(x float64) (int32, float64) {
	i := int32(x)
	if float64(i) > x {
		i--
	}
	return i, x - float64(i)
}

// value is value noise with one random number per unit cell corner: about
// −1…1, standard deviation near 0.4.
func value(x, y float64, seed uint32) float64 {
	ix, fx := floor32(x)
	iy, fy := floor32(y)
	u, v := fade(fx), fade(fy)
	a := float64(hash2(ix, iy, seed))
	b := float64(hash2(ix+1, iy, seed))
	c := float64(hash2(ix, iy+1, seed))
	d := float64(hash2(ix+1, iy+1, seed))
	return (a+(b-a)*u+(c-a+(a-b-c+d)*u)*v)*hashScale - 1
}

// fractal sums octaves of value noise, each half as wide and gain as high.
func fractal(x, y float64, seed uint32, octaves int, gain float64) float64 {
	sum, amp := 0.0, 1.0
	for o := range octaves {
		sum += amp * value(x, y, seed+uint32(o)*0x51ed27)
		x, y, amp = 2*x+17.3, 2*y-9.1, amp*gain
	}
	return sum
}

// wave is fractal noise along a line.
func wave(s float64, seed uint32, octaves int) float64 {
	return fractal(s, 0.37, seed, octaves, 0.5)
}

// cells is cellular noise (Worley 1996): distances to the nearest and the
// second nearest feature point, one point per unit cell, and the hash of the
// nearest.
func cells(x, y float64, seed uint32, jitter float64) (f1, f2 float64, id uint32) {
	ix, fx := floor32(x)
	iy, fy := floor32(y)
	f1, f2 = 9, 9
	for dy := int32(-1); dy <= 1; dy++ {
		for dx := int32(-1); dx <= 1; dx++ {
			h := hash2(ix+dx, iy+dy, seed)
			px := float64(dx) + 0.5 + (float64(h&0xffff)/65536-0.5)*jitter - fx
			py := float64(dy) + 0.5 + (float64(h>>16)/65536-0.5)*jitter - fy
			d := px*px + py*py
			if d < f1 {
				f1, f2, id = d, f1, h
			} else if d < f2 {
				f2 = d
			}
		}
	}
	return math.Sqrt(f1), math.Sqrt(f2), id
}

func clamp(x, lo, hi float64) float64 { return math.Min(math.Max(x, lo), hi) }

// step rises smoothly from 0 at a to 1 at b (a may be greater than b).
func step(a, b, x float64) float64 { return fade(clamp((x-a)/(b-a), 0, 1)) }

// bell is 1 at 0 and falls like a Gaussian with standard deviation 1.
func bell(x float64) float64 { return math.Exp(-x * x / 2) }
