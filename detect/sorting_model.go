package detect

import (
	_ "embed"
	"slices"
	"sync"

	"hidechart/hide"
)

// harmless is the class of candidates that are no flaws.
const harmless = "harmless"

//go:embed sorting.model
var sortingFile []byte

// sorter sorts candidates twice: by their looks alone, and lines and spots with their company.
// An area is found at several strengths, one within the other, so what is near it is mostly
// itself.
type sorter struct {
	Alone   *boostModel `cbor:"alone"`
	Company *boostModel `cbor:"company"`
}

// sortingModel reads the model that ships with the program once. It is written
// by `make train` from rendered scenes.
var sortingModel = sync.OnceValues(func() (sorter, error) { return loadSorter(sortingFile) })

// ReadSorting has the sorting model read on a core that is free, so that it is there when the
// first candidate is sorted.
func ReadSorting() {
	go func() { _, _ = sortingModel() }() // whoever sorts is told of a fault
}

// probabilities of the classes for each candidate, corrected.
func (s sorter) probabilities(xs [][]float64) [][]float64 {
	out := make([][]float64, len(xs))
	for _, m := range []*boostModel{s.Alone, s.Company} {
		var at []int
		var asked [][]float64
		for i, x := range xs {
			if by, part := s.asked(x); by == m {
				at, asked = append(at, i), append(asked, part)
			}
		}
		for k, p := range m.probabilitiesOf(asked) {
			if m == s.Alone {
				s.Company.correct(asked[k], p) // it has the corrections of all forms
			}
			out[at[k]] = p
		}
	}
	return out
}

// asked is the model that answers for a candidate, and what of the features it takes.
func (s sorter) asked(x []float64) (*boostModel, []float64) {
	if isArea(x) {
		return s.Alone, x[:lookCount]
	}
	return s.Company, x
}

func isArea(x []float64) bool {
	f := form(x[fForm])
	return f != lineForm && f != spotForm
}

// encode is the sorter as gzipped CBOR, the same bytes for the same models.
func (s sorter) encode() ([]byte, error) { return zipped(s) }

// loadSorter reads what encode wrote. Unreadable if it is no such file, Invalid if it contradicts
// itself or is of other features.
func loadSorter(data []byte) (sorter, error) {
	var s sorter
	if err := unpack(data, &s); err != nil {
		return s, err
	}
	if s.Alone == nil || s.Company == nil {
		return s, hide.Faultf(hide.Invalid, "sorting model: one of its two models is missing")
	}
	for m, words := range map[*boostModel][]string{s.Alone: lookWords(), s.Company: featureWords()} {
		if err := m.check(); err != nil {
			return s, err
		}
		if !slices.Equal(m.Features, words) || !slices.Equal(m.Classes, s.Alone.Classes) {
			return s, hide.Faultf(hide.Invalid, "sorting model: it is of other features or classes")
		}
	}
	return s, nil
}
