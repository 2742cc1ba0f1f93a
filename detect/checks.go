package detect

import (
	"strings"

	"hidechart/hide"
)

// checks is a list of rules that settings must meet, each with its words.
type checks []struct {
	ok   bool
	text string
}

// err is nil if all are met, else Invalid with every fault.
func (c checks) err(what string) error {
	var bad []string
	for _, rule := range c {
		if !rule.ok {
			bad = append(bad, rule.text)
		}
	}
	if bad == nil {
		return nil
	}
	return hide.Faultf(hide.Invalid, "%s: %s", what, strings.Join(bad, "; "))
}
