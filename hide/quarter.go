package hide

import (
	"fmt"
	"math"
	"strconv"
)

// QuarterMark writes an area as an area stamp: whole square feet and, raised,
// the quarters, 25¼ ft² → "25¹". It rounds to the nearest quarter (a tie goes
// up), so that a stamp is right on average; the trade's machines differ in
// this, hence never more than 1/8 ft² is lost or given (common practice, no
// source). A whole number carries a raised zero only where the bare figure
// could be taken for another unit ("8⁰"): ParseStamp reads every mark back.
// A negative area, or one that is no number, gives "".
func QuarterMark(area MM2) string {
	q := math.Floor(area.Feet2()*4 + 0.5)
	if !(area >= 0) || q > 4*mostFeet2 {
		return ""
	}
	whole, quarters := int(q)/4, int(q)%4
	if quarters == 0 && whole >= 10 && whole <= 90 {
		return strconv.Itoa(whole)
	}
	return strconv.Itoa(whole) + [...]string{"⁰", "¹", "²", "³"}[quarters]
}

// QuarterFeet is the nearest multiple of a quarter square foot, as QuarterMark
// rounds.
func QuarterFeet(area MM2) MM2 { return FromFeet2(math.Floor(area.Feet2()*4+0.5) / 4) }

// quarterWords writes square feet with a vulgar fraction: 25¼ ft².
func quarterWords(feet float64) string {
	whole, part := math.Modf(feet)
	sign := map[float64]string{0: "", 0.25: "¼", 0.5: "½", 0.75: "¾"}
	s, ok := sign[part]
	if !ok {
		return fmt.Sprintf("%g ft²", feet)
	}
	return fmt.Sprintf("%d%s ft²", int(whole), s)
}
