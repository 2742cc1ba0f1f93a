package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	_ "hidechart/pix/heap" // before main: one heap that keeps its memory
)

func main() {
	os.Exit(run(context.Background(), os.Args[1:], os.Stdout, os.Stderr))
}

// run executes the command line and returns the exit status. The first Ctrl-C
// or SIGTERM stops cleanly; a second one ends the program at once.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	ctx, stop := signal.NotifyContext(ctx, os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop) // from then on a signal has its default effect
	root := newRoot()
	root.SetArgs(args)
	root.SetOut(stdout)
	root.SetErr(stderr)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return statusDone
	}
	if told := (toldError{}); !errors.As(err, &told) {
		_, _ = fmt.Fprintln(stderr, "hidechart: "+oneLine(err))
	}
	return statusOf(err)
}
