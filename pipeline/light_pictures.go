package pipeline

import (
	"context"
	"io"

	"hidechart/detect"
	"hidechart/export"
	"hidechart/hide"
	"hidechart/pix"
)

// lightQuality of the JPEG pictures kept for a review. 92: the error stays
// below the photographs' own noise, a 30 megapixel light takes about 10 MB.
const lightQuality = 92

// lightPictures are the lights as they lie on the table, coded for the eye, for
// whoever reviews the chart.
type lightPictures struct {
	lights export.Lights
	jpegs  [][]byte
}

// encodeLights codes every light of the fine raster, one after the other: two at
// once would need the memory of two.
func encodeLights(ctx context.Context, id string, fine detect.Photos) (lightPictures, error) {
	g := fine.Grid
	out := lightPictures{lights: export.Lights{Format: export.LightsFormat, Hide: id,
		Left: g.Left, Top: g.Top, MMPerPX: g.MMPerPX, Width: g.Width, Height: g.Height}}
	for _, l := range hide.Lights() {
		im, ok := fine.Lights[l]
		if !ok || im == nil {
			continue
		}
		if err := ctx.Err(); err != nil {
			return out, err
		}
		data, err := eyeJPEG(im)
		if err != nil {
			return out, hide.Wrapf(kindOf(err, hide.Internal), err, "picture of light %s", l)
		}
		out.jpegs = append(out.jpegs, data)
		out.lights.Pictures = append(out.lights.Pictures, export.LightPicture{Light: l, File: export.LightFile(l), SHA256: hashBytes(data)})
	}
	return out, nil
}

func eyeJPEG(linear *pix.Image) ([]byte, error) {
	im, err := pix.EightBit(linear)
	if err != nil {
		return nil, err
	}
	defer im.Close()
	return pix.EncodeJPEG(im, lightQuality)
}

// files to publish with the chart.
func (p lightPictures) files() []file {
	out := []file{{export.LightsName, func(w io.Writer) error { return export.WriteLights(w, p.lights) }}}
	for i, data := range p.jpegs {
		out = append(out, file{p.lights.Pictures[i].File, func(w io.Writer) error {
			_, err := w.Write(data)
			return err
		}})
	}
	return out
}
