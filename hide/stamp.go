package hide

import (
	"fmt"
	"math"
	"regexp"
	"strings"
)

// Stamp is the area written on a hide, read.
type Stamp struct {
	Text         string         // as written, white space tidied
	Area         MM2            // the most likely reading
	Step         MM2            // the spacing of the figures it could have been: a quarter foot, or the last digit
	Reading      string         // that reading in words
	Alternatives []StampReading // other readings; empty when the stamp is clear
}

// StampReading is another way to read an ambiguous stamp.
type StampReading struct {
	Area    MM2
	Reading string
	Off     float64 // relative difference from Stamp.Area, signed
}

// Ambiguous says whether the stamp can be read in more than one way.
func (s Stamp) Ambiguous() bool { return len(s.Alternatives) > 0 }

// U is the standard uncertainty that the stamp's rounding alone leaves: a
// rectangle one step wide (JCGM 100:2008, 4.3.7).
func (s Stamp) U() MM2 { return s.Step / MM2(math.Sqrt(12)) }

// Explain says how the stamp was read and what else it could mean.
func (s Stamp) Explain() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s", s.Text, s.Reading)
	for _, a := range s.Alternatives {
		fmt.Fprintf(&b, "; or %s, %+.1f %%", a.Reading, 100*a.Off)
	}
	return b.String()
}

// areaUnit is a unit of area as written on leather.
type areaUnit int

const (
	noUnit areaUnit = iota
	feet2
	dm2
	m2
)

var unitForm = regexp.MustCompile(`(?i) ?(sq\.? ?ft\.?|sq\.? ?feet|square f(?:oo|ee)t|ft(?:²|2|\^2)|sf|feet|foot|ft\.?|` +
	`sq\.? ?dm\.?|dm(?:²|2|\^2)|sq\.? ?m\.?|sqm|m(?:²|2|\^2))$`)

// splitUnit cuts a unit of area off the end. A raised 2 belongs to the unit
// only behind ft, dm or m; 25² alone is a mark.
func splitUnit(text string) (string, areaUnit) {
	at := unitForm.FindStringSubmatchIndex(text)
	if at == nil {
		return text, noUnit
	}
	word := strings.ToLower(text[at[2]:at[3]])
	switch {
	case strings.HasPrefix(word, "dm"), strings.HasSuffix(strings.TrimSuffix(word, "."), "dm"):
		return text[:at[0]], dm2
	case strings.HasPrefix(word, "m"), strings.HasSuffix(strings.TrimSuffix(word, "."), "m"):
		return text[:at[0]], m2
	}
	return text[:at[0]], feet2
}

// mostFeet2 is the largest area taken for one hide's stamp: hides up to 70 ft²
// have been seen (common practice, no source); a thousand is the sum of a pile.
const mostFeet2 = 1000

// ParseStamp reads the area stamped on a hide: 25¹, 25.1, 25 1, 25 1/4, 25¼,
// 25, 25,25 ft², 234.6 dm², 2.346 m² and their like.
//
// A single figure 1, 2 or 3 behind the point, without a unit, counts quarter
// feet (common practice, no source); the decimal reading is given as an
// alternative. With a unit written out it is a decimal, and the mark is the
// alternative. A bare figure is taken in the unit in which it is a hide of 10
// to 90 ft²: those ranges of ft², dm² and m² do not overlap.
//
// Error: Invalid when it is no area, is zero, or is too large for one hide.
func ParseStamp(text string) (Stamp, error) {
	tidy := squeeze(text)
	rest, unit := splitUnit(tidy)
	n, err := parseNumeral(rest)
	if err != nil {
		return Stamp{}, Wrapf(Invalid, err, "area stamp %q", tidy)
	}
	if unit > feet2 && (n.mark >= 0 || n.fraction) {
		return Stamp{}, Faultf(Invalid, "area stamp %q: marks and fractions belong to square feet, not to %s", tidy, unit)
	}
	s := readStamp(n, unit)
	s.Text = tidy
	if s.Area <= 0 || s.Area.Feet2() > mostFeet2 {
		return Stamp{}, Faultf(Invalid, "area stamp %q: %s is not the area of one hide", tidy, s.Reading)
	}
	for i := range s.Alternatives {
		s.Alternatives[i].Off = float64(s.Alternatives[i].Area/s.Area) - 1
	}
	return s, nil
}

func (u areaUnit) String() string { return [...]string{"no unit", "ft²", "dm²", "m²"}[u] }

func (u areaUnit) area(value float64) MM2 {
	switch u {
	case dm2:
		return FromDM2(value)
	case m2:
		return FromM2(value)
	}
	return FromFeet2(value)
}

// readStamp orders the readings of a numeral, most likely first.
func readStamp(n numeral, unit areaUnit) Stamp {
	asMark := n.mark < 0 && len(n.decimals) == 1 && n.decimals >= "1" && n.decimals <= "3"
	guess := unit
	if unit == noUnit {
		guess = likelyUnit(n)
	}
	plain := plainReading(n, guess, unit == noUnit)
	if guess > feet2 && unit == noUnit {
		feet := plainReading(n, feet2, false)
		if asMark {
			feet = markReading(n)
		}
		plain.Alternatives = []StampReading{{Area: feet.Area, Reading: feet.Reading}}
		return plain
	}
	if guess != feet2 || !asMark {
		return plain
	}
	mark := markReading(n)
	if unit == feet2 { // the unit is written out: someone wrote a number, not a stamp
		plain.Alternatives = []StampReading{{Area: mark.Area, Reading: mark.Reading}}
		return plain
	}
	mark.Alternatives = []StampReading{{Area: plain.Area, Reading: plain.Reading}}
	return mark
}

// likelyUnit picks the unit in which a bare figure is a hide of 10–90 ft²: a
// small calf to beyond the largest cowhide seen (70 ft²; common practice, no
// source). In dm² that is 93–836, in m² 0.93–8.36. Marks are feet by custom.
func likelyUnit(n numeral) areaUnit {
	if n.mark >= 0 || n.fraction {
		return feet2
	}
	for _, u := range []areaUnit{feet2, dm2, m2} {
		if f := u.area(n.value).Feet2(); f >= 10 && f <= 90 {
			return u
		}
	}
	return feet2
}

func plainReading(n numeral, u areaUnit, guessed bool) Stamp {
	s := Stamp{Area: u.area(n.value), Step: u.area(n.step)}
	switch {
	case n.mark >= 0, n.fraction:
		s.Reading = quarterWords(n.value)
		if !n.fraction {
			s.Reading += " by the quarter-foot mark"
		}
	case n.decimals != "":
		s.Reading = fmt.Sprintf("%d.%s %s as a decimal", n.whole, n.decimals, u)
	default:
		s.Reading = fmt.Sprintf("%d %s", n.whole, u)
		if u == feet2 {
			s.Step = FromFeet2(0.25) // a stamp without a mark is a mark of zero
		}
	}
	if guessed && u > feet2 {
		s.Reading += " (no unit written; in ft² it would be no cattle hide)"
	}
	return s
}

func markReading(n numeral) Stamp {
	quarters := int(n.decimals[0] - '0')
	v := float64(n.whole) + float64(quarters)/4
	return Stamp{Area: FromFeet2(v), Step: FromFeet2(0.25), Reading: quarterWords(v) + " by the quarter-foot mark"}
}
