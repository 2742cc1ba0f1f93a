package yield

import (
	"cmp"
	"crypto/sha256"
	"encoding/binary"
	"math"
	"slices"
	"sync"

	"hidechart/hide"
	"hidechart/plane"
)

// Cutter answers again and again what a look leaves of one hide, while a review
// confirms, rejects, adds and changes flaws. It keeps what does not change between
// two calls: the hide less its edge strip, each flaw's shape with its margin, how
// flaws overlap, the random numbers. After a decision Cut takes milliseconds; the
// first call does the geometry of the whole hide.
//
// It is safe for use by several goroutines, one at a time inside.
type Cutter struct {
	look    Look
	p       Params
	outline hide.Polygon
	base    hide.Shape
	zones   []hide.ZoneShape
	inZone  []hide.MM2 // base within each zone

	mu       sync.Mutex
	shapes   map[[32]byte]flawShape
	clusters map[[32]byte]cluster // members by place in the cluster
	touch    map[[2][32]byte]bool
	random   map[string][]float64
	region   hide.Shape
	regionOf [32]byte
}

// flawShape is a flaw's geometry with its margin.
type flawShape struct{ removed, onHide hide.Shape }

// NewCutter prepares a look for one hide: its outline and zones are those of the
// chart, which must not change from then on; its defects are not looked at.
// Errors: Invalid for params, a look or an outline that cannot be.
func NewCutter(chart hide.Chart, look Look, p Params) (*Cutter, error) {
	if err := cmp.Or(p.Validate(), look.Validate()); err != nil {
		return nil, err
	}
	k := &Cutter{look: look, p: p, outline: chart.Outline, zones: chart.Zones, shapes: map[[32]byte]flawShape{},
		clusters: map[[32]byte]cluster{}, touch: map[[2][32]byte]bool{}, random: map[string][]float64{}}
	var err error
	if k.base, err = baseRegion(chart.Outline, look.EdgeStrip); err != nil {
		return nil, err
	}
	for _, z := range chart.Zones {
		in, err := plane.Intersection(k.base, z.Geometry)
		if err != nil {
			return nil, hide.Wrapf(hide.Invalid, err, "zone %s", z.Zone)
		}
		k.inZone = append(k.inZone, in.Area())
	}
	return k, nil
}

// Cut computes what the look leaves, with the chart's defects as they are now; the
// chart must be folded (hide.Fold), of the same hide as NewCutter's. The
// result is the same as Cuttable's. Errors: Invalid for a geometry that cannot be.
func (k *Cutter) Cut(chart hide.Chart) (Cut, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	c := Cut{Look: k.look.Name, p: k.p, Unmet: k.look.unmet(chart), base: k.base, cutter: k}
	keys, err := k.count(&c, chart.Defects)
	if err != nil {
		return Cut{}, err
	}
	if c.atoms, err = k.overlaps(c.flaws, keys); err != nil {
		return Cut{}, err
	}
	if err := k.cutRegion(&c, keys); err != nil {
		return Cut{}, err
	}
	for _, f := range c.flaws {
		if f.rule == Forbidden && f.p >= k.p.Likely {
			c.Refused = append(c.Refused, f.id)
		}
	}
	k.cutZones(&c)
	c.measured = chart.Area
	if c.measured.Value <= 0 {
		c.measured = hide.Area{Value: k.outline.Area()}
	}
	c.draw()
	return c, nil
}

// count takes in the flaws that the look does not let pass. The keys name their
// shapes.
func (k *Cutter) count(c *Cut, defects []hide.Defect) (keys [][32]byte, err error) {
	for _, d := range defects {
		rule, margin := k.look.Judge(d)
		if d.Status == hide.Rejected || rule == NotCounted {
			continue
		}
		if math.IsNaN(d.Probability) {
			return nil, hide.Faultf(hide.Invalid, "defect %d: probability is not a number", d.ID)
		}
		f := flaw{id: d.ID, kind: d.Kind, p: 1, rule: rule}
		if d.Status == hide.Candidate {
			f.p = min(1, max(0, d.Probability))
		}
		key := shapeKey(d.Geometry, margin)
		s, known := k.shapes[key]
		if !known {
			if s, err = k.shapeOf(d.Geometry, margin); err != nil {
				return nil, hide.Wrapf(hide.Invalid, err, "defect %d", d.ID)
			}
			k.shapes[key] = s
		}
		f.removed, f.onHide = s.removed, s.onHide
		var onHide bool
		if f.box, onHide = boxOf(f.onHide); !onHide && rule != Forbidden {
			continue // off the cuttable hide already
		}
		c.flaws = append(c.flaws, f)
		keys = append(keys, key)
	}
	return keys, nil
}

func (k *Cutter) shapeOf(s hide.Shape, margin hide.MM) (flawShape, error) {
	removed, err := plane.Buffer(s, margin)
	if err != nil {
		return flawShape{}, err
	}
	onHide, err := plane.Intersection(removed, k.base)
	return flawShape{removed, onHide}, err
}

// shapeKey names a geometry with its margin.
func shapeKey(s hide.Shape, margin hide.MM) [32]byte {
	h := sha256.New()
	put := func(v ...float64) {
		var buf [8]byte
		for _, x := range v {
			binary.LittleEndian.PutUint64(buf[:], math.Float64bits(x))
			h.Write(buf[:])
		}
	}
	put(float64(margin), float64(len(s)))
	for _, p := range s {
		put(float64(len(p.Holes)))
		for _, r := range append([]hide.Ring{p.Outer}, p.Holes...) {
			put(float64(len(r)))
			for _, q := range r {
				put(float64(q.X), float64(q.Y))
			}
		}
	}
	return [32]byte(h.Sum(nil))
}

// keyOf names a list of shapes.
func keyOf(keys [][32]byte, members []int) [32]byte {
	h := sha256.New()
	for _, m := range members {
		h.Write(keys[m][:])
	}
	return [32]byte(h.Sum(nil))
}

// overlaps gives the atoms of all flaws.
func (k *Cutter) overlaps(flaws []flaw, keys [][32]byte) ([]atom, error) {
	var out []atom
	for _, members := range clusters(flaws, func(i, j int) bool { return k.touching(flaws, keys, i, j) }) {
		key := keyOf(keys, members)
		c, known := k.clusters[key]
		if !known {
			local := make([]flaw, len(members))
			c.flaws = make([]int, len(members))
			for i, m := range members {
				local[i], c.flaws[i] = flaws[m], i
			}
			var err error
			if c.atoms, err = atomsOf(local, c.flaws); err != nil {
				return nil, err
			}
			for i := range c.atoms {
				if err := k.zonesOf(&c.atoms[i]); err != nil {
					return nil, err
				}
			}
			k.clusters[key] = c
		}
		for _, a := range c.atoms {
			a.members = slices.Clone(a.members)
			for i, m := range a.members {
				a.members[i] = members[m]
			}
			out = append(out, a)
		}
	}
	return out, nil
}

// touching reports whether two flaws share leather; when GEOS cannot say, they
// are taken to: a cluster that is too large costs time, not truth.
func (k *Cutter) touching(flaws []flaw, keys [][32]byte, i, j int) bool {
	pair := [2][32]byte{keys[i], keys[j]}
	shared, known := k.touch[pair]
	if !known {
		both, err := plane.Intersection(flaws[i].onHide, flaws[j].onHide)
		shared = err != nil || len(both) > 0
		k.touch[pair] = shared
	}
	return shared
}

func (k *Cutter) zonesOf(a *atom) error {
	a.inZone = make([]float64, len(k.zones))
	for i, z := range k.zones {
		box, ok := boxOf(z.Geometry)
		if !ok || !box.overlaps(a.box) {
			continue
		}
		in, err := plane.Intersection(a.shape, z.Geometry)
		if err != nil {
			return hide.Wrapf(hide.Invalid, err, "zone %s", z.Zone)
		}
		a.inZone[i] = float64(in.Area())
	}
	return nil
}

// cutRegion takes the flaws that are as likely as not off the hide, by GEOS; the
// last result is kept.
func (k *Cutter) cutRegion(c *Cut, keys [][32]byte) error {
	var likely []int
	for i, f := range c.flaws {
		if f.p >= k.p.Likely {
			likely = append(likely, i)
		}
	}
	key := keyOf(keys, likely)
	if k.region == nil || key != k.regionOf {
		region, err := c.without(func(f flaw) bool { return f.p >= k.p.Likely })
		if err != nil {
			return err
		}
		k.region, k.regionOf = region, key
	}
	c.Region = k.region
	c.Area = c.Region.Area()
	c.Share = share(c.Area, k.outline.Area())
	return nil
}

// cutZones sums the cuttable part of each zone from the atoms.
func (k *Cutter) cutZones(c *Cut) {
	for i, z := range k.zones {
		left := float64(k.inZone[i])
		for _, a := range c.atoms {
			if slices.ContainsFunc(a.members, func(m int) bool { return c.flaws[m].p >= k.p.Likely }) {
				left -= a.inZone[i]
			}
		}
		whole := z.Geometry.Area()
		c.Zones = append(c.Zones, ZoneCut{Zone: z.Zone, Area: whole, Cuttable: hide.MM2(max(0, left)), Share: share(hide.MM2(max(0, left)), whole)})
	}
}

// normals is a stream of standard normal numbers by its name, kept.
func (k *Cutter) normals(name string) []float64 {
	v, known := k.random[name]
	if !known {
		v = normals(stream(k.p.Seed, name), k.p.Samples)
		k.random[name] = v
	}
	return v
}
