package pipeline

import (
	"log/slog"
)

// Job is one capture to chart.
type Job struct {
	Dir string // capture folder
	Rig string // rig file; empty: rig.yaml in the folder
}

// Options of a run that are not part of a chart, but for Params.
type Options struct {
	Out      string // folder for the results, made if missing
	Params   Params
	Version  string // of the program, into the chart
	Again    bool   // chart even what is done, and what was reviewed
	AtOnce   int    // captures at the same time, memory allowing; 0: two
	Progress Progress
	Log      *slog.Logger
}

// State says what became of a job.
type State string

// States: charted now, found done, failed, not reached before the run was
// stopped.
const (
	Charted State = "charted"
	Already State = "already done"
	Failed  State = "failed"
	Stopped State = "stopped"
)

// Result of one job.
type Result struct {
	Job    Job
	ID     string // empty if the capture could not be named
	State  State
	Err    error  // of Failed and Stopped
	Chart  string // path of chart.json, if charted
	Digest Digest // if charted
}

// Summary lists the results in the order of the jobs.
type Summary struct{ Results []Result }

// Failed lists the results that are no charts.
func (s Summary) Failed() []Result {
	var out []Result
	for _, r := range s.Results {
		if r.State == Failed || r.State == Stopped {
			out = append(out, r)
		}
	}
	return out
}

// Progress is told how a run goes on. Its methods are called from several
// goroutines.
type Progress interface {
	Plan(pixels int64)                           // of all photographs to be measured; called once
	Step(id, stage string)                       // a capture's stage begins
	Finished(id string, pixels int64, err error) // a capture has ended, or was found done
}
