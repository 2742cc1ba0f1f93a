package plane_test

import (
	"fmt"

	"hidechart/hide"
	"hidechart/plane"
)

// A person states the backbone of a plain 1 m × 2 m hide, neck at the top.
func ExampleFrameFrom() {
	outline := hide.Polygon{Outer: rect(0, 0, 1000, 2000)}
	f, err := plane.FrameFrom([2]hide.Point{pt(500, 2000), pt(500, 0)}, false, outline)
	if err != nil {
		fmt.Println(err)
		return
	}
	u, v := f.UV(pt(250, 500))
	fmt.Printf("u %.2f v %.2f %s\n", u, v, f.ZoneAt(pt(500, 500)))
	// Output: u 0.75 v -0.50 butt
}

// A margin of 10 mm around a square hole of 20 mm.
func ExampleBuffer() {
	s, err := plane.Buffer(hide.Shape{{Outer: rect(100, 100, 20, 20)}}, 10)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.0f mm²\n", float64(s.Area()))
	// Output: 1514 mm²
}
