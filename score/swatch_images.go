package score

import (
	"io/fs"
	"path/filepath"
	"slices"
	"strings"

	"hidechart/hide"
)

// SwatchImage is a close-up with the mask of its flaws.
type SwatchImage struct {
	Name  string // path below the images' folder without its ending, with slashes
	Image string // path
	Mask  string // path; empty: none was found, the image counts as sound
}

// imageEndings are the pictures looked for, lower case.
func imageEndings() []string { return []string{".png", ".jpg", ".jpeg", ".tif", ".tiff"} }

// FindImages pairs the pictures of a folder and its subfolders with the masks of
// the same names (<name>.png or <name>_mask.png) in another, in order of name.
// Errors: NotFound when there is no picture, or not one mask; Invalid when two
// pictures have one name.
func FindImages(images, masks string) ([]SwatchImage, error) {
	var out []SwatchImage
	found := 0
	err := filepath.WalkDir(images, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !slices.Contains(imageEndings(), strings.ToLower(filepath.Ext(path))) || strings.HasPrefix(d.Name(), ".") {
			return err
		}
		rel, err := filepath.Rel(images, path)
		if err != nil {
			return err
		}
		s := SwatchImage{Name: filepath.ToSlash(strings.TrimSuffix(rel, filepath.Ext(rel))), Image: path}
		if mask, err := maskOf(s.Name, masks); err == nil {
			s.Mask = mask
			found++
		}
		out = append(out, s)
		return nil
	})
	switch {
	case err != nil:
		return nil, hide.Wrapf(hide.NotFound, err, "images in %s", images)
	case len(out) == 0:
		return nil, hide.Faultf(hide.NotFound, "no images (%s) in %s", strings.Join(imageEndings(), ", "), images)
	case found == 0:
		return nil, hide.Faultf(hide.NotFound, "no masks <name>.png in %s for the images of %s", masks, images)
	}
	slices.SortFunc(out, func(a, b SwatchImage) int { return strings.Compare(a.Name, b.Name) })
	for i := 1; i < len(out); i++ {
		if out[i].Name == out[i-1].Name {
			return nil, hide.Faultf(hide.Invalid, "%s and %s have one name", out[i-1].Image, out[i].Image)
		}
	}
	return out, nil
}

// WithMask is a score map of an image with its mask; without one nothing of it
// is a defect. Errors: those of reading; Invalid when the sizes differ.
func (s SwatchImage) WithMask(width, height int, score []uint16) (Map, error) {
	m := Map{Name: s.Name, Width: width, Height: height, Score: score}
	if len(score) != width*height {
		return m, hide.Faultf(hide.Invalid, "%s: %d scores for %d × %d pixels", s.Name, len(score), width, height)
	}
	if s.Mask == "" {
		m.Defect = make([]bool, len(score))
		return m, nil
	}
	truth, err := readPNG(s.Mask)
	if err != nil {
		return m, err
	}
	if b := truth.Bounds(); b.Dx() != width || b.Dy() != height {
		return m, hide.Faultf(hide.Invalid, "%s is %d × %d pixels, its mask %s %d × %d", s.Image, width, height, s.Mask, b.Dx(), b.Dy())
	}
	m.Defect = notBlack(truth)
	return m, nil
}

// CompareEach judges n score maps that read gives one at a time, in order.
// Error: read's.
func CompareEach(n int, read func(i int) (Map, error)) (SwatchResult, error) {
	return compareMaps(n, read)
}
