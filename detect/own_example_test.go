package detect_test

import (
	"context"
	"fmt"
	"math/rand/v2"

	"hidechart/detect"
	"hidechart/pix"
)

// A close-up of even grain with a dark spot of 5 mm in its middle.
func ExampleScoreMap() {
	const side, mmPerPX = 200, .25
	im := pix.New(side, side, pix.U8, 1)
	defer im.Close()
	r := rand.New(rand.NewPCG(1, 2))
	for i := range im.Bytes() {
		x, y := i%side-100, i/side-100
		im.Bytes()[i] = uint8(120 + r.IntN(23))
		if x*x+y*y < 100 {
			im.Bytes()[i] -= 60
		}
	}
	m, err := detect.ScoreMap(context.Background(), im, nil, detect.DefaultOwnParams())
	if err != nil {
		fmt.Println(err)
		return
	}
	flaws, err := m.Flaws(side, side, mmPerPX, detect.DefaultFlawParams())
	if err != nil {
		fmt.Println(err)
		return
	}
	first := flaws[0]
	fmt.Printf("%.0f mm long, likely: %v\n", float64(first.Length), first.Probability() > .5)
	// Output: 5 mm long, likely: true
}
