package calibrate

import (
	"math/rand/v2"
	"sync"
	"testing"

	"hidechart/pix"
)

// Many small pictures at once, more than there are cores: with a pool of two threads in
// libapriltag 3.3.0 this ended the program in half a second (see detect_36h11).
func TestDetectTagsOnABusyMachine(t *testing.T) {
	var wg sync.WaitGroup
	for k := range 4 {
		wg.Go(func() {
			im := pix.New(64+8*k, 64, pix.U8, 1)
			defer im.Close()
			r, b := rand.New(rand.NewPCG(uint64(k), 1)), im.Bytes()
			for i := range b {
				x, y := i%im.Width(), i/im.Width()
				b[i] = uint8(40 + 160*((x/12+y/12)%2) + r.IntN(30)) // a chequerboard: many quadrilaterals
			}
			for range 500 {
				if found, err := detectTags(im); err != nil || len(found) > 0 {
					t.Errorf("found %d tags, %v", len(found), err)
				}
			}
		})
	}
	wg.Wait()
}
