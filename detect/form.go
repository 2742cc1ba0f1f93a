package detect

import "hidechart/hide"

// form is how a candidate was found.
type form int

const (
	lineForm form = iota
	spotForm
	patchForm
	looseForm
	thinForm
	formCount
)

// shows is true if what was found so can be a flaw of the kind. Wounds, wrinkles and
// veins are lines: an area that only covers some of one says nothing of its
// own, and its outline would take good leather with it.
func (f form) shows(k hide.Kind) bool {
	switch k {
	case hide.Scar, hide.FlayCut:
		return f == lineForm || f == spotForm || f == thinForm && k == hide.FlayCut
	case hide.Scratch:
		return f == lineForm || f == spotForm
	case hide.Wrinkle, hide.Vein:
		return f == lineForm
	case hide.Brand:
		return f == lineForm || f == patchForm
	case hide.Bites, hide.Wart:
		return f == spotForm || f == patchForm
	case hide.Stain:
		return f == patchForm || f == spotForm
	case hide.Loose:
		return f == looseForm || f == patchForm || f == lineForm
	case hide.Thin:
		return f == thinForm || f == patchForm
	}
	return false
}

// alone is true if one candidate found so can be the whole of a flaw of the kind: a line is no
// brand and no loose area by itself.
func (f form) alone(k hide.Kind) bool {
	return f.shows(k) && (f != lineForm || k != hide.Brand && k != hide.Loose)
}
