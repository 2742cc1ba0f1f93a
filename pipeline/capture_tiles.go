package pipeline

import (
	"fmt"
	"maps"
	"path/filepath"
	"slices"

	"hidechart/hide"
)

// mostTiles of one light: a table of 8 × 5 m in photographs of one metre.
const mostTiles = 40

// photoNames are the files of each light by tile; tile 0 shows all of the table.
type photoNames map[hide.Light]map[int]string

// add notes a file. Error: Invalid when the photograph is there already.
func (n photoNames) add(l hide.Light, tile int, name string) error {
	if n[l] == nil {
		n[l] = map[int]string{}
	}
	if other, ok := n[l][tile]; ok {
		return hide.Faultf(hide.Invalid, "%s is there twice, as %s and %s: keep one", photoWords(l, tile), other, name)
	}
	n[l][tile] = name
	return nil
}

// inOrder lists a light's photographs. Error: Invalid when some tiles are
// missing, or one photograph of all lies beside them.
func (n photoNames) inOrder(l hide.Light) ([]PhotoFile, error) {
	var out []PhotoFile
	for i, tile := range slices.Sorted(maps.Keys(n[l])) {
		first := 1
		if n[l][0] != "" {
			first = 0
		}
		if first == 0 && i == 1 {
			return nil, hide.Faultf(hide.Invalid, "light %s is there as one photograph, %s, and in tiles, %s: keep one or the other", l, n[l][0], n[l][tile])
		}
		if tile != first+i {
			return nil, hide.Faultf(hide.Invalid, "photograph %s is missing: there is %s, and tiles are numbered 1, 2, 3 without a hole", photoWords(l, first+i), n[l][tile])
		}
		out = append(out, PhotoFile{Light: l, Tile: tile, Path: n[l][tile]})
	}
	return out, nil
}

// photoWords names a photograph for people, as its file is named.
func photoWords(l hide.Light, tile int) string {
	if tile == 0 {
		return "light " + string(l)
	}
	return tileName(l, tile)
}

// name is the photograph's file name.
func (p PhotoFile) name() string { return filepath.Base(p.Path) }

// tileName is a tile's file name without its ending.
func tileName(l hide.Light, tile int) string { return fmt.Sprintf("%s.%d", l, tile) }

// tiles lists the photographs of a light that is there in tiles; nil: it is one
// photograph, or none.
func (in inputs) tiles(l hide.Light) []int {
	var out []int
	for i, im := range in.images {
		if im.Light == l && im.Tile > 0 {
			out = append(out, i)
		}
	}
	return out
}
