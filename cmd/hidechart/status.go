package main

import (
	"context"
	"errors"
	"strings"

	"hidechart/hide"
)

// Exit statuses.
const (
	statusDone          = 0
	statusOther         = 1 // anything else: the disk, the machine, a fault of ours, stopped by the user
	statusUsage         = 2 // the command line or a setting is wrong
	statusBadInput      = 3 // a file is not what it should be
	statusNotMeasurable = 4 // tags, frame or hide do not allow a measurement
)

// statusTable maps every kind of error to its exit status.
func statusTable() map[hide.ErrorKind]int {
	return map[hide.ErrorKind]int{
		hide.Invalid:       statusBadInput,
		hide.Unreadable:    statusBadInput,
		hide.NotFound:      statusBadInput,
		hide.Conflict:      statusBadInput,
		hide.NotMeasurable: statusNotMeasurable,
		hide.Internal:      statusOther,
	}
}

// usageError is a wrong command line or setting.
type usageError struct{ err error }

func (e usageError) Error() string { return e.err.Error() }
func (e usageError) Unwrap() error { return e.err }

// toldError carries an exit status when everything was said already.
type toldError struct{ status int }

func (toldError) Error() string { return "see the list of failures" }

// statusOf gives the exit status of an error. An error of no kind comes from
// the command-line library and is about usage, unless a run was stopped.
func statusOf(err error) int {
	var told toldError
	var usage usageError
	var fault *hide.Fault
	switch {
	case err == nil:
		return statusDone
	case errors.As(err, &told):
		return told.status
	case errors.As(err, &usage):
		return statusUsage
	case errors.As(err, &fault):
		return statusTable()[fault.Kind]
	case errors.Is(err, context.Canceled):
		return statusOther
	default:
		return statusUsage
	}
}

// worst picks the exit status of a batch: anything else (1) before bad input
// (3) before not measurable (4). What the machine could not do may succeed when
// run again, so it is told first; a bad file must be replaced before a capture
// is worth photographing again.
func worst(statuses []int) int {
	for _, s := range []int{statusOther, statusUsage, statusBadInput, statusNotMeasurable} {
		for _, have := range statuses {
			if have == s {
				return s
			}
		}
	}
	return statusDone
}

// oneLine is an error's text without line breaks.
func oneLine(err error) string { return strings.Join(strings.Fields(err.Error()), " ") }
