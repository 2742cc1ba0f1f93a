package export

// inWords spells a whole number from 0 to 999 in English, so that a smudged
// figure on a tag can still be told.
func inWords(n int) string {
	small := []string{"zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
		"thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"}
	tens := []string{"", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"}
	switch {
	case n < 0 || n > 999:
		return ""
	case n < 20:
		return small[n]
	case n < 100 && n%10 == 0:
		return tens[n/10]
	case n < 100:
		return tens[n/10] + "-" + small[n%10]
	case n%100 == 0:
		return small[n/100] + " hundred"
	}
	return small[n/100] + " hundred and " + inWords(n%100)
}
