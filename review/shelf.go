package review

import (
	"cmp"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"hidechart/export"
	"hidechart/hide"
)

// mostCharts in one folder are listed: a year of a small tannery.
const mostCharts = 5000

// shelf is the folder of charts.
type shelf struct {
	dir string
	now func() time.Time

	mu       sync.Mutex
	sessions map[string]*session
}

// newShelf opens a folder of charts, or of one chart. Error: Unreadable.
func newShelf(dir string, now func() time.Time) (*shelf, error) {
	abs, err := filepath.Abs(dir)
	if err == nil {
		abs, err = filepath.EvalSymlinks(abs)
	}
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "charts")
	}
	if info, err := os.Stat(abs); err != nil || !info.IsDir() {
		return nil, hide.Faultf(hide.Unreadable, "%s is no folder", dir)
	}
	if plainFile(filepath.Join(abs, export.ChartName)) {
		abs = filepath.Dir(abs)
	}
	return &shelf{dir: abs, now: now, sessions: map[string]*session{}}, nil
}

// names lists the folders that hold a chart, sorted. Links are not followed:
// nothing outside the folder is served.
func (s *shelf) names() ([]string, error) {
	entries, err := os.ReadDir(s.dir)
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "charts")
	}
	var out []string
	for _, e := range entries {
		if e.IsDir() && !strings.HasPrefix(e.Name(), ".") && plainFile(filepath.Join(s.dir, e.Name(), export.ChartName)) {
			out = append(out, e.Name())
		}
	}
	slices.SortFunc(out, cmp.Compare[string])
	return out[:min(len(out), mostCharts)], nil
}

// plainFile tells whether a path is a file and not a link to one.
func plainFile(path string) bool {
	info, err := os.Lstat(path)
	return err == nil && info.Mode().IsRegular()
}

// open gives the session of a name, which must be one that names would list. Error:
// NotFound.
func (s *shelf) open(name string) (*session, error) {
	if name == "" || name != filepath.Base(name) || strings.HasPrefix(name, ".") || strings.ContainsAny(name, "/\\\x00") {
		return nil, hide.Faultf(hide.NotFound, "there is no such chart")
	}
	dir := filepath.Join(s.dir, name)
	info, err := os.Lstat(dir)
	if err != nil || !info.IsDir() || !plainFile(filepath.Join(dir, export.ChartName)) {
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, hide.Faultf(hide.NotFound, "the chart cannot be read")
		}
		return nil, hide.Faultf(hide.NotFound, "there is no such chart")
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	x := s.sessions[name]
	if x == nil {
		x = &session{name: name, dir: dir, now: s.now}
		s.sessions[name] = x
	}
	return x, nil
}

// close lets go of every record.
func (s *shelf) close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	var all error
	for _, x := range s.sessions {
		x.mu.Lock()
		if x.record != nil && x.record.lock != nil {
			all = errors.Join(all, x.record.close())
			x.record, x.passes = nil, nil
		}
		x.mu.Unlock()
	}
	return all
}
