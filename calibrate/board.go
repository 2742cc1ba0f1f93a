package calibrate

import (
	"math"

	"hidechart/hide"
	"hidechart/pix"
)

// Board is a flat chessboard to calibrate a lens with.
type Board struct {
	Columns, Rows int     // inner corners, where four squares meet
	Square        hide.MM // side of a square
}

// Validate lists what is wrong with the board.
func (b Board) Validate() error {
	if b.Columns < 3 || b.Rows < 3 {
		return hide.Faultf(hide.Invalid, "board: %d x %d inner corners, want at least 3 x 3", b.Columns, b.Rows)
	}
	if !(b.Square > 0) {
		return hide.Faultf(hide.Invalid, "board: squares of %g mm", float64(b.Square))
	}
	return nil
}

// places are the corners on the board, row by row, from the first one.
func (b Board) places() []hide.Point {
	out := make([]hide.Point, 0, b.Columns*b.Rows)
	for r := range b.Rows {
		for c := range b.Columns {
			out = append(out, hide.Point{X: hide.MM(c) * b.Square, Y: hide.MM(r) * b.Square})
		}
	}
	return out
}

// Measures of the corner search.
const (
	// Boards are looked for in a copy no wider than this: OpenCV's search slows
	// with the pixels and finds no more in them.
	boardSearchPX = 1600
	// The refinement's window, as a share of the distance to the nearest
	// parallel grid line: the larger the less noise, until it takes in that
	// line's edges. On the thirteen photographs of testdata/lens the fit's
	// residuals are least here: 0.180 px at 0.25, 0.177 at 0.30, 0.176 at 0.35,
	// 0.188 at 0.40, 0.245 at 0.45; a fixed window of 11 px, as in much sample
	// code, puts single corners up to 4.8 px wrong there.
	windowShare = 0.35
	// Beyond 11 px more of an edge adds little: the refinement weighs with a
	// Gaussian and edges bend with the lens.
	windowMost = 11
	// Below 2 px a window holds too few gradients (residuals double).
	windowLeast = 2
)

// FindBoard finds the board's inner corners in a photograph, grey, U8, to
// about 0.1 px in a sharp one: pixel centres at integers, row by row.
//
// Error: NotMeasurable when the whole board is not seen; Invalid for a board or
// picture of the wrong kind.
func FindBoard(grey *pix.Image, b Board) ([]pix.Point, error) {
	if err := b.Validate(); err != nil {
		return nil, err
	}
	rough, found, err := roughCorners(grey, b)
	if err != nil {
		return nil, err
	}
	if !found {
		return nil, hide.Faultf(hide.NotMeasurable, "no board of %d x %d inner corners seen whole", b.Columns, b.Rows)
	}
	return pix.RefineSaddles(grey, rough, b.windows(rough))
}

func roughCorners(grey *pix.Image, b Board) ([]pix.Point, bool, error) {
	shrink := float64(max(grey.Width(), grey.Height())) / boardSearchPX
	if shrink <= 1 {
		return pix.Chessboard(grey, b.Columns, b.Rows)
	}
	w, h := int(float64(grey.Width())/shrink), int(float64(grey.Height())/shrink)
	small, err := pix.Resize(grey, w, h)
	if err != nil {
		return nil, false, err
	}
	defer small.Close()
	corners, found, err := pix.Chessboard(small, b.Columns, b.Rows)
	if err != nil || !found {
		return nil, false, err
	}
	if corners, err = pix.RefineSaddles(small, corners, b.windows(corners)); err != nil {
		return nil, false, err
	}
	sx, sy := float64(grey.Width())/float64(w), float64(grey.Height())/float64(h)
	for i, c := range corners { // the outer edges of both pictures agree, not their first pixels' centres
		corners[i] = pix.Point{X: hide.PX((float64(c.X)+0.5)*sx - 0.5), Y: hide.PX((float64(c.Y)+0.5)*sy - 0.5)}
	}
	return corners, true, nil
}

// windows is the half width of the refinement's window at each corner.
func (b Board) windows(corners []pix.Point) []int {
	out := make([]int, len(corners))
	for i := range corners {
		c, r := i%b.Columns, i/b.Columns
		least := math.Inf(1)
		for _, dc := range []int{-1, 1} {
			for _, dr := range []int{-1, 1} {
				if c+dc < 0 || c+dc >= b.Columns || r+dr < 0 || r+dr >= b.Rows {
					continue
				}
				least = math.Min(least, lineDistance(corners[i], corners[i+dc], corners[i+dr*b.Columns]))
			}
		}
		out[i] = min(max(int(windowShare*least), windowLeast), windowMost)
	}
	return out
}

// lineDistance is how far the corner's next parallel grid lines are: the height
// of the parallelogram spanned by its two neighbours over its longer side.
func lineDistance(at, along, across pix.Point) float64 {
	ax, ay := float64(along.X-at.X), float64(along.Y-at.Y)
	bx, by := float64(across.X-at.X), float64(across.Y-at.Y)
	longer := math.Max(math.Hypot(ax, ay), math.Hypot(bx, by))
	if longer == 0 {
		return 0
	}
	return math.Abs(ax*by-ay*bx) / longer
}
