package hide

import (
	"math"
	"regexp"
	"strconv"
	"strings"
)

// numeral is a number as people write it on leather, with what its notation
// tells beyond its value.
type numeral struct {
	value    float64
	whole    int
	decimals string // digits after the point or comma; empty without one
	mark     int    // a quarter-foot mark 0…3 set apart from the whole; -1: none
	fraction bool   // written as a fraction: ¼, 1/4
	step     float64
}

// vulgar fractions of Unicode (block Number Forms and Latin-1) that occur in
// quarter feet, half ounces and eighths.
var vulgar = map[rune][2]int{'¼': {1, 4}, '½': {1, 2}, '¾': {3, 4}, '⅛': {1, 8}, '⅜': {3, 8}, '⅝': {5, 8}, '⅞': {7, 8}}

var raised = map[rune]int{'⁰': 0, '¹': 1, '²': 2, '³': 3, '⁴': 4, '⁵': 5, '⁶': 6, '⁷': 7, '⁸': 8, '⁹': 9}

// up to six digits: beyond any hide in any unit, and far from overflow
var (
	decimalForm  = regexp.MustCompile(`^(\d{1,6})(?:[.,](\d{1,6}))?$`)
	vulgarForm   = regexp.MustCompile(`^(\d{0,6})[ -]?([¼½¾⅛⅜⅝⅞])$`)
	fractionForm = regexp.MustCompile(`^(?:(\d{1,6})[ -])?(\d{1,2})[/⁄](\d{1,2})$`)
	raisedForm   = regexp.MustCompile(`^(\d{1,6})\^?([⁰¹²³⁴⁵⁶⁷⁸⁹])$`)
	caretForm    = regexp.MustCompile(`^(\d{1,6})\^(\d)$`)
	apartForm    = regexp.MustCompile(`^(\d{1,6})[ -](\d)$`)
)

// parseNumeral reads 25, 25.25, 25,25, 25¼, 25 1/4, 25-1/4, 1/4, 25¹, 25^1 and
// 25 1. The text is trimmed and its runs of blanks are single ones.
func parseNumeral(text string) (numeral, error) {
	if m := decimalForm.FindStringSubmatch(text); m != nil {
		return decimalNumeral(m[1], m[2])
	}
	if m := vulgarForm.FindStringSubmatch(text); m != nil {
		f := vulgar[[]rune(m[2])[0]]
		return fractionNumeral(m[1], f[0], f[1])
	}
	if m := fractionForm.FindStringSubmatch(text); m != nil {
		n, _ := strconv.Atoi(m[2]) // two digits, by the pattern
		d, _ := strconv.Atoi(m[3])
		return fractionNumeral(m[1], n, d)
	}
	if m := raisedForm.FindStringSubmatch(text); m != nil {
		return markNumeral(m[1], raised[[]rune(m[2])[0]])
	}
	for _, form := range []*regexp.Regexp{caretForm, apartForm} {
		if m := form.FindStringSubmatch(text); m != nil {
			mark, _ := strconv.Atoi(m[2])
			return markNumeral(m[1], mark)
		}
	}
	return numeral{}, Faultf(Invalid, "%q is not a number as written on leather (such as 25, 25.25, 25,25, 25¼, 25 1/4, 25¹)", text)
}

func decimalNumeral(whole, decimals string) (numeral, error) {
	v, err := strconv.ParseFloat(whole+"."+decimals+"0", 64)
	if err != nil {
		return numeral{}, Wrapf(Invalid, err, "number %s.%s", whole, decimals)
	}
	w, _ := strconv.Atoi(whole)
	return numeral{value: v, whole: w, decimals: decimals, mark: -1, step: math.Pow10(-len(decimals))}, nil
}

// fractionNumeral takes the fractions of an inch rule: halves to sixteenths.
func fractionNumeral(whole string, n, d int) (numeral, error) {
	switch {
	case d != 2 && d != 4 && d != 8 && d != 16 && d != 32 && d != 64:
		return numeral{}, Faultf(Invalid, "fraction %d/%d: the denominator must be 2, 4, 8, 16, 32 or 64", n, d)
	case n >= d:
		return numeral{}, Faultf(Invalid, "fraction %d/%d is not below one", n, d)
	}
	w, _ := strconv.Atoi("0" + whole)
	return numeral{value: float64(w) + float64(n)/float64(d), whole: w, mark: -1, fraction: true, step: 1 / float64(d)}, nil
}

func markNumeral(whole string, mark int) (numeral, error) {
	if mark > 3 {
		return numeral{}, Faultf(Invalid, "mark %d beside %s: area marks count quarter feet, 0 to 3", mark, whole)
	}
	w, _ := strconv.Atoi(whole)
	return numeral{value: float64(w) + float64(mark)/4, whole: w, mark: mark, step: 0.25}, nil
}

// squeeze trims and makes every run of white space one blank.
func squeeze(text string) string { return strings.Join(strings.Fields(text), " ") }
