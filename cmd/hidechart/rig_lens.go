package main

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"hidechart/calibrate"
	"hidechart/export"
	"hidechart/hide"
	"hidechart/pix"
)

type rigLensFlags struct {
	board    string
	squareMM float64
	k3       bool
	out      string
}

func newRigLens() *cobra.Command {
	var f rigLensFlags
	cmd := &cobra.Command{
		Use:   "lens PHOTO…",
		Short: "Fit the lens to photographs of a chessboard",
		Long: `Fits focal length, principal point and lens terms to photographs of a flat
chessboard and writes OUT (lens.yaml) and, beside it, a picture of the residuals.

Take ten photographs or more with the camera, lens, focus and zoom of the table:
the board whole in each, tilted 20° to 40° to every side, and also in the
picture's corners. Glue the board to glass or board that does not bend.
A photograph that disagrees with the others is left out and named.`,
		Example: "  hidechart rig lens --board 9x6 --square-mm 25 --out lens.yaml board/*.jpg",
		Args:    cobra.MinimumNArgs(1),
		RunE:    func(cmd *cobra.Command, photos []string) error { return runRigLens(cmd, f, photos) },
	}
	cmd.Flags().StringVar(&f.board, "board", "9x6", "inner corners, across x down")
	cmd.Flags().Float64Var(&f.squareMM, "square-mm", 25, "side of a square, mm")
	cmd.Flags().BoolVar(&f.k3, "k3", false, "fit the third radial term too (wide lenses)")
	cmd.Flags().StringVar(&f.out, "out", "lens.yaml", "the lens file to write")
	return cmd
}

func runRigLens(cmd *cobra.Command, f rigLensFlags, photos []string) error {
	board, err := f.parseBoard()
	if err != nil {
		return err
	}
	views, dropped, size, err := findBoards(cmd.Context(), photos, board)
	if err != nil {
		return err
	}
	p := calibrate.DefaultBoardParams()
	p.K3 = f.k3
	fit, err := calibrate.FitBoards(views, board, size, p)
	if err != nil {
		for _, d := range dropped {
			sayf(cmd, "left out %s: %s", d.Name, d.Why)
		}
		return err
	}
	fit.Dropped = append(dropped, fit.Dropped...)
	if err := writeLens(f.out, fit); err != nil {
		return err
	}
	saidLens(cmd, fit)
	return nil
}

func (f rigLensFlags) parseBoard() (calibrate.Board, error) {
	b := calibrate.Board{Square: hide.MM(f.squareMM)}
	var rest string
	n, _ := fmt.Sscanf(f.board+" ", "%dx%d%s", &b.Columns, &b.Rows, &rest)
	if n != 2 {
		return b, usagef("--board %q: want inner corners such as 9x6", f.board)
	}
	if err := b.Validate(); err != nil {
		return b, usageError{err}
	}
	return b, nil
}

// findBoards finds the board in each photograph. A photograph that cannot be
// read or shows no board is left out, with the reason; one of another size is an
// error, since it was taken with another camera or cropped.
func findBoards(ctx context.Context, photos []string, b calibrate.Board) ([]calibrate.BoardView, []calibrate.DroppedView, image.Point, error) {
	var views []calibrate.BoardView
	var dropped []calibrate.DroppedView
	var size image.Point
	for _, path := range photos {
		if err := ctx.Err(); err != nil {
			return nil, nil, size, err
		}
		name := filepath.Base(path)
		corners, s, err := boardIn(path, b)
		if errors.Is(err, hide.NotMeasurable) || errors.Is(err, hide.Unreadable) {
			dropped = append(dropped, calibrate.DroppedView{Name: name, Why: oneLine(err)})
			continue
		}
		if err != nil {
			return nil, nil, size, err
		}
		if size != (image.Point{}) && s != size {
			return nil, nil, size, hide.Faultf(hide.Invalid, "%s is %d x %d px, the photographs before it %d x %d: "+
				"a lens file is for one camera, uncropped", name, s.X, s.Y, size.X, size.Y)
		}
		size = s
		views = append(views, calibrate.BoardView{Name: name, Corners: corners})
	}
	return views, dropped, size, nil
}

func boardIn(path string, b calibrate.Board) ([]pix.Point, image.Point, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, image.Point{}, hide.Wrapf(hide.Unreadable, err, "photograph")
	}
	grey, err := greyBytes(data)
	if err != nil {
		return nil, image.Point{}, fmt.Errorf("%s: %w", filepath.Base(path), err)
	}
	defer grey.Close()
	corners, err := calibrate.FindBoard(grey, b)
	return corners, grey.Bounds().Size(), err
}

// greyBytes decodes a photograph to grey values as the eye sees them, U8:
// colours are weighed in linear light.
func greyBytes(data []byte) (*pix.Image, error) {
	sc := pix.NewScope()
	defer sc.Close()
	im, err := pix.Decode(data, pix.DefaultLimits())
	if err != nil {
		return nil, err
	}
	sc.Keep(im)
	if im.Channels() == 1 && im.Depth() == pix.U8 {
		return sc.Detach(im), nil
	}
	linear, err := pix.Linear(im)
	if err != nil {
		return nil, err
	}
	sc.Keep(linear)
	grey, err := pix.Grey(linear)
	if err != nil {
		return nil, err
	}
	sc.Keep(grey)
	return pix.EightBit(grey)
}

func writeLens(path string, fit calibrate.BoardFit) error {
	data, err := fit.File().Encode()
	if err != nil {
		return err
	}
	r := export.LensResiduals{Width: fit.Size.X, Height: fit.Size.Y, RMS: fit.RMS, Mean: fit.Mean}
	for _, v := range fit.Views {
		r.Views = append(r.Views, export.ViewResiduals{Name: v.Name, RMS: v.RMS, Corners: v.Corners, Off: v.Residuals})
	}
	picture := strings.TrimSuffix(path, filepath.Ext(path)) + "_residuals.png"
	if err := export.WriteFile(picture, func(w io.Writer) error { return export.WriteLensResiduals(w, r) }); err != nil {
		return err
	}
	return export.WriteFile(path, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
}

func saidLens(cmd *cobra.Command, fit calibrate.BoardFit) {
	t, u := fit.Terms, fit.U
	sayf(cmd, "focal length %.2f ± %.2f, %.2f ± %.2f px; principal point %.2f ± %.2f, %.2f ± %.2f px", t.FX, u.FX, t.FY, u.FY, t.CX, u.CX, t.CY, u.CY)
	sayf(cmd, "residuals: RMS %.3f px, mean %.3f px over %d photographs", fit.RMS, fit.Mean, len(fit.Views))
	for _, d := range fit.Dropped {
		sayf(cmd, "left out %s: %s", d.Name, d.Why)
	}
	for _, n := range fit.Notes {
		sayf(cmd, "note: %s", n.Text)
	}
}
