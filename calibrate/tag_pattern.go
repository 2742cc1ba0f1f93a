package calibrate

/*
#cgo LDFLAGS: -lapriltag -lapriltag-utils
#include <stdlib.h>
#include <apriltag/apriltag.h>
#include <apriltag/tag36h11.h>

// Go cannot call through the macros of the headers with a negative index
// safely; this copies one pattern, row by row, or returns 0 when id is unknown.
static int pattern_36h11(int id, unsigned char *out, int capacity, int *side) {
	apriltag_family_t *f = tag36h11_create();
	int ok = 0;
	if (id >= 0 && (unsigned)id < f->ncodes) {
		image_u8_t *im = apriltag_to_image(f, id);
		if (im != NULL) {
			*side = im->width;
			if (im->width == im->height && im->width * im->height <= capacity) {
				for (int y = 0; y < im->height; y++)
					for (int x = 0; x < im->width; x++)
						out[y * im->width + x] = im->buf[y * im->stride + x];
				ok = 1;
			}
			image_u8_destroy(im);
		}
	}
	tag36h11_destroy(f);
	return ok;
}

static int codes_36h11(void) {
	apriltag_family_t *f = tag36h11_create();
	int n = f->ncodes;
	tag36h11_destroy(f);
	return n;
}
*/
import "C"

import (
	"unsafe"

	"hidechart/hide"
)

// TagFamily is the one family in use (Olson 2011; Wang & Olson 2016).
const TagFamily = "tag36h11"

// QuietCells is the white border that TagPattern puts round the black square,
// in cells; the black square is TagCells wide.
const (
	QuietCells = 1
	TagCells   = 8
)

// TagCount is how many ids the family has: 0 to TagCount-1.
func TagCount() int { return int(C.codes_36h11()) }

// TagPattern draws a tag as cells, row 0 at the top when the tag is upright as
// libapriltag orders its corners; true is white. The grid is
// TagCells+2·QuietCells wide: the outermost ring is the white border.
//
// Error: NotFound when the family has no such id.
func TagPattern(id int) ([][]bool, error) {
	const widest = 32 * 32 // more than any family of the library needs
	var buf [widest]C.uchar
	var side C.int
	if C.pattern_36h11(C.int(id), (*C.uchar)(unsafe.Pointer(&buf[0])), widest, &side) == 0 {
		return nil, hide.Faultf(hide.NotFound, "tag %d: %s has ids 0 to %d", id, TagFamily, TagCount()-1)
	}
	n := int(side)
	if n != TagCells+2*QuietCells {
		return nil, hide.Faultf(hide.Internal, "tag %d: libapriltag drew %d cells, want %d", id, n, TagCells+2*QuietCells)
	}
	rows := make([][]bool, n)
	for y := range rows {
		rows[y] = make([]bool, n)
		for x := range rows[y] {
			rows[y][x] = buf[y*n+x] > 127
		}
	}
	return rows, nil
}
