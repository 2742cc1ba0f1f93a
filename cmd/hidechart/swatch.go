package main

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"hidechart/detect"
	"hidechart/export"
	"hidechart/hide"
	"hidechart/pix"
)

// swatchFlags are what the user says of close-ups.
type swatchFlags struct {
	mmPerPX   float64
	out       string
	json      bool
	maxPixels int64
	own       detect.OwnParams
	flaws     detect.FlawParams
}

func newSwatch() *cobra.Command {
	f := swatchFlags{own: detect.DefaultOwnParams(), flaws: detect.DefaultFlawParams()}
	c := &cobra.Command{
		Use:   "swatch IMAGE… --mm-per-px 0.2 --out DIR",
		Short: "Find what is unlike the rest of a close-up, without a table",
		Long: `Scores every pixel of a close-up of leather by how unlike the rest of the same
picture it is, in colour and in grain, at several scales, and traces what stands
out. For each image, in the folder DIR:

  <name>.score.png     the scores, 16-bit grey, of the image's size
  <name>.swatch.json   candidates in millimetres from the lower left corner, y up
  <name>.overlay.png   the picture with the candidates' outlines

The picture should show leather only, evenly lit and sharp. Millimetres are as
true as --mm-per-px. A candidate is a place to look at, not a verdict; what the
picture does not show (strength, temper, the flesh side) is not judged.`,
		Example: "  hidechart swatch close-ups/*.jpg --mm-per-px 0.2 --out swatches",
		Args:    cobra.MinimumNArgs(1),
		RunE:    func(c *cobra.Command, images []string) error { return swatches(c, images, f) },
	}
	fs := c.Flags()
	fs.Float64Var(&f.mmPerPX, "mm-per-px", 0, "millimetres of leather to a pixel (needed)")
	fs.StringVar(&f.out, "out", "", "folder for the results, made if missing (needed)")
	fs.BoolVar(&f.json, "json", false, "print the candidates of all images as JSON on standard output")
	fs.Int64Var(&f.maxPixels, "max-pixels", pix.DefaultLimits().MaxPixels, "refuse images of more pixels")
	fs.IntVar(&f.own.Zones, "zones", f.own.Zones, "zones along the long side with a grain of their own; more for a picture of a whole side")
	c.AddCommand(newSwatchRender())
	return c
}

// swatches runs the batch; an image that fails does not stop the others.
func swatches(c *cobra.Command, images []string, f swatchFlags) error {
	if err := f.check(images); err != nil {
		return err
	}
	if err := os.MkdirAll(f.out, 0o777); err != nil {
		return hide.Wrapf(hide.Internal, err, "make the folder %s", f.out)
	}
	results := []export.Swatch{}
	var statuses []int
	var failures strings.Builder
	for _, path := range images {
		s, err := f.one(c, path)
		if err != nil {
			if c.Context().Err() != nil {
				return c.Context().Err()
			}
			fmt.Fprintf(&failures, "  %s: %s\n", path, oneLine(err))
			statuses = append(statuses, statusOf(err))
			continue
		}
		results = append(results, s)
	}
	if err := f.print(c.OutOrStdout(), results); err != nil {
		return err
	}
	if statuses == nil {
		return nil
	}
	if _, err := fmt.Fprintf(c.ErrOrStderr(), "hidechart: %d of %d images gave no score map:\n%s", len(statuses), len(images), failures.String()); err != nil {
		return hide.Wrapf(hide.Internal, err, "print the failures")
	}
	return toldError{worst(statuses)}
}

func (f swatchFlags) check(images []string) error {
	switch {
	case f.out == "":
		return usagef("say where the results go: --out DIR")
	case !(f.mmPerPX > 0 && f.mmPerPX < 100):
		return usagef("--mm-per-px %g: want the millimetres of leather to a pixel, above 0", f.mmPerPX)
	}
	if err := f.own.Validate(); err != nil {
		return usageError{err}
	}
	seen := map[string]string{}
	for _, path := range images {
		n := swatchName(path)
		if other, double := seen[n]; double {
			return usagef("%s and %s would both be written as %s: rename one", other, path, n)
		}
		seen[n] = path
	}
	return nil
}

// swatchName is the file's name without its ending.
func swatchName(path string) string {
	n := filepath.Base(path)
	return strings.TrimSuffix(n, filepath.Ext(n))
}

// one scores one image and writes its three files, the JSON last.
func (f swatchFlags) one(c *cobra.Command, path string) (export.Swatch, error) {
	var s export.Swatch
	data, err := os.ReadFile(path)
	if err != nil {
		return s, hide.Wrapf(hide.Unreadable, err, "read the image")
	}
	im, err := pix.Decode(data, pix.Limits{MaxPixels: f.maxPixels})
	if err != nil {
		return s, err
	}
	defer im.Close()
	m, err := detect.ScoreMap(c.Context(), im, nil, f.own)
	if err != nil {
		return s, err
	}
	flaws, err := m.Flaws(im.Width(), im.Height(), hide.MM(f.mmPerPX), f.flaws)
	if err != nil {
		return s, err
	}
	s = f.described(path, data, im, m, flaws)
	full, err := m.Full(im.Width(), im.Height())
	if err != nil {
		return s, err
	}
	base := filepath.Join(f.out, swatchName(path))
	err = export.WriteFile(base+".score.png", func(w io.Writer) error { return export.WriteScoreMap(w, im.Width(), im.Height(), full) })
	if err != nil {
		return s, err
	}
	if err := writeSwatchPicture(base+".overlay.png", s, im); err != nil {
		return s, err
	}
	return s, export.WriteFile(base+".swatch.json", func(w io.Writer) error { return export.WriteSwatch(w, s) })
}

func writeSwatchPicture(path string, s export.Swatch, im *pix.Image) error {
	eight, err := pix.TopByte(im)
	if err != nil {
		return err
	}
	defer eight.Close()
	return export.WriteFile(path, func(w io.Writer) error { return export.WriteSwatchOverlay(w, s, eight) })
}

// described is the swatch as its file tells it.
func (f swatchFlags) described(path string, data []byte, im *pix.Image, m detect.OwnMap, flaws []detect.Flaw) export.Swatch {
	sum := sha256.Sum256(data)
	mm := hide.MM(f.mmPerPX)
	s := export.Swatch{
		Format:   export.SwatchFormat,
		Image:    export.SwatchImage{File: filepath.Base(path), SHA256: hex.EncodeToString(sum[:]), Width: im.Width(), Height: im.Height()},
		Frame:    export.SwatchFrame{Unit: "mm", Y: "up", MMPerPX: mm, EdgeU: m.EdgeU(im.Width(), mm)},
		ScoreMap: export.NewSwatchScore(swatchName(path) + ".score.png"),
		MadeBy:   export.SwatchMaker{Version: version, OpenCV: pix.OpenCVVersion(), Settings: f.settingsHash()},
	}
	s.ScoreMap.Seed, s.ScoreMap.Follow = float64(f.flaws.Seed), float64(f.flaws.Follow)
	for i, d := range flaws {
		s.Candidates = append(s.Candidates, export.SwatchCandidate{ID: i + 1, Probability: thousandth(d.Probability()), Score: thousandth(d.Score),
			Mean: thousandth(d.Mean), Colour: thousandth(d.Colour), Geometry: d.Shape, Pieces: len(d.Shape),
			Length: hide.MM(thousandth(float64(d.Length))), Width: hide.MM(thousandth(float64(d.Width))),
			Area: export.SwatchArea{Value: hide.MM2(thousandth(float64(d.Shape.Area()))), U: hide.MM2(thousandth(float64(around(d.Shape) * s.Frame.EdgeU)))}})
	}
	return s
}

// thousandth rounds to what a file says: a micrometre, or less than matters.
func thousandth(v float64) float64 { return math.Round(1000*v) / 1000 }

// around is the length of all the shape's rings.
func around(s hide.Shape) hide.MM {
	var sum hide.MM
	for _, p := range s {
		sum += p.Outer.Length()
		for _, h := range p.Holes {
			sum += h.Length()
		}
	}
	return sum
}

// settingsHash is of everything that changes a result beside the image.
func (f swatchFlags) settingsHash() string {
	data, err := json.Marshal(struct {
		MMPerPX float64
		Own     detect.OwnParams
		Flaws   detect.FlawParams
	}{f.mmPerPX, f.own, f.flaws})
	if err != nil {
		panic(err) // plain numbers, checked to be finite
	}
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// print tells the results: a line an image, or all as JSON.
func (f swatchFlags) print(w io.Writer, all []export.Swatch) error {
	if f.json {
		return writeJSON(w, all)
	}
	for _, s := range all {
		likely := 0
		for _, c := range s.Candidates {
			if c.Probability >= .5 {
				likely++
			}
		}
		if _, err := fmt.Fprintf(w, "%s: %d candidates, %d of them likely\n", s.Image.File, len(s.Candidates), likely); err != nil {
			return hide.Wrapf(hide.Internal, err, "print the result")
		}
	}
	return nil
}
