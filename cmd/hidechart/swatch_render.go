package main

import (
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"hidechart/export"
	"hidechart/hide"
	"hidechart/scene"
)

// swatchQuality of the JPEG: that of a good camera.
const swatchQuality = 95

func newSwatchRender() *cobra.Command {
	var spec scene.SwatchSpec
	var count int
	c := &cobra.Command{
		Use:   "render OUT",
		Short: "Render close-ups of invented leather with flaws, and their masks",
		Long: `Renders close-ups of invented leather into OUT/images and, under the same names,
masks of their flaws into OUT/masks. The same seeds give the same bytes.`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if count < 1 || count > 100000 {
				return usagef("--count %d: want 1 or more", count)
			}
			if err := spec.Validate(); err != nil {
				return usageError{err}
			}
			for i := range count {
				one := spec
				one.Seed += int64(i)
				if err := renderSwatch(c, one, args[0]); err != nil {
					return err
				}
			}
			return nil
		},
	}
	f := c.Flags()
	f.Int64Var(&spec.Seed, "seed", 1, "of the first; the others follow")
	f.IntVar(&count, "count", 1, "how many")
	f.StringVar(&spec.Article, "article", "", "kind of leather; drawn if empty")
	f.IntVar(&spec.SidePX, "side-px", 0, "width and height; 0: 1024")
	f.Float64Var(&spec.MMPerPX, "mm-per-px", 0, "scale; 0: drawn")
	f.IntVar(&spec.Flaws, "flaws", 0, "how many; 0: none to three, drawn; negative: none")
	f.Float64Var(&spec.Contrast, "contrast", 0, "multiplier of the flaws' contrast; 0: 1")
	return c
}

func renderSwatch(c *cobra.Command, spec scene.SwatchSpec, dir string) error {
	s, err := scene.RenderSwatch(c.Context(), spec)
	if err != nil {
		return err
	}
	name := fmt.Sprintf("%05d", spec.Seed)
	write := func(folder, file string, encode func(io.Writer) error) error {
		if err := os.MkdirAll(filepath.Join(dir, folder), 0o777); err != nil {
			return hide.Wrapf(hide.Internal, err, "make the folder %s", folder)
		}
		return export.WriteFile(filepath.Join(dir, folder, file), encode)
	}
	if err := write("images", name+".jpg", func(w io.Writer) error { return encodeJPEG(w, s.Picture) }); err != nil {
		return err
	}
	return write("masks", name+".png", func(w io.Writer) error { return png.Encode(w, s.Mask) })
}

func encodeJPEG(w io.Writer, im image.Image) error {
	return jpeg.Encode(w, im, &jpeg.Options{Quality: swatchQuality})
}
