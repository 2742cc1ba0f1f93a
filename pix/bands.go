package pix

import (
	"runtime"
	"sync"
)

// bandRows is the height of a band: tall enough that starting it costs nothing,
// low enough that the cores finish together and a band's maps stay in the cache.
const bandRows = 64

// bands calls work for bands of rows that cover 0 to rows, on all cores. Which
// rows form a band does not depend on the number of cores, so neither does the
// result of work that only writes its own rows.
func bands(rows int, work func(from, to int)) {
	var wg sync.WaitGroup
	next := make(chan int)
	for range min(runtime.GOMAXPROCS(0), (rows+bandRows-1)/bandRows) {
		wg.Go(func() {
			for from := range next {
				work(from, min(from+bandRows, rows))
			}
		})
	}
	for from := 0; from < rows; from += bandRows {
		next <- from
	}
	close(next)
	wg.Wait()
}

// Rows calls work for every row from one to before another, on all cores; it must only
// write its own row's results.
func Rows(from, to int, work func(y int)) {
	bands(to-from, func(a, b int) {
		for y := from + a; y < from+b; y++ {
			work(y)
		}
	})
}
