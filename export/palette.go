package export

import (
	"image/color"

	"hidechart/hide"
)

// The palette of Okabe and Ito (2008), "Color Universal Design: how to make
// figures and presentations that are friendly to colorblind people", as printed
// in Wong (2011), "Points of view: Color blindness", Nature Methods 8:441, which
// gives these RGB values.
var (
	orange        = color.RGBA{230, 159, 0, 255}
	skyBlue       = color.RGBA{86, 180, 233, 255}
	bluishGreen   = color.RGBA{0, 158, 115, 255}
	yellow        = color.RGBA{240, 228, 66, 255}
	blue          = color.RGBA{0, 114, 178, 255}
	vermillion    = color.RGBA{213, 94, 0, 255}
	reddishPurple = color.RGBA{204, 121, 167, 255}
)

// kindColour gives one colour to each group of kinds (through the leather, wounds
// of the grain, natural lines, spots, …): seven can be told apart, twelve
// could not. Within a group the symbol tells the kind.
func kindColour(k hide.Kind) color.RGBA {
	switch k {
	case hide.Hole, hide.Thin, hide.FlayCut:
		return vermillion
	case hide.Scar, hide.Scratch:
		return blue
	case hide.Wrinkle, hide.Vein:
		return skyBlue
	case hide.Bites, hide.Wart:
		return reddishPurple
	case hide.Brand:
		return yellow
	case hide.Stain:
		return orange
	}
	return bluishGreen // loose
}
