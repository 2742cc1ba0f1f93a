package calibrate

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"hidechart/hide"
)

// Rig is the table with its tags, from rig.yaml.
type Rig struct {
	Width, Height hide.MM            // of the table
	TagEdge       hide.MM            // outer edge of the black square
	Centres       map[int]hide.Point // tag centres, table frame
	TurnsDeg      map[int]float64    // tags not glued upright, counter-clockwise
	CentreU       hide.MM            // standard uncertainty of a coordinate of a centre; 0: not stated
	ScaleU        float64            // relative standard uncertainty of all lengths between centres together; 0: not stated
	Lens          string             // file name as written, relative to the rig file; empty: none
	PlaneOffset   hide.MM            // tag plane above (+) the table top
}

type rigFile struct {
	Table struct {
		Width  float64 `yaml:"width_mm"`
		Height float64 `yaml:"height_mm"`
	} `yaml:"table"`
	Tags struct {
		Family  string            `yaml:"family"`
		Edge    float64           `yaml:"edge_mm"`
		Centres map[int][]float64 `yaml:"centres_mm"`
		Turns   map[int]float64   `yaml:"turns_deg"`
		U       float64           `yaml:"u_mm"`
		ScaleU  float64           `yaml:"scale_u"`
	} `yaml:"tags"`
	Lens   string  `yaml:"lens"`
	Offset float64 `yaml:"plane_offset_mm"`
}

// ParseRig reads a rig.yaml (see design.md): table {width_mm, height_mm}, tags
// {family, edge_mm, centres_mm, turns_deg, u_mm, scale_u}, lens, plane_offset_mm;
// the last two and turns_deg, u_mm and scale_u are optional. Error: Invalid, with every fault and
// the key's name, for unknown or repeated keys and for values that no table has.
func ParseRig(data []byte) (Rig, error) {
	var f rigFile
	if err := hide.DecodeYAMLFull(data, "rig.yaml", &f); err != nil {
		return Rig{}, err
	}
	r := Rig{Width: hide.MM(f.Table.Width), Height: hide.MM(f.Table.Height), TagEdge: hide.MM(f.Tags.Edge),
		Centres: map[int]hide.Point{}, TurnsDeg: f.Tags.Turns, CentreU: hide.MM(f.Tags.U), ScaleU: f.Tags.ScaleU,
		Lens: f.Lens, PlaneOffset: hide.MM(f.Offset)}
	if f.Tags.Family != TagFamily {
		return Rig{}, hide.Faultf(hide.Invalid, "rig.yaml: tags.family: %q is not known; use %s", f.Tags.Family, TagFamily)
	}
	for _, id := range slices.Sorted(maps.Keys(f.Tags.Centres)) {
		c := f.Tags.Centres[id]
		if len(c) != 2 {
			return Rig{}, hide.Faultf(hide.Invalid, "rig.yaml: tags.centres_mm: tag %d: want [x, y]", id)
		}
		r.Centres[id] = hide.Point{X: hide.MM(c[0]), Y: hide.MM(c[1])}
	}
	return r, r.Validate()
}

// Sizes that no table goes beyond: a typing slip (cm, m or inch for mm) does.
const (
	tableLeastMM, tableMostMM = 200, 50000
	tagLeastMM, tagMostMM     = 5, 2000
	scaleMostU                = 0.02 // 2 % is worse than any rule: a percentage written for a share
	offsetMostMM              = 500  // a tag plane half a metre off the table is a typing slip
)

// Validate lists what is wrong with the rig.
func (r Rig) Validate() error {
	var faults []string
	fault := func(format string, args ...any) { faults = append(faults, fmt.Sprintf(format, args...)) }
	between := func(key string, v hide.MM, lo, hi float64) {
		if !(float64(v) >= lo && float64(v) <= hi) {
			fault("%s: %g is not between %g and %g", key, float64(v), lo, hi)
		}
	}
	between("table.width_mm", r.Width, tableLeastMM, tableMostMM)
	between("table.height_mm", r.Height, tableLeastMM, tableMostMM)
	between("tags.edge_mm", r.TagEdge, tagLeastMM, tagMostMM)
	between("tags.u_mm", r.CentreU, 0, tagMostMM)
	if !(r.ScaleU >= 0 && r.ScaleU <= scaleMostU) {
		fault("tags.scale_u: %g is not between 0 and %g (a share: 0.0002 is 0.2 mm in 1 m)", r.ScaleU, scaleMostU)
	}
	between("plane_offset_mm", r.PlaneOffset, -offsetMostMM, offsetMostMM)
	if len(r.Centres) < leastTags {
		fault("tags.centres_mm: %d tags; at least %d are needed", len(r.Centres), leastTags)
	}
	ids := r.IDs()
	for i, id := range ids {
		c := r.Centres[id]
		if id < 0 || id >= TagCount() {
			fault("tags.centres_mm: tag %d: %s has ids 0 to %d", id, TagFamily, TagCount()-1)
		}
		if math.IsNaN(float64(c.X+c.Y)) || math.Abs(float64(c.X)) > tableMostMM || math.Abs(float64(c.Y)) > tableMostMM {
			fault("tags.centres_mm: tag %d: [%g, %g] is off any table", id, float64(c.X), float64(c.Y))
		}
		for _, other := range ids[:i] {
			if c.Distance(r.Centres[other]) < r.TagEdge {
				fault("tags.centres_mm: tags %d and %d overlap", other, id)
			}
		}
	}
	for _, id := range slices.Sorted(maps.Keys(r.TurnsDeg)) {
		if _, ok := r.Centres[id]; !ok {
			fault("tags.turns_deg: tag %d has no centre", id)
		}
		if d := r.TurnsDeg[id]; !(math.Abs(d) <= 360) {
			fault("tags.turns_deg: tag %d: %g is not between -360 and 360", id, d)
		}
	}
	if len(faults) > 0 {
		return hide.Faultf(hide.Invalid, "rig.yaml: %s", strings.Join(faults, "; "))
	}
	return nil
}

// IDs lists the rig's tags in ascending order.
func (r Rig) IDs() []int { return slices.Sorted(maps.Keys(r.Centres)) }

// Corners are the black square's corners of a tag on the table, in libapriltag's
// order: counter-clockwise from the one that is near left when the tag is upright.
func (r Rig) Corners(id int) [4]hide.Point { return r.square(id, float64(r.TagEdge)/2) }

func (r Rig) square(id int, half float64) [4]hide.Point {
	sin, cos := math.Sincos(r.TurnsDeg[id] * math.Pi / 180)
	c := r.Centres[id]
	var out [4]hide.Point
	for i, d := range [4][2]float64{{-half, -half}, {half, -half}, {half, half}, {-half, half}} {
		out[i] = hide.Point{X: c.X + hide.MM(d[0]*cos-d[1]*sin), Y: c.Y + hide.MM(d[0]*sin+d[1]*cos)}
	}
	return out
}

// TagPolygons are the tags with their white border of QuietCells, widened by
// margin all round, in table millimetres, by ascending id.
func (r Rig) TagPolygons(margin hide.MM) []hide.Polygon {
	half := float64(r.TagEdge)/2*(TagCells+2*QuietCells)/TagCells + float64(margin)
	out := make([]hide.Polygon, 0, len(r.Centres))
	for _, id := range r.IDs() {
		s := r.square(id, half)
		out = append(out, hide.Polygon{Outer: s[:]})
	}
	return out
}

// Table is the table's outline.
func (r Rig) Table() hide.Polygon {
	return hide.Polygon{Outer: hide.Ring{{}, {X: r.Width}, {X: r.Width, Y: r.Height}, {Y: r.Height}}}
}
