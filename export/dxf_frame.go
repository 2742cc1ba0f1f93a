package export

import (
	"fmt"

	"hidechart/hide"
)

// Handles of the objects that every file holds; entities count on from
// firstFreeHandle.
const (
	tableVPort, tableLType, tableLayer, tableStyle = "1", "2", "3", "4"
	tableView, tableUCS, tableAppID, tableDimStyle = "5", "6", "7", "8"
	tableBlocks                                    = "9"
	modelRecord, paperRecord                       = "A", "B"
	rootDict, groupDict, layoutDict                = "C", "D", "E"
	modelLayout, paperLayout                       = "F", "10"
	firstTableEntry                                = 0x20
	firstFreeHandle                                = 0x100
)

// dxfLayer is a layer with its colour (AutoCAD colour index).
type dxfLayer struct {
	name   string
	colour int
}

// dxfLayers lists every layer, used or not: a machine set up once for our layers
// finds them in every file. Colour numbers are the index's standard ones: 1 red,
// 2 yellow, 3 green, 4 cyan, 5 blue, 6 magenta, 7 black or white, 8 grey, 30 orange.
func dxfLayers() []dxfLayer {
	out := []dxfLayer{{"0", 7}, {layerOutline, 7}, {layerHoles, 1}, {layerBackbone, 8}, {layerLabels, 7}, {layerBar, 7}, {layerNotes, 8},
		{layerZoneHole, 8}, {layerInner, 8}}
	for _, z := range hide.Zones() {
		out = append(out, dxfLayer{zoneLayer(z), 8})
	}
	for _, k := range hide.Kinds() {
		colour := map[hide.Kind]int{hide.Hole: 1, hide.Thin: 1, hide.FlayCut: 1, hide.Scar: 5, hide.Scratch: 5, hide.Wrinkle: 4, hide.Vein: 4,
			hide.Bites: 6, hide.Wart: 6, hide.Brand: 2, hide.Stain: 30, hide.Loose: 3}[k]
		out = append(out, dxfLayer{defectLayer(k), colour})
	}
	return out
}

func (f *dxfFile) header(b box, seed int) {
	f.pair(0, "SECTION")
	f.pair(2, "HEADER")
	variable := func(name string) { f.pair(9, name) }
	variable("$ACADVER")
	f.pair(1, "AC1015")
	variable("$DWGCODEPAGE")
	f.pair(3, "ANSI_1252")
	variable("$HANDSEED")
	f.pair(5, fmt.Sprintf("%X", seed))
	variable("$INSUNITS")
	f.ints(70, 4) // millimetres
	variable("$MEASUREMENT")
	f.ints(70, 1) // metric
	variable("$LUNITS")
	f.ints(70, 2) // decimal
	variable("$EXTMIN")
	f.xy(b.minX, b.minY, 0)
	variable("$EXTMAX")
	f.xy(b.maxX, b.maxY, 0)
	f.pair(0, "ENDSEC")
	f.pair(0, "SECTION")
	f.pair(2, "CLASSES")
	f.pair(0, "ENDSEC")
}

func (f *dxfFile) tables(layers []dxfLayer, b box) {
	next := firstTableEntry
	entry := func(kind, table, class string) {
		next++
		f.pair(0, kind)
		code := 5
		if kind == "DIMSTYLE" { // the one entry whose handle stands under 105
			code = 105
		}
		f.pair(code, fmt.Sprintf("%X", next))
		f.pair(330, table)
		f.pair(100, "AcDbSymbolTableRecord")
		f.pair(100, class)
	}
	f.pair(0, "SECTION")
	f.pair(2, "TABLES")
	f.viewports(entry, b)
	f.lineTypes(entry)
	f.table("LAYER", tableLayer, len(layers))
	for _, l := range layers {
		entry("LAYER", tableLayer, "AcDbLayerTableRecord")
		f.pair(2, l.name)
		f.ints(70, 0, 62, l.colour)
		f.pair(6, "Continuous")
	}
	f.pair(0, "ENDTAB")
	f.styles(entry)
	f.blockRecords()
	f.pair(0, "ENDSEC")
}

func (f *dxfFile) table(kind, handle string, entries int) {
	f.pair(0, "TABLE")
	f.pair(2, kind)
	f.pair(5, handle)
	f.pair(330, "0")
	f.pair(100, "AcDbSymbolTable")
	f.ints(70, entries)
}

// viewports opens the drawing on the whole hide.
func (f *dxfFile) viewports(entry func(kind, table, class string), b box) {
	f.table("VPORT", tableVPort, 1)
	entry("VPORT", tableVPort, "AcDbViewportTableRecord")
	f.pair(2, "*Active")
	f.ints(70, 0)
	f.xyAt(10, 0, 0)
	f.xyAt(11, 1, 1)
	f.xyAt(12, (b.minX+b.maxX)/2, (b.minY+b.maxY)/2)
	f.real(40, 1.2*max(b.maxY-b.minY, (b.maxX-b.minX)/1.6)) // height of the view; screens are about 16:10
	f.real(41, 1.6)
	f.pair(0, "ENDTAB")
}

func (f *dxfFile) xyAt(code int, x, y float64) {
	f.real(code, x)
	f.real(code+10, y)
}

func (f *dxfFile) lineTypes(entry func(kind, table, class string)) {
	names := []string{"ByBlock", "ByLayer", "Continuous"}
	f.table("LTYPE", tableLType, len(names))
	for _, n := range names {
		entry("LTYPE", tableLType, "AcDbLinetypeTableRecord")
		f.pair(2, n)
		f.ints(70, 0)
		f.pair(3, "")
		f.ints(72, 65, 73, 0)
		f.real(40, 0)
	}
	f.pair(0, "ENDTAB")
}

func (f *dxfFile) styles(entry func(kind, table, class string)) {
	f.table("STYLE", tableStyle, 1)
	entry("STYLE", tableStyle, "AcDbTextStyleTableRecord")
	f.pair(2, "Standard")
	f.ints(70, 0)
	f.real(40, 0)
	f.real(41, 1)
	f.real(50, 0)
	f.ints(71, 0)
	f.real(42, drawnText)
	f.pair(3, "txt")
	f.pair(4, "")
	f.pair(0, "ENDTAB")
	for _, t := range []struct{ kind, handle string }{{"VIEW", tableView}, {"UCS", tableUCS}} {
		f.table(t.kind, t.handle, 0)
		f.pair(0, "ENDTAB")
	}
	f.table("APPID", tableAppID, 1)
	entry("APPID", tableAppID, "AcDbRegAppTableRecord")
	f.pair(2, "ACAD")
	f.ints(70, 0)
	f.pair(0, "ENDTAB")
	f.table("DIMSTYLE", tableDimStyle, 1)
	f.pair(100, "AcDbDimStyleTable")
	entry("DIMSTYLE", tableDimStyle, "AcDbDimStyleTableRecord")
	f.pair(2, "Standard")
	f.ints(70, 0)
	f.pair(0, "ENDTAB")
}

// space is the model or the paper space: its block, record, layout.
type space struct{ name, record, layout string }

func spaces() []space {
	return []space{{"*Model_Space", modelRecord, modelLayout}, {"*Paper_Space", paperRecord, paperLayout}}
}

func (f *dxfFile) blockRecords() {
	f.table("BLOCK_RECORD", tableBlocks, 2)
	for _, s := range spaces() {
		f.pair(0, "BLOCK_RECORD")
		f.pair(5, s.record)
		f.pair(330, tableBlocks)
		f.pair(100, "AcDbSymbolTableRecord")
		f.pair(100, "AcDbBlockTableRecord")
		f.pair(2, s.name)
		f.pair(340, s.layout)
	}
	f.pair(0, "ENDTAB")
}

func (f *dxfFile) blocks() {
	f.pair(0, "SECTION")
	f.pair(2, "BLOCKS")
	for i, s := range spaces() {
		begin := func(kind, class string, handle int) {
			f.pair(0, kind)
			f.pair(5, fmt.Sprintf("%X", handle))
			f.pair(330, s.record)
			f.pair(100, "AcDbEntity")
			if i == 1 {
				f.ints(67, 1) // in paper space
			}
			f.pair(8, "0")
			f.pair(100, class)
		}
		begin("BLOCK", "AcDbBlockBegin", 0x12+2*i)
		f.pair(2, s.name)
		f.ints(70, 0)
		f.xy(0, 0, 0)
		f.pair(3, s.name)
		f.pair(1, "")
		begin("ENDBLK", "AcDbBlockEnd", 0x13+2*i)
	}
	f.pair(0, "ENDSEC")
}

func (f *dxfFile) objects() {
	f.pair(0, "SECTION")
	f.pair(2, "OBJECTS")
	f.dictionary(rootDict, "0", "ACAD_GROUP", groupDict, "ACAD_LAYOUT", layoutDict)
	f.dictionary(groupDict, rootDict)
	f.dictionary(layoutDict, rootDict, "Model", modelLayout, "Layout1", paperLayout)
	for i, s := range spaces() {
		f.layout(i, s)
	}
	f.pair(0, "ENDSEC")
}

func (f *dxfFile) dictionary(handle, owner string, members ...string) {
	f.pair(0, "DICTIONARY")
	f.pair(5, handle)
	f.pair(330, owner)
	f.pair(100, "AcDbDictionary")
	f.ints(281, 1)
	for i := 0; i < len(members); i += 2 {
		f.pair(3, members[i])
		f.pair(350, members[i+1])
	}
}

func (f *dxfFile) layout(order int, s space) {
	f.pair(0, "LAYOUT")
	f.pair(5, s.layout)
	f.pair(330, layoutDict)
	f.pair(100, "AcDbPlotSettings")
	f.pair(1, "")
	f.pair(2, "none_device")
	f.pair(4, "")
	f.pair(6, "")
	f.ints(70, 688+1024*(1-order), 72, 1) // 688: the reference's default flags; 1024: model space
	f.pair(100, "AcDbLayout")
	f.pair(1, []string{"Model", "Layout1"}[order])
	f.ints(70, 1, 71, order)
	f.pair(330, s.record)
}
