package scene

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// bands calls do for 0…n−1 on all cores. Each index writes only its own
// part of the result, so the order does not show. Cancelled, it returns the
// context's error with the rest undone.
func bands(ctx context.Context, n int, do func(i int)) error {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for ctx.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				do(i)
			}
		}()
	}
	wg.Wait()
	return ctx.Err()
}
