package yield

import "hidechart/hide"

// Coefficient is the leather coefficient: usable ÷ total area × actual ÷
// invoiced area, what of the paid area can be cut. 1 is the best; more than 1
// means that more was delivered than invoiced. Error: Invalid for areas that are not
// positive or more usable area than there is.
func Coefficient(usable, total, actual, invoiced hide.MM2) (float64, error) {
	if !(usable >= 0 && total > 0 && actual > 0 && invoiced > 0) {
		return 0, hide.Faultf(hide.Invalid, "leather coefficient: areas must be positive")
	}
	if usable > total {
		return 0, hide.Faultf(hide.Invalid, "leather coefficient: usable %.1f dm² of a total of %.1f dm²", usable.DM2(), total.DM2())
	}
	return float64(usable/total) * float64(actual/invoiced), nil
}

// PricePerCuttable is the price of an area of leather divided by the leather
// coefficient: what the same area of cuttable leather costs, in the price's
// currency and unit. Error: Invalid for a coefficient of 0 or less, or a
// negative price.
func PricePerCuttable(price, coefficient float64) (float64, error) {
	if !(coefficient > 0) || !(price >= 0) {
		return 0, hide.Faultf(hide.Invalid, "price per cuttable area: price %g, coefficient %g", price, coefficient)
	}
	return price / coefficient, nil
}

// WithWaste is the leather to buy for a net area of pieces when a share of it
// is wasted: net ÷ (1 − waste). Error: Invalid for a waste not in 0..1.
func WithWaste(net hide.MM2, waste float64) (hide.MM2, error) {
	if !(waste >= 0 && waste < 1) || !(net >= 0) {
		return 0, hide.Faultf(hide.Invalid, "allowance: waste of %g, want a share from 0 to below 1", waste)
	}
	return net / hide.MM2(1-waste), nil
}

// Allowance is a share of a hide that ends up in pieces, by the size of the
// pieces.
type Allowance struct {
	Words  string
	Used   float64 // share of the hide in pieces, at best
	Source string
}

// Allowances are rules of thumb to plan an order before there is a chart; a
// chart and the pieces give better.
func Allowances() []Allowance {
	return []Allowance{
		{"furniture, small and middling panels, at best", 0.70, "trade handbook, secondary"},
		{"furniture, large panels", 0.50, "trade handbook, secondary"},
		{"general, the rule of thumb of 25 % waste", 0.75, "trade rule of thumb, United Kingdom"},
	}
}
