package scene

import "math"

// DrawnArticle is the article that is none: its surface, colour, grain and finish are each drawn
// by themselves, more widely than any kind of leather is made. A model that has only seen
// a dozen articles takes the grain of the next for flaws (domain randomisation: Tobin et
// al. 2017, "Domain randomization for transferring deep neural networks", IROS).
const DrawnArticle = "drawn"

// drawArticle draws such an article; it is named after its surface.
func drawArticle(s source) article {
	a := article{named: true, temper: "medium"}
	switch {
	case s.chance(.45):
		a.name, a.surface = "drawn smooth", smooth
		a.cellMM, a.slope, a.valley = s.between(.7, 1.4, 1.5, 2.8), s.between(.005, .02, 2, 5), s.in(0, .2)
	case s.chance(.6):
		a.name, a.surface = "drawn pebbled", pebbled
		a.cellMM, a.slope, a.valley = s.between(1, 2.4, 2, 3.5), s.between(.02, .06, 2, 5), s.in(.05, .55)
	case s.chance(.5):
		a.name, a.surface = "drawn napped", napped
		a.cellMM, a.slope = s.between(.4, .8, 1.5, 2.2), s.between(.015, .04, 2, 4)
	default:
		a.name, a.surface = "drawn embossed", embossed
		a.cellMM, a.slope, a.valley = s.between(1.2, 2.2, 1.5, 2.8), s.between(.02, .06, 2, 4), s.in(0, .3)
	}
	if a.surface != napped && s.chance(.6) {
		a.uneven = s.in(.1, .7)
	}
	a.colour, a.tint = s.tinted(s.log(.018, .72), .55), s.tinted(1, .25)
	a.spread, a.fine, a.waveSlope = .1, s.log(.01, .06), s.log(.012, .05)
	a.mottle, a.mottleMM = s.log(.015, .2), s.between(12, 60, 3, 8)
	if s.chance(.8) {
		a.gloss = s.log(.002, .09)
	}
	thin := s.in(.8, 2.4)
	a.substance = [2]float64{thin, thin * s.in(1.2, 1.8)}
	a.pass = s.tinted(s.log(.003, .045), .4)
	a.relief, a.mark = s.in(.6, 1.2), s.in(.6, 1.3)
	if s.chance(.35) {
		a.drawRarer(s)
	}
	return a
}

// drawFlaws draws how stains and scratches come out on it: a drop that dries leaves a crisp border, oil
// a soft one; a hard finish is scuffed through, a soft one ploughed.
func (l *leather) drawFlaws(s source) {
	if s.chance(.6) {
		l.crisp = s.in(.3, .97)
	}
	if s.chance(.5) {
		l.scuffed = s.in(.2, .95)
	}
}

// between draws a lower bound from lo to hi, and an upper one least to most times as large.
func (s source) between(lo, hi, least, most float64) [2]float64 {
	low := s.log(lo, hi)
	return [2]float64{low, low * s.in(least, most)}
}

// tinted draws a colour round a grey: each channel up to the given share away.
func (s source) tinted(grey, share float64) (out [3]float64) {
	for i := range out {
		out[i] = math.Min(grey*(1+s.in(-share, share)), .85)
	}
	return out
}
