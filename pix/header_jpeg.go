package pix

import (
	"bytes"
	"encoding/binary"

	"hidechart/hide"
)

// Markers of ITU-T T.81, table B.1.
const (
	jpegTEM  = 0x01
	jpegSOF0 = 0xC0
	jpegDHT  = 0xC4
	jpegJPG  = 0xC8
	jpegDAC  = 0xCC
	jpegRST0 = 0xD0
	jpegSOI  = 0xD8
	jpegEOI  = 0xD9
	jpegSOS  = 0xDA
	jpegAPP1 = 0xE1
)

// jpegLayout walks the marker segments to the end of the picture.
func jpegLayout(data []byte) (layout, error) {
	l := layout{Header: Header{Format: "jpeg", Orientation: 1}}
	var scan int64
	frame := 0
	for at := 2; ; {
		marker, body, next := jpegSegment(data, at)
		if next < 0 {
			l.cut = "it ends in the middle"
			break
		}
		at = next
		switch {
		case marker == jpegEOI:
			return l.jpegEnd(frame, scan)
		case isFrame(marker):
			if frame != 0 || !l.jpegFrame(body) {
				return l, hide.Faultf(hide.Unreadable, "jpeg header: damaged frame header")
			}
			frame = marker
		case marker == jpegAPP1:
			l.jpegExif(body)
		case marker == jpegSOS:
			if frame == 0 {
				return l, hide.Faultf(hide.Unreadable, "jpeg header: a scan before the frame header")
			}
			at = skipScan(data, next)
			scan += int64(at - next)
		}
	}
	if frame == 0 {
		return l, hide.Faultf(hide.Unreadable, "jpeg header: it ends before the picture's size")
	}
	return l, nil
}

// jpegSegment finds the marker at or after at; next is -1 at the file's end.
func jpegSegment(data []byte, at int) (marker int, body []byte, next int) {
	for {
		i := bytes.IndexByte(data[min(at, len(data)):], 0xFF)
		if i < 0 || at+i+1 >= len(data) {
			return 0, nil, -1
		}
		at += i + 1
		m := int(data[at])
		if m == 0xFF { // fill byte (B.1.1.2)
			continue
		}
		at++
		if m == 0 || m == jpegTEM || m >= jpegRST0 && m <= jpegSOI {
			continue
		}
		if m == jpegEOI {
			return m, nil, at
		}
		if at+2 > len(data) {
			return 0, nil, -1
		}
		n := int(binary.BigEndian.Uint16(data[at:]))
		if n < 2 || at+n > len(data) {
			return 0, nil, -1
		}
		return m, data[at+2 : at+n], at + n
	}
}

// skipScan returns where the entropy-coded data after a scan header ends: at
// the next marker that is neither a stuffed zero nor a restart.
func skipScan(data []byte, at int) int {
	for {
		i := bytes.IndexByte(data[at:], 0xFF)
		if i < 0 || at+i+1 >= len(data) {
			return len(data)
		}
		at += i
		if m := data[at+1]; m != 0 && m != 0xFF && (m < jpegRST0 || m >= jpegSOI) {
			return at
		}
		at++
	}
}

func isFrame(marker int) bool {
	return marker >= jpegSOF0 && marker <= 0xCF && marker != jpegDHT && marker != jpegJPG && marker != jpegDAC
}

func (l *layout) jpegFrame(body []byte) bool {
	if len(body) < 6 {
		return false
	}
	l.Bits = int(body[0])
	l.Height, l.Width = int(binary.BigEndian.Uint16(body[1:])), int(binary.BigEndian.Uint16(body[3:]))
	l.Channels = 3
	if body[5] == 1 {
		l.Channels = 1
	}
	return len(body) >= 6+3*int(body[5])
}

func (l *layout) jpegExif(body []byte) {
	if rest, ok := bytes.CutPrefix(body, []byte("Exif\x00\x00")); ok {
		if o := exifOrientation(rest); o != 0 {
			l.Orientation = o
		}
	}
}

// jpegEnd judges a picture that has an end marker.
func (l layout) jpegEnd(frame int, scan int64) (layout, error) {
	if frame == 0 {
		return l, hide.Faultf(hide.Unreadable, "jpeg header: no picture in the file")
	}
	if scan == 0 {
		l.cut = "it holds no picture data"
	}
	// Baseline and extended sequential code each 8 × 8 block with at least two
	// bits (one for the first coefficient, one for the end of block; F.1.2), so
	// 64 pixels of 1 byte cannot shrink more than 256-fold. Progressive scans can.
	if frame <= jpegSOF0+1 {
		l.plausible(scan, float64(l.Pixels()), 256)
	}
	return l, nil
}
