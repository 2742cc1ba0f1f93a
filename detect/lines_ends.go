package detect

import (
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/plane"
)

const (
	// endPiece is how finely a line's ends are sought.
	endPiece hide.MM = 2
	// endShare of the mark that the whole line bears must be there for a piece to be
	// part of it: beyond an end there is none on the mean, and the faint end of a scar
	// bears more.
	endShare = 0.3
)

// carried is the stretch of the line that bears its mark. Averaging along a line draws
// its ends out by up to half of the stretch; here each piece of two millimetres is held
// against the profile of the whole line under all lights (a matched filter, Turin 1960,
// "An introduction to matched filters", IRE Trans. Inf. Theory 6), and the stretch that
// gains most is kept (the greatest sum of consecutive values, Bentley 1984, Commun. ACM 27(9)).
// A stretch shorter than least is a spot drawn out, and the line is left as it is.
func (s *surface) carried(line []hide.Point, sigma, least hide.MM) []hide.Point {
	fine, own := inPieces(line, endPiece)
	pieces := s.pieceProfiles(fine, float64(sigma))
	from, to := 0, len(fine)-1
	for range 2 { // the first profile is thinned by what lies beyond the ends
		from, to = mostGain(matches(pieces, from, to))
	}
	var out []hide.Point
	for k, q := range fine[from : to+1] {
		if own[from+k] || k == 0 || from+k == to {
			out = append(out, q)
		}
	}
	if len(out) < 3 || (trace{line: out}).length() < least {
		return line
	}
	return out
}

// lineOutline is a ribbon that ends where the mark does, so its round ends lie within the line's; one no longer than
// wide is a disc and stays as it was found.
func (c candidate) lineOutline() (hide.Shape, error) {
	if c.length <= c.width || len(c.line) < 2 {
		return c.shape, nil
	}
	ribbon, err := plane.RibbonFrom(pulledIn(c.line, c.width/2), c.width)
	if err != nil {
		return nil, err
	}
	return plane.Simplify(ribbon, shapeTolerance)
}

// pulledIn is a line less a length at both ends, which together are shorter than it.
func pulledIn(line []hide.Point, by hide.MM) []hide.Point {
	for range 2 {
		left, k := by, 1
		for k < len(line)-1 && line[k-1].Distance(line[k]) <= left {
			left -= line[k-1].Distance(line[k])
			k++
		}
		a, b := line[k-1], line[k]
		f := left / max(a.Distance(b), left, 1e-9)
		line = append([]hide.Point{{X: a.X + f*(b.X-a.X), Y: a.Y + f*(b.Y-a.Y)}}, line[k:]...)
		slices.Reverse(line)
	}
	return line
}

// inPieces puts vertices between those of a line that are farther apart, and tells which are
// the line's own.
func inPieces(line []hide.Point, most hide.MM) (fine []hide.Point, own []bool) {
	fine, own = append(fine, line[0]), append(own, true)
	for k := 1; k < len(line); k++ {
		a, b := line[k-1], line[k]
		n := max(1, int(math.Ceil(float64(a.Distance(b)/most))))
		for i := 1; i <= n; i++ {
			f := hide.MM(i) / hide.MM(n)
			fine, own = append(fine, hide.Point{X: a.X + f*(b.X-a.X), Y: a.Y + f*(b.Y-a.Y)}), append(own, i == n)
		}
	}
	return fine, own
}

// pieceProfiles are, per piece, the middle parts of its profiles under all lights but back, one
// after the other, in units of the leather's own variation beside the line.
func (s *surface) pieceProfiles(line []hide.Point, sigma float64) [][]float64 {
	out := make([][]float64, len(line)-1)
	mid, reach := profileSize()/2, lobe(sigma)
	for _, l := range s.lit {
		if l.light == hide.Back {
			continue
		}
		profiles, square := make([][]float64, len(out)), 1e-12
		for k := range out {
			p := s.profile(l.tone, line[k:k+2])
			base := outer(p)
			for j := range p {
				p[j] -= base
			}
			for j := range len(p) / 6 {
				square += p[j]*p[j] + p[len(p)-1-j]*p[len(p)-1-j]
			}
			profiles[k] = p[mid-reach : mid+reach+1]
		}
		noise := math.Sqrt(square / float64(len(out)*(profileSize()/6)*2))
		for k, p := range profiles {
			for _, v := range p {
				out[k] = append(out[k], v/noise)
			}
		}
	}
	return out
}

// matches are how much of the mean profile of the pieces from vertex from to vertex to
// each piece bears, less endShare.
func matches(pieces [][]float64, from, to int) []float64 {
	mean := make([]float64, len(pieces[0]))
	for _, p := range pieces[from:to] {
		for j, v := range p {
			mean[j] += v / float64(to-from)
		}
	}
	var square float64
	for _, v := range mean {
		square += v * v
	}
	out := make([]float64, len(pieces))
	for k, p := range pieces {
		for j, v := range p {
			out[k] += v * mean[j] / math.Max(square, 1e-12)
		}
		out[k] -= endShare
	}
	return out
}

// mostGain is the first and last vertex of the consecutive pieces with the greatest sum.
func mostGain(gain []float64) (from, to int) {
	best, sum, start := math.Inf(-1), 0.0, 0
	for k, g := range gain {
		if sum <= 0 {
			sum, start = 0, k
		}
		if sum += g; sum > best {
			best, from, to = sum, start, k+1
		}
	}
	return from, to
}
