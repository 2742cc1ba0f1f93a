package review

import (
	"fmt"
	"net/http"
	"strings"

	"hidechart/export"
	"hidechart/hide"
)

// row is a chart in the list.
type row struct {
	Name string `json:"name"`
}

// list answers with the charts' names only, at once; the page asks for each
// summary, so that a folder of a thousand opens as fast as one of three.
func (s *Server) list(w http.ResponseWriter, r *http.Request) {
	names, err := s.shelf.names()
	if err != nil {
		s.fail(w, r, err)
		return
	}
	rows := make([]row, len(names))
	for i, n := range names {
		rows[i] = row{n}
	}
	if err := writeJSON(w, struct {
		Charts []row      `json:"charts"`
		Looks  []lookWord `json:"looks"`
	}{rows, s.lookWords()}); err != nil {
		s.fail(w, r, err)
	}
}

type lookWord struct {
	Name  string `json:"name"`
	Words string `json:"words"`
}

func (s *Server) lookWords() []lookWord {
	var out []lookWord
	for _, l := range s.opts.Looks {
		out = append(out, lookWord{l.Name, l.Words})
	}
	return out
}

// summary of a chart for the list.
type summary struct {
	Name     string      `json:"name"`
	ID       string      `json:"id"`
	Article  string      `json:"article"`
	Supplier string      `json:"supplier"`
	Lot      string      `json:"lot"`
	Area     hide.Area   `json:"area_mm2"`
	Flags    []hide.Flag `json:"flags"`
	Progress progress    `json:"progress"`
	Disputes int         `json:"disputes"`
	Picture  bool        `json:"picture"`
	Yield    cutting     `json:"yield"`
	Blind    int         `json:"blind"` // decisions of the blind review
}

func (s *Server) summary(w http.ResponseWriter, r *http.Request, x *session) error {
	look, err := s.lookOf(r.URL.Query().Get("look"))
	if err != nil {
		return err
	}
	cut, err := x.cut("", look)
	if err != nil {
		return err
	}
	cut.LookFirst = nil
	x.mu.Lock()
	defer x.mu.Unlock()
	p := x.passes[""]
	c := p.now.Chart
	c.Area.Budget = nil
	return writeJSON(w, summary{x.name, c.Capture.ID, c.Capture.Article, c.Capture.Supplier, c.Capture.Lot, c.Area, c.Flags,
		p.progress(), len(p.now.Disputes), x.lights != nil, cut, x.passes[blindPass].progress().Decided})
}

// state is everything that the page of one hide shows.
type state struct {
	Name     string            `json:"name"`
	Pass     string            `json:"pass"`
	Sum      string            `json:"chart_sha256"`
	Capture  hide.CaptureFacts `json:"capture"`
	Area     hide.Area         `json:"area_mm2"`
	Outline  hide.Polygon      `json:"outline"`
	Backbone [2]hide.Point     `json:"backbone_mm"`
	Defects  []hide.Defect     `json:"defects"`
	Revision map[int]int       `json:"revision"`
	Flags    []hide.Flag       `json:"flags"`
	Disputes []dispute         `json:"disputes"`
	Notes    []note            `json:"notes"`
	Progress progress          `json:"progress"`
	Lights   *tiled            `json:"lights"`
	Marks    []export.Mark     `json:"marks"`
	Looks    []lookWord        `json:"looks"`
	ReadOnly string            `json:"read_only,omitempty"`
	SetAside string            `json:"set_aside,omitempty"`
	MMPerPX  float64           `json:"mm_per_px"`
}

// tiled says how the lights are cut into tiles.
type tiled struct {
	export.Lights
	Tile  int `json:"tile_px"`
	Level int `json:"top_level"`
}

func (s *Server) state(w http.ResponseWriter, r *http.Request, x *session) error {
	name, err := passOf(r)
	if err != nil {
		return err
	}
	x.mu.Lock()
	defer x.mu.Unlock()
	if err := x.refresh(); err != nil {
		return err
	}
	p := x.passes[name]
	c := p.now.Chart
	out := state{Name: x.name, Pass: name, Sum: x.sum, Capture: c.Capture, Area: c.Area, Outline: c.Outline, Backbone: c.Backbone,
		Defects: orEmpty(c.Defects), Revision: p.now.Revision, Flags: orEmpty(c.Flags), Disputes: p.disputes(), Notes: p.notes(), Progress: p.progress(),
		Marks: export.Marks(), Looks: s.lookWords(), SetAside: x.record.setAside, MMPerPX: c.Frame.MMPerPX}
	if x.readOnly != nil {
		out.ReadOnly = strings.ReplaceAll(x.readOnly.Error(), s.shelf.dir, "the folder of charts")
	}
	if x.lights != nil {
		out.Lights = &tiled{*x.lights, tileSide, topLevel(x.lights.Width, x.lights.Height)}
	}
	return writeJSON(w, out)
}

func (s *Server) yield(w http.ResponseWriter, r *http.Request, x *session) error {
	name, err := passOf(r)
	if err != nil {
		return err
	}
	look, err := s.lookOf(r.URL.Query().Get("look"))
	if err != nil {
		return err
	}
	cut, err := x.cut(name, look)
	if err != nil {
		return err
	}
	return writeJSON(w, cut)
}

// decided answers a decision: what it did, and the yield after it.
type decided struct {
	change
	Yield *cutting `json:"yield,omitempty"`
}

func (s *Server) decide(w http.ResponseWriter, r *http.Request, x *session) error {
	name, err := passOf(r)
	if err != nil {
		return err
	}
	var a ask
	if err := readJSON(w, r, mostBody, &a); err != nil {
		return err
	}
	c, err := x.decide(name, a)
	if err != nil {
		return err
	}
	out := decided{change: c}
	if a.Look != "" {
		look, err := s.lookOf(a.Look)
		if err != nil {
			return err
		}
		if cut, err := x.cut(name, look); err == nil { // the decision is saved whatever the yield
			out.Yield = &cut
		}
	}
	return writeJSON(w, out)
}

// picture finds a light of the chart.
func (x *session) picture(light string) (export.Lights, export.LightPicture, error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	if err := x.refresh(); err != nil {
		return export.Lights{}, export.LightPicture{}, err
	}
	if x.lights != nil {
		if p, ok := x.lights.Find(hide.Light(light)); ok {
			return *x.lights, p, nil
		}
	}
	return export.Lights{}, export.LightPicture{}, hide.Faultf(hide.NotFound, "there is no picture of that light beside the chart")
}

func (s *Server) thumb(w http.ResponseWriter, r *http.Request, x *session) error {
	l, p, err := x.picture(string(hide.Top))
	if err != nil {
		return err
	}
	data, err := s.tiles.thumb(r.Context(), x.dir, l, p)
	if err != nil {
		return err
	}
	writeImage(w, data)
	return nil
}

// tile answers /tiles/LIGHT/LEVEL/X_Y.jpg. The address carries the picture's
// hash as a query for browsers to keep tiles by.
func (s *Server) tile(w http.ResponseWriter, r *http.Request, x *session) error {
	xs, ys, ok := strings.Cut(strings.TrimSuffix(r.PathValue("tile"), ".jpg"), "_")
	if !ok {
		return hide.Faultf(hide.NotFound, "no such tile")
	}
	n, err := numbers(r.PathValue("level"), xs, ys)
	if err != nil {
		return err
	}
	l, p, err := x.picture(r.PathValue("light"))
	if err != nil {
		return err
	}
	data, err := s.tiles.tile(r.Context(), x.dir, l, p, n[0], n[1], n[2])
	if err != nil {
		return err
	}
	if r.URL.Query().Get("of") == p.SHA256 {
		w.Header().Set("Cache-Control", "private, max-age=31536000, immutable")
	}
	writeImage(w, data)
	return nil
}

func writeImage(w http.ResponseWriter, data []byte) {
	w.Header().Set("Content-Type", "image/jpeg")
	w.Header().Set("Content-Length", fmt.Sprint(len(data)))
	_, _ = w.Write(data) // a reader that has gone cannot be told
}

// agreement compares the review with the blind one, by the candidates that
// both decided.
func (s *Server) agreement(w http.ResponseWriter, _ *http.Request, x *session) error {
	x.mu.Lock()
	defer x.mu.Unlock()
	if err := x.refresh(); err != nil {
		return err
	}
	var flaw, kind [2][]string
	apart := []int{}
	blind := map[int]hide.Defect{}
	for _, d := range x.passes[blindPass].now.Chart.Defects {
		blind[d.ID] = d
	}
	for _, a := range x.passes[""].now.Chart.Defects {
		b, both := blind[a.ID]
		if !both || a.Status == hide.Added || b.Status == hide.Added || a.Status == hide.Candidate || b.Status == hide.Candidate {
			continue
		}
		fa, ka := judged(a)
		fb, kb := judged(b)
		flaw[0], flaw[1] = append(flaw[0], fa), append(flaw[1], fb)
		kind[0], kind[1] = append(kind[0], ka), append(kind[1], kb)
		if ka != kb {
			apart = append(apart, a.ID)
		}
	}
	isFlaw, err := hide.Kappa(flaw[0], flaw[1])
	if err != nil {
		return err
	}
	isKind, err := hide.Kappa(kind[0], kind[1])
	if err != nil {
		return err
	}
	return writeJSON(w, struct {
		Flaw  hide.Agreement `json:"flaw"`  // a flaw or none
		Kind  hide.Agreement `json:"kind"`  // which kind, or none
		Apart []int          `json:"apart"` // judged differently
		Left  int            `json:"left"`  // to decide in the blind review
	}{isFlaw, isKind, apart, x.passes[blindPass].progress().Left})
}

func judged(d hide.Defect) (flaw, kind string) {
	if d.Status == hide.Rejected {
		return "none", "none"
	}
	return "flaw", string(d.Kind)
}
