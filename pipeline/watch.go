package pipeline

import (
	"syscall"
	"time"
)

// Cost is the time something took: on the wall's clock, and on all processors
// together, which what else the machine does hardly moves.
type Cost struct {
	Wall      time.Duration
	Processor time.Duration
}

// Seconds of both.
func (c Cost) Seconds() (wall, processor float64) { return c.Wall.Seconds(), c.Processor.Seconds() }

// Watch measures a cost from when it was started.
type Watch struct {
	start time.Time
	used  time.Duration
}

// StartWatch starts one.
func StartWatch() Watch { return Watch{time.Now(), processorTime()} }

// Read is the cost since the start; of the whole process, so nothing else should
// run in it meanwhile.
func (w Watch) Read() Cost { return Cost{time.Since(w.start), processorTime() - w.used} }

// processorTime this process has used so far (getrusage(2)); 0 where the system
// does not tell.
func processorTime() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
