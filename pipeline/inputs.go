package pipeline

import (
	"errors"
	"io"
	"os"
	"path/filepath"

	"hidechart/calibrate"
	"hidechart/hide"
	"hidechart/pix"
)

// inputs is a capture with everything known of its files short of decoding
// them. It decides whether a chart is still good.
type inputs struct {
	capture  Capture
	images   []hide.ImageFact // as capture.Photos
	rig      calibrate.Rig
	rigSum   string
	lensSum  string // empty: no lens file
	lens     *calibrate.Lens
	settings string         // hash: see settingsSum
	stored   map[string]any // see Params.Settings
}

// readInputs hashes the files of a capture, reads headers and the rig.
// Errors: Unreadable or Invalid, naming the file.
func readInputs(c Capture, rigPath string, p Params) (inputs, error) {
	in := inputs{capture: c}
	for _, f := range c.Photos {
		fact, err := readFact(f, p)
		if err != nil {
			return in, err
		}
		in.images = append(in.images, fact)
	}
	if err := in.sameSize(); err != nil {
		return in, err
	}
	var err error
	if in.lensSum, err = in.readRig(c.rigPath(rigPath)); err != nil {
		return in, err
	}
	if in.settings, err = settingsSum(p, c.Note, in.lensSum); err != nil {
		return in, err
	}
	in.stored, err = p.Settings()
	return in, err
}

// mostBytesPerPixel of a photograph's file: four channels of 16 bits, not
// compressed, twice over for previews and notes.
const mostBytesPerPixel = 16

// readFact checks a photograph's header and hashes the file.
func readFact(f PhotoFile, p Params) (hide.ImageFact, error) {
	name := filepath.Base(f.Path)
	data, err := readLimited(f.Path, mostBytesPerPixel*p.MaxPixels, "photograph")
	if err != nil {
		return hide.ImageFact{}, err
	}
	h, err := pix.DecodeHeader(data)
	if err != nil {
		return hide.ImageFact{}, hide.Wrapf(kindOf(err, hide.Unreadable), err, "%s", name)
	}
	if h.Pixels() > p.MaxPixels {
		return hide.ImageFact{}, hide.Faultf(hide.Invalid, "%s says it has %d x %d px, more than the limit of %.0f megapixels: not opened; raise max_pixels if it is a real photograph",
			name, h.Width, h.Height, float64(p.MaxPixels)/1e6)
	}
	fact := hide.ImageFact{Light: f.Light, Tile: f.Tile, SHA256: hashBytes(data), WidthPX: h.Width, HeightPX: h.Height}
	if h.Turned() {
		fact.WidthPX, fact.HeightPX = fact.HeightPX, fact.WidthPX
	}
	return fact, nil
}

// kindOf is the kind of an error, or the one given when it has none.
func kindOf(err error, otherwise hide.ErrorKind) hide.ErrorKind {
	var f *hide.Fault
	if errors.As(err, &f) {
		return f.Kind
	}
	return otherwise
}

func (in inputs) sameSize() error {
	first := in.images[0]
	for i, im := range in.images {
		if im.Tile > 0 || first.Tile > 0 {
			continue // each is posed by its own tags
		}
		if im.WidthPX != first.WidthPX || im.HeightPX != first.HeightPX {
			return hide.Faultf(hide.Invalid, "light %s (%s) is %d x %d px but %s is %d x %d px: take all lights with one camera at one setting",
				im.Light, filepath.Base(in.capture.Photos[i].Path), im.WidthPX, im.HeightPX, first.Light, first.WidthPX, first.HeightPX)
		}
	}
	return nil
}

// readRig reads the rig file and the lens file it names.
func (in *inputs) readRig(path string) (lensSum string, err error) {
	data, err := readSmall(path, "rig file", "give one with --rig, or put a rig.yaml into the capture folder")
	if err != nil {
		return "", err
	}
	if in.rig, err = calibrate.ParseRig(data); err != nil {
		return "", hide.Wrapf(kindOf(err, hide.Invalid), err, "%s", path)
	}
	in.rigSum = hashBytes(data)
	if in.rig.Lens == "" {
		return "", nil
	}
	lensPath := in.rig.Lens
	if !filepath.IsAbs(lensPath) {
		lensPath = filepath.Join(filepath.Dir(path), lensPath)
	}
	if data, err = readSmall(lensPath, "lens file", "the rig file names it; make it with rig lens, or take lens out of the rig file"); err != nil {
		return "", err
	}
	lens, err := calibrate.ParseLens(data)
	if err != nil {
		return "", hide.Wrapf(kindOf(err, hide.Invalid), err, "%s", lensPath)
	}
	in.lens = &lens
	return hashBytes(data), nil
}

// largestText of a rig or lens file: a thousand tags need 30 kB.
const largestText = 4 << 20

// readSmall reads a rig or lens file.
func readSmall(path, what, advice string) ([]byte, error) {
	if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) {
		return nil, hide.Faultf(hide.Unreadable, "there is no %s at %s: %s", what, path, advice)
	}
	return readLimited(path, largestText, what)
}

// readLimited reads a regular file of at most limit bytes.
func readLimited(path string, limit int64, what string) ([]byte, error) {
	f, err := openRegular(path)
	if err != nil {
		return nil, err
	}
	defer func() { _ = f.Close() }() // read only
	data, err := io.ReadAll(io.LimitReader(f, limit+1))
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, cause(err), "cannot read %s", path)
	}
	if int64(len(data)) > limit {
		return nil, hide.Faultf(hide.Invalid, "%s is larger than %d MB: too large for a %s", path, limit>>20, what)
	}
	return data, nil
}

// fact returns what is known of a light's picture and its file.
func (in inputs) fact(l hide.Light) (hide.ImageFact, PhotoFile, bool) {
	for i, im := range in.images {
		if im.Light == l {
			return im, in.capture.Photos[i], true
		}
	}
	return hide.ImageFact{}, PhotoFile{}, false
}

// pixels is the number of pixels of all photographs together.
func (in inputs) pixels() int64 {
	var n int64
	for _, im := range in.images {
		n += int64(im.WidthPX) * int64(im.HeightPX)
	}
	return n
}
