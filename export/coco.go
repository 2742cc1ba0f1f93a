package export

import (
	"encoding/json"
	"io"
	"math"

	"hidechart/hide"
)

// The object detection format of COCO (Lin et al. 2014, "Microsoft COCO: Common
// objects in context", arXiv:1405.0312; data format page of the data set): polygons for shapes
// without holes, a run-length code with iscrowd 1 for those with, pixels from the picture's
// corner. Keys of our own: sha256 of the image; status, probability and open of an annotation.
type cocoFile struct {
	Info        cocoInfo         `json:"info"`
	Images      []cocoImage      `json:"images"`
	Categories  []cocoCategory   `json:"categories"`
	Annotations []cocoAnnotation `json:"annotations"`
}

type cocoInfo struct {
	Description string `json:"description"`
	Version     string `json:"version"`
}

type cocoImage struct {
	ID       int    `json:"id"`
	FileName string `json:"file_name"`
	Width    int    `json:"width"`
	Height   int    `json:"height"`
	SHA256   string `json:"sha256"`
}

type cocoCategory struct {
	ID            int    `json:"id"`
	Name          string `json:"name"`
	Supercategory string `json:"supercategory"`
}

type cocoAnnotation struct {
	ID           int             `json:"id"`
	ImageID      int             `json:"image_id"`
	CategoryID   int             `json:"category_id"`
	Segmentation json.RawMessage `json:"segmentation"`
	Area         float64         `json:"area"`
	BBox         [4]float64      `json:"bbox"`
	IsCrowd      int             `json:"iscrowd"`
	Status       hide.Status     `json:"status,omitempty"`
	Probability  float64         `json:"probability"`
	Open         bool            `json:"open"`
}

// WriteCOCO writes the defects of a chart on the picture under top light.
// Rejected ones are there, with their status. Errors: Invalid without that picture.
func WriteCOCO(w io.Writer, c hide.Chart, l Lights) error {
	source, err := annotated(l)
	if err != nil {
		return err
	}
	out := cocoFile{Info: cocoInfo{"hide " + c.Capture.ID, hide.Format},
		Images: []cocoImage{{1, source.File, l.Width, l.Height, source.SHA256}}, Annotations: []cocoAnnotation{}}
	category := map[hide.Kind]int{}
	for i, k := range hide.Kinds() {
		category[k] = i + 1
		out.Categories = append(out.Categories, cocoCategory{i + 1, string(k), "defect"})
	}
	for _, d := range c.Defects {
		a := cocoAnnotation{ID: d.ID, ImageID: 1, CategoryID: category[d.Kind], Status: d.Status, Probability: d.Probability, Open: d.Open}
		if err := a.segment(d.Geometry, l); err != nil {
			return err
		}
		out.Annotations = append(out.Annotations, a)
	}
	data, err := encodeJSON(out)
	if err != nil {
		return hide.Wrapf(hide.Internal, err, "COCO")
	}
	_, err = w.Write(data)
	return err
}

func (a *cocoAnnotation) segment(s hide.Shape, l Lights) error {
	g := l.Grid()
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	var lists [][]float64
	holes := false
	for _, p := range s {
		var list []float64
		for _, q := range p.Outer {
			x, y := edgePixel(g, q)
			x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x), max(y1, y)
			list = append(list, roundPixel(x), roundPixel(y))
		}
		lists = append(lists, list)
		holes = holes || len(p.Holes) > 0
	}
	a.BBox = [4]float64{roundPixel(x0), roundPixel(y0), roundPixel(x1 - x0), roundPixel(y1 - y0)}
	a.Area = roundPixel(float64(s.Area()) / float64(g.MMPerPX*g.MMPerPX))
	var seg any = lists
	if holes {
		a.IsCrowd = 1
		r := maskOf(s, g)
		a.Area = float64(r.area())
		seg = cocoRLE{Counts: r.counts(), Size: [2]int{l.Height, l.Width}}
	}
	data, err := json.Marshal(seg)
	if err != nil {
		return hide.Wrapf(hide.Invalid, err, "defect %d", a.ID)
	}
	a.Segmentation = data
	return nil
}

func roundPixel(v float64) float64 {
	s := math.Pow(10, pixelDigits)
	return math.Round(v*s) / s
}

// ReadCOCO reads annotations of the pictures beside a chart: an image is ours by its
// hash, or by its file name and size. Annotations of other images are left out. A run-length code
// becomes the outline of its pixels. Errors: Invalid, naming the annotation.
func ReadCOCO(data []byte, l Lights) ([]Annotated, error) {
	var f cocoFile
	if err := json.Unmarshal(data, &f); err != nil {
		return nil, hide.Wrapf(hide.Invalid, err, "COCO")
	}
	ours := map[int]bool{}
	for _, im := range f.Images {
		for _, p := range l.Pictures {
			named := im.SHA256 == "" && im.FileName == p.File && im.Width == l.Width && im.Height == l.Height
			if im.SHA256 == p.SHA256 || named {
				ours[im.ID] = true
			}
		}
	}
	if len(ours) == 0 {
		return nil, hide.Faultf(hide.Invalid, "COCO: none of its images is a picture of this chart")
	}
	names := map[int]hide.Kind{}
	for _, c := range f.Categories {
		names[c.ID] = hide.Kind(c.Name)
	}
	var out []Annotated
	for _, a := range f.Annotations {
		if !ours[a.ImageID] {
			continue
		}
		if len(out) >= mostAnnotations {
			return nil, hide.Faultf(hide.Invalid, "more than %d annotations", mostAnnotations)
		}
		x, err := a.read(names[a.CategoryID], l)
		if err != nil {
			return nil, hide.Wrapf(hide.Invalid, err, "annotation %d", a.ID)
		}
		out = append(out, x)
	}
	return out, nil
}

func (a cocoAnnotation) read(kind hide.Kind, l Lights) (Annotated, error) {
	out := Annotated{Defect: a.ID, Kind: kind, Status: a.Status, Open: a.Open}
	if !kind.Valid() {
		return out, hide.Faultf(hide.Invalid, "category %q is no kind of flaw", kind)
	}
	switch out.Status {
	case hide.Candidate, hide.Confirmed, hide.Rejected, hide.Added:
	default:
		out.Status = hide.Candidate
	}
	var lists [][]float64
	if json.Unmarshal(a.Segmentation, &lists) == nil {
		var rings [][][2]float64
		for _, list := range lists {
			var r [][2]float64
			for i := 0; i+1 < len(list); i += 2 {
				r = append(r, [2]float64{list[i], list[i+1]})
			}
			rings = append(rings, r)
		}
		parts, err := pixelRings(l.Grid(), rings)
		if err != nil {
			return out, err
		}
		out.Shape, err = evenOdd(parts)
		return out, err
	}
	var rle cocoRLE
	if err := json.Unmarshal(a.Segmentation, &rle); err != nil {
		return out, hide.Wrapf(hide.Invalid, err, "segmentation")
	}
	if rle.Size != [2]int{l.Height, l.Width} {
		return out, hide.Faultf(hide.Invalid, "segmentation of %v, the picture is %d × %d high and wide", rle.Size, l.Height, l.Width)
	}
	m, err := maskFrom(rle.Counts, l.Width, l.Height)
	if err != nil {
		return out, err
	}
	out.Shape, err = m.shape(l.Grid())
	return out, err
}
