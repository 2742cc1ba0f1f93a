package review

import (
	"container/list"
	"context"
	"fmt"
	"image"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"sync"
	"time"

	"golang.org/x/sync/semaphore"
	"golang.org/x/sync/singleflight"

	"hidechart/export"
	"hidechart/hide"
	"hidechart/pix"
)

const (
	// tileSide in pixels: a screen of 1280 × 800 takes 6 to 12 of them.
	tileSide = 512
	// tileQuality: tiles are looked at, not measured.
	tileQuality = 88
	// reduction of the overview, which a JPEG gives without decoding it whole.
	reduction      = 8
	reductionSteps = 3 // log2(reduction)
	// heldPixels of decoded pictures are kept, three bytes each: six lights of 30
	// megapixels, or two of 100.
	heldPixels = 240e6
	// cacheBytes of tiles are kept on disk between runs.
	cacheBytes = 2 << 30
	// atWork tiles are cut at once: each holds up to 4 × 4 tiles of pixels.
	atWork = 4
	// thumbSide bounds the list's pictures.
	thumbSide = 320
)

// pyramids cuts pictures into the tiles of a deep zoom, as they are asked for.
// Decoded pictures are kept while there is room, tiles in a cache folder.
type pyramids struct {
	cache string // folder; empty: none
	work  *semaphore.Weighted
	once  singleflight.Group

	mu    sync.Mutex
	held  map[string]*list.Element // by key: *decoded
	order *list.List               // least recently used last
	total int64                    // pixels held
}

// decoded is a picture in memory. users keeps it open while tiles are cut.
type decoded struct {
	key   string
	im    *pix.Image
	users int
	gone  bool
}

func newPyramids(cache string) *pyramids {
	p := &pyramids{cache: cache, work: semaphore.NewWeighted(atWork), held: map[string]*list.Element{}, order: list.New()}
	p.tidyCache()
	return p
}

// topLevel is the level at full size: level 0 is one pixel.
func topLevel(width, height int) int {
	return int(math.Ceil(math.Log2(float64(max(width, height)))))
}

// levelSize is the size of a level, rounded up.
func levelSize(width, height, level int) (int, int) {
	d := 1 << (topLevel(width, height) - level)
	return (width + d - 1) / d, (height + d - 1) / d
}

// tile gives the JPEG of one tile. Errors: NotFound off the picture;
// Unreadable.
func (p *pyramids) tile(ctx context.Context, dir string, l export.Lights, pic export.LightPicture, level, x, y int) ([]byte, error) {
	top := topLevel(l.Width, l.Height)
	if level < 0 || level > top {
		return nil, hide.Faultf(hide.NotFound, "no such level")
	}
	w, h := levelSize(l.Width, l.Height, level)
	box := image.Rect(x*tileSide, y*tileSide, (x+1)*tileSide, (y+1)*tileSide).Intersect(image.Rect(0, 0, w, h))
	if x < 0 || y < 0 || x > w || y > h || box.Empty() {
		return nil, hide.Faultf(hide.NotFound, "no such tile")
	}
	name := filepath.Join(pic.SHA256, strconv.Itoa(level), fmt.Sprintf("%d_%d.jpg", x, y))
	return p.cached(ctx, name, func() ([]byte, error) {
		down := top - level // halvings
		from, factor := 1, down
		if down >= reductionSteps {
			from, factor = reduction, down-reductionSteps
		}
		im, done, err := p.picture(filepath.Join(dir, pic.File), pic.SHA256, from)
		if err != nil {
			return nil, err
		}
		defer done()
		return cutTile(im, box, factor)
	})
}

// cutTile cuts a box of a level that is 2^halvings smaller than the picture.
func cutTile(im *pix.Image, box image.Rectangle, halvings int) ([]byte, error) {
	d := 1 << halvings
	src := image.Rect(box.Min.X*d, box.Min.Y*d, box.Max.X*d, box.Max.Y*d).Intersect(im.Bounds())
	if src.Empty() {
		return nil, hide.Faultf(hide.NotFound, "no such tile")
	}
	part, err := im.Crop(src)
	if err != nil {
		return nil, err
	}
	defer part.Close()
	if halvings == 0 {
		return pix.EncodeJPEG(part, tileQuality)
	}
	small, err := pix.Resize(part, box.Dx(), box.Dy())
	if err != nil {
		return nil, err
	}
	defer small.Close()
	return pix.EncodeJPEG(small, tileQuality)
}

// thumb gives a small picture for the list.
func (p *pyramids) thumb(ctx context.Context, dir string, l export.Lights, pic export.LightPicture) ([]byte, error) {
	return p.cached(ctx, filepath.Join(pic.SHA256, "thumb.jpg"), func() ([]byte, error) {
		im, done, err := p.picture(filepath.Join(dir, pic.File), pic.SHA256, reduction)
		if err != nil {
			return nil, err
		}
		defer done()
		s := min(1, thumbSide/float64(max(l.Width, l.Height)))
		small, err := pix.Resize(im, max(1, int(float64(l.Width)*s)), max(1, int(float64(l.Height)*s)))
		if err != nil {
			return nil, err
		}
		defer small.Close()
		return pix.EncodeJPEG(small, tileQuality)
	})
}

// cached reads a file of the cache, or makes it. A cache that cannot be
// written costs time and nothing else.
func (p *pyramids) cached(ctx context.Context, name string, cut func() ([]byte, error)) ([]byte, error) {
	path := filepath.Join(p.cache, name)
	if p.cache != "" {
		if data, err := os.ReadFile(path); err == nil && len(data) > 0 {
			return data, nil
		}
	}
	v, err, _ := p.once.Do("tile "+name, func() (any, error) {
		if err := p.work.Acquire(ctx, 1); err != nil {
			return nil, hide.Wrapf(hide.Internal, err, "tile")
		}
		defer p.work.Release(1)
		data, err := cut()
		if err != nil {
			return nil, err
		}
		if p.cache != "" && os.MkdirAll(filepath.Dir(path), 0o755) == nil {
			_ = writeQuietly(path, data) // see above
		}
		return data, nil
	})
	if err != nil {
		return nil, err
	}
	data, ok := v.([]byte)
	if !ok {
		return nil, hide.Faultf(hide.Internal, "tile %s", name)
	}
	return data, nil
}

// writeQuietly appears whole or not at all, without waiting for the disk: a
// tile can be made again.
func writeQuietly(path string, data []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".part-")
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if closed := f.Close(); err == nil {
		err = closed
	}
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		_ = os.Remove(f.Name()) // the first error matters
	}
	return err
}

// picture gives a decoded picture at full size (from 1) or reduced, and what to
// call when done with it.
func (p *pyramids) picture(path, sum string, from int) (*pix.Image, func(), error) {
	key := fmt.Sprintf("%s/%d", sum, from)
	for {
		if im, done, ok := p.use(key); ok {
			return im, done, nil
		}
		if _, err, _ := p.once.Do(key, func() (any, error) { return nil, p.decode(path, key, from) }); err != nil {
			return nil, nil, err
		}
	}
}

func (p *pyramids) use(key string) (*pix.Image, func(), bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	e, ok := p.held[key]
	if !ok {
		return nil, nil, false
	}
	p.order.MoveToFront(e)
	d := e.Value.(*decoded) //nolint:errcheck // the list holds nothing else
	d.users++
	return d.im, func() {
		p.mu.Lock()
		defer p.mu.Unlock()
		if d.users--; d.gone && d.users == 0 {
			d.im.Close()
		}
	}, true
}

func (p *pyramids) decode(path, key string, from int) error {
	data, err := readPicture(path)
	if err != nil {
		return err
	}
	var im *pix.Image
	if from == 1 {
		im, err = pix.Decode(data, pix.DefaultLimits())
	} else {
		im, err = pix.DecodeReduced(data, pix.DefaultLimits(), from)
	}
	if err != nil {
		return hide.Wrapf(hide.Unreadable, err, "%s", filepath.Base(path))
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.held[key] = p.order.PushFront(&decoded{key: key, im: im})
	p.total += pixels(im)
	p.drop()
	return nil
}

// drop lets go of what was not used for longest, but never of the newest. Call with mu.
func (p *pyramids) drop() {
	for p.total > heldPixels && p.order.Len() > 1 {
		e := p.order.Back()
		d := e.Value.(*decoded) //nolint:errcheck // the list holds nothing else
		p.order.Remove(e)
		delete(p.held, d.key)
		p.total -= pixels(d.im)
		if d.gone = true; d.users == 0 {
			d.im.Close()
		}
	}
}

func pixels(im *pix.Image) int64 { return int64(im.Width()) * int64(im.Height()) }

// close frees all pictures.
func (p *pyramids) close() {
	p.mu.Lock()
	defer p.mu.Unlock()
	for e := p.order.Front(); e != nil; e = e.Next() {
		d := e.Value.(*decoded) //nolint:errcheck // the list holds nothing else
		if d.gone = true; d.users == 0 {
			d.im.Close()
		}
	}
	p.order.Init()
	clear(p.held)
}

// mostPicture bytes of a light: 400 megapixels as JPEG.
const mostPicture = 1 << 30

func readPicture(path string) ([]byte, error) {
	if !plainFile(path) {
		return nil, hide.Faultf(hide.NotFound, "there is no %s", filepath.Base(path))
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "picture")
	}
	defer func() { _ = f.Close() }() // read only
	data, err := io.ReadAll(io.LimitReader(f, mostPicture+1))
	if err != nil || len(data) > mostPicture {
		return nil, hide.Wrapf(hide.Unreadable, err, "picture %s cannot be read or is too large", filepath.Base(path))
	}
	return data, nil
}

// sumName is the name of a pyramid's folder: the hash of its picture.
var sumName = regexp.MustCompile(`^[0-9a-f]{64}$`)

// tidyCache removes the pyramids used longest ago while the cache is too large.
func (p *pyramids) tidyCache() {
	if p.cache == "" {
		return
	}
	type folder struct {
		path string
		size int64
		at   time.Time
	}
	var all []folder
	var total int64
	entries, _ := os.ReadDir(p.cache) // a cache that is not there needs no tidying
	for _, e := range entries {
		if !sumName.MatchString(e.Name()) {
			continue // not ours
		}
		f := folder{path: filepath.Join(p.cache, e.Name())}
		_ = filepath.WalkDir(f.path, func(_ string, d os.DirEntry, err error) error {
			if err != nil {
				return nil //nolint:nilerr // what cannot be read is not counted
			}
			if info, err := d.Info(); err == nil && info.Mode().IsRegular() {
				f.size += info.Size()
				if info.ModTime().After(f.at) {
					f.at = info.ModTime()
				}
			}
			return nil
		})
		total += f.size
		all = append(all, f)
	}
	slices.SortFunc(all, func(a, b folder) int { return a.at.Compare(b.at) })
	for _, f := range all {
		if total <= cacheBytes {
			return
		}
		if os.RemoveAll(f.path) == nil {
			total -= f.size
		}
	}
}
