package main

import (
	"context"
	"fmt"
	"image"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"hidechart/calibrate"
	"hidechart/export"
	"hidechart/hide"
	"hidechart/pix"
)

type rigSurveyFlags struct {
	edgeMM, edgeUMM float64
	known           []string
	lens, out       string
	along, table    string
	at              string
	first           int
}

func newRigSurvey() *cobra.Command {
	var f rigSurveyFlags
	cmd := &cobra.Command{
		Use:   "survey PHOTO…",
		Short: "Find where the tags lie from photographs, without a tape measure",
		Long: `Finds the places of all tags on a table from photographs of it and writes OUT
(rig.yaml) and a table of places with their standard uncertainties.

Glue the tags anywhere, flat, then take five photographs or more of the bare table
with one camera, focus and zoom: one from above, the others tilted 20° to 40°
from every side, one of them with the camera a quarter turn about its axis, each
showing many tags, neighbours sharing two tags or more.

The scale is the tags' edge, or better a distance between the centres of two
tags measured with a steel tape (--known 3-12=2874.5±0.5; may be repeated).

The table frame: x runs along the upright tag (--first, the lowest id unless
said) or from one tag to another (--along 0-5). Without --at the table is the box round all
tag sheets and its near left corner the origin; --at 90,2510 says where the
upright tag's centre lies from that corner.`,
		Example: "  hidechart rig survey --edge-mm 100 --known 0-7=3120.4±0.3 --table 3300x2600 --at 90,90 survey/*.jpg",
		Args:    cobra.MinimumNArgs(2),
		RunE:    func(cmd *cobra.Command, photos []string) error { return runRigSurvey(cmd, f, photos) },
	}
	cmd.Flags().Float64Var(&f.edgeMM, "edge-mm", 0, "outer edge of the tags' black square as printed, mm (required)")
	cmd.Flags().Float64Var(&f.edgeUMM, "edge-u-mm", 0.1, "standard uncertainty of the edge, mm")
	cmd.Flags().StringArrayVar(&f.known, "known", nil, "distance of two tags' centres, A-B=MM±U (U 0.5 unless said); may be repeated")
	cmd.Flags().StringVar(&f.lens, "lens", "", "lens.yaml of the camera that took the photographs")
	cmd.Flags().StringVar(&f.along, "along", "", "tags A-B: x runs from A's centre to B's")
	cmd.Flags().StringVar(&f.table, "table", "", "table size in mm, WIDTHxHEIGHT")
	cmd.Flags().StringVar(&f.at, "at", "", "place of the upright tag's centre from the table's near left corner, mm, X,Y")
	cmd.Flags().IntVar(&f.first, "first", -1, "the upright tag (default: the lowest id)")
	cmd.Flags().StringVar(&f.out, "out", "rig.yaml", "the rig file to write")
	return cmd
}

func runRigSurvey(cmd *cobra.Command, f rigSurveyFlags, paths []string) error {
	p, err := f.params()
	if err != nil {
		return usageError{err}
	}
	var lens *calibrate.Lens
	if f.lens != "" {
		data, err := os.ReadFile(f.lens)
		if err != nil {
			return hide.Wrapf(hide.Unreadable, err, "lens")
		}
		l, err := calibrate.ParseLens(data)
		if err != nil {
			return err
		}
		lens = &l
	}
	photos, size, err := surveyPhotos(cmd.Context(), paths)
	if err != nil {
		return err
	}
	s, err := calibrate.SurveyTags(photos, size, lens, p)
	if err != nil {
		return err
	}
	if err := s.Rig.Validate(); err != nil {
		return hide.Wrapf(hide.NotMeasurable, err, "survey")
	}
	// the lens of the survey is not the table camera's: rig.yaml does not name it
	err = export.WriteFile(f.out, func(w io.Writer) error {
		_, err := w.Write(s.YAML(""))
		return err
	})
	if err != nil {
		return err
	}
	return writeSurvey(cmd.OutOrStdout(), s)
}

func (f rigSurveyFlags) params() (calibrate.SurveyParams, error) {
	p := calibrate.DefaultSurveyParams(hide.MM(f.edgeMM))
	p.EdgeU = hide.MM(f.edgeUMM)
	for _, k := range f.known {
		known, err := parseKnown(k)
		if err != nil {
			return p, err
		}
		p.Known = append(p.Known, known)
	}
	if f.first >= 0 {
		p.Frame.First = &f.first
	}
	if f.along != "" {
		a, b, err := numberPair(f.along, "-")
		if err != nil || a != float64(int(a)) || b != float64(int(b)) {
			return p, usagef("--along %q: want two ids such as 0-5", f.along)
		}
		p.Frame.Along = &[2]int{int(a), int(b)}
	}
	if f.table != "" {
		w, h, err := numberPair(f.table, "x")
		if err != nil {
			return p, usagef("--table %q: want millimetres such as 3300x2600", f.table)
		}
		p.Frame.Width, p.Frame.Height = hide.MM(w), hide.MM(h)
	}
	if f.at != "" {
		x, y, err := numberPair(f.at, ",")
		if err != nil {
			return p, usagef("--at %q: want millimetres such as 90,2510", f.at)
		}
		p.Frame.At = &hide.Point{X: hide.MM(x), Y: hide.MM(y)}
	}
	return p, p.Validate()
}

// knownU, mm, is what a steel tape of class II is off over 3 m, about: 0.3 mm +
// 0.2 mm/m (EU 2014/32/EU annex MI-008, from memory), as a standard uncertainty.
const knownU = 0.5

// parseKnown reads 3-12=2874.5±0.5; +- stands for ±.
func parseKnown(text string) (calibrate.KnownLength, error) {
	k := calibrate.KnownLength{U: knownU}
	bad := usagef("--known %q: want two ids and millimetres such as 3-12=2874.5±0.5", text)
	tags, length, ok := strings.Cut(text, "=")
	if !ok {
		return k, bad
	}
	a, b, ok := strings.Cut(tags, "-")
	if !ok {
		return k, bad
	}
	value, u, stated := strings.Cut(strings.ReplaceAll(length, "+-", "±"), "±")
	var errs [4]error
	k.A, errs[0] = strconv.Atoi(strings.TrimSpace(a))
	k.B, errs[1] = strconv.Atoi(strings.TrimSpace(b))
	var l, un float64
	l, errs[2] = strconv.ParseFloat(strings.TrimSpace(value), 64)
	un = knownU
	if stated {
		un, errs[3] = strconv.ParseFloat(strings.TrimSpace(u), 64)
	}
	for _, err := range errs {
		if err != nil {
			return k, bad
		}
	}
	k.Length, k.U = hide.MM(l), hide.MM(un)
	return k, nil
}

func numberPair(text, between string) (a, b float64, err error) {
	l, r, ok := strings.Cut(text, between)
	if !ok {
		return 0, 0, strconv.ErrSyntax
	}
	if a, err = strconv.ParseFloat(strings.TrimSpace(l), 64); err != nil {
		return 0, 0, err
	}
	b, err = strconv.ParseFloat(strings.TrimSpace(r), 64)
	return a, b, err
}

// surveyPhotos finds the tags in each photograph, one at a time: each takes the
// memory of its pixels.
func surveyPhotos(ctx context.Context, paths []string) ([]calibrate.SurveyPhoto, image.Point, error) {
	var photos []calibrate.SurveyPhoto
	var size image.Point
	for _, path := range paths {
		if err := ctx.Err(); err != nil {
			return nil, size, err
		}
		name := filepath.Base(path)
		data, err := os.ReadFile(path)
		if err != nil {
			return nil, size, hide.Wrapf(hide.Unreadable, err, "photograph")
		}
		seen, s, err := surveyTagsIn(name, data)
		if err != nil {
			return nil, size, fmt.Errorf("%s: %w", name, err)
		}
		if size != (image.Point{}) && s != size {
			return nil, size, hide.Faultf(hide.Invalid, "%s is %d x %d px, the photographs before it %d x %d: "+
				"a survey takes one camera, uncropped", name, s.X, s.Y, size.X, size.Y)
		}
		size = s
		photos = append(photos, calibrate.SurveyPhoto{Name: name, Seen: seen})
	}
	return photos, size, nil
}

func surveyTagsIn(name string, data []byte) ([]calibrate.Sighting, image.Point, error) {
	sc := pix.NewScope()
	defer sc.Close()
	im, err := pix.Decode(data, pix.DefaultLimits())
	if err != nil {
		return nil, image.Point{}, err
	}
	linear, err := pix.Linear(sc.Keep(im))
	if err != nil {
		return nil, image.Point{}, err
	}
	grey, err := pix.Grey(sc.Keep(linear))
	if err != nil {
		return nil, image.Point{}, err
	}
	sc.Keep(grey)
	seen, err := calibrate.FindSurveyTags(name, grey)
	if err != nil {
		return nil, image.Point{}, err
	}
	header, err := pix.DecodeHeader(data)
	if err != nil {
		return nil, image.Point{}, err
	}
	return calibrate.OnSensor(seen, grey.Bounds().Size(), header.Orientation)
}

// writeSurvey prints the result for people.
func writeSurvey(w io.Writer, s calibrate.Survey) error {
	var b strings.Builder
	fmt.Fprintf(&b, "tag       x mm      y mm    ± x    ± y  ± with scale   turn °   height mm  photos  RMS px\n")
	for _, t := range s.Tags {
		fmt.Fprintf(&b, "%3d  %9.2f %9.2f  %5.3f  %5.3f  %12.3f  %7.2f  %+4.1f ± %3.1f  %6d  %6.3f\n", t.ID, float64(t.Centre.X), float64(t.Centre.Y),
			float64(t.UX), float64(t.UY), float64(t.U), t.TurnDeg, float64(t.Height), float64(t.UHeight), t.Photographs, t.RMSPX)
	}
	fmt.Fprintf(&b, "\nphotograph                tags  RMS px\n")
	for _, v := range s.Photos {
		fmt.Fprintf(&b, "%-24s  %4d  %6.3f\n", v.Name, v.Tags, v.RMSPX)
	}
	fmt.Fprintf(&b, "\nall corners %.3f px RMS; scale ± %.3f %%; tags off their plane %.2f mm RMS; edge %.3f ± %.3f mm\n",
		s.RMSPX, 100*s.ScaleU, float64(s.Flat), float64(s.Rig.TagEdge), float64(s.EdgeU))
	for _, k := range s.Known {
		fmt.Fprintf(&b, "known %d-%d: stated %.2f ± %.2f mm, found %.2f ± %.2f\n", k.A, k.B, float64(k.Length), float64(k.U), float64(k.Found), float64(k.UFound))
	}
	for _, n := range s.Flags {
		fmt.Fprintf(&b, "note: %s\n", n.Text)
	}
	_, err := io.WriteString(w, b.String())
	return err
}
