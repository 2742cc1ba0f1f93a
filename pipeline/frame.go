package pipeline

import (
	"fmt"

	"hidechart/hide"
	"hidechart/plane"
)

// layFrame finds the backbone from the outline, or takes the one stated in
// capture.yaml.
func (m *measured) layFrame() (plane.HideFrame, error) {
	note := m.in.capture.Note
	f, err := plane.FindFrame(m.outline.Polygon)
	if err != nil {
		return f, err
	}
	if note.Side != nil && *note.Side != f.Side && note.Backbone == nil {
		m.addFlags(hide.Flag{Code: "side_contradicted",
			Text: fmt.Sprintf("the outline looks like %s, capture.yaml says %s: state backbone_mm too", halfWord(f.Side), halfWord(*note.Side))})
	}
	if note.Backbone != nil {
		side := f.Side
		if note.Side != nil {
			side = *note.Side
		}
		if f, err = plane.FrameFrom(*note.Backbone, side, m.outline.Polygon); err != nil {
			return f, hide.Wrapf(kindOf(err, hide.Invalid), err, noteName)
		}
	}
	if f.Sure < plane.SureEnough {
		m.addFlags(hide.Flag{Code: "head_uncertain",
			Text: fmt.Sprintf("backbone and head end are %.0f %% sure: check the mark on the picture, or state backbone_mm in capture.yaml", 100*f.Sure)})
	}
	m.frame = f
	return f, nil
}

func halfWord(side bool) string {
	if side {
		return "a side"
	}
	return "a whole hide"
}
