package export

import (
	"image"
	"image/color"
	"strings"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"

	"hidechart/hide"
)

// lettering writes text by the height of its capitals, in pixels, with the Go
// fonts, which are embedded: the same picture on every machine.
type lettering struct {
	fonts [2]*opentype.Font // regular, bold
	faces map[faceKey]font.Face
}

type faceKey struct {
	capital float64
	bold    bool
}

func newLettering() (*lettering, error) {
	l := &lettering{faces: map[faceKey]font.Face{}}
	for i, data := range [][]byte{goregular.TTF, gobold.TTF} {
		f, err := opentype.Parse(data)
		if err != nil {
			return nil, hide.Wrapf(hide.Internal, err, "font")
		}
		l.fonts[i] = f
	}
	return l, nil
}

// capitalShare is the height of the Go fonts' capitals per em, as their OS/2
// table says (sCapHeight 1480 of 2048 units); checked by a test.
const capitalShare = 1480.0 / 2048

// face returns the font of the given height of capitals. Sizes come from the
// plan and are few, so that a face is made once.
func (l *lettering) face(capital float64, bold bool) font.Face {
	key := faceKey{capital, bold}
	if f, ok := l.faces[key]; ok {
		return f
	}
	i := 0
	if bold {
		i = 1
	}
	f, err := opentype.NewFace(l.fonts[i], &opentype.FaceOptions{Size: capital / capitalShare, DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		panic("export: " + err.Error()) // opentype refuses nothing of this
	}
	l.faces[key] = f
	return f
}

// raised are the digits of quarter-foot marks, which are drawn smaller and
// higher: not every font has all of them.
const raisedDigits = "⁰¹²³"

// piece is a part of a text in one size.
type piece struct {
	text   string
	raised bool
}

func pieces(s string) []piece {
	var out []piece
	for _, r := range s {
		text, raised := string(r), strings.ContainsRune(raisedDigits, r)
		if raised {
			text = string(rune('0' + len([]rune(raisedDigits[:strings.IndexRune(raisedDigits, r)]))))
		}
		if n := len(out); n > 0 && out[n-1].raised == raised {
			out[n-1].text += text
		} else {
			out = append(out, piece{text, raised})
		}
	}
	return out
}

const (
	raisedSize = 0.68 // of the capitals: still legible where they are
	raisedLift = 0.45
)

// width of a line of text in pixels.
func (l *lettering) width(s string, capital float64, bold bool) float64 {
	var sum fixed.Int26_6
	for _, p := range pieces(s) {
		size := capital
		if p.raised {
			size *= raisedSize
		}
		sum += font.MeasureString(l.face(size, bold), p.text)
	}
	return float64(sum) / 64
}

// write draws a line whose baseline starts at p.
func (l *lettering) write(im *image.RGBA, p spot, s string, capital float64, bold bool, c color.RGBA) {
	d := font.Drawer{Dst: im, Src: image.NewUniform(c), Dot: fixed.Point26_6{X: fixed.Int26_6(p.x * 64), Y: fixed.Int26_6(p.y * 64)}}
	base := d.Dot.Y
	for _, part := range pieces(s) {
		size := capital
		d.Dot.Y = base
		if part.raised {
			size *= raisedSize
			d.Dot.Y -= fixed.Int26_6(capital * raisedLift * 64)
		}
		d.Face = l.face(size, bold)
		d.DrawString(part.text)
	}
}

// centred draws a line whose capitals are centred on p.
func (l *lettering) centred(im *image.RGBA, p spot, s string, capital float64, bold bool, c color.RGBA) {
	l.write(im, spot{p.x - l.width(s, capital, bold)/2, p.y + capital/2}, s, capital, bold, c)
}

// wrap breaks text into lines no wider than width; a word that is wider by
// itself is cut.
func (l *lettering) wrap(s string, capital float64, bold bool, width float64) []string {
	var out []string
	current := ""
	for _, word := range strings.Fields(s) {
		next := strings.TrimSpace(current + " " + word)
		if l.width(next, capital, bold) <= width {
			current = next
			continue
		}
		if current != "" {
			out = append(out, current)
		}
		current = l.short(word, capital, bold, width)
	}
	if current != "" {
		out = append(out, current)
	}
	return out
}

// short cuts a line to width, its end replaced by "…".
func (l *lettering) short(s string, capital float64, bold bool, width float64) string {
	if l.width(s, capital, bold) <= width {
		return s
	}
	runes := []rune(s)
	if len(runes) > 400 { // nothing this long fits any picture
		runes = runes[:400]
	}
	for len(runes) > 0 && l.width(string(runes)+"…", capital, bold) > width {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + "…"
}
