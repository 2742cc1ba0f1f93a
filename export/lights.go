package export

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"

	"hidechart/hide"
	"hidechart/pix"
)

// LightsName is the file that says which pictures of the hide lie beside the
// chart and where on the table they are.
const LightsName = "lights.json"

// LightsFormat names the version of that file.
const LightsFormat = "hidechart lights 1"

// Lights are the photographs as brought to the table, one picture for each light,
// all on one raster.
type Lights struct {
	Format   string         `json:"format"`
	Hide     string         `json:"hide"`
	Left     hide.MM        `json:"left_mm"` // table position of the pictures' upper left corner
	Top      hide.MM        `json:"top_mm"`
	MMPerPX  hide.MM        `json:"mm_per_px"`
	Width    int            `json:"width_px"`
	Height   int            `json:"height_px"`
	Pictures []LightPicture `json:"pictures"` // in the order of hide.Lights
}

// LightPicture is one picture: a JPEG in sRGB.
type LightPicture struct {
	Light  hide.Light `json:"light"`
	File   string     `json:"file"` // in the chart's folder
	SHA256 string     `json:"sha256"`
}

// Grid ties the pictures to the table.
func (l Lights) Grid() pix.Grid {
	return pix.Grid{Left: l.Left, Top: l.Top, MMPerPX: l.MMPerPX, Width: l.Width, Height: l.Height}
}

// Find returns the picture of a light.
func (l Lights) Find(light hide.Light) (LightPicture, bool) {
	i := slices.IndexFunc(l.Pictures, func(p LightPicture) bool { return p.Light == light })
	if i < 0 {
		return LightPicture{}, false
	}
	return l.Pictures[i], true
}

// LightFile is the name of a light's picture in the chart's folder.
func LightFile(l hide.Light) string { return "light-" + string(l) + ".jpg" }

// mostLightsBytes bounds lights.json: seven lights take 2 kB.
const mostLightsBytes = 1 << 16

var hexSum = regexp.MustCompile(`^[0-9a-f]{64}$`)

// Check names what cannot be. Error: Invalid.
func (l Lights) Check() error {
	switch {
	case l.Format != LightsFormat:
		return hide.Faultf(hide.Invalid, "%s: format %q, want %q", LightsName, l.Format, LightsFormat)
	case !(l.MMPerPX > 0) || l.Width < 1 || l.Height < 1 || int64(l.Width)*int64(l.Height) > pix.DefaultLimits().MaxPixels:
		return hide.Faultf(hide.Invalid, "%s: %d × %d pixels of %g mm", LightsName, l.Width, l.Height, l.MMPerPX)
	}
	for _, p := range l.Pictures {
		if !slices.Contains(hide.Lights(), p.Light) || p.File != LightFile(p.Light) || !hexSum.MatchString(p.SHA256) {
			return hide.Faultf(hide.Invalid, "%s: picture %q of light %q: want %s and a SHA-256", LightsName, p.File, p.Light, LightFile(p.Light))
		}
	}
	return nil
}

// WriteLights writes the file's content.
func WriteLights(w io.Writer, l Lights) error {
	if err := l.Check(); err != nil {
		return err
	}
	data, err := encodeJSON(l)
	if err != nil {
		return hide.Wrapf(hide.Internal, err, "lights as JSON")
	}
	_, err = w.Write(data)
	return err
}

// ReadLights reads lights.json of a chart's folder; the pictures are not
// opened. Errors: NotFound when there is none (a chart made before pictures were
// kept: chart again); Unreadable; Invalid.
func ReadLights(dir string) (Lights, error) {
	var l Lights
	f, err := os.Open(filepath.Join(dir, LightsName))
	if os.IsNotExist(err) {
		return l, hide.Faultf(hide.NotFound, "there are no pictures beside the chart in %s: chart the capture again", dir)
	}
	if err != nil {
		return l, hide.Wrapf(hide.Unreadable, err, "lights")
	}
	defer func() { _ = f.Close() }() // read only: nothing to lose
	e := json.NewDecoder(io.LimitReader(f, mostLightsBytes))
	e.DisallowUnknownFields()
	if err := e.Decode(&l); err != nil {
		return l, hide.Wrapf(hide.Invalid, err, "%s", LightsName)
	}
	if err := l.Check(); err != nil {
		return l, fmt.Errorf("%s: %w", dir, err)
	}
	return l, nil
}

// OpenPhoto decodes the picture under top light beside a chart, for the picture
// for the cutter. The caller closes the image. Without pictures the photo is empty and no
// error is given. Errors: Unreadable, Invalid.
func OpenPhoto(dir string) (Photo, error) {
	l, err := ReadLights(dir)
	if errors.Is(err, hide.NotFound) {
		return Photo{}, nil
	}
	if err != nil {
		return Photo{}, err
	}
	out := Photo{Grid: l.Grid(), Lights: l}
	top, ok := l.Find(hide.Top)
	if !ok {
		return out, nil
	}
	data, err := os.ReadFile(filepath.Join(dir, top.File))
	if err != nil {
		return out, hide.Wrapf(hide.Unreadable, err, "picture")
	}
	im, err := pix.Decode(data, pix.DefaultLimits())
	if err != nil {
		return out, hide.Wrapf(hide.Unreadable, err, "%s", top.File)
	}
	defer im.Close()
	if im.Width() != l.Width || im.Height() != l.Height {
		return out, hide.Faultf(hide.Invalid, "%s is %d × %d pixels, %s says %d × %d", top.File, im.Width(), im.Height(), LightsName, l.Width, l.Height)
	}
	out.Image, err = pix.Colour(im)
	return out, err
}
