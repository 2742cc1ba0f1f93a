package hide

import "fmt"

// ErrorKind says what sort of thing went wrong. Kinds are compared with
// errors.Is; one table in cmd maps a kind to the exit status, one in review to
// the HTTP status.
type ErrorKind string

// The kinds of error. A usable but doubtful result is no error: it carries
// flags.
const (
	Invalid       ErrorKind = "invalid"        // the caller's input breaks a rule
	Unreadable    ErrorKind = "unreadable"     // a file cannot be read or decoded
	NotMeasurable ErrorKind = "not measurable" // tags, frame or hide do not allow a measurement
	NotFound      ErrorKind = "not found"      // what was asked for is not there
	Conflict      ErrorKind = "conflict"       // it would undo or contradict what is there
	Internal      ErrorKind = "internal"       // a fault of the program or the machine
)

// Error makes a kind usable as the target of errors.Is.
func (k ErrorKind) Error() string { return string(k) }

// Fault is an error with its kind. Text says what is wrong and what to do.
type Fault struct {
	Kind ErrorKind
	Text string
	Err  error // cause, may be nil
}

// Error prints the text and, after a colon, the cause.
func (f *Fault) Error() string {
	if f.Err == nil {
		return f.Text
	}
	return f.Text + ": " + f.Err.Error()
}

// Unwrap gives errors.Is and errors.As the cause.
func (f *Fault) Unwrap() error { return f.Err }

// Is reports whether target is the fault's kind.
func (f *Fault) Is(target error) bool {
	k, ok := target.(ErrorKind)
	return ok && k == f.Kind
}

// Faultf makes a fault of the given kind.
func Faultf(kind ErrorKind, format string, args ...any) error {
	return &Fault{Kind: kind, Text: fmt.Sprintf(format, args...)}
}

// Wrapf makes a fault of the given kind around a cause.
func Wrapf(kind ErrorKind, cause error, format string, args ...any) error {
	return &Fault{Kind: kind, Text: fmt.Sprintf(format, args...), Err: cause}
}
