package main

import (
	"log/slog"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"hidechart/detect"
	"hidechart/export"
	"hidechart/hide"
	"hidechart/pix"
	"hidechart/score"
)

// swatchScore says which score maps to judge, and by what.
type swatchScore struct {
	dir   string // holds images/ and masks/
	maps  string // existing <name>.score.png; empty: made from dir/images
	masks string // empty: dir/masks
	own   detect.OwnParams
}

func (s *swatchScore) addFlags(c *cobra.Command) {
	f := c.Flags()
	s.own = detect.DefaultOwnParams()
	f.StringVar(&s.dir, "swatches", "", "judge score maps of close-ups: a folder with images/ and masks/ of the same names, instead of CHART TRUTH")
	f.StringVar(&s.maps, "maps", "", "with --swatches: judge the <name>.score.png of this folder instead of making them from images/")
	f.StringVar(&s.masks, "masks", "", "with --swatches: where the masks are, if not in masks/")
	f.Float64Var(&s.own.Colour, "swatch-colour", s.own.Colour, "with --swatches: weight of colour")
	f.Float64Var(&s.own.Texture, "swatch-texture", s.own.Texture, "weight of oriented grain")
	f.Float64Var(&s.own.Rough, "swatch-rough", s.own.Rough, "weight of roughness")
	f.Float64Var(&s.own.Curve, "swatch-curve", s.own.Curve, "weight of curvature")
	f.IntVar(&s.own.Zones, "swatch-zones", s.own.Zones, "zones along the long side")
	f.IntVar(&s.own.CoarsestPX, "swatch-coarsest", s.own.CoarsestPX, "long side of the coarsest level, pixels")
	f.IntVar(&s.own.FinestPX, "swatch-finest", s.own.FinestPX, "long side of the finest level, pixels")
	f.IntVar(&s.own.LargestPX, "swatch-largest", s.own.LargestPX, "long side of the finest level of a large photograph, pixels")
	f.IntVar(&s.own.Border, "swatch-border", s.own.Border, "pixels along the border put back to the picture's own")
	f.BoolVar(&s.own.Detrend, "swatch-detrend", s.own.Detrend, "take the light's fall-off off first")
	f.Float64Var(&s.own.Background, "swatch-background", s.own.Background, "width of the background, share of the long side")
	f.Float64Var(&s.own.Smooth, "swatch-smooth", s.own.Smooth, "deviation of the last blur, pixels of the map")
	for _, name := range []string{"smooth", "colour", "texture", "rough", "curve", "zones", "coarsest", "finest", "largest", "border", "detrend", "background"} {
		if err := f.MarkHidden("swatch-" + name); err != nil { // for trying a method's parts, as make swatches does
			panic(err) // defined above
		}
	}
}

// judge reads or makes the score maps and compares them with the masks.
func (s swatchScore) judge(c *cobra.Command) (score.SwatchResult, error) {
	masks := s.masks
	if masks == "" {
		masks = filepath.Join(s.dir, "masks")
	}
	if s.maps != "" {
		return score.Swatches(s.maps, masks)
	}
	if err := s.own.Validate(); err != nil {
		return score.SwatchResult{}, usageError{err}
	}
	images, err := score.FindImages(filepath.Join(s.dir, "images"), masks)
	if err != nil {
		return score.SwatchResult{}, err
	}
	return score.CompareEach(len(images), func(i int) (score.Map, error) {
		if images[i].Mask == "" {
			slog.Warn("no mask: the image counts as sound", "image", images[i].Image)
		}
		return s.one(c, images[i])
	})
}

// one makes the score map of an image, coded as its file would be.
func (s swatchScore) one(c *cobra.Command, image score.SwatchImage) (score.Map, error) {
	data, err := os.ReadFile(image.Image)
	if err != nil {
		return score.Map{}, hide.Wrapf(hide.Unreadable, err, "read the image")
	}
	im, err := pix.Decode(data, pix.DefaultLimits())
	if err != nil {
		return score.Map{}, hide.Wrapf(hide.KindOf(err), err, "%s", image.Image)
	}
	defer im.Close()
	m, err := detect.ScoreMap(c.Context(), im, nil, s.own)
	if err != nil {
		return score.Map{}, hide.Wrapf(hide.KindOf(err), err, "%s", image.Image)
	}
	full, err := m.Full(im.Width(), im.Height())
	if err != nil {
		return score.Map{}, err
	}
	coded := make([]uint16, len(full))
	for k, v := range full {
		coded[k] = export.ScoreLevel(v)
	}
	return image.WithMask(im.Width(), im.Height(), coded)
}
