package scene

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"

	"hidechart/hide"
)

// folder collects a capture's files beside their place and moves them there
// together.
type folder struct {
	dir, partial string
	names        []string
}

func newFolder(dir string) (*folder, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "scene: make folder %s", dir)
	}
	partial, err := os.MkdirTemp(dir, ".partial-")
	if err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "scene: make folder in %s", dir)
	}
	return &folder{dir: dir, partial: partial}, nil
}

func (f *folder) write(name string, data []byte) error {
	if err := os.WriteFile(filepath.Join(f.partial, name), data, 0o644); err != nil {
		return hide.Wrapf(hide.Internal, err, "scene: write %s", name)
	}
	f.names = append(f.names, name)
	return nil
}

// publish moves the files to their names and removes photographs of an
// earlier capture that this one does not have.
func (f *folder) publish() error {
	for _, l := range hide.Lights() {
		if err := os.Remove(filepath.Join(f.dir, string(l)+".jpg")); err != nil && !os.IsNotExist(err) {
			return hide.Wrapf(hide.Internal, err, "scene: replace %s", l)
		}
	}
	if err := f.dropTiles(); err != nil {
		return err
	}
	for _, n := range f.names {
		if err := os.Rename(filepath.Join(f.partial, n), filepath.Join(f.dir, n)); err != nil {
			return hide.Wrapf(hide.Internal, err, "scene: place %s", n)
		}
	}
	return nil
}

// discard removes what was not published.
func (f *folder) discard() { _ = os.RemoveAll(f.partial) } // nothing to be done about leftovers

// facts writes capture.yaml; what the Spec leaves open is invented.
func (w *world) facts() []byte {
	s := stream(w.spec.Seed, "facts")
	pick := func(given, invented string) string {
		if given != "" {
			return given
		}
		return invented
	}
	names := []string{"Moorhen Hollow Tannery (invented)", "Quillon & Daughters (invented)", "Three Alders Leather (invented)", "Saltmarsh Row (invented)"}
	var b strings.Builder
	fmt.Fprintf(&b, "id: %q\n", pick(w.spec.ID, fmt.Sprintf("S%d", w.spec.Seed)))
	fmt.Fprintf(&b, "supplier: %q\n", pick(w.spec.Supplier, names[s.IntN(len(names))]))
	fmt.Fprintf(&b, "lot: %q\n", pick(w.spec.Lot, fmt.Sprintf("L%03d", s.count(1, 400))))
	fmt.Fprintf(&b, "article: %q\n", w.leather.name)
	fmt.Fprintf(&b, "stamp: %q\n", w.stamp(s))
	b.WriteString("substance:\n")
	for _, place := range []hide.Zone{hide.Butt, hide.Shoulder, hide.Belly} {
		// a gauge reads to 0.01 mm, ±0.02 mm (ISO 2589:2016)
		fmt.Fprintf(&b, "  - {mm: %.2f, place: %s}\n", w.leather.thick+s.in(-.02, .02), place)
	}
	fmt.Fprintf(&b, "temper: %q\ntemperature_c: %.1f\nhumidity_percent: %.0f\n", w.leather.temper, s.in(17, 25), s.in(45, 72))
	b.WriteString("note: \"rendered, invented\"\n")
	return []byte(b.String())
}

// stamp is the area a machine would have stamped, in quarter feet ("25.1" is
// 25¼ square feet, common practice), off by up to 1.5 %.
func (w *world) stamp(s source) string {
	area := w.outline.SignedArea().Feet2() * (1 + s.in(-.015, .015))
	quarters := int(math.Round(area * 4))
	if quarters%4 == 0 {
		return fmt.Sprint(quarters / 4)
	}
	return fmt.Sprintf("%d.%d", quarters/4, quarters%4)
}
