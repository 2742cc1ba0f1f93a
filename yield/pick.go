package yield

import (
	"context"
	"slices"
	"strings"

	"hidechart/hide"
)

// Verdict is the word on one hide for a project.
type Verdict string

// The verdicts: to take, to leave, or to look closer at the candidates named before
// deciding.
const (
	Take       Verdict = "take"
	Leave      Verdict = "leave"
	LookCloser Verdict = "look closer"
)

// HideChoice is what one hide is worth to a project.
type HideChoice struct {
	Hide     string   `json:"hide"`
	Rank     int      `json:"rank"` // from 1; hides to leave come last
	Verdict  Verdict  `json:"verdict"`
	Reasons  []string `json:"reasons"` // for the verdict, in words
	Notes    []string `json:"notes"`   // what to know besides
	Sets     int      `json:"sets"`
	SetsIn   Range    `json:"sets_range"`
	Beside   []string `json:"beside"` // pieces that fit beside the whole sets
	AreaMM2  hide.MM2 `json:"area_mm2"`
	Cuttable Range    `json:"cuttable_share"`
	// WasteMM2 is the leather that is not in pieces of whole sets; WasteShare of the area.
	WasteMM2    hide.MM2 `json:"waste_mm2"`
	WasteShare  float64  `json:"waste_share"`
	Coefficient float64  `json:"leather_coefficient"`
	Cost        *float64 `json:"cost,omitempty"`
	PerSet      *float64 `json:"cost_per_set,omitempty"`
	PerCuttable *float64 `json:"cost_per_cuttable_m2,omitempty"`
	LookFirst   []Worth  `json:"look_first"`

	gives []float64 // of each piece
	cut   hide.MM2  // cuttable, charted
}

// Together is the hides that make an order with the least waste, or cost when all
// are priced.
type Together struct {
	Wanted     int         `json:"wanted"`
	Sets       int         `json:"sets"` // that the hides give
	Met        bool        `json:"met"`
	ByCost     bool        `json:"by_cost"` // least cost; else least leather
	Proven     bool        `json:"proven"`  // no other choice needs less
	Hides      []HideShare `json:"hides"`
	LeatherMM2 hide.MM2    `json:"leather_mm2"`
	// LeastMM2 is the leather, or LeastCost the cost, that any choice needs.
	LeastMM2   hide.MM2 `json:"least_mm2,omitempty"`
	LeastCost  float64  `json:"least_cost,omitempty"`
	WasteMM2   hide.MM2 `json:"waste_mm2"` // leather taken less the pieces of the order
	WasteShare float64  `json:"waste_share"`
	Cost       *float64 `json:"cost,omitempty"`
	PerSet     *float64 `json:"cost_per_set,omitempty"`
	Words      []string `json:"words"`
}

// HideShare is one hide's part of an order.
type HideShare struct {
	Hide    string   `json:"hide"`
	Sets    int      `json:"sets"`     // whole sets cut from it for the order
	LeftMM2 hide.MM2 `json:"left_mm2"` // cuttable leather left over
	Spare   int      `json:"spare"`    // whole sets that it could give besides
}

// Picked is the answer to a project, as `hidechart pick --json` prints it.
type Picked struct {
	Project  string       `json:"project"`
	Currency string       `json:"currency,omitempty"`
	Hides    []HideChoice `json:"hides"` // by rank
	Together *Together    `json:"together,omitempty"`
	Warnings []string     `json:"warnings,omitempty"`
}

// Judge weighs one hide for a project. The chart must be folded. Errors: those of
// Evaluate.
func (p Project) Judge(ctx context.Context, chart hide.Chart, o Options) (HideChoice, error) {
	o.Sets = 0
	cut, err := Cuttable(chart, p.Look, o.Params)
	if err != nil {
		return HideChoice{}, err
	}
	r, layout, err := EvaluateCut(ctx, chart, cut, &p.Pieces, o)
	if err != nil {
		return HideChoice{}, err
	}
	h := HideChoice{Hide: chart.Capture.ID, Reasons: []string{}, Notes: []string{}, Beside: []string{}, Sets: layout.Sets, SetsIn: *r.SetsRange, AreaMM2: chart.Area.Value,
		Cuttable: r.CuttableShare, LookFirst: r.LookFirst, cut: cut.Area}
	used := hide.MM2(0)
	for i, q := range p.Pieces.List {
		used += hide.MM2(layout.Sets*q.Count) * q.Area()
		h.gives = append(h.gives, float64(layout.CountOf(i)))
		if n := layout.ExtraOf(i); n > 0 {
			h.Beside = append(h.Beside, words("%d × %s", n, q.Name))
		}
	}
	h.WasteMM2 = max(0, h.AreaMM2-used)
	h.WasteShare = share(h.WasteMM2, h.AreaMM2)
	if h.Coefficient, err = Coefficient(min(cut.Area, chart.Outline.Area()), chart.Outline.Area(), chart.Area.Value, invoiced(chart)); err != nil {
		return HideChoice{}, err
	}
	p.price(&h, chart)
	p.decide(&h, chart, r)
	return h, nil
}

func (p Project) price(h *HideChoice, chart hide.Chart) {
	if !p.Prices.known(h.Hide) {
		return
	}
	cost := p.Prices.of(chart)
	h.Cost = &cost
	if h.Sets > 0 {
		per := cost / float64(h.Sets)
		h.PerSet = &per
	}
	if price, err := PricePerCuttable(cost/invoiced(chart).M2(), h.Coefficient); err == nil {
		h.PerCuttable = &price
	}
}

// decide finds the verdict and says why.
func (p Project) decide(h *HideChoice, chart hide.Chart, r Result) {
	against := p.against(h, chart, r)
	h.Notes = append(h.Notes, p.doubts(chart, r)...)
	switch {
	case len(against) > 0:
		h.Verdict, h.Reasons = Leave, against
	case h.SetsIn.P10 < min(1, h.SetsIn.P90) || r.RefusedChance > 0.1:
		h.Verdict = LookCloser
		if r.RefusedChance > 0.1 {
			h.Reasons = append(h.Reasons, words("a forbidden flaw is real with a chance of %.0f %%", 100*r.RefusedChance))
		} else {
			h.Reasons = append(h.Reasons, words("between %.0f and %.0f whole sets, depending on candidates not yet reviewed", h.SetsIn.P10, h.SetsIn.P90))
		}
		if ids := idList(r.LookFirst); ids != "" {
			h.Reasons = append(h.Reasons, "look first at candidates "+ids)
		}
	default:
		h.Verdict = Take
		text := words("%d whole sets", h.Sets)
		if h.Sets == 1 {
			text = "1 whole set"
		}
		if p.Sets > 0 && h.Sets >= p.Sets {
			text += ", the order alone"
		}
		h.Reasons = append(h.Reasons, words("%s, %.0f %% of the hide in pieces", text, 100*(1-h.WasteShare)),
			words("%.0f %% cuttable for %s: %s", 100*h.Cuttable.Median, p.Look.Name, r.Band))
	}
	if h.SetsIn.P10 < h.SetsIn.P90 && h.Verdict == Take {
		h.Notes = append(h.Notes, words("%.0f to %.0f sets (10–90 %%) as long as candidates are not reviewed; look first at %s", h.SetsIn.P10, h.SetsIn.P90, idList(r.LookFirst)))
	}
}

// against lists what speaks against a hide: one is enough.
func (p Project) against(h *HideChoice, chart hide.Chart, r Result) []string {
	var out []string
	if len(r.Refused) > 0 {
		out = append(out, words("the look forbids flaws %s", intList(r.Refused)))
	}
	c := chart.Capture
	if len(p.Look.Finish) > 0 && c.Article != "" && !mentions(c.Article, p.Look.Finish) {
		out = append(out, words("article %s, asked for %s", c.Article, strings.Join(p.Look.Finish, " or ")))
	}
	if len(p.Look.Temper) > 0 && c.Temper != "" && !mentions(c.Temper, p.Look.Temper) {
		out = append(out, words("temper %s, asked for %s", c.Temper, strings.Join(p.Look.Temper, " or ")))
	}
	if thin := thinReadings(c.Substance, p.Look.Substance); len(thin) > 0 && 2*len(thin) > len(c.Substance) {
		out = append(out, "too thin: "+strings.Join(thin, ", ")+words("; asked for %g–%g mm", p.Look.Substance[0], p.Look.Substance[1]))
	}
	if p.LeastShare > 0 && h.Cuttable.Median < p.LeastShare {
		out = append(out, words("%.0f %% cuttable, at least %.0f %% asked for", 100*h.Cuttable.Median, 100*p.LeastShare))
	}
	if h.Sets == 0 && h.SetsIn.P90 < 1 {
		text := "not one whole set fits"
		for _, x := range r.Pieces {
			if x.FitsMM2 == 0 {
				text += ": " + x.Piece + " " + x.Note
				break
			}
		}
		out = append(out, text)
	}
	if p.MostCost > 0 && h.PerSet != nil && *h.PerSet > p.MostCost {
		out = append(out, words("%.2f %s a set, at most %.2f asked for", *h.PerSet, p.Prices.Currency, p.MostCost))
	}
	return out
}

// doubts lists what the project asks and the chart does not know, and what must be
// done to the leather.
func (p Project) doubts(chart hide.Chart, r Result) []string {
	var out []string
	c := chart.Capture
	if len(p.Look.Finish) > 0 && c.Article == "" {
		out = append(out, "the chart does not say the article; asked for "+strings.Join(p.Look.Finish, " or "))
	}
	if len(p.Look.Temper) > 0 && c.Temper == "" {
		out = append(out, "the chart does not say the temper; asked for "+strings.Join(p.Look.Temper, " or "))
	}
	if p.Look.Substance[1] > 0 {
		out = append(out, p.Look.unmetSubstance(c.Substance)...)
	}
	for _, x := range r.Pieces {
		if x.Note != "" {
			out = append(out, x.Piece+": "+x.Note)
		}
	}
	return out
}

func thinReadings(readings []hide.Substance, asked [2]hide.MM) []string {
	var out []string
	for _, s := range readings {
		if FitSubstance(s.MM, asked) == TooThin {
			out = append(out, words("%.2f mm (%s)", s.MM, placeWords(s)))
		}
	}
	return out
}

func idList(list []Worth) string {
	ids := make([]int, len(list))
	for i, w := range list {
		ids[i] = w.ID
	}
	return intList(ids)
}

func intList(ids []int) string {
	parts := make([]string, len(ids))
	for i, id := range ids {
		parts[i] = words("%d", id)
	}
	return strings.Join(parts, ", ")
}

// Pick ranks judged hides and chooses those that make the order together. Hides to
// leave are ranked last and not chosen. Rank: by cost of a set where both are priced,
// else by leather a set, pieces beside whole sets counted in part; then by id.
func (p Project) Pick(choices []HideChoice) Picked {
	out := Picked{Project: p.Name, Currency: p.Prices.Currency, Hides: slices.Clone(choices), Warnings: p.Pieces.Warnings}
	slices.SortStableFunc(out.Hides, p.better)
	for i := range out.Hides {
		out.Hides[i].Rank = i + 1
	}
	out.Together = p.together(out.Hides)
	return out
}

// sets is what a hide gives in sets, the pieces beside whole sets counted in part.
func (p Project) sets(h HideChoice) float64 {
	n, area := 0.0, 0.0
	for i, q := range p.Pieces.List {
		n += h.gives[i] * float64(q.Area())
		area += float64(q.Count) * float64(q.Area())
	}
	return n / area
}

func (p Project) better(a, b HideChoice) int {
	if (a.Verdict == Leave) != (b.Verdict == Leave) {
		if a.Verdict == Leave {
			return 1
		}
		return -1
	}
	per := func(h HideChoice, v float64) float64 { return v / max(p.sets(h), 1e-6) }
	va, vb := per(a, float64(a.AreaMM2)), per(b, float64(b.AreaMM2))
	if a.Cost != nil && b.Cost != nil {
		va, vb = per(a, *a.Cost), per(b, *b.Cost)
	}
	if c := compare(va, vb); c != 0 {
		return c
	}
	return strings.Compare(a.Hide, b.Hide)
}

// together chooses hides for the sets wanted; nil when none are asked for.
func (p Project) together(ranked []HideChoice) *Together {
	usable := slices.DeleteFunc(slices.Clone(ranked), func(h HideChoice) bool { return h.Verdict == Leave })
	if p.Sets == 0 || len(ranked) == 0 {
		return nil
	}
	t := &Together{Wanted: p.Sets, Words: []string{}, Hides: []HideShare{}}
	t.ByCost = len(usable) > 0 && !slices.ContainsFunc(usable, func(h HideChoice) bool { return h.Cost == nil })
	need := make([]float64, len(p.Pieces.List))
	for i, q := range p.Pieces.List {
		need[i] = float64(p.Sets * q.Count)
	}
	offers := make([]offer, len(usable))
	for i, h := range usable {
		offers[i] = offer{cost: float64(h.AreaMM2), gives: h.gives}
		if t.ByCost {
			offers[i].cost = *h.Cost
		}
	}
	s, ok := cheapestCover(offers, need)
	if !ok { // all of them, and still too little
		s.chosen, s.proven = seq(len(usable)), true
	}
	t.Met, t.Proven = ok, s.proven
	if t.ByCost {
		t.LeastCost = s.bound
	} else {
		t.LeastMM2 = hide.MM2(s.bound)
	}
	if !ok {
		t.LeastCost, t.LeastMM2 = 0, 0
	}
	var chosen []HideChoice
	for _, i := range s.chosen {
		chosen = append(chosen, usable[i])
	}
	p.shareOut(t, chosen)
	return t
}

// shareOut says what is cut from which hide, what is left, and what it costs.
func (p Project) shareOut(t *Together, chosen []HideChoice) {
	setArea, gives := hide.MM2(0), make([]float64, len(p.Pieces.List))
	for i, q := range p.Pieces.List {
		setArea += hide.MM2(q.Count) * q.Area()
		for _, h := range chosen {
			gives[i] += h.gives[i]
		}
	}
	t.Sets = 1 << 30
	for i, q := range p.Pieces.List {
		t.Sets = min(t.Sets, int(gives[i]/float64(q.Count)+coverTolerance))
	}
	made := min(t.Sets, t.Wanted)
	rest, cost, priced := made, 0.0, len(chosen) > 0
	for _, h := range chosen {
		n := min(h.Sets, rest)
		rest -= n
		t.Hides = append(t.Hides, HideShare{Hide: h.Hide, Sets: n, LeftMM2: max(0, h.cut-hide.MM2(n)*setArea), Spare: h.Sets - n})
		t.LeatherMM2 += h.AreaMM2
		if h.Cost == nil {
			priced = false
		} else {
			cost += *h.Cost
		}
	}
	t.WasteMM2 = max(0, t.LeatherMM2-hide.MM2(made)*setArea)
	t.WasteShare = share(t.WasteMM2, t.LeatherMM2)
	if priced {
		t.Cost = &cost
		if made > 0 {
			per := cost / float64(made)
			t.PerSet = &per
		}
	}
	if rest > 0 {
		t.Words = append(t.Words, words("%d sets are put together from pieces beside the whole sets of several hides", rest))
	}
	if !t.Met {
		t.Words = append(t.Words, words("all hides that may be taken give %d of %d sets: %d are missing", t.Sets, t.Wanted, t.Wanted-t.Sets))
	} else if !t.Proven {
		t.Words = append(t.Words, "a good choice, not proven the best: compare it with the least that any choice needs")
	}
}
