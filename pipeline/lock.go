package pipeline

import (
	"os"
	"syscall"

	"hidechart/hide"
)

// lockOut keeps a second run out of an output folder until the file is closed
// or the process ends, however it ends. It locks the folder itself: no lock file
// is left behind. Error: Conflict when another run holds it.
func lockOut(dir string) (*os.File, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, diskFault(err, dir)
	}
	f, err := os.Open(dir)
	if err != nil {
		return nil, diskFault(err, dir)
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		_ = f.Close() // the first error matters
		return nil, hide.Faultf(hide.Conflict, "another run is writing to %s: wait for it, or choose another folder", dir)
	}
	return f, nil
}
