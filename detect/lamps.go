package detect

import (
	"math"

	"hidechart/hide"
)

// Which side a raking light comes from is measured, since people name a lamp by where it stands
// or by where it shines, and a mix of both turns every dome seen by one of them into a pit. Two
// things tell it:
//
//   - Shading is the slope of a surface, and a slope has no curl: the change towards y of
//     what a lamp along x shades is the change towards x of what a lamp along y shades (the
//     integrability of Horn & Brooks 1986, CVGIP 33). That gives the sides of crossed lamps
//     relative to one another; two that stand on one line are taken as named alike.
//   - A lamp lights what is near it more (the inverse square law); the fall of light across the
//     leather, against that of the other lamps, gives all of them together.

// lampSide is how a raking light's name is to be read: 1 it comes from there, -1 it goes there.
type lampSide struct {
	x, y float64 // the direction by name
	sign float64
}

// Evidence must be plainer than these before a name is doubted: the correlation of two
// crossed lamps' shading, and the fall of light per metre (natural logarithm) towards a lamp, against other
// raking lights or, of one alone, against top, which falls off too.
const (
	leastLikeness  = 0.08
	leastFall      = 0.05
	leastFallAlone = 0.15
)

// turnLamps finds the side that each raking light comes from.
func (s *surface) turnLamps() {
	var rakes []int
	top := -1
	for k, l := range s.lit {
		switch {
		case l.light.Rake():
			rakes = append(rakes, k)
			s.lit[k].from.x, s.lit[k].from.y = towards(l.light)
			s.lit[k].from.sign = 1
		case l.light == hide.Top:
			top = k
		}
	}
	if len(rakes) == 0 || top < 0 {
		return
	}
	for n, k := range rakes[1:] {
		s.lit[k].from.sign = s.alike(rakes[:n+1], k, top)
	}
	var fall float64
	for _, k := range rakes {
		fall += s.lit[k].from.sign * s.lit[k].from.along(s.fallAgainst(k, rakes, top))
	}
	least := leastFall
	if len(rakes) == 1 {
		least = leastFallAlone
	}
	if fall < -least {
		for _, k := range rakes {
			s.lit[k].from.sign *= -1
		}
	}
}

func (d lampSide) along(v [2]float64) float64 { return d.x*v[0] + d.y*v[1] }

// fallAgainst is the fall of a raking light against the mean of all of them, or of the only
// one against top.
func (s *surface) fallAgainst(k int, rakes []int, top int) [2]float64 {
	out := s.lit[k].fall
	against := rakes
	if len(rakes) == 1 {
		against = []int{top}
	}
	for _, o := range against {
		for a := range out {
			out[a] -= s.lit[o].fall[a] / float64(len(against))
		}
	}
	return out
}

// alike is the sign of lamp k that agrees best with the lamps before it.
func (s *surface) alike(before []int, k, top int) float64 {
	var sum float64
	for _, o := range before {
		a, b := s.lit[o].from, s.lit[k].from
		v := leastLikeness // of two on one line
		if crossed := math.Abs(a.x*b.x+a.y*b.y) < 0.5; crossed {
			if v = s.likeness(o, k, top); math.Abs(v) < leastLikeness {
				continue
			}
		}
		sum += v * a.sign
	}
	if sum < 0 {
		return -1
	}
	return 1
}

// likeness is the correlation, over the leather, of what the shadings of two crossed lamps
// share if both come from where their names say: the change of the one along the direction of
// the other.
func (s *surface) likeness(a, b, top int) float64 {
	la, lb, w := s.lit[a].from, s.lit[b].from, s.grid.Width
	change := func(k, i int, d lampSide) float64 { // y runs down the raster
		rake, top := s.lit[k].tone.v, s.lit[top].tone.v
		return float64(rake[i+1]-rake[i-1]-top[i+1]+top[i-1])*d.x + float64(rake[i-w]-rake[i+w]-top[i-w]+top[i+w])*d.y
	}
	var sum, squareA, squareB float64
	for i := w + 1; i < len(s.in)-w-1; i += likenessEvery {
		if s.in[i] && s.in[i-1] && s.in[i+1] && s.in[i-w] && s.in[i+w] {
			va, vb := change(a, i, lb), change(b, i, la)
			sum, squareA, squareB = sum+va*vb, squareA+va*va, squareB+vb*vb
		}
	}
	return sum / math.Max(math.Sqrt(squareA*squareB), 1e-12)
}

// likenessEvery thins the pixels; a prime, so that all columns are visited.
const likenessEvery = 7

// fallOf is the gradient of a plane through the tones, per metre, to the east and north.
func (s *surface) fallOf(tone field) [2]float64 {
	var n, mx, my, mv, xx, xy, yy, xv, yv float64
	metre := 1000 / float64(s.grid.MMPerPX)
	for i := 0; i < len(s.in); i += likenessEvery {
		if !s.in[i] {
			continue
		}
		x, y, v := float64(i%tone.w)/metre, -float64(i/tone.w)/metre, float64(tone.v[i])
		n, mx, my, mv = n+1, mx+x, my+y, mv+v
		xx, xy, yy, xv, yv = xx+x*x, xy+x*y, yy+y*y, xv+x*v, yv+y*v
	}
	if n == 0 {
		return [2]float64{}
	}
	mx, my, mv = mx/n, my/n, mv/n
	xx, xy, yy, xv, yv = xx/n-mx*mx, xy/n-mx*my, yy/n-my*my, xv/n-mx*mv, yv/n-my*mv
	d := xx*yy - xy*xy
	if d <= 0 {
		return [2]float64{}
	}
	return [2]float64{(xv*yy - yv*xy) / d, (yv*xx - xv*xy) / d}
}
