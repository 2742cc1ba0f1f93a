package hide

// Agreement is how far two people who judged the same things agree.
type Agreement struct {
	Count    int     `json:"count"`    // things that both judged
	Same     int     `json:"same"`     // of them, judged alike
	Observed float64 `json:"observed"` // share judged alike
	Expected float64 `json:"expected"` // share that would be by chance
	Kappa    float64 `json:"kappa"`
	Known    bool    `json:"known"` // false: nothing to compare, or both said one and the same of everything
}

// Kappa is Cohen's kappa of two lists of judgements on the same things: the
// share judged alike beyond chance, κ = (pₒ − pₑ)/(1 − pₑ), pₑ from how often each
// uses each word. 1 is full agreement, 0 what chance would give. Source: Cohen (1960), "A coefficient
// of agreement for nominal scales", Educ. Psychol. Meas. 20:37. Error: Invalid for
// lists of different lengths.
func Kappa(a, b []string) (Agreement, error) {
	if len(a) != len(b) {
		return Agreement{}, Faultf(Invalid, "kappa: %d and %d judgements", len(a), len(b))
	}
	out := Agreement{Count: len(a)}
	if len(a) == 0 {
		return out, nil
	}
	first, second := map[string]int{}, map[string]int{}
	for i, word := range a {
		first[word]++
		second[b[i]]++
		if word == b[i] {
			out.Same++
		}
	}
	n, chance := len(a), 0
	for word, k := range first { // whole numbers: the order does not matter
		chance += k * second[word]
	}
	out.Observed = float64(out.Same) / float64(n)
	out.Expected = float64(chance) / float64(n*n)
	if chance == n*n {
		return out, nil
	}
	out.Kappa, out.Known = (out.Observed-out.Expected)/(1-out.Expected), true
	return out, nil
}
