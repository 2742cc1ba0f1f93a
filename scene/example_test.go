package scene_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"hidechart/hide"
	"hidechart/scene"
)

// A small capture of a hide that nobody ever had.
func ExampleRender() {
	dir, err := os.MkdirTemp("", "scene")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	spec := scene.Spec{Seed: 3, WidthPX: 900, Article: "suede", Lights: []hide.Light{hide.Top}}
	if err := scene.Render(context.Background(), spec, dir); err != nil {
		fmt.Println(err)
		return
	}
	files, _ := filepath.Glob(filepath.Join(dir, "*"))
	for _, f := range files {
		fmt.Println(filepath.Base(f))
	}
	// Output:
	// camera.json
	// capture.yaml
	// rig.yaml
	// top.jpg
	// truth.json
	// truth_label.png
}
