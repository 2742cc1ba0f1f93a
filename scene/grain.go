package scene

import "math"

// grain evaluates clean leather at a place: fine closed grain in the butt,
// coarser towards neck and belly.
type grain struct {
	leather
	lay       layout
	stepMM    float64
	passTop   float64
	mottleMM  [2]float64
	nap       float64 // direction of the fibres, radians
	neckSeed  uint32
	wavesMM   float64
	bellyTone float64
	clear     [2]float64 // how much of the tight and of the loose grain the raster can hold
}

func newGrain(l leather, lay layout, stepMM, passTop float64) grain {
	s := stream(int64(l.seed), "grain")
	g := grain{leather: l, lay: lay, stepMM: stepMM, passTop: passTop, nap: s.in(0, math.Pi), neckSeed: s.noiseSeed()}
	g.wavesMM = s.in(80, 320)
	g.bellyTone = s.in(-.06, .08)
	g.leather.mottleMM = [2]float64{l.mottleMM[0] * s.in(.7, 1.5), l.mottleMM[1] * s.in(.7, 1.5)}
	g.mottleMM = g.leather.mottleMM
	for i, c := range l.cellMM {
		g.clear[i] = clamp(c/stepMM/2-.5, 0, 1) // fades at the raster's resolution: two samples a cell
	}
	return g
}

// looseness is 0 in the tight butt, 1 in the loosest flank or neck.
func (g grain) looseness(p place) (loose, neck float64) {
	u, v := p.x/g.lay.length, math.Abs(p.y)/g.lay.half
	n := .18 * value(p.x/140, p.y/140, g.seed+90)
	neck = step(.30, .04, u+.3*n)
	belly := step(.52, .98, v+n)
	return clamp(math.Max(neck, belly*(.4+.6*step(.95, .6, u))), 0, 1), neck
}

// at returns height (mm) and texel of clean leather; the texel's slope holds
// the undulation of the whole hide.
func (g grain) at(x, y float64) (float32, texel) {
	p := g.lay.toHide(x, y)
	loose, neck := g.looseness(p)
	h, valley := g.relief(p, loose)
	h += g.neckLines(p, neck)
	tone := 1 - g.valley*valley + g.fine*value(p.x/(1.6*g.stepMM), p.y/(1.6*g.stepMM), g.seed+40)
	tone *= 1 + g.bellyTone*loose
	m := g.mottling(p)
	var t texel
	for c := range t.colour {
		t.colour[c] = unit16(g.colour[c] * tone * (1 + m*g.tint[c]))
	}
	thick := g.thick * (1 - .3*loose + .1*value(p.x/60, p.y/60, g.seed+70))
	t.pass = unit16(g.passTop * math.Exp(1.2*(1-thick)) * (1 + .15*value(p.x/9, p.y/9, g.seed+71)))
	t.shin = unit16(g.gloss * (1 + .3*m - .5*valley*g.valley))
	sx, sy := g.undulation(x, y, loose)
	t.sx, t.sy = int16(sx*slopeUnit), int16(sy*slopeUnit)
	return float32(h), t
}

// mottling is the relative cloudiness of the colour.
func (g grain) mottling(p place) float64 {
	m := .6*fractal(p.x/g.mottleMM[1], p.y/g.mottleMM[1], g.seed+50, 2, .6) +
		.7*fractal(p.x/g.mottleMM[0]/g.along, p.y/g.mottleMM[0], g.seed+52, 2, .5)
	return clamp(g.mottleAmp*m, -.6, .6)
}

// undulation is the slope of a hide that does not lie quite flat.
func (g grain) undulation(x, y, loose float64) (sx, sy float64) {
	a := g.waveSlope * (.6 + .8*loose)
	return a * value(x/g.wavesMM, y/g.wavesMM, g.seed+60), a * value(x/g.wavesMM, y/g.wavesMM, g.seed+61)
}

// neckLines are the fine folds every neck has, weaker than a wrinkle.
func (g grain) neckLines(p place, neck float64) float64 {
	if neck < .01 {
		return 0
	}
	bend := 6 * value(p.x/90, p.y/60, g.neckSeed)
	return .12 * g.relief0() * neck * value((p.x+bend)/11, p.y/120, g.neckSeed+1)
}

func (g grain) relief0() float64 { return g.leather.relief }

// relief returns the height of the grain (mm) and how deep in a valley the
// place is (0…1).
func (g grain) relief(p place, loose float64) (h, valley float64) {
	x, y := p.x/g.along, p.y
	if g.surface == embossed {
		return g.cell(x, y, g.cellMM[1], g.clear[1], 0)
	}
	w := step(.15, .75, loose)
	if w < 1 {
		h, valley = g.cell(x, y, g.cellMM[0], g.clear[0], 1)
	}
	if w > 0 {
		h2, v2 := g.cell(x, y, g.cellMM[1], g.clear[1], 2)
		k := w * 1.3 // loose grain is also deeper
		return h*(1-w) + h2*k, valley*(1-w) + v2*w
	}
	return h, valley
}

// cell is one size of the article's grain.
func (g grain) cell(x, y, size, clear float64, layer uint32) (h, valley float64) {
	if clear == 0 {
		return 0, .3
	}
	seed := g.seed + 7*layer
	switch g.surface {
	case napped:
		sin, cos := math.Sincos(g.nap)
		a, b := (x*cos+y*sin)/(2.2*size), (-x*sin+y*cos)/size
		n := fractal(a, b, seed, 2, .6)
		return .5 * size * g.steep * clear * n, clear * (.5 - .5*n)
	case pebbled, embossed:
		jitter := 1.0
		if g.surface == embossed {
			jitter = .35
		}
		f1, f2, id := cells(x/size, y/size, seed, jitter)
		e := math.Min(1, (f2-f1)*2.2)
		v := (1 - e) * (1 - e)
		k := clear * g.depth(id)
		return size * g.steep * k * (.8*e - .35*f1*f1), math.Min(1, k*v)
	case domed:
		return g.dome(x, y, size, clear, seed)
	case creased:
		return g.crease(x, y, size, clear, seed)
	case pored:
		return g.pore(x, y, size, clear, seed)
	case rough:
		return g.roughness(x, y, size, clear, seed)
	default:
		f1, f2, id := cells(x/size, y/size, seed, .95)
		crease := 1 - step(0, .3, f2-f1)
		pore := 0.0
		if id&3 == 0 {
			pore = step(.35, .1, f1)
		}
		pore *= g.depth(id)
		return -.3 * size * g.steep * clear * (crease + 1.3*pore), clear * math.Min(1, .5*crease+pore)
	}
}

// depth of one cell, or of its pore, against the others.
func (g grain) depth(id uint32) float64 {
	if g.uneven == 0 {
		return 1
	}
	h := hash2(int32(id), 0, g.seed)                                                   //nolint:gosec // any bits will do
	sum := float64(h&0xff) + float64(h>>8&0xff) + float64(h>>16&0xff) + float64(h>>24) // near normal: Irwin-Hall
	return math.Exp(g.uneven * (sum/255 - 2) * math.Sqrt(3))
}
