package pipeline

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"syscall"

	"golang.org/x/sync/errgroup"

	"hidechart/hide"
)

// chartName is written last: a folder with a chart is whole.
const chartName = "chart.json"

// file is one output: its final name and what writes it.
type file struct {
	name  string
	write func(io.Writer) error
}

// partDir is where a capture's outputs are written before they get their
// names: beside the final folder, so that a rename stays on one file system.
func partDir(out, id string) string { return filepath.Join(out, "."+id+".part") }

// publish writes the files beside and renames them into out/id, the last one
// last; none is ever seen half-written under its final name. What is already
// in the folder (a review, other formats) stays. Errors: Internal, saying what
// to do, when the disk is full or refuses.
func publish(out, id string, files []file) (err error) {
	part := partDir(out, id)
	if err := os.RemoveAll(part); err != nil { // left by a run that was killed
		return diskFault(err, part)
	}
	if err := os.MkdirAll(part, 0o755); err != nil {
		return diskFault(err, part)
	}
	defer func() {
		if gone := os.RemoveAll(part); err == nil && gone != nil {
			err = diskFault(gone, part)
		}
	}()
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0)) // a picture takes one core as long as all the rest
	for _, f := range files {
		group.Go(func() error { return writeFile(filepath.Join(part, f.name), f.write) })
	}
	if err := group.Wait(); err != nil {
		return err
	}
	final := filepath.Join(out, id)
	if _, err := os.Lstat(final); errors.Is(err, os.ErrNotExist) {
		if err := os.Rename(part, final); err != nil { // the whole folder at once
			return diskFault(err, final)
		}
		return syncDir(out)
	}
	for _, f := range files {
		if err := os.Rename(filepath.Join(part, f.name), filepath.Join(final, f.name)); err != nil {
			return diskFault(err, final)
		}
	}
	return syncDir(final)
}

// writeFile writes and flushes one file.
func writeFile(path string, write func(io.Writer) error) error {
	f, err := os.Create(path)
	if err != nil {
		return diskFault(err, path)
	}
	defer func() { _ = f.Close() }() // after an early return; closing twice is harmless
	if err := write(f); err != nil {
		return writeFault(err, path)
	}
	if err := f.Sync(); err != nil {
		return diskFault(err, path)
	}
	if err := f.Close(); err != nil {
		return diskFault(err, path)
	}
	return nil
}

// writeFault tells a full disk from a fault of the exporter.
func writeFault(err error, path string) error {
	var p *os.PathError
	if errors.As(err, &p) || errors.Is(err, syscall.ENOSPC) {
		return diskFault(err, path)
	}
	return hide.Wrapf(kindOf(err, hide.Internal), err, "cannot write %s", filepath.Base(path))
}

func diskFault(err error, path string) error {
	if errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) {
		return hide.Faultf(hide.Internal, "the disk is full at %s: make room and run again, nothing half-written was kept", filepath.Dir(path))
	}
	return hide.Wrapf(hide.Internal, cause(err), "cannot write %s", path)
}

// syncDir makes a rename last through a power cut. File systems that cannot do
// it for a folder say EINVAL; then there is nothing to be done.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return diskFault(err, dir)
	}
	defer func() { _ = d.Close() }() // read only
	if err := d.Sync(); err != nil && !errors.Is(err, syscall.EINVAL) {
		return diskFault(err, dir)
	}
	return nil
}
