package score

import (
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"strings"

	"hidechart/hide"
)

// Map is a score map beside its truth: how unlike its surroundings each pixel
// is, and whether it is a defect.
type Map struct {
	Name          string
	Width, Height int
	Score         []uint16 // row by row; larger is more suspicious
	Defect        []bool
}

// maxMapPixels bounds a score map: a 100-megapixel photograph.
const maxMapPixels = 100e6

// maskSuffixes are tried in this order behind an image's name.
func maskSuffixes() []string { return []string{".png", "_mask.png"} }

// FindMaps pairs the score maps of a folder (<name>.score.png) with the masks
// of another (<name>.png or <name>_mask.png) and returns the paths of both in
// order of name. Errors: NotFound when there is no score map, or one without its
// mask; the error names it.
func FindMaps(scores, masks string) ([][2]string, error) {
	found, err := filepath.Glob(filepath.Join(scores, "*.score.png")) // sorted
	if err != nil {
		return nil, hide.Wrapf(hide.Invalid, err, "score maps in %s", scores)
	}
	if len(found) == 0 {
		return nil, hide.Faultf(hide.NotFound, "no score maps (*.score.png) in %s", scores)
	}
	out := make([][2]string, len(found))
	for i, path := range found {
		mask, err := maskOf(strings.TrimSuffix(filepath.Base(path), ".score.png"), masks)
		if err != nil {
			return nil, err
		}
		out[i] = [2]string{path, mask}
	}
	return out, nil
}

func maskOf(name, masks string) (string, error) {
	for _, suffix := range maskSuffixes() {
		path := filepath.Join(masks, name+suffix)
		if _, err := os.Stat(path); err == nil {
			return path, nil
		}
	}
	return "", hide.Faultf(hide.NotFound, "no mask %s.png in %s", name, masks)
}

// ReadMap reads a 16-bit grey score map and its mask, where anything but black
// is a defect. Errors: NotFound, Unreadable, Invalid when the sizes differ or
// the map is not 16-bit grey.
func ReadMap(scores, mask string) (Map, error) {
	m := Map{Name: strings.TrimSuffix(filepath.Base(scores), ".score.png")}
	im, err := readPNG(scores)
	if err != nil {
		return m, err
	}
	grey, ok := im.(*image.Gray16)
	if !ok {
		return m, hide.Faultf(hide.Invalid, "%s: want a grey picture of 16 bits", scores)
	}
	m.Width, m.Height = grey.Rect.Dx(), grey.Rect.Dy()
	m.Score = make([]uint16, m.Width*m.Height)
	for i := range m.Score {
		m.Score[i] = uint16(grey.Pix[2*i])<<8 | uint16(grey.Pix[2*i+1]) // PNG is big-endian
	}
	truth, err := readPNG(mask)
	if err != nil {
		return m, err
	}
	if truth.Bounds().Size() != grey.Rect.Size() {
		return m, hide.Faultf(hide.Invalid, "%s is %v pixels, its mask %s %v", scores, grey.Rect.Size(), mask, truth.Bounds().Size())
	}
	m.Defect = notBlack(truth)
	return m, nil
}

func notBlack(im image.Image) []bool {
	b := im.Bounds()
	out := make([]bool, 0, area(b))
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			g, _ := color.Gray16Model.Convert(im.At(x, y)).(color.Gray16)
			out = append(out, g.Y > 0)
		}
	}
	return out
}

func readPNG(name string) (image.Image, error) {
	file, err := os.Open(name)
	if err != nil {
		return nil, fileFault(err, name)
	}
	defer func() { _ = file.Close() }() // only read
	head, err := png.DecodeConfig(file)
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "decode %s", name)
	}
	if float64(head.Width)*float64(head.Height) > maxMapPixels {
		return nil, hide.Faultf(hide.Invalid, "%s: %d × %d pixels are too many", name, head.Width, head.Height)
	}
	if _, err := file.Seek(0, 0); err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "read %s", name)
	}
	im, err := png.Decode(file)
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "decode %s", name)
	}
	return im, nil
}
