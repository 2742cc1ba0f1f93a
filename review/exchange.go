package review

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"net/http"
	"strings"

	"hidechart/export"
	"hidechart/hide"
	"hidechart/plane"
)

// export answers with the reviewed chart in another format, as a download.
func (s *Server) export(w http.ResponseWriter, r *http.Request, x *session) error {
	formats, err := export.FindFormats([]string{r.PathValue("format")})
	if err != nil || formats[0].Name == "png" { // drawn from the photograph by the command
		return hide.Faultf(hide.NotFound, "there is no such format here")
	}
	c, lights, err := x.reviewed()
	if err != nil {
		return err
	}
	var b strings.Builder
	if err := formats[0].Write(&b, c, export.Photo{Lights: lights}); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/octet-stream")
	w.Header().Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", formats[0].FileName(c.Capture.ID)))
	_, _ = io.WriteString(w, b.String()) // a reader that has gone cannot be told
	return nil
}

func (x *session) reviewed() (hide.Chart, export.Lights, error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	if err := x.refresh(); err != nil {
		return hide.Chart{}, export.Lights{}, err
	}
	var l export.Lights
	if x.lights != nil {
		l = *x.lights
	}
	return x.passes[""].now.Chart, l, nil
}

// imported counts what came of a file of annotations.
type imported struct {
	Read    int `json:"read"`
	Decided int `json:"decided"`
	Same    int `json:"same"` // said what the chart says already
}

// importShapes takes annotations of others as decisions: one on a defect that
// is on the chart confirms, rejects or renames it, any other adds one. The same file
// sent again changes nothing, since keys follow from its content.
func (s *Server) importShapes(w http.ResponseWriter, r *http.Request, x *session) error {
	who := tidy(r.URL.Query().Get("who"))
	if !strings.HasPrefix(r.Header.Get("Content-Type"), "application/json") && !strings.HasPrefix(r.Header.Get("Content-Type"), "application/ld+json") {
		return hide.Faultf(hide.Invalid, "want application/json or application/ld+json")
	}
	data, err := io.ReadAll(r.Body)
	if err != nil {
		return hide.Wrapf(hide.Invalid, err, "request")
	}
	c, lights, err := x.reviewed()
	if err != nil {
		return err
	}
	var list []export.Annotated
	switch r.PathValue("format") {
	case "webannotation":
		list, err = export.ReadWebAnnotations(data, lights)
	case "coco":
		list, err = export.ReadCOCO(data, lights)
	default:
		return hide.Faultf(hide.NotFound, "there is no such format here")
	}
	if err != nil {
		return err
	}
	out := imported{Read: len(list)}
	sum := sha256.Sum256(data)
	for i, a := range list {
		asks := asksFor(a, c)
		if len(asks) == 0 {
			out.Same++
		}
		for k, q := range asks {
			x.lookAgain(q.Targets)
			q.Who, q.Key = who, fmt.Sprintf("%s-%d-%d", hex.EncodeToString(sum[:12]), i, k)
			if _, err := x.decide("", q); err != nil {
				return hide.Wrapf(hide.KindOf(err), err, "annotation %d of %d (those before it are taken)", i+1, len(list))
			}
			out.Decided++
		}
	}
	return writeJSON(w, out)
}

// lookAgain marks targets as seen as they are: what comes from a file is
// decided with sight of the chart as it is.
func (x *session) lookAgain(list []target) {
	x.mu.Lock()
	defer x.mu.Unlock()
	for i := range list {
		list[i].Seen = x.passes[""].now.Revision[list[i].ID]
	}
}

// alike is the common share (intersection over union) from which two shapes are one flaw:
// a shape that went through pixels of 0.5 mm and back keeps 0.9 down to a
// width of 5 mm; a number that is the same as well allows for less.
const (
	alike       = 0.9
	alikeNumber = 0.5
)

// asksFor turns an annotation into requests; none if it says what the chart says.
func asksFor(a export.Annotated, c hide.Chart) []ask {
	for _, d := range c.Defects {
		need := alike
		if d.ID == a.Defect {
			need = alikeNumber
		}
		if common(d.Geometry, a.Shape) < need {
			continue
		}
		return asksOn(a, d)
	}
	if a.Status == hide.Rejected {
		return nil // no flaw where we have none
	}
	open := a.Open
	return []ask{{Act: hide.ActAdd, Kind: a.Kind, Open: &open, Drawn: &stroke{Shape: a.Shape}}}
}

// asksOn turns an annotation into requests on the flaw that it is of.
func asksOn(a export.Annotated, d hide.Defect) []ask {
	at := func() []target { return []target{{ID: d.ID}} }
	if a.Status == hide.Rejected {
		if d.Status == hide.Rejected {
			return nil
		}
		return []ask{{Act: hide.ActReject, Targets: at()}}
	}
	var out []ask
	if a.Kind != d.Kind { // this and open say as well that it is one
		out = append(out, ask{Act: hide.ActKind, Kind: a.Kind, Targets: at()})
	}
	if a.Open != d.Open {
		open := a.Open
		out = append(out, ask{Act: hide.ActOpen, Open: &open, Targets: at()})
	}
	if out == nil && a.Status != hide.Candidate && d.Status != hide.Confirmed && d.Status != hide.Added {
		out = append(out, ask{Act: hide.ActConfirm, Targets: at()})
	}
	return out
}

// common is the intersection over the union of two shapes.
func common(a, b hide.Shape) float64 {
	in, err := plane.Intersection(a, b)
	if err != nil || len(in) == 0 {
		return 0
	}
	both := in.Area()
	return float64(both / (a.Area() + b.Area() - both))
}
