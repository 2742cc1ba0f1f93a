package hide

import (
	"fmt"
	"math"
	"regexp"
	"strings"
)

// SubstanceRange is a leather's thickness as ordered or stamped: one figure
// (Low == High) or a span.
type SubstanceRange struct {
	Text      string // as written, white space tidied
	Low, High MM
	Reading   string // in millimetres, and how the trade rounds it
}

// Middle is the middle of the range.
func (r SubstanceRange) Middle() MM { return (r.Low + r.High) / 2 }

// tradeMMPerOunce is how the trade rounds an ounce of leather: 6–7 oz is sold
// as 2.4–2.8 mm (common practice, no source); exactly it is 0.396875 mm.
const tradeMMPerOunce = 0.4

// thickest leather taken for a reading: sole bends reach about 12 irons
// (6.4 mm); 25 mm leaves room and still catches a slipped unit.
const thickestMM = 25

var substanceForm = regexp.MustCompile(`(?i)^(.*?) ?(mm|oz\.?|ounces?|irons?|in\.?|inch(?:es)?|")$`)

// Two numbers with a dash or "to" between them, or, in all units but inches,
// a slash: 7/8 oz of leather is seven to eight ounces, not seven eighths.
var (
	dashForm  = regexp.MustCompile(`^(.+?) ?(?:–|—|-| to ) ?(\d.*)$`)
	slashForm = regexp.MustCompile(`^(\d{1,3}(?:[.,]\d{1,4})?) ?/ ?(\d{1,3}(?:[.,]\d{1,4})?)$`)
)

// ParseSubstance reads a thickness with its unit: 6–7 oz, 2.4 mm, 4 irons,
// 4½ oz, 7/8 oz (a span), 1.2/1.4 mm, 1/8 in. One ounce is 1/64 inch, one iron 1/48 inch
// (ASTM D1814 prints 0.396 and 0.53 mm).
//
// Error: Invalid without a unit, when it is no number or span, when the span
// runs backwards, or beyond 0–25 mm.
func ParseSubstance(text string) (SubstanceRange, error) {
	tidy := squeeze(text)
	m := substanceForm.FindStringSubmatch(tidy)
	if m == nil {
		return SubstanceRange{}, Faultf(Invalid, "substance %q: write its unit: mm, oz, irons or in", tidy)
	}
	unit := strings.ToLower(m[2])
	low, high, err := span(m[1], unit)
	if err != nil {
		return SubstanceRange{}, Wrapf(Invalid, err, "substance %q", tidy)
	}
	r := SubstanceRange{Text: tidy, Low: substanceIn(unit, low), High: substanceIn(unit, high)}
	switch {
	case r.Low > r.High:
		return SubstanceRange{}, Faultf(Invalid, "substance %q runs from thick to thin", tidy)
	case r.Low <= 0 || r.High > thickestMM:
		return SubstanceRange{}, Faultf(Invalid, "substance %q: %.2f–%.2f mm is no leather (0–%d mm)", tidy, r.Low, r.High, thickestMM)
	}
	r.Reading = spanWords(r.Low, r.High, 2)
	if unit[0] == 'o' {
		r.Reading += fmt.Sprintf(" (the trade says %s)", spanWords(MM(low*tradeMMPerOunce), MM(high*tradeMMPerOunce), 1))
	}
	return r, nil
}

func span(text, unit string) (low, high float64, err error) {
	m := slashForm.FindStringSubmatch(text)
	if m == nil || isInch(unit) {
		if n, err := parseNumeral(text); err == nil && n.mark < 0 {
			return n.value, n.value, nil
		}
		m = dashForm.FindStringSubmatch(text)
	}
	if m == nil {
		return 0, 0, Faultf(Invalid, "%q is neither a number nor a span such as 6–7", text)
	}
	var v [2]float64
	for i, p := range m[1:] {
		n, err := parseNumeral(squeeze(p))
		if err != nil {
			return 0, 0, err
		}
		if n.mark >= 0 {
			return 0, 0, Faultf(Invalid, "%q: quarter-foot marks belong to areas", p)
		}
		v[i] = n.value
	}
	return v[0], v[1], nil
}

func isInch(unit string) bool { return unit == `"` || strings.HasPrefix(unit, "in") }

func substanceIn(unit string, v float64) MM {
	switch {
	case unit[0] == 'o':
		return FromOunces(v)
	case unit[0] == 'm':
		return MM(v)
	case isInch(unit):
		return FromInches(v)
	}
	return FromIrons(v)
}

func spanWords(low, high MM, decimals int) string {
	if low == high {
		return fmt.Sprintf("%.*f mm", decimals, low)
	}
	return fmt.Sprintf("%.*f–%.*f mm", decimals, low, decimals, high)
}

// OunceWords writes a thickness in ounces as the trade calls it: to the
// nearest half at 0.4 mm an ounce, so 2 mm is "5 oz" and 1.7 mm "4½ oz"
// (common practice, no source).
func OunceWords(l MM) string {
	halves := int(math.Round(float64(l) / tradeMMPerOunce * 2))
	switch {
	case halves <= 0:
		return "under ½ oz"
	case halves == 1:
		return "½ oz"
	case halves%2 == 1:
		return fmt.Sprintf("%d½ oz", halves/2)
	}
	return fmt.Sprintf("%d oz", halves/2)
}
