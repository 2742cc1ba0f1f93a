package pipeline

import (
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"hidechart/hide"
)

// Capture is a capture folder: which files it holds, none of them opened yet
// but capture.yaml.
type Capture struct {
	Dir    string
	ID     string // from capture.yaml, else the folder's name
	Note   hide.CaptureNote
	Photos []PhotoFile // in the order of hide.Lights
	Odd    []string    // names of pictures that are no light, sorted
}

// PhotoFile is one photograph of a capture.
type PhotoFile struct {
	Light hide.Light
	Tile  int // of several that show the table between them, from 1; 0: it shows all of it
	Path  string
}

// Names of files in a capture folder.
const (
	noteName  = "capture.yaml"
	rigName   = "rig.yaml"
	truthName = "truth_label.png" // beside an invented capture
)

// photoName is a picture's file name: what it shows, a tile's number, the
// extension. Cameras and people write JPG as often as jpg.
var photoName = regexp.MustCompile(`(?i)^(.+?)(?:\.(\d+))?\.(jpe?g|png|tiff?)$`)

// OpenCapture lists a capture folder and reads its capture.yaml. Errors:
// Unreadable when the folder or capture.yaml cannot be read; Invalid for a bad
// capture.yaml, no top light, a photograph given twice, or tiles whose numbers are
// not 1, 2, 3 and so on.
func OpenCapture(dir string) (Capture, error) {
	c := Capture{Dir: dir}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return c, hide.Wrapf(hide.Unreadable, cause(err), "cannot read the capture folder %s; give a folder of photographs", dir)
	}
	if err := c.readNote(); err != nil {
		return c, err
	}
	if c.ID, err = captureID(c.Note.ID, dir); err != nil {
		return c, err
	}
	files := photoNames{}
	for _, e := range entries {
		if err := c.sort(e.Name(), files); err != nil {
			return c, err
		}
	}
	if len(files[hide.Top]) == 0 {
		return c, hide.Faultf(hide.Invalid, "there is no top light in %s: add top.jpg, the photograph under top light", dir)
	}
	for _, l := range hide.Lights() {
		photos, err := files.inOrder(l)
		if err != nil {
			return c, err
		}
		for _, p := range photos {
			p.Path = filepath.Join(dir, p.Path)
			c.Photos = append(c.Photos, p)
		}
	}
	return c, nil
}

// sort puts a file where it belongs.
func (c *Capture) sort(name string, files photoNames) error {
	m := photoName.FindStringSubmatch(name)
	if m == nil || name == truthName {
		return nil // notes, rig, truth: not ours to judge
	}
	light := hide.Light(strings.ToLower(m[1]))
	if !slices.Contains(hide.Lights(), light) {
		c.Odd = append(c.Odd, name)
		return nil
	}
	tile := 0
	if m[2] != "" {
		var err error
		if tile, err = strconv.Atoi(m[2]); err != nil || tile < 1 || tile > mostTiles {
			return hide.Faultf(hide.Invalid, "%s: the photographs of a table in several are numbered from 1 to %d, as %s.1.jpg", name, mostTiles, light)
		}
	}
	return files.add(light, tile, name)
}

func (c *Capture) readNote() error {
	data, err := os.ReadFile(filepath.Join(c.Dir, noteName))
	if os.IsNotExist(err) {
		return nil
	}
	if err != nil {
		return hide.Wrapf(hide.Unreadable, cause(err), "cannot read %s", noteName)
	}
	c.Note, err = hide.ParseCaptureNote(data)
	return err
}

// Photo returns the file of a light, of several the first.
func (c Capture) Photo(l hide.Light) (PhotoFile, bool) {
	for _, p := range c.Photos {
		if p.Light == l {
			return p, true
		}
	}
	return PhotoFile{}, false
}

// rigPath is the rig file of the capture: the one given, else its own.
func (c Capture) rigPath(given string) string {
	if given != "" {
		return given
	}
	return filepath.Join(c.Dir, rigName)
}

// captureID is the stated id, else the folder's name.
func captureID(stated, dir string) (string, error) {
	if id := strings.TrimSpace(stated); id != "" {
		return id, nil
	}
	abs, err := filepath.Abs(dir)
	if err != nil {
		return "", hide.Wrapf(hide.Unreadable, err, "cannot resolve %s", dir)
	}
	if id := filepath.Base(abs); id != string(filepath.Separator) {
		return id, nil
	}
	return "", hide.Faultf(hide.Invalid, "the capture %s has no name: state id in %s", dir, noteName)
}

// cause drops the path that package os repeats: our texts name it already.
func cause(err error) error {
	var p *os.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}
