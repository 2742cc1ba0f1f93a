package export

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"hidechart/hide"
)

// Names of the files of a chart's folder.
const (
	ChartName  = "chart.json"
	ReviewName = "review.jsonl"
)

// mostReviewBytes bounds what is read as a record of decisions: a decision with
// its shapes takes about 2 kB, so this is a hundred thousand of them.
const mostReviewBytes = 256 << 20

// ReviewRecord is what a file of decisions holds.
type ReviewRecord struct {
	Decisions []hide.Decision
	// Good is how many bytes from the start are whole lines, Damaged what
	// follows them: the end of a line that was being written when the power went.
	Good    int64
	Damaged []byte
}

// ReadReview reads a record of decisions (JSON lines). A file that is not
// there is an empty record. A last line that is no whole decision is given as damaged.
//
// Errors: Unreadable when the file cannot be read, or with the number of a
// damaged line that is not the last: such a file was not left by a crash, and a person
// must decide what it is worth.
func ReadReview(path string) (ReviewRecord, error) {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return ReviewRecord{}, nil
	}
	if err != nil {
		return ReviewRecord{}, hide.Wrapf(hide.Unreadable, err, "review")
	}
	defer func() { _ = f.Close() }() // read only: nothing to lose
	data, err := io.ReadAll(io.LimitReader(f, mostReviewBytes+1))
	if err != nil {
		return ReviewRecord{}, hide.Wrapf(hide.Unreadable, err, "review %s", path)
	}
	if len(data) > mostReviewBytes {
		return ReviewRecord{}, hide.Faultf(hide.Unreadable, "review %s: larger than %d MiB, this is no record of decisions", path, mostReviewBytes>>20)
	}
	r, err := ParseReview(data)
	if err != nil {
		return r, fmt.Errorf("review %s: %w", path, err)
	}
	return r, nil
}

// ParseReview reads the bytes of a record; see ReadReview.
func ParseReview(data []byte) (ReviewRecord, error) {
	var r ReviewRecord
	for line := 1; len(data) > 0; line++ {
		end := bytes.IndexByte(data, '\n')
		if end < 0 {
			r.Damaged = data
			return r, nil
		}
		d, err := parseDecision(data[:end], len(r.Decisions)+1)
		if err != nil {
			if end == len(data)-1 {
				r.Damaged = data
				return r, nil
			}
			return r, hide.Wrapf(hide.Unreadable, err, "line %d is damaged and others follow: mend or move the file by hand, nothing was changed", line)
		}
		r.Decisions = append(r.Decisions, d)
		r.Good += int64(end) + 1
		data = data[end+1:]
	}
	return r, nil
}

func parseDecision(line []byte, seq int) (hide.Decision, error) {
	var d hide.Decision
	e := json.NewDecoder(bytes.NewReader(line))
	e.DisallowUnknownFields()
	if err := e.Decode(&d); err != nil {
		return d, hide.Wrapf(hide.Unreadable, err, "not a decision")
	}
	if e.More() {
		return d, hide.Faultf(hide.Unreadable, "something follows the decision")
	}
	if err := d.Check(); err != nil {
		return d, err
	}
	if d.Seq != seq {
		return d, hide.Faultf(hide.Unreadable, "decision %d stands where %d should", d.Seq, seq)
	}
	return d, nil
}

// ReadReviewed reads a chart (a chart.json or its folder) with the decisions
// of review.jsonl beside it folded over it: what every step after a review works
// on. Without a review it is the chart. Decisions that cannot count are
// flagged: review_stale, review_disputed, review_damaged.
//
// Errors: those of ReadChart and ReadReview.
func ReadReviewed(path string) (hide.Chart, error) {
	r, _, err := ReadFolded(path)
	return r.Chart, err
}

// ReadFolded is ReadReviewed with all that the fold knows, and the record.
func ReadFolded(path string) (hide.Reviewed, ReviewRecord, error) {
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		path = filepath.Join(path, ChartName)
	}
	c, sum, err := ReadChartSum(path)
	if err != nil {
		return hide.Reviewed{}, ReviewRecord{}, err
	}
	record, err := ReadReview(filepath.Join(filepath.Dir(path), ReviewName))
	if err != nil {
		return hide.Reviewed{}, record, err
	}
	r := hide.Fold(c, sum, record.Decisions, "")
	if len(record.Damaged) > 0 {
		r.Chart.Flags = append(r.Chart.Flags, hide.Flag{Code: "review_damaged",
			Text: fmt.Sprintf("the last %d bytes of the review are damaged and left out: open it with hidechart review", len(record.Damaged))})
	}
	return r, record, nil
}

// ReadChartSum is ReadChart with the SHA-256 of the file's bytes in
// hexadecimal, by which decisions name the chart.
func ReadChartSum(path string) (hide.Chart, string, error) {
	data, err := readLimited(path)
	if err != nil {
		return hide.Chart{}, "", err
	}
	c, err := ParseChart(data)
	if err != nil {
		return hide.Chart{}, "", fmt.Errorf("chart %s: %w", path, err)
	}
	sum := sha256.Sum256(data)
	return c, hex.EncodeToString(sum[:]), nil
}
