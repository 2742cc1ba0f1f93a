package hide

import "errors"

// KindOf is the kind of the outermost fault in an error's chain; Internal for
// an error without one.
func KindOf(err error) ErrorKind {
	var f *Fault
	if errors.As(err, &f) {
		return f.Kind
	}
	return Internal
}
