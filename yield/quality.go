package yield

import (
	"hidechart/hide"
	"hidechart/plane"
)

// QualityZone is the leather of one quality, by the looks that it passes.
type QualityZone struct {
	Name  string // the project's own word, or the look's name
	Words string
	Shape hide.Shape
}

// Qualities parts a hide by looks, the strictest first: what the first leaves, what
// the second leaves besides, and so on. Each look takes candidates at least as likely
// as not as real. The words for the looks that ship are ours: "clean" for classic,
// "lively" for what only rustic leaves; others bear their look's name. Errors: those
// of Cuttable.
func Qualities(chart hide.Chart, looks []Look, p Params) ([]QualityZone, error) {
	var out []QualityZone
	var before hide.Shape
	for _, l := range looks {
		cut, err := Cuttable(chart, l, p)
		if err != nil {
			return nil, err
		}
		rest := cut.Region
		if len(before) > 0 {
			if rest, err = plane.Difference(cut.Region, before); err != nil {
				return nil, err
			}
			before, err = plane.Union(before, cut.Region)
		} else {
			before = cut.Region
		}
		if err != nil {
			return nil, err
		}
		q := QualityZone{Name: l.Name, Words: l.Words, Shape: rest}
		switch l.Name {
		case "classic":
			q.Name = "clean"
		case "rustic":
			q.Name = "lively"
		}
		out = append(out, q)
	}
	return out, nil
}
