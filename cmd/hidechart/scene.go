package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"hidechart/hide"
	"hidechart/scene"
)

func newScene() *cobra.Command {
	var spec scene.Spec
	var lights []string
	var side, lot, season bool
	c := &cobra.Command{
		Use:   "scene OUT --seed N",
		Short: "Render the capture of an invented hide, with its truth",
		Long: `Renders an invented hide on a lit table: one photograph per light, rig.yaml,
capture.yaml and the exact truth, into the folder OUT. The same seed gives the
same bytes. With --lot the three hides of the demonstration are rendered into
OUT/<id>.

Articles: ` + strings.Join(scene.Articles(), ", ") + "; " + scene.DrawnArticle + ": none of them, each property drawn by itself.",
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if lot {
				return renderLot(c, args[0])
			}
			if season {
				return writeSeason(c, args[0])
			}
			for _, l := range lights {
				spec.Lights = append(spec.Lights, hide.Light(l))
			}
			if c.Flags().Changed("side") {
				spec.Side = &side
			}
			if err := spec.Validate(); err != nil {
				return usageError{err}
			}
			return scene.Render(c.Context(), spec, args[0])
		},
	}
	f := c.Flags()
	f.Int64Var(&spec.Seed, "seed", 1, "what the hide is drawn from")
	f.StringVar(&spec.Article, "article", "", "kind of leather; one of the list if empty")
	f.BoolVar(&side, "side", false, "a side (--side) or a whole hide (--side=false); drawn if not given")
	f.IntVar(&spec.WidthPX, "width", 0, "width of the photographs, pixels; 0: 6000, 24 megapixels")
	f.StringSliceVar(&lights, "lights", nil, "lights to render; default top, back, rake-n, rake-e, empty")
	f.StringVar(&spec.Table, "table", "", "black or white; drawn if empty")
	f.BoolVar(&spec.Phone, "phone", false, "hand-held: more tilt, noise and compression; top and empty only")
	f.BoolVar(&spec.Grey, "grey", false, "a camera without colour")
	f.BoolVar(&spec.Cast, "cast", false, "lamps with a strong colour cast")
	f.BoolVar(&spec.OverTag, "over-tag", false, "the hide may lie over tags")
	f.Float64Var(&spec.Defects, "defects", 0, "multiplier of the number of defects; 0: 1; negative: none")
	f.Float64Var(&spec.Contrast, "contrast", 0, "multiplier of the contrast of defects; 0: 1")
	f.Float64Var(&spec.Crossed, "crossed", 0, "share of scars and scratches that another one is drawn across")
	f.BoolVar(&spec.NoLookAlikes, "no-look-alikes", false, "leave out the harmless look-alikes")
	f.StringVar(&spec.ID, "id", "", "id of the hide; invented if empty")
	f.StringVar(&spec.Supplier, "supplier", "", "supplier; invented if empty")
	f.StringVar(&spec.Lot, "lot-name", "", "lot; invented if empty")
	f.BoolVar(&season, "season", false, "write the charts of an invented season, made from truth without photographs, into OUT/<day>/<id>")
	f.BoolVar(&lot, "lot", false, "render the three hides of the demonstration")
	return c
}

// renderLot renders the hides of the demonstration, a folder each.
func renderLot(c *cobra.Command, out string) error {
	for _, s := range scene.DemoLot() {
		dir := out + "/" + s.ID
		if err := scene.Render(c.Context(), s, dir); err != nil {
			return err
		}
		if _, err := fmt.Fprintln(c.OutOrStdout(), dir); err != nil {
			return hide.Wrapf(hide.Internal, err, "print the folder")
		}
	}
	return nil
}
