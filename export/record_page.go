package export

import (
	"html/template"
	"io"
	"strconv"

	"hidechart/hide"
)

// sheetPageForm is a sheet as a web page that needs no other file. Its style is taken by both light and
// dark screens' printing: black on white, as the plots are.
const sheetPageForm = `<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>{{.Title}}</title>
<style>
body{font:15px/1.45 "Go",system-ui,sans-serif;color:#1e1e1e;background:#fff;max-width:72rem;margin:1.5rem auto;padding:0 1rem}
h1{font-size:1.5rem;margin:0}h2{font-size:1.1rem;margin:1.6rem 0 .4rem}
table{border-collapse:collapse;margin:.4rem 0;display:block;overflow-x:auto}td,th{padding:.15rem .6rem;text-align:left;border-bottom:1px solid #ddd;white-space:nowrap}td.n{text-align:right;font-variant-numeric:tabular-nums}
.plots{display:flex;flex-wrap:wrap;gap:1rem}.plots figure{margin:0}.plots svg{width:34rem;max-width:100%;height:auto;overflow:visible}.plots [id^=plot-map] svg{width:14rem}li{margin:.2rem 0}footer{color:#555;margin-top:1.5rem}
</style></head><body>
{{template "sheet" .}}
</body></html>
{{define "sheet"}}<h1><bdi>{{.Title}}</bdi></h1>
<p>drawn up {{.Sheet.Made}} · {{.Sheet.Hides}} hides ({{.Sheet.Sides}} sides), {{len .Sheet.Lots}} lots, {{printf "%.1f" .Sheet.AreaM2}} m²{{with .Sheet.Scope.Supplier}} · <bdi>{{.}}</bdi>{{end}}{{with .Sheet.Scope.Article}} · <bdi>{{.}}</bdi>{{end}}</p>
<table>{{range .Facts}}<tr><th scope="row"><bdi>{{index . 0}}</bdi></th><td><bdi>{{index . 1}}</bdi></td></tr>{{end}}</table>
<h2>What stands out</h2><ul>{{range .Findings}}<li><bdi>{{.}}</bdi></li>{{end}}</ul>
<h2>Plots</h2><div class="plots">{{range .Plots}}<figure id="plot-{{.Name}}">{{.SVG}}</figure>{{end}}</div>
{{range .Tables}}{{if .Rows}}<h2>{{.Name}}</h2><table><tr>{{range .Header}}<th>{{.}}</th>{{end}}</tr>
{{range .Rows}}<tr>{{range .}}<td{{if .Number}} class="n"{{end}}><bdi>{{.Text}}</bdi></td>{{end}}</tr>
{{end}}</table>{{end}}{{end}}
<footer>{{range .Sheet.Notes}}<p>{{.}}</p>{{end}}</footer>{{end}}`

type sheetCell struct {
	Text   string
	Number bool
}

type sheetTablePart struct {
	Name   string
	Header []string
	Rows   [][]sheetCell
}

type sheetPlotPart struct {
	Name string
	SVG  template.HTML
}

type sheetData struct {
	Title    string
	Sheet    hide.Sheet
	Facts    [][2]string
	Findings []string
	Plots    []sheetPlotPart
	Tables   []sheetTablePart
}

// WriteSheetPage writes a sheet as a web page: the same figures, findings and plots as
// the printed one, every map and every table. Names from outside are escaped and kept apart in
// their direction of reading.
func WriteSheetPage(w io.Writer, s hide.Sheet) error { return writeSheetForm(w, s, "page") }

// WriteSheetBody writes what stands in that page's body, for a page of somebody else's.
func WriteSheetBody(w io.Writer, s hide.Sheet) error { return writeSheetForm(w, s, "sheet") }

func writeSheetForm(w io.Writer, s hide.Sheet, part string) error {
	form, err := template.New("page").Parse(sheetPageForm)
	if err != nil {
		return hide.Wrapf(hide.Internal, err, "sheet page")
	}
	data := sheetData{Title: SheetTitle(s.Scope), Sheet: s, Facts: SheetFacts(s), Findings: SheetFindings(s)}
	plots, err := SheetPlots(s)
	if err != nil {
		return err
	}
	for _, p := range plots {
		data.Plots = append(data.Plots, sheetPlotPart{p.Name, template.HTML(p.SVG)})
	}
	for _, t := range SheetTables(s)[1:] { // the first is the facts
		data.Tables = append(data.Tables, sheetTableOf(t))
	}
	if err := form.ExecuteTemplate(w, part, data); err != nil {
		return hide.Wrapf(hide.Internal, err, "sheet page")
	}
	return nil
}

func sheetTableOf(t SheetTable) sheetTablePart {
	out := sheetTablePart{Name: t.Name, Header: t.Header}
	for _, row := range t.Rows {
		var cells []sheetCell
		for _, v := range row {
			switch v := v.(type) {
			case string:
				cells = append(cells, sheetCell{Text: v})
			case int:
				cells = append(cells, sheetCell{strconv.Itoa(v), true})
			case float64:
				cells = append(cells, sheetCell{strconv.FormatFloat(v, 'g', 4, 64), true})
			default:
				cells = append(cells, sheetCell{})
			}
		}
		out.Rows = append(out.Rows, cells)
	}
	return out
}
