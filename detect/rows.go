package detect

import (
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"hidechart/hide"
	"hidechart/pix"
)

// rows calls f for every row, on all cores; a core that is done takes the next few, since
// some rows hold more leather than others. Rows must not touch each other's results, so
// that the number of cores changes nothing.
func rows(height int, f func(y int)) {
	few := min(max(height/128, 1), 16)
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), max(height, 1)) {
		wait.Go(func() {
			for {
				end := int(next.Add(int64(few)))
				for y := end - few; y < min(end, height); y++ {
					f(y)
				}
				if end >= height {
					return
				}
			}
		})
	}
	wait.Wait()
}

// each calls f for every index up to n, on all cores, and gives the error of the least index. As
// with rows, the number of cores changes nothing.
func each(n int, f func(i int) error) error {
	faults := make([]error, n)
	rows(n, func(i int) { faults[i] = f(i) })
	for _, err := range faults {
		if err != nil {
			return err
		}
	}
	return nil
}

// lookup maps the pixels of a fine grid to a coarse one, a row and a column each.
type lookup struct {
	column, row         []int     // nearest
	left, above         []int     // the pixel before, for interpolation
	fromLeft, fromAbove []float32 // and how far past it
	width               int
}

func newLookup(fine, coarse pix.Grid) lookup {
	l := lookup{width: coarse.Width}
	for x := range fine.Width {
		at := float64(coarse.ToRaster(fine.ToTable(pix.Point{X: hide.PX(x)})).X)
		l.column = append(l.column, nearestIndex(at, coarse.Width))
		i, f := before(at, coarse.Width)
		l.left, l.fromLeft = append(l.left, i), append(l.fromLeft, f)
	}
	for y := range fine.Height {
		at := float64(coarse.ToRaster(fine.ToTable(pix.Point{Y: hide.PX(y)})).Y)
		l.row = append(l.row, nearestIndex(at, coarse.Height))
		i, f := before(at, coarse.Height)
		l.above, l.fromAbove = append(l.above, i), append(l.fromAbove, f)
	}
	return l
}

// at is the index of the coarse pixel nearest to a fine one.
func (l lookup) at(x, y int) int { return l.row[y]*l.width + l.column[x] }

func nearestIndex(at float64, n int) int { return min(max(int(math.Round(at)), 0), n-1) }

func before(at float64, n int) (int, float32) {
	at = math.Min(math.Max(at, 0), float64(n-1)-1e-6)
	i := int(at)
	return i, float32(at - float64(i))
}
