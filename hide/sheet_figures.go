package hide

// Estimate is a figure with its interval of 95 %. Without an interval (one hide
// has no spread) Known is false and Low and High are zero.
type Estimate struct {
	N     int     `json:"n"` // hides or lots behind it
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
	Known bool    `json:"interval_known"`
}

// PairedTest asks whether pairs differ on average: Student's t on the
// differences, and the sign test on how many lie above and below, which an
// outlier cannot sway.
type PairedTest struct {
	T     float64 `json:"t"`
	DF    int     `json:"degrees_of_freedom"`
	P     float64 `json:"p"`
	SignP float64 `json:"sign_p"`
	Known bool    `json:"known"` // false below two pairs, or when all differences are equal
}

// RateEstimate is a number of flaws per area with its interval.
type RateEstimate struct {
	Estimate
	Model      string  `json:"model"`
	Dispersion float64 `json:"dispersion"` // φ of Var n = μ + φμ²; 0: Poisson
}

// Comparison is the ratio of two rates, A over B.
type Comparison struct {
	A      string   `json:"a"`
	B      string   `json:"b"`
	Ratio  Estimate `json:"ratio"` // N: lots of both
	P      float64  `json:"p"`
	Holm   float64  `json:"p_holm"` // after all comparisons made
	Differ bool     `json:"differ"` // Holm below 5 %
	Reason string   `json:"reason"` // why there is none, if there is none
}

// ControlPoint is a lot on its chart with its own limits, since lots differ in area.
type ControlPoint struct {
	Lot   string  `json:"lot"`
	N     float64 `json:"count"`
	Area  float64 `json:"area_m2"`
	U     float64 `json:"u"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
	Wide  bool    `json:"outside_poisson"` // outside the plain limits
	Alarm bool    `json:"alarm"`           // outside the limits that count
}

// ControlChart is a u-chart of flaws per area over lots.
type ControlChart struct {
	Centre float64        `json:"centre"`
	Points []ControlPoint `json:"points"`
	SigmaZ float64        `json:"sigma_z"` // lots' spread over Poisson's; 1: no more than Poisson's
	Trend  float64        `json:"trend_p"` // of a steady rise or fall over the lots (Kendall)
}

// Place is where a kind comes back more often than chance puts it there.
type Place struct {
	Kind     Kind    `json:"kind"`
	U        float64 `json:"u"`
	V        float64 `json:"v"`
	Cells    []int   `json:"cells"`    // joined cells of the grid
	Hides    int     `json:"hides"`    // with a mark in the strongest cell
	Of       int     `json:"of_hides"` // in the group
	Expected float64 `json:"expected"` // such hides by chance
	P        float64 `json:"p_holm"`   // of the strongest cell, after all cells of all kinds
}

// HalfWidths is the standard outline: half widths of the hide over its length at
// equal steps of u from 0 to 1, on the right (v > 0) and on the left.
type HalfWidths struct {
	Right []float64 `json:"right"`
	Left  []float64 `json:"left"` // empty: sides
}

// Width is the half width at u on the half that v's sign says, linear between
// the steps; 0 on a half that is not there.
func (o HalfWidths) Width(u, v float64) float64 {
	half := o.Right
	if v < 0 {
		half = o.Left
	}
	if len(half) == 0 {
		return 0
	}
	at := min(1, max(0, u)) * float64(len(half)-1)
	i := min(len(half)-1, int(at))
	j := min(len(half)-1, i+1)
	return half[i] + (half[j]-half[i])*(at-float64(i))
}

// At is a place of the hide frame on the standard outline: x along the backbone
// from the neck, y across it, both over the hide's length.
func (o HalfWidths) At(u, v float64) (x, y float64) { return u, v * o.Width(u, v) }
