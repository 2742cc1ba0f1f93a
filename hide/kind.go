package hide

// Kind is a kind of defect.
type Kind string

// The kinds of defect of the chart file.
const (
	Hole    Kind = "hole"     // through the leather
	Thin    Kind = "thin"     // thin spot, light comes through
	FlayCut Kind = "flay_cut" // knife cut from the flesh side, wholly or nearly through
	Scar    Kind = "scar"     // healed or open wound, a line
	Scratch Kind = "scratch"  // scrape of the grain, thin straight lines
	Bites   Kind = "bites"    // cluster of insect or tick bites
	Wart    Kind = "wart"     // raised round spots
	Brand   Kind = "brand"    // burnt mark
	Wrinkle Kind = "wrinkle"  // neck wrinkles, across the backbone
	Vein    Kind = "vein"     // branching vein lines
	Stain   Kind = "stain"    // colour without relief
	Loose   Kind = "loose"    // loose grain: coarse ripple, to be bent to be sure
)

// Kinds lists every kind in the order used by files and legends.
func Kinds() []Kind {
	return []Kind{Hole, Thin, FlayCut, Scar, Scratch, Bites, Wart, Brand, Wrinkle, Vein, Stain, Loose}
}

// Valid reports whether k is a known kind.
func (k Kind) Valid() bool {
	for _, known := range Kinds() {
		if k == known {
			return true
		}
	}
	return false
}

// Words is the kind in plain words, for people.
func (k Kind) Words() string {
	switch k {
	case FlayCut:
		return "flay cut"
	case Thin:
		return "thin spot"
	case Wrinkle:
		return "neck wrinkle"
	case Loose:
		return "loose area"
	default:
		return string(k)
	}
}

// Status of a defect in the chart and its review.
type Status string

// Statuses: found and not yet reviewed, confirmed, rejected, drawn by a reviewer.
const (
	Candidate Status = "candidate"
	Confirmed Status = "confirmed"
	Rejected  Status = "rejected"
	Added     Status = "added"
)

// Zone is a part of the hide.
type Zone string

// The zones of a hide (ISO 2418 segments, flank and shank by common practice).
const (
	Neck     Zone = "neck"
	Shoulder Zone = "shoulder"
	Butt     Zone = "butt"
	Belly    Zone = "belly"
	Flank    Zone = "flank"
	Shank    Zone = "shank"
)

// Zones lists every zone from head to tail, then outward.
func Zones() []Zone { return []Zone{Neck, Shoulder, Butt, Belly, Flank, Shank} }

// Light is one of the lightings a capture can hold.
type Light string

// The lights. Empty is the bare table under top light.
const (
	Top   Light = "top"
	Back  Light = "back"
	RakeN Light = "rake-n"
	RakeE Light = "rake-e"
	RakeS Light = "rake-s"
	RakeW Light = "rake-w"
	Empty Light = "empty"
)

// Lights lists every light in the order used by files.
func Lights() []Light { return []Light{Top, Back, RakeN, RakeE, RakeS, RakeW, Empty} }

// Rake reports whether the light comes in low from one side.
func (l Light) Rake() bool { return l == RakeN || l == RakeE || l == RakeS || l == RakeW }
