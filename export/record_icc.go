package export

import (
	"encoding/binary"
	"math"
)

// srgbProfile is an ICC profile (ICC.1:2001-04, version 2.1, a display's matrix and curve) of the
// colours that our files hold: sRGB, IEC 61966-2-1:1999. It is made here because a PDF/A
// has to carry one; the test compares it with the profile of another program.
func srgbProfile() []byte {
	const (
		header  = 128
		entries = 9
	)
	curve := curveTag()
	text := func(s string) []byte { return append(append([]byte("text\x00\x00\x00\x00"), s...), 0) }
	tags := []struct {
		name string
		data []byte
	}{
		{"desc", descTag("sRGB IEC61966-2.1")},
		{"cprt", text("No rights reserved")},
		{"wtpt", xyzTag(0.9642, 1, 0.8249)}, // D50, the connection space
		// sRGB's primaries adapted to D50 by Bradford's transform (Lindbloom, "RGB/XYZ matrices")
		{"rXYZ", xyzTag(0.4360747, 0.2225045, 0.0139322)},
		{"gXYZ", xyzTag(0.3850649, 0.7168786, 0.0971045)},
		{"bXYZ", xyzTag(0.1430804, 0.0606169, 0.7141733)},
		{"rTRC", curve}, {"gTRC", curve}, {"bTRC", curve},
	}
	out := make([]byte, header, 4096)
	copy(out[8:], "\x02\x10\x00\x00mntrRGB XYZ ")
	copy(out[24:], []byte{0x07, 0xCF, 0, 1, 0, 1}) // 1999-01-01: a fixed day, so that the bytes are
	copy(out[36:], "acsp")
	copy(out[68:], xyzTag(0.9642, 1, 0.8249)[8:])
	out = binary.BigEndian.AppendUint32(out, entries)
	at := uint32(header + 4 + 12*entries)
	var body []byte
	shared := uint32(0) // the three curves are one
	for _, t := range tags {
		where := at + uint32(len(body))
		if t.name[1:] == "TRC" && shared > 0 {
			where = shared
		} else {
			body = append(body, t.data...)
			for len(body)%4 != 0 {
				body = append(body, 0)
			}
			if t.name == "rTRC" {
				shared = where
			}
		}
		out = append(out, t.name...)
		out = binary.BigEndian.AppendUint32(out, where)
		out = binary.BigEndian.AppendUint32(out, uint32(len(t.data)))
	}
	out = append(out, body...)
	binary.BigEndian.PutUint32(out, uint32(len(out)))
	return out
}

func xyzTag(v ...float64) []byte {
	out := []byte("XYZ \x00\x00\x00\x00")
	for _, x := range v {
		out = binary.BigEndian.AppendUint32(out, uint32(int32(math.Round(x*65536))))
	}
	return out
}

func descTag(s string) []byte {
	out := []byte("desc\x00\x00\x00\x00")
	out = binary.BigEndian.AppendUint32(out, uint32(len(s)+1))
	out = append(append(out, s...), 0)
	return append(out, make([]byte, 4+4+2+1+67)...) // no other scripts
}

// curveTag is sRGB's transfer function at 1024 steps.
func curveTag() []byte {
	const n = 1024
	out := []byte("curv\x00\x00\x00\x00")
	out = binary.BigEndian.AppendUint32(out, n)
	for i := range n {
		v := float64(i) / (n - 1)
		if v <= 0.04045 {
			v /= 12.92
		} else {
			v = math.Pow((v+0.055)/1.055, 2.4)
		}
		out = binary.BigEndian.AppendUint16(out, uint16(math.Round(v*65535)))
	}
	return out
}
