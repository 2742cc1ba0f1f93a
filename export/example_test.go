package export_test

import (
	"fmt"
	"os"
	"path/filepath"

	"hidechart/export"
	"hidechart/hide"
)

// square is a hide of a square metre, for the examples.
func square() hide.Chart {
	return hide.Chart{Format: hide.Format, Capture: hide.CaptureFacts{ID: "A-1"}, Frame: hide.Frame{Unit: "mm", Y: "up", MMPerPX: 0.5},
		Area: hide.Area{Value: 1e6, U: 2000}, Outline: hide.Polygon{Outer: hide.Ring{{}, {X: 1000}, {X: 1000, Y: 1000}, {Y: 1000}}}}
}

func ExampleWriteChart() {
	dir, err := os.MkdirTemp("", "chart")
	if err != nil {
		return
	}
	defer func() { _ = os.RemoveAll(dir) }()
	path := filepath.Join(dir, "chart.json")
	fmt.Println(export.WriteChart(path, square()))
	c, err := export.ReadChart(path)
	fmt.Println(c.Capture.ID, c.Area.Value.DM2(), err)
	// Output:
	// <nil>
	// A-1 100 <nil>
}

func ExampleFindFormats() {
	formats, err := export.FindFormats([]string{"dxf", "csv"})
	for _, f := range formats {
		fmt.Println(f.FileName("A-1"), "-", f.Words)
	}
	fmt.Println(err)
	// Output:
	// A-1.mm.dxf - drawing for CAD and cutting software, millimetres
	// A-1.csv - table of the defects
	// <nil>
}
