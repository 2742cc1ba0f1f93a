package review

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"syscall"
	"time"

	"hidechart/export"
	"hidechart/hide"
)

// record is the open file of decisions of one chart. Its owner keeps callers
// apart.
type record struct {
	path      string
	lock      *os.File // the chart's folder, locked
	decisions []hide.Decision
	keys      map[string]int // of a decision → its place in decisions
	good      int64          // bytes of whole lines
	setAside  string         // name of the file that a damaged end was moved to
}

// openRecord reads review.jsonl of a chart's folder and locks the folder
// against another program. A damaged last line is moved to a file of its own,
// review.jsonl.damaged-TIME, and the record ends before it. Errors: Conflict when another program
// has it open; Unreadable for damage elsewhere; Internal from the disk.
func openRecord(dir string, now time.Time) (*record, error) {
	lock, err := lockFolder(dir)
	if err != nil {
		return nil, err
	}
	r := &record{path: filepath.Join(dir, export.ReviewName), lock: lock, keys: map[string]int{}}
	if err := r.load(now); err != nil {
		return nil, errors.Join(err, r.close())
	}
	return r, nil
}

func lockFolder(dir string) (*os.File, error) {
	f, err := os.Open(dir)
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "chart folder")
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		_ = f.Close() // the first error matters
		return nil, hide.Faultf(hide.Conflict, "another program has the review in %s open: close it there first", dir)
	}
	return f, nil
}

func (r *record) load(now time.Time) error {
	have, err := export.ReadReview(r.path)
	if err != nil {
		return err
	}
	r.decisions, r.good = have.Decisions, have.Good
	for i, d := range r.decisions {
		r.keys[d.Key] = i
	}
	if len(have.Damaged) == 0 {
		return nil
	}
	aside := r.path + ".damaged-" + now.UTC().Format("20060102T150405.000000000")
	err = export.WriteFile(aside, func(w io.Writer) error {
		_, err := w.Write(have.Damaged)
		return err
	})
	if err != nil {
		return err
	}
	r.setAside = filepath.Base(aside)
	return r.cutBack()
}

// cutBack ends the file after its last whole line.
func (r *record) cutBack() error {
	f, err := os.OpenFile(r.path, os.O_WRONLY, 0)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return hide.Wrapf(hide.Internal, err, "review")
	}
	if err := errors.Join(f.Truncate(r.good), f.Sync(), f.Close()); err != nil {
		return hide.Wrapf(hide.Internal, err, "cut %s back to its last whole line", r.path)
	}
	return nil
}

// append writes a decision as the next line and returns after it is on the
// disk. The decision comes back as a reader of the file will see it. What was
// half-written when the disk was full is cut off again, so that the next one starts a
// line. Errors: Invalid for a decision that cannot be; Internal when it could not be saved.
func (r *record) append(d hide.Decision) (hide.Decision, error) {
	d.Format, d.Seq = hide.DecisionFormat, len(r.decisions)+1
	line, d, err := encodeDecision(d)
	if err != nil {
		return d, err
	}
	if err := writeLine(r.path, r.good, line); err != nil {
		return d, errors.Join(saveFault(err), r.cutBack())
	}
	if r.good == 0 {
		if err := syncFolder(filepath.Dir(r.path)); err != nil {
			return d, saveFault(err)
		}
	}
	r.good += int64(len(line))
	r.keys[d.Key] = len(r.decisions)
	r.decisions = append(r.decisions, d)
	return d, nil
}

// encodeDecision gives the line and the decision read back from it.
func encodeDecision(d hide.Decision) ([]byte, hide.Decision, error) {
	if err := d.Check(); err != nil {
		return nil, d, err
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(d); err != nil {
		return nil, d, hide.Wrapf(hide.Invalid, err, "decision")
	}
	var back hide.Decision
	if err := json.Unmarshal(b.Bytes(), &back); err != nil {
		return nil, d, hide.Wrapf(hide.Invalid, err, "decision")
	}
	return b.Bytes(), back, nil
}

// writeLine writes at the end of the whole lines, wherever the file ends.
func writeLine(path string, at int64, line []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE, 0o666)
	if err != nil {
		return err
	}
	_, err = f.WriteAt(line, at)
	if err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close())
}

func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	err = d.Sync()
	if errors.Is(err, syscall.EINVAL) || errors.Is(err, syscall.ENOTSUP) {
		err = nil // a file system that knows no such thing
	}
	return errors.Join(err, d.Close())
}

func saveFault(err error) error {
	if errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) {
		return hide.Wrapf(hide.Internal, err, "not saved, the disk is full: make room, the page will send it again")
	}
	return hide.Wrapf(hide.Internal, err, "not saved")
}

func (r *record) close() error {
	if err := r.lock.Close(); err != nil {
		return fmt.Errorf("review: %w", err)
	}
	return nil
}
