package review

import (
	"reflect"

	"hidechart/hide"
	"hidechart/yield"
)

// live keeps the yield of one look ready; after a decision it takes
// milliseconds. A hole added or rejected changes the outline, and the hide is cut anew.
type live struct {
	look   yield.Look
	cutter *yield.Cutter
	of     hide.Polygon // outline that the cutter was made for
}

// cutting is what the page shows of the yield.
type cutting struct {
	Look      string        `json:"look"`
	Words     string        `json:"words"`
	Area      yield.Range   `json:"area_mm2"`
	Cuttable  yield.Range   `json:"cuttable_mm2"`
	Share     yield.Range   `json:"cuttable_share"`
	Band      string        `json:"band"`
	Refused   float64       `json:"refused_chance"`
	Unmet     []string      `json:"unmet"`
	LookFirst []yield.Worth `json:"look_first"` // every candidate that moves the yield, most first
	Seq       int           `json:"seq"`        // decisions in it
}

func (l *live) now(c hide.Chart) (cutting, error) {
	c.Zones = nil // not shown here
	if l.cutter == nil || !reflect.DeepEqual(l.of, c.Outline) {
		p := yield.DefaultParams()
		p.LookFirst = mostAtOnce
		cutter, err := yield.NewCutter(c, l.look, p)
		if err != nil {
			return cutting{}, err
		}
		l.cutter, l.of = cutter, c.Outline
	}
	cut, err := l.cutter.Cut(c)
	if err != nil {
		return cutting{}, err
	}
	return cutting{Look: l.look.Name, Words: l.look.Words, Area: cut.HideMM2, Cuttable: cut.CuttableMM2, Share: cut.CuttableShare,
		Band: yield.BandWord(cut.CuttableShare.Median), Refused: cut.RefusedChance, Unmet: orEmpty(cut.Unmet), LookFirst: orEmpty(cut.LookFirst)}, nil
}

func orEmpty[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}
