package scene

import "math"

// roughen moves the contour along its normal: slow swings, the wander of the
// knife, and a ragged edge that comes and goes. The back edge of a side is
// cut straight and only gets the rag.
func roughen(s source, p []place, side bool) []place {
	seed := s.noiseSeed()
	slow, mid, rag := s.log(3, 22), s.log(.6, 6), s.log(.15, 2.2)
	slowMM, midMM, ragMM := s.in(180, 450), s.in(35, 90), s.in(4, 14)
	out := make([]place, len(p))
	for i, a := range p {
		nx, ny := normal(p, i)
		d := rag * wave(arc(i)/ragMM, seed+2, 3) * step(-.3, .5, wave(arc(i)/300, seed+3, 2))
		if !side || a.y > 25 {
			near := 1.0
			if side {
				near = clamp((a.y-25)/60, 0, 1)
			}
			d += near * (slow*wave(arc(i)/slowMM, seed, 2) + mid*wave(arc(i)/midMM, seed+1, 2))
		}
		d *= math.Min(1, arc(min(i, len(p)-1-i))/30) // the curve closes where it began
		out[i] = place{a.x + nx*d, a.y + ny*d}
	}
	return out
}

// arc is the way along a curve sampled every 3 mm.
func arc(i int) float64 { return 3 * float64(i) }

func normal(p []place, i int) (nx, ny float64) {
	n := len(p)
	a, b := p[(i+n-3)%n], p[(i+3)%n]
	dx, dy := b.x-a.x, b.y-a.y
	l := math.Max(1e-9, math.Hypot(dx, dy))
	return -dy / l, dx / l
}

// tear cuts notches and tears into the contour: narrow mouths running
// inward, with ragged lips.
func tear(s source, p []place, side bool) []place {
	n := s.count(0, 6)
	for range n {
		at := 10 + s.IntN(len(p)-20)
		depth, mouth, seed := s.log(6, 75), s.log(2, 22), s.noiseSeed()
		if side && p[at].y < 30 || depth < mouth/2 {
			continue
		}
		p = notch(p, at, depth, mouth, s.in(-.6, .6), seed)
	}
	return p
}

// notch replaces the points within half a mouth of p[at] by a way in and
// out.
func notch(p []place, at int, depth, mouth, slant float64, seed uint32) []place {
	half := max(1, int(mouth/2/3))
	if at-half < 1 || at+half >= len(p)-1 {
		return p
	}
	a, b := p[at-half], p[at+half]
	nx, ny := normal(p, at)
	cx, cy := centre(p)
	if (cx-p[at].x)*nx+(cy-p[at].y)*ny < 0 {
		nx, ny = -nx, -ny
	}
	nx, ny = nx-ny*slant, ny+nx*slant
	tip := place{p[at].x + nx*depth, p[at].y + ny*depth}
	out := append([]place{}, p[:at-half+1]...)
	steps := max(2, int(depth/3))
	for k := 1; k < 2*steps; k++ {
		t := float64(k) / float64(steps)
		q := between(a, tip, math.Min(t, 1))
		if t > 1 {
			q = between(tip, b, t-1)
		}
		w := .12 * mouth * wave(float64(k)/3, seed, 2)
		out = append(out, place{q.x + ny*w, q.y - nx*w})
	}
	return append(out, p[at+half:]...)
}

func centre(p []place) (x, y float64) {
	for _, q := range p {
		x += q.x / float64(len(p))
		y += q.y / float64(len(p))
	}
	return x, y
}
