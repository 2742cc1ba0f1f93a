package hide

// MM is a length in millimetres.
type MM float64

// MM2 is an area in square millimetres.
type MM2 float64

// PX is a length in pixels of the image it is said of.
type PX float64

// Exact by definition: the international foot is 304.8 mm (1959 agreement),
// an ounce of leather 1/64 inch, an iron 1/48 inch.
const (
	mmPerInch    = 25.4
	mm2PerFoot2  = 304.8 * 304.8
	mm2PerDM2    = 100 * 100
	mm2PerM2     = 1e6
	ouncePerInch = 64
	ironPerInch  = 48
)

// DM2 returns the area in square decimetres.
func (a MM2) DM2() float64 { return float64(a) / mm2PerDM2 }

// M2 returns the area in square metres.
func (a MM2) M2() float64 { return float64(a) / mm2PerM2 }

// Feet2 returns the area in square feet.
func (a MM2) Feet2() float64 { return float64(a) / mm2PerFoot2 }

// FromDM2 converts square decimetres.
func FromDM2(dm2 float64) MM2 { return MM2(dm2 * mm2PerDM2) }

// FromM2 converts square metres.
func FromM2(m2 float64) MM2 { return MM2(m2 * mm2PerM2) }

// FromFeet2 converts square feet.
func FromFeet2(feet2 float64) MM2 { return MM2(feet2 * mm2PerFoot2) }

// FromInches converts inches.
func FromInches(inches float64) MM { return MM(inches * mmPerInch) }

// Inches returns the length in inches.
func (l MM) Inches() float64 { return float64(l) / mmPerInch }

// FromOunces converts leather ounces (1/64 inch each) to substance.
func FromOunces(oz float64) MM { return MM(oz * mmPerInch / ouncePerInch) }

// Ounces returns the substance in leather ounces.
func (l MM) Ounces() float64 { return float64(l) * ouncePerInch / mmPerInch }

// FromIrons converts irons (1/48 inch each) to substance.
func FromIrons(irons float64) MM { return MM(irons * mmPerInch / ironPerInch) }

// Irons returns the substance in irons.
func (l MM) Irons() float64 { return float64(l) * ironPerInch / mmPerInch }
