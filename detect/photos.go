package detect

import (
	"hidechart/hide"
	"hidechart/pix"
)

// Photos are the lights of one capture on one grid: U16, linear light (65535 is
// the sensor's white), one channel or three (BGR). The maker closes them.
type Photos struct {
	Grid   pix.Grid
	Lights map[hide.Light]*pix.Image
}

// Close frees all pictures.
func (p Photos) Close() {
	for _, im := range p.Lights {
		im.Close()
	}
}

// check says what is wrong with the pictures, naming the light.
func (p Photos) check() error {
	top, ok := p.Lights[hide.Top]
	if !ok {
		return hide.Faultf(hide.Invalid, "there is no top light: add top.jpg to the capture")
	}
	for _, l := range hide.Lights() {
		im, ok := p.Lights[l]
		if !ok {
			continue
		}
		if im.Width() != p.Grid.Width || im.Height() != p.Grid.Height || im.Depth() != pix.U16 ||
			(im.Channels() != 1 && im.Channels() != 3) || im.Channels() != top.Channels() {
			return hide.Faultf(hide.Invalid, "light %s: want 16 bits, %d channels, %d x %d px like the grid",
				l, top.Channels(), p.Grid.Width, p.Grid.Height)
		}
	}
	return nil
}
