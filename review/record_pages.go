package review

import (
	"bytes"
	"context"
	"embed"
	"html/template"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"time"

	"hidechart/export"
	"hidechart/hide"
	filed "hidechart/record" // "record" is the review's own
)

//go:embed record
var recordAssets embed.FS

// recordPolicy is policy with forms of our own, which search and filter.
const recordPolicy = "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// recordPages are the pages of the record: hides, lots, suppliers and sheets. They
// work without scripts.
type recordPages struct {
	server *Server
	store  *filed.Store
	forms  *template.Template
	mu     sync.Mutex
	kept   map[string]keptSheet
}

// keptSheet is a sheet with its plots, so that a page and its ten pictures do not
// work it out eleven times.
type keptSheet struct {
	at    time.Time
	sheet hide.Sheet
	plots []export.SheetPlot
}

// Sheets are kept for a minute, which outlasts loading a page and is short enough that
// filing shows at the next look; mostKept bounds the memory (a sheet with its plots takes about 1 MB).
const (
	keepSheet = time.Minute
	mostKept  = 16
	pageRows  = 100 // a screen or three
)

// recordRoutes adds the pages of the record.
func (s *Server) recordRoutes(m *http.ServeMux) {
	p := &recordPages{server: s, store: s.opts.Record, kept: map[string]keptSheet{}}
	p.forms = template.Must(template.New("").Funcs(template.FuncMap{
		"query": recordQuery, "dm2": func(a hide.MM2) string { return strconv.FormatFloat(a.DM2(), 'f', 2, 64) },
		"words": func(k hide.Kind) string { return k.Words() }, "day": func(s string) string { return s[:min(10, len(s))] },
		"add": func(a, b int) int { return a + b }, "isFloat": func(v any) bool { _, ok := v.(float64); return ok }, "twice": func(a hide.MM2) hide.MM2 { return 2 * a },
	}).ParseFS(recordAssets, "record/*.html")) // our own files: a test parses them
	m.HandleFunc("GET /record/{$}", func(w http.ResponseWriter, r *http.Request) {
		http.Redirect(w, r, "/record/suppliers", http.StatusFound)
	})
	m.HandleFunc("GET /record/style.css", func(w http.ResponseWriter, r *http.Request) { http.ServeFileFS(w, r, recordAssets, "record/style.css") })
	for path, h := range map[string]func(http.ResponseWriter, *http.Request) error{
		"hides": p.hides, "lots": p.lots, "suppliers": p.suppliers, "sheet": p.sheet, "plot": p.plot, "drawing": p.drawing,
	} {
		m.HandleFunc("GET /record/"+path, func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Security-Policy", recordPolicy)
			if err := h(w, r); err != nil {
				s.fail(w, r, err)
			}
		})
	}
}

// front is the list of charts, with a way to the record if there is one.
func (s *Server) front(w http.ResponseWriter, _ *http.Request) {
	if s.opts.Record == nil {
		serveAsset(w, "index.html")
		return
	}
	data, err := assets.ReadFile("assets/index.html")
	if err != nil {
		writeFault(w, http.StatusNotFound, "there is no such file")
		return
	}
	w.Header().Set("Content-Type", assetType("index.html"))
	_, _ = w.Write(bytes.Replace(data, []byte("</header>"), []byte(`<a href="/record/suppliers">Record</a></header>`), 1)) // a reader that has gone cannot be told
}

// recordQuery writes pairs of key and value as a query, those without value left out.
func recordQuery(pairs ...string) template.URL {
	q := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		if pairs[i+1] != "" {
			q.Set(pairs[i], pairs[i+1])
		}
	}
	return template.URL(q.Encode())
}

// filterOf reads search and filter from an address. Error: Invalid.
func filterOf(r *http.Request) (filed.Filter, error) {
	q := r.URL.Query()
	f := filed.Filter{SheetScope: hide.SheetScope{Supplier: q.Get("supplier"), Lot: q.Get("lot"), Article: q.Get("article"), Month: q.Get("month")},
		Search: strings.TrimSpace(q.Get("search")), Kind: hide.Kind(q.Get("kind"))}
	if f.Kind != "" && !f.Kind.Valid() {
		return f, hide.Faultf(hide.Invalid, "kind %q is not known", f.Kind)
	}
	switch v := q.Get("reviewed"); v {
	case "yes", "no":
		yes := v == "yes"
		f.Reviewed = &yes
	case "":
	default:
		return f, hide.Faultf(hide.Invalid, "reviewed: want yes or no")
	}
	return f, nil
}

// listPage is what the three lists show.
type listPage struct {
	Title    string
	Here     string
	Filter   filed.Filter
	Reviewed string
	Kinds    []hide.Kind
	Hides    []recordRow
	Lots     []filed.Lot
	Supplier []filed.Supplier
	Count    int
	First    int
	Next     string // query of the next page
	Before   string
}

// recordRow is a hide with its place on the review page, if its chart lies there.
type recordRow struct {
	filed.Hide
	Review string
}

func (p *recordPages) show(w http.ResponseWriter, name string, data any) error {
	var b bytes.Buffer
	if err := p.forms.ExecuteTemplate(&b, name, data); err != nil {
		return hide.Wrapf(hide.Internal, err, "page")
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, _ = w.Write(b.Bytes()) // a reader that has gone cannot be told
	return nil
}

func (p *recordPages) hides(w http.ResponseWriter, r *http.Request) error {
	f, err := filterOf(r)
	if err != nil {
		return err
	}
	page := listPage{Title: "Hides", Here: "hides", Filter: f, Reviewed: r.URL.Query().Get("reviewed"), Kinds: hide.Kinds()}
	if page.Count, err = p.store.CountHides(r.Context(), f); err != nil {
		return err
	}
	number, err := strconv.Atoi(r.URL.Query().Get("page"))
	if err != nil || number < 0 || number > page.Count/pageRows {
		number = 0
	}
	f.Limit, f.Offset = pageRows, number*pageRows
	list, err := p.store.Hides(r.Context(), f)
	if err != nil {
		return err
	}
	here := p.server.names()
	for _, h := range list {
		row := recordRow{Hide: h}
		if name := export.SafeName(h.Hide); here[name] {
			row.Review = name
		}
		page.Hides = append(page.Hides, row)
	}
	page.First = f.Offset
	turn := func(n int) string { q := r.URL.Query(); q.Set("page", strconv.Itoa(n)); return q.Encode() }
	if f.Offset+pageRows < page.Count {
		page.Next = turn(number + 1)
	}
	if number > 0 {
		page.Before = turn(number - 1)
	}
	return p.show(w, "hides.html", page)
}

// names are the charts in the review's folder.
func (s *Server) names() map[string]bool {
	out := map[string]bool{}
	list, err := s.shelf.names()
	if err != nil {
		return out // the list of charts says so itself
	}
	for _, name := range list {
		out[name] = true
	}
	return out
}

func (p *recordPages) lots(w http.ResponseWriter, r *http.Request) error {
	f, err := filterOf(r)
	if err != nil {
		return err
	}
	page := listPage{Title: "Lots", Here: "lots", Filter: f}
	if page.Lots, err = p.store.Lots(r.Context(), f); err != nil {
		return err
	}
	page.Count = len(page.Lots)
	return p.show(w, "lots.html", page)
}

func (p *recordPages) suppliers(w http.ResponseWriter, r *http.Request) error {
	f, err := filterOf(r)
	if err != nil {
		return err
	}
	page := listPage{Title: "Suppliers", Here: "suppliers", Filter: f}
	if page.Supplier, err = p.store.Suppliers(r.Context(), f); err != nil {
		return err
	}
	page.Count = len(page.Supplier)
	return p.show(w, "suppliers.html", page)
}

// sheetFor works a sheet out, or gives the one of a moment ago.
func (p *recordPages) sheetFor(ctx context.Context, sc hide.SheetScope) (keptSheet, error) {
	key := string(recordQuery("supplier", sc.Supplier, "lot", sc.Lot, "article", sc.Article, "month", sc.Month))
	now := p.server.opts.Now()
	p.mu.Lock()
	k, ok := p.kept[key]
	p.mu.Unlock()
	if ok && now.Sub(k.at) < keepSheet {
		return k, nil
	}
	sheet, err := p.store.Sheet(ctx, sc, now)
	if err != nil {
		return k, err
	}
	plots, err := export.SheetPlots(sheet)
	if err != nil {
		return k, err
	}
	k = keptSheet{now, sheet, plots}
	p.mu.Lock()
	defer p.mu.Unlock()
	if len(p.kept) >= mostKept {
		clear(p.kept)
	}
	p.kept[key] = k
	return k, nil
}

// sheetPage is a sheet as the page shows it.
type sheetPage struct {
	Title    string
	Here     string
	Sheet    hide.Sheet
	Facts    [][2]string
	Findings []string
	Plots    []string
	Tables   []export.SheetTable
	Filter   filed.Filter
}

func (p *recordPages) sheet(w http.ResponseWriter, r *http.Request) error {
	f, err := filterOf(r)
	if err != nil {
		return err
	}
	k, err := p.sheetFor(r.Context(), f.SheetScope)
	if err != nil {
		return err
	}
	page := sheetPage{Title: export.SheetTitle(f.SheetScope), Sheet: k.sheet, Facts: export.SheetFacts(k.sheet), Findings: export.SheetFindings(k.sheet), Tables: export.SheetTables(k.sheet)[1:], Filter: f}
	for _, plot := range k.plots {
		page.Plots = append(page.Plots, plot.Name)
	}
	return p.show(w, "sheet.html", page)
}

func (p *recordPages) plot(w http.ResponseWriter, r *http.Request) error {
	f, err := filterOf(r)
	if err != nil {
		return err
	}
	k, err := p.sheetFor(r.Context(), f.SheetScope)
	if err != nil {
		return err
	}
	for _, plot := range k.plots {
		if plot.Name == r.URL.Query().Get("name") {
			return writeSVG(w, plot.SVG)
		}
	}
	return hide.Faultf(hide.NotFound, "there is no such plot")
}

func writeSVG(w http.ResponseWriter, data []byte) error {
	w.Header().Set("Content-Type", "image/svg+xml")
	w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'") // a picture: nothing in it runs or loads
	_, _ = w.Write(data)                                                                       // a reader that has gone cannot be told
	return nil
}

// drawing is a filed chart as SVG, reviewed.
func (p *recordPages) drawing(w http.ResponseWriter, r *http.Request) error {
	data, review, err := p.store.ChartOf(r.Context(), r.URL.Query().Get("sha256"))
	if err != nil {
		return err
	}
	c, err := export.ParseChart(data)
	if err != nil {
		return err
	}
	if len(review) > 0 {
		decisions, err := export.ParseReview(review)
		if err != nil {
			return err
		}
		c = hide.Fold(c, r.URL.Query().Get("sha256"), decisions.Decisions, "").Chart
	}
	var b bytes.Buffer
	if err := export.WriteSVG(&b, c); err != nil {
		return err
	}
	return writeSVG(w, b.Bytes())
}
