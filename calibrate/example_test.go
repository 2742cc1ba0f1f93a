package calibrate_test

import (
	"fmt"

	"hidechart/calibrate"
	"hidechart/hide"
)

func ExampleParseRig() {
	rig, err := calibrate.ParseRig([]byte(`
table: {width_mm: 1200, height_mm: 800}
tags:
  family: tag36h11
  edge_mm: 80
  centres_mm: {0: [70, 70], 1: [1130, 70], 2: [1130, 730], 3: [70, 730]}
`))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(rig.IDs(), rig.Corners(0)[0])
	_, err = calibrate.ParseRig([]byte("tabel: {width_mm: 1200}"))
	fmt.Println(err)
	// Output:
	// [0 1 2 3] {30 30}
	// rig.yaml: line 1: unknown key "tabel"
}

// A camera 3 m straight above the table: a place on leather 2 mm thick appears
// farther out than the table under it, by the ratio of the heights.
func ExampleView_Ground() {
	v := calibrate.View{
		Camera: calibrate.Camera{FX: 4000, FY: 4000, CX: 2999.5, CY: 1999.5, Width: 6000, Height: 4000},
		R:      [9]float64{1, 0, 0, 0, -1, 0, 0, 0, -1}, // x right, y up, looking down
		T:      [3]float64{-1500, 1000, 3000},           // over the place (1500, 1000)
	}
	seen := v.Project(2400, 1000, 2)
	fmt.Printf("%.2f %.2f\n", v.Ground(seen, 2).X, v.Ground(seen, hide.MM(0)).X)
	// Output: 2400.00 2400.60
}
