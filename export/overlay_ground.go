package export

import (
	"image"
	"math"
	"sync"

	"hidechart/hide"
	"hidechart/pix"
)

// The ground is toned so that every leather, black to white, lies in the same
// light range, where black lines, white halos and the palette all stand out, and
// keeps half its contrast for finding one's way.
const (
	groundMean = 188.0 // grey of the leather's mean
	groundDev  = 17.0  // grey of its standard deviation
	groundLow  = 120.0
	groundHigh = 244.0
	groundHue  = 0.35 // of its colour stays
	tableShare = 0.22 // of the table's contrast stays outside the hide
)

// ground draws the toned photograph, or plain ground without one, on the map.
//
// Error: Invalid for a photograph that is not U8 BGR on its grid.
func (p *overlayPlan) ground(b brush, photo Photo) error {
	if photo.Image == nil {
		b.fill(sheer(white, 1), p.mapAt.corners())
		plain := white
		plain.R, plain.G, plain.B = groundMean+20, groundMean+20, groundMean+20
		b.fill(plain, p.outlineRings()...)
		return nil
	}
	im := photo.Image
	if im.Depth() != pix.U8 || im.Channels() != 3 || im.Width() != photo.Grid.Width || im.Height() != photo.Grid.Height {
		return hide.Faultf(hide.Invalid, "overlay: the photograph is not U8 BGR of the size of its grid")
	}
	var inside *image.Alpha
	var part image.Rectangle
	var masking sync.WaitGroup
	masking.Go(func() { inside, part = b.mask(p.outlineRings()) })
	shown, at, err := p.photoPart(photo)
	masking.Wait()
	if err != nil || shown == nil {
		return err
	}
	defer shown.Close()
	p.tone(b.im, shown, at, inside, part)
	return nil
}

func (p *overlayPlan) outlineRings() [][]spot {
	rings := [][]spot{p.ring(p.chart.Outline.Outer)}
	for _, h := range p.chart.Outline.Holes {
		rings = append(rings, p.ring(h))
	}
	return rings
}

// photoPart scales what the photograph has of the map; at is where it lies in the
// picture. nil: nothing of it.
func (p *overlayPlan) photoPart(photo Photo) (*pix.Image, image.Rectangle, error) {
	mm := float64(photo.Grid.MMPerPX)
	corner := photo.Grid.ToRaster(hide.Point{X: p.grid.Left, Y: p.grid.Top})
	x0, y0 := float64(corner.X)+0.5, float64(corner.Y)+0.5
	span := float64(p.grid.MMPerPX) / mm // photo pixels a map pixel
	src := image.Rect(int(math.Floor(x0)), int(math.Floor(y0)), int(math.Ceil(x0+span*float64(p.grid.Width))),
		int(math.Ceil(y0+span*float64(p.grid.Height)))).Intersect(photo.Image.Bounds())
	if src.Empty() {
		return nil, image.Rectangle{}, nil
	}
	crop, err := photo.Image.Crop(src)
	if err != nil {
		return nil, image.Rectangle{}, err
	}
	defer crop.Close()
	// whole pixels of the map: the photograph moves by less than half of one
	toMap := func(v, origin, shift float64) int { return int(math.Round((v-origin)/span + shift)) }
	at := image.Rect(toMap(float64(src.Min.X), x0, p.mapAt.x0), toMap(float64(src.Min.Y), y0, p.mapAt.y0),
		toMap(float64(src.Max.X), x0, p.mapAt.x0), toMap(float64(src.Max.Y), y0, p.mapAt.y0))
	if at.Empty() {
		return nil, at, nil
	}
	out, err := pix.Resize(crop, at.Dx(), at.Dy())
	return out, at, err
}

// tone writes the photograph, toned by its own mean and spread inside the hide.
func (p *overlayPlan) tone(dst *image.RGBA, photo *pix.Image, at image.Rectangle, inside *image.Alpha, part image.Rectangle) {
	data := photo.Bytes()
	cover := func(x, y int) float64 {
		if inside == nil || !(image.Point{X: x, Y: y}).In(part) {
			return 0
		}
		return float64(inside.AlphaAt(x-part.Min.X, y-part.Min.Y).A) / 255
	}
	mean, gain := leatherTone(data, at, cover)
	clip := at.Intersect(image.Rect(int(p.mapAt.x0), int(p.mapAt.y0), int(p.mapAt.x1), int(p.mapAt.y1))).Intersect(dst.Bounds())
	pix.Rows(clip.Min.Y, clip.Max.Y, func(y int) {
		for x := clip.Min.X; x < clip.Max.X; x++ {
			i := 3 * ((y-at.Min.Y)*at.Dx() + x - at.Min.X)
			grey := luma(data[i:])
			light := min(max(groundMean+gain*(grey-mean), groundLow), groundHigh)
			share := cover(x, y)
			o := dst.PixOffset(x, y)
			for c := range 3 {
				v := light + groundHue*(float64(data[i+2-c])-grey)
				v = share*v + (1-share)*(255-tableShare*(255-grey))
				dst.Pix[o+c] = uint8(min(max(v, 0), 255))
			}
		}
	})
}

// luma weighs BGR as ITU-R BT.709 does.
func luma(bgr []uint8) float64 {
	return 0.0722*float64(bgr[0]) + 0.7152*float64(bgr[1]) + 0.2126*float64(bgr[2])
}

// leatherTone is the mean grey inside the hide and the gain that brings its
// spread to groundDev; every fourth pixel tells enough.
func leatherTone(data []uint8, at image.Rectangle, cover func(x, y int) float64) (mean, gain float64) {
	var n, sum, squares float64
	for y := at.Min.Y; y < at.Max.Y; y += 4 {
		for x := at.Min.X; x < at.Max.X; x += 4 {
			if cover(x, y) > 0.5 {
				g := luma(data[3*((y-at.Min.Y)*at.Dx()+x-at.Min.X):])
				n, sum, squares = n+1, sum+g, squares+g*g
			}
		}
	}
	if n == 0 {
		return 128, 0.5
	}
	mean = sum / n
	dev := math.Sqrt(max(squares/n-mean*mean, 0))
	return mean, min(groundDev/max(dev, 1), 2.5) // more gain would only show noise
}
