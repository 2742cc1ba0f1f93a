package scene

import (
	"slices"
	"sort"

	"hidechart/hide"
)

// surface is the sort of grain an article shows.
type surface int

const (
	smooth   surface = iota // fine closed grain with pores
	pebbled                 // tumbled: rounded cells with valleys
	napped                  // buffed: fibres
	embossed                // a pressed, repeating figure
	domed                   // rounded cells of many sizes, apart
	creased                 // a net of fine lines
	pored                   // pores strewn at random
	rough                   // waves of every length
)

// article is a kind of leather: how it looks and how defects show on it.
// Reflectances are linear, lengths millimetres. The values are common
// practice by eye, no source; each hide varies around them.
type article struct {
	name      string
	surface   surface
	colour    [3]float64 // linear reflectance r, g, b
	spread    float64    // relative variation of the colour from hide to hide
	mottle    float64    // relative amplitude of cloudiness
	mottleMM  [2]float64 // its wavelength
	tint      [3]float64 // direction of the cloudiness in colour (1,1,1: brightness only)
	valley    float64    // darkening in the valleys of the grain (two-tone, antique)
	gloss     float64    // peak of the highlight, as reflectance
	cellMM    [2]float64 // size of the grain, tight to loose
	slope     [2]float64 // rms-like steepness of the grain, range over hides
	fine      float64    // relative fine speckle of colour
	waveSlope float64    // slope of undulations of the whole hide
	substance [2]float64 // mm
	pass      [3]float64 // transmission per colour of the back light through 1 mm
	relief    float64    // how much of a defect's relief survives the finish
	mark      float64    // how much of a defect's colour survives the finish
	temper    string
	named     bool    // drawn only when asked for by name
	uneven    float64 // spread of the cells' depth: the logarithm's standard deviation
}

// articles is the list of invented articles, in a stable order.
func articles() []article {
	grey := [3]float64{1, 1, 1}
	return []article{
		{"black glazed", smooth, [3]float64{.022, .021, .020}, .25, .05, [2]float64{40, 160}, grey, .0, .10, [2]float64{.9, 1.8}, [2]float64{.006, .03}, .02, .02, [2]float64{.9, 1.4}, [3]float64{.003, .002, .001}, .7, .8, "firm", false, 0},
		{"wet-blue", smooth, [3]float64{.48, .58, .64}, .12, .10, [2]float64{25, 140}, [3]float64{1, .8, .6}, .05, .01, [2]float64{.8, 2.0}, [2]float64{.01, .05}, .03, .03, [2]float64{2.0, 3.6}, [3]float64{.03, .04, .04}, 1.1, 1, "wet", false, 0},
		{"pull-up brown", smooth, [3]float64{.20, .10, .05}, .25, .16, [2]float64{20, 110}, [3]float64{1, 1.1, 1.3}, .12, .015, [2]float64{1.0, 2.6}, [2]float64{.01, .06}, .04, .03, [2]float64{1.4, 2.4}, [3]float64{.02, .008, .003}, 1.1, 1.2, "soft", false, 0},
		{"suede", napped, [3]float64{.52, .38, .28}, .3, .09, [2]float64{12, 90}, [3]float64{1, 1.05, 1.1}, .0, 0, [2]float64{.6, 1.2}, [2]float64{.03, .10}, .06, .02, [2]float64{1.0, 1.6}, [3]float64{.05, .03, .02}, .6, .9, "soft", false, 0},
		{"nubuck", napped, [3]float64{.30, .24, .17}, .4, .07, [2]float64{15, 120}, [3]float64{1, 1.02, 1.05}, .0, .002, [2]float64{.5, .9}, [2]float64{.02, .07}, .05, .02, [2]float64{1.2, 1.8}, [3]float64{.03, .02, .01}, .8, 1.1, "soft", false, 0},
		{"vegetable russet", smooth, [3]float64{.55, .37, .22}, .15, .07, [2]float64{40, 200}, [3]float64{.9, 1.1, 1.4}, .10, .02, [2]float64{.9, 2.2}, [2]float64{.01, .05}, .02, .015, [2]float64{2.4, 4.5}, [3]float64{.02, .01, .004}, 1.2, 1.3, "firm", false, 0},
		{"milled pebble", pebbled, [3]float64{.10, .055, .035}, .6, .06, [2]float64{40, 200}, grey, .25, .03, [2]float64{2.0, 5.0}, [2]float64{.05, .16}, .02, .05, [2]float64{1.2, 1.8}, [3]float64{.02, .01, .005}, .9, .8, "soft", false, 0},
		{"embossed figure", embossed, [3]float64{.06, .05, .05}, .8, .03, [2]float64{60, 220}, grey, .12, .03, [2]float64{1.6, 4.0}, [2]float64{.04, .12}, .015, .02, [2]float64{1.1, 1.6}, [3]float64{.006, .004, .003}, .8, .6, "medium", false, 0},
		{"aniline tan", smooth, [3]float64{.42, .24, .12}, .2, .09, [2]float64{25, 160}, [3]float64{.9, 1.1, 1.35}, .15, .02, [2]float64{1.0, 2.4}, [2]float64{.012, .06}, .03, .03, [2]float64{1.0, 1.5}, [3]float64{.05, .025, .01}, 1, 1.2, "soft", false, 0},
		{"white pigmented", smooth, [3]float64{.76, .73, .66}, .06, .015, [2]float64{60, 220}, grey, .03, .02, [2]float64{1.0, 2.0}, [2]float64{.01, .04}, .01, .025, [2]float64{1.1, 1.6}, [3]float64{.05, .045, .035}, .9, .6, "medium", false, 0},
		{"antique oxblood", pebbled, [3]float64{.14, .026, .022}, .3, .12, [2]float64{20, 120}, [3]float64{1, 1.3, 1.3}, .5, .03, [2]float64{1.2, 3.0}, [2]float64{.03, .10}, .03, .04, [2]float64{1.1, 1.6}, [3]float64{.02, .004, .003}, 1, .9, "soft", false, 0},
		{"navy nappa", smooth, [3]float64{.018, .027, .060}, .4, .04, [2]float64{40, 180}, grey, .08, .035, [2]float64{1.0, 2.2}, [2]float64{.015, .06}, .015, .04, [2]float64{.9, 1.3}, [3]float64{.004, .005, .008}, .9, .7, "soft", false, 0},
		{"crust grey", smooth, [3]float64{.36, .35, .32}, .2, .08, [2]float64{18, 120}, [3]float64{1, 1, .9}, .06, .0, [2]float64{.8, 2.2}, [2]float64{.012, .06}, .04, .03, [2]float64{1.2, 2.0}, [3]float64{.04, .035, .025}, 1.2, 1.2, "medium", false, 0},
		{"olive waxed", smooth, [3]float64{.085, .085, .035}, .3, .20, [2]float64{12, 90}, [3]float64{1, 1, 1.2}, .15, .012, [2]float64{1.1, 2.8}, [2]float64{.02, .07}, .04, .035, [2]float64{1.6, 2.4}, [3]float64{.01, .01, .003}, 1, 1.1, "soft", false, 0},
		{"shrunken tan", pebbled, [3]float64{.34, .20, .11}, .4, .07, [2]float64{25, 160}, [3]float64{.9, 1.1, 1.3}, .16, .02, [2]float64{1.2, 4.0}, [2]float64{.03, .15}, .03, .05, [2]float64{1.2, 1.8}, [3]float64{.03, .015, .006}, .9, .9, "soft", true, 0},
		{"tumbled slate", pebbled, [3]float64{.11, .12, .14}, .6, .08, [2]float64{20, 180}, [3]float64{1, 1, 1.1}, .38, .03, [2]float64{1.6, 5.0}, [2]float64{.04, .16}, .02, .04, [2]float64{1.1, 1.7}, [3]float64{.01, .01, .01}, .9, .8, "soft", true, 0},
	}
}

// ContrastingTable is the colour of table that an article is best seen on: white
// for dark leather, black for light.
func ContrastingTable(name string) string {
	const middle = 0.2 // reflectance as far from a white table's 0.7 as from a black one's 0.03, by ratio
	a, ok := articleNamed(name)
	if ok && (a.colour[0]+a.colour[1]+a.colour[2])/3 > middle {
		return "black"
	}
	return "white"
}

// Articles lists the names of the invented articles.
func Articles() []string {
	var out []string
	for _, a := range articles() {
		out = append(out, a.name)
	}
	sort.Strings(out)
	return out
}

// checkArticle fails unless a Spec can ask for the article.
func checkArticle(who, name string) error {
	if _, ok := articleNamed(name); !ok && name != "" && name != DrawnArticle {
		return hide.Faultf(hide.Invalid, "%s: article %q is not known; one of %v or %s", who, name, Articles(), DrawnArticle)
	}
	return nil
}

func articleNamed(name string) (article, bool) {
	for _, a := range articles() {
		if a.name == name {
			return a, true
		}
	}
	return article{}, false
}

// leather is one hide's own version of an article.
type leather struct {
	article
	thick     float64 // substance, mm
	steep     float64 // steepness of the grain
	mottleAmp float64
	seed      uint32
	along     float64 // stretch of the grain along the backbone
	crisp     float64 // how much narrower than usual the borders of stains are, 0 to 1
	scuffed   float64 // how much shallower than usual scratches are, 0 to 1: only the finish is off
}

// drawLeather draws the article, when open, and this hide's version of it.
func drawLeather(s source, name string) leather {
	all := slices.DeleteFunc(articles(), func(a article) bool { return a.named })
	a := all[s.IntN(len(all))]
	switch name {
	case "":
	case DrawnArticle:
		a = drawArticle(s)
	default:
		a, _ = articleNamed(name) // checked by Validate
	}
	l := leather{article: a, seed: s.noiseSeed()}
	common := 1 + s.in(-a.spread, a.spread)
	for i := range l.colour {
		l.colour[i] = clamp(a.colour[i]*common*(1+s.in(-.25, .25)*a.spread), 0.004, 0.88)
	}
	l.thick = s.in(a.substance[0], a.substance[1])
	l.steep = s.log(a.slope[0], a.slope[1])
	l.mottleAmp = a.mottle * s.log(.35, 1.6)
	l.along = s.in(1, 1.7)
	l.gloss *= s.log(.4, 1.8)
	l.waveSlope *= s.log(.4, 1.8)
	l.fine *= s.log(.5, 1.8)
	if name == DrawnArticle {
		l.drawFlaws(s)
	}
	return l
}
