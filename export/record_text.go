package export

import (
	"fmt"
	"strings"
	"unicode"

	"github.com/go-fonts/dejavu/dejavusans"
	"github.com/go-fonts/dejavu/dejavusansbold"
	"github.com/tdewolff/canvas"

	"hidechart/hide"
)

// nameFonts are for names from anywhere: the Go fonts hold Latin, Greek and Cyrillic; DejaVu
// Sans, which is free too, holds Hebrew, Arabic and many signs.
type nameFonts struct{ regular, bold *canvas.Font }

func newNameFonts() (nameFonts, error) {
	var l nameFonts
	var err error
	if l.regular, err = canvas.LoadFont(dejavusans.TTF, 0, canvas.FontRegular); err != nil {
		return l, hide.Wrapf(hide.Internal, err, "font for names")
	}
	if l.bold, err = canvas.LoadFont(dejavusansbold.TTF, 0, canvas.FontBold); err != nil {
		return l, hide.Wrapf(hide.Internal, err, "bold font for names")
	}
	return l, nil
}

func has(f *canvas.Font, r rune) bool { return f.GlyphIndex(r) != 0 }

// shown is a text from outside as it can be printed on one line: line ends and
// tabs become a sign, marks that turn the direction of reading or have no shape, and
// letters that no font here has, become their number. The files attached and the tables hold the
// text itself.
func (l nameFonts) shown(s string) string {
	var b strings.Builder
	s = strings.NewReplacer("\r\n", " ⏎ ", "\n", " ⏎ ", "\r", " ⏎ ", "\t", " ").Replace(s)
	for _, r := range s {
		switch {
		case unicode.Is(unicode.Bidi_Control, r), unicode.IsControl(r), r == unicode.ReplacementChar, !has(l.regular, r):
			fmt.Fprintf(&b, "[U+%04X]", r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// name writes a text from outside on one line, cut to fit the width.
func (p *paper) name(l nameFonts, x, y, size float64, bold bool, width float64, s string) {
	s = l.shown(s)
	font := p.regular
	if bold {
		font = p.bold
	}
	if strings.ContainsFunc(s, func(r rune) bool { return !has(font, r) }) {
		if font = l.regular; bold {
			font = l.bold
		}
	}
	face := font.Face(size/pointMM, canvas.Black)
	p.ctx.DrawText(x, y, canvas.NewTextLine(face, fitted(face, s, width), canvas.Left))
}

// fitted cuts a text to a width.
func fitted(face *canvas.FontFace, s string, width float64) string {
	if face.TextWidth(s) <= width {
		return s
	}
	r := []rune(s)
	for len(r) > 0 && face.TextWidth(string(r)+"…") > width {
		r = r[:len(r)-1]
	}
	return string(r) + "…"
}
