package main

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"io"
	"math"
	"os"
	"path/filepath"

	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"

	"hidechart/export"
	"hidechart/hide"
	"hidechart/pix"
)

// accuracyTile is one place to look at.
type accuracyTile struct {
	folder string // of the chart
	at     hide.Point
	worst  float64
	words  string
}

// accuracySheet is a picture of tiles, numbered from 1.
type accuracySheet struct {
	name, title string
	tiles       []accuracyTile
}

// Sheet layout: four tiles a row, each so many millimetres of leather wide.
const (
	tilesPerRow         = 4
	tilePX              = 300
	tileReach   hide.MM = 75
)

func (s accuracySheet) write(folder string) error {
	rows := max(1, (len(s.tiles)+tilesPerRow-1)/tilesPerRow)
	sheet := image.NewRGBA(image.Rect(0, 0, tilesPerRow*tilePX, rows*tilePX))
	for k, t := range s.tiles {
		im, err := t.picture()
		if err != nil {
			return err
		}
		at := image.Pt(k%tilesPerRow*tilePX, k/tilesPerRow*tilePX)
		draw.Draw(sheet, im.Bounds().Sub(im.Bounds().Min).Add(at), im, im.Bounds().Min, draw.Src)
		number(sheet, at.Add(image.Pt(8, 20)), k+1)
	}
	return export.WriteFile(filepath.Join(folder, s.name), func(w io.Writer) error {
		return jpeg.Encode(w, sheet, &jpeg.Options{Quality: 80})
	})
}

// picture cuts the tile from the light kept beside the chart.
func (t accuracyTile) picture() (image.Image, error) {
	lights, err := export.ReadLights(t.folder)
	if err != nil {
		return nil, err
	}
	f, err := os.Open(filepath.Join(t.folder, export.LightFile(hide.Top)))
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "light top")
	}
	defer func() { _ = f.Close() }() // read only
	im, err := jpeg.Decode(f)
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "light top")
	}
	return shown(im, lights.Grid(), t.at), nil
}

// shown is the leather around a place, at the sheet's scale, nearest pixels.
func shown(im image.Image, g pix.Grid, at hide.Point) image.Image {
	out := image.NewRGBA(image.Rect(0, 0, tilePX, tilePX))
	step := 2 * tileReach / tilePX
	for y := range tilePX {
		for x := range tilePX {
			p := g.ToRaster(hide.Point{X: at.X - tileReach + hide.MM(x)*step, Y: at.Y + tileReach - hide.MM(y)*step})
			if q := image.Pt(int(math.Round(float64(p.X))), int(math.Round(float64(p.Y)))); q.In(im.Bounds()) { // black beyond the picture
				out.Set(x, y, im.At(q.X, q.Y))
			}
		}
	}
	return out
}

func number(to draw.Image, at image.Point, n int) {
	box := image.Rect(at.X-4, at.Y-14, at.X+18, at.Y+5)
	draw.Draw(to, box, image.Black, image.Point{}, draw.Src)
	d := font.Drawer{Dst: to, Src: image.NewUniform(color.White), Face: basicfont.Face7x13, Dot: fixed.P(at.X, at.Y)}
	d.DrawString(fmt.Sprint(n))
}

// list says what the tiles show.
func (s accuracySheet) list(w io.Writer) {
	_, _ = fmt.Fprintf(w, "\n%s, %v mm of leather each, under top light:\n\n![%s](accuracy/%s)\n\n", s.title, float64(2*tileReach), s.title, s.name)
	for k, t := range s.tiles {
		_, _ = fmt.Fprintf(w, "%d. %s\n", k+1, t.words)
	}
}
