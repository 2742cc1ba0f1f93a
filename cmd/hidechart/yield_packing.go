package main

import (
	"encoding/xml"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"hidechart/hide"
	"hidechart/yield"
)

// nestingFile is what is read of an ESICUP nesting file.
type nestingFile struct {
	Boards []nestingPiece `xml:"problem>boards>piece"`
	Lot    []nestingPiece `xml:"problem>lot>piece"`
	Shapes []struct {
		ID       string `xml:"id,attr"`
		Segments []struct {
			X string `xml:"x0,attr"`
			Y string `xml:"y0,attr"`
		} `xml:"lines>segment"`
	} `xml:"polygons>polygon"`
	Lengths []float64 `xml:"solutions>solution>extraInfo>solutionWidth"` // published layouts
}

type nestingPiece struct {
	ID     string `xml:"id,attr"`
	Count  int    `xml:"quantity,attr"`
	Angles []struct {
		Angle float64 `xml:"angle,attr"`
	} `xml:"orientation>enumeration"`
	Component struct {
		Polygon string `xml:"idPolygon,attr"`
	} `xml:"component"`
}

// stripWidthMM is the width that every strip is scaled to: cloth is so wide, and the
// verification's limits are in millimetres.
const stripWidthMM = 1500

// nesting is a problem in millimetres.
type nesting struct {
	pieces    []yield.Piece
	scale     float64 // mm a unit of the file
	published float64 // shortest layout in the file, its units; 0: none
}

func readNesting(path string) (nesting, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nesting{}, hide.Wrapf(hide.Unreadable, err, "packing")
	}
	var f nestingFile
	if err := xml.Unmarshal(data, &f); err != nil {
		return nesting{}, hide.Wrapf(hide.Invalid, err, "%s", path)
	}
	rings := map[string]hide.Ring{}
	for _, p := range f.Shapes {
		for _, s := range p.Segments {
			x, errX := strconv.ParseFloat(strings.TrimSpace(s.X), 64)
			y, errY := strconv.ParseFloat(strings.TrimSpace(s.Y), 64)
			if errX != nil || errY != nil {
				return nesting{}, hide.Faultf(hide.Invalid, "%s: polygon %s: %q, %q is no point", path, p.ID, s.X, s.Y)
			}
			rings[p.ID] = append(rings[p.ID], hide.Point{X: hide.MM(x), Y: hide.MM(y)})
		}
	}
	if len(f.Boards) != 1 || len(rings[f.Boards[0].Component.Polygon]) == 0 {
		return nesting{}, hide.Faultf(hide.Invalid, "%s: want one board", path)
	}
	width := 0.0
	for _, q := range rings[f.Boards[0].Component.Polygon] {
		width = max(width, float64(q.Y))
	}
	n := nesting{scale: stripWidthMM / width}
	for _, l := range f.Lengths {
		if n.published == 0 || l < n.published {
			n.published = l
		}
	}
	for _, p := range f.Lot {
		q := yield.Piece{Name: p.ID, Count: p.Count}
		for _, v := range rings[p.Component.Polygon] {
			q.Shape.Outer = append(q.Shape.Outer, hide.Point{X: v.X * hide.MM(n.scale), Y: v.Y * hide.MM(n.scale)})
		}
		q.Shape = q.Shape.Oriented()
		for _, a := range p.Angles {
			q.Turns = append(q.Turns, a.Angle+90) // our strips run upwards, the file's to the right
		}
		n.pieces = append(n.pieces, q)
	}
	return n, nil
}

func newPacking() *cobra.Command {
	p := yield.StripParams{Cell: 6, Steps: 400, Seed: 1}
	c := &cobra.Command{
		Use:    "packing FOLDER…",
		Short:  "Pack the strips of ESICUP files and compare their lengths with published ones",
		Hidden: true,
		Args:   cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			w := tabwriter.NewWriter(c.OutOrStdout(), 0, 0, 2, ' ', 0)
			fmt.Fprintln(w, "set\tpieces\tlength\tused %\tpublished in the file\tours longer by\ttried\ts\t")
			for _, dir := range args {
				name := filepath.Base(dir)
				n, err := readNesting(filepath.Join(dir, name+".xml"))
				if err != nil {
					return err
				}
				start := time.Now()
				s, err := yield.PackStrip(n.pieces, stripWidthMM, p)
				if err != nil {
					return err
				}
				length := float64(s.Length) / n.scale
				fmt.Fprintf(w, "%s\t%d\t%.2f\t%.2f\t%.2f\t%.1f %%\t%d\t%.0f\t\n", name, len(s.Placed), length, 100*s.Used, n.published,
					100*(length/n.published-1), s.Tried, time.Since(start).Seconds())
			}
			return w.Flush()
		},
	}
	c.Flags().Float64Var((*float64)(&p.Cell), "cell", float64(p.Cell), "raster, mm on a strip 1500 mm wide")
	c.Flags().IntVar(&p.Steps, "steps", p.Steps, "steps of the search, four orders each")
	c.Flags().Uint64Var(&p.Seed, "seed", p.Seed, "of the search")
	return c
}
