package export

import (
	"bufio"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"hidechart/hide"
)

// WriteFile makes a file that appears under its name whole or not at all: write
// fills a hidden file beside it, which is flushed to the disk and renamed. An
// older file of that name stays untouched until then. A process killed midway
// leaves at most the hidden file, ".NAME.*.part".
//
// Errors: what write returned, wrapped, its kind kept; Internal when the
// folder or the disk refuses, with a word on what to do.
func WriteFile(path string, write func(io.Writer) error) error {
	part, err := openPart(path)
	if err != nil {
		return writeFault(path, err)
	}
	err = fill(part, write)
	if err == nil {
		err = os.Rename(part.Name(), path)
	}
	if err != nil {
		_ = os.Remove(part.Name()) // the first error matters
		return writeFault(path, err)
	}
	if err := syncFolder(filepath.Dir(path)); err != nil {
		return writeFault(path, err)
	}
	return nil
}

// openPart opens a new hidden file beside path; the mode is left to the umask,
// which os.CreateTemp would not do.
func openPart(path string) (*os.File, error) {
	var tail [6]byte
	if _, err := rand.Read(tail[:]); err != nil {
		return nil, err
	}
	name := "." + filepath.Base(path) + "." + hex.EncodeToString(tail[:]) + ".part"
	return os.OpenFile(filepath.Join(filepath.Dir(path), name), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
}

// fill writes, flushes to the disk and closes.
func fill(f *os.File, write func(io.Writer) error) error {
	b := bufio.NewWriterSize(f, 1<<16)
	err := write(b)
	if err == nil {
		err = b.Flush()
	}
	if err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close())
}

// syncFolder makes the new name itself last through a power cut. Some file
// systems know no such thing (EINVAL): then there is nothing to do.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	err = d.Sync()
	if errors.Is(err, syscall.EINVAL) || errors.Is(err, syscall.ENOTSUP) {
		err = nil
	}
	return errors.Join(err, d.Close())
}

func writeFault(path string, err error) error {
	var fault *hide.Fault
	switch {
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return hide.Wrapf(hide.Internal, err, "write %s: the disk is full, make room and run again", path)
	case errors.Is(err, fs.ErrPermission):
		return hide.Wrapf(hide.Internal, err, "write %s: the folder may not be written", path)
	case errors.As(err, &fault):
		return hide.Wrapf(fault.Kind, err, "write %s", path)
	}
	return hide.Wrapf(hide.Internal, err, "write %s", path)
}
