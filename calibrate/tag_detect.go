package calibrate

/*
#cgo LDFLAGS: -lapriltag
#include <stdint.h>
#include <stdlib.h>
#include <apriltag/apriltag.h>
#include <apriltag/tag36h11.h>

typedef struct { int id, hamming; double margin; double p[4][2]; } found_tag;

// One call that sets everything up and frees everything, so that Go keeps no C
// memory. Returns how many tags were found, of which at most room are copied.
//
// One thread: the library's pool of workers starts on tasks that are still being
// listed when the machine is busy, and then reads a list that has moved
// (workerpool.c of 3.3.0: workerpool_add_task takes no lock).
static int detect_36h11(uint8_t *pixels, int width, int height, int stride,
                        int bits, found_tag *out, int room) {
	apriltag_family_t *f = tag36h11_create();
	apriltag_detector_t *d = apriltag_detector_create();
	apriltag_detector_add_family_bits(d, f, bits);
	d->nthreads = 1;
	d->quad_decimate = 1;
	d->refine_edges = 1;
	image_u8_t im = {.width = width, .height = height, .stride = stride, .buf = pixels};
	zarray_t *found = apriltag_detector_detect(d, &im);
	int n = zarray_size(found);
	for (int i = 0; i < n && i < room; i++) {
		apriltag_detection_t *t;
		zarray_get(found, i, &t);
		out[i].id = t->id;
		out[i].hamming = t->hamming;
		out[i].margin = t->decision_margin;
		for (int k = 0; k < 4; k++) {
			out[i].p[k][0] = t->p[k][0];
			out[i].p[k][1] = t->p[k][1];
		}
	}
	apriltag_detections_destroy(found);
	apriltag_detector_destroy(d);
	tag36h11_destroy(f);
	return n;
}
*/
import "C"

import (
	"cmp"
	"slices"
	"unsafe"

	"hidechart/hide"
	"hidechart/pix"
)

// rawTag is a tag as libapriltag reports it, pixel centres at integers.
type rawTag struct {
	id      int
	margin  float64 // decision margin, grey levels
	corners [4][2]float64
}

const (
	// correctedBits may differ from the id's code. The family's codes are 11 bits
	// apart; the library's own default 2 costs time and finds more by chance.
	correctedBits = 1
	// mostTags is more than the family has ids, plus chance finds.
	mostTags = 1024
	// leastSide guards the library, which divides the picture into tiles of 4 px
	// and was not made for less than a few of them.
	leastSide = 32
)

// detectTags runs libapriltag over an 8-bit grey picture of coded light. The
// library counts pixel centres at .5; the half is taken off here.
func detectTags(grey *pix.Image) ([]rawTag, error) {
	if grey.Depth() != pix.U8 || grey.Channels() != 1 {
		return nil, hide.Faultf(hide.Invalid, "tags: want an 8-bit grey picture")
	}
	if grey.Width() < leastSide || grey.Height() < leastSide {
		return nil, nil
	}
	found := make([]C.found_tag, mostTags)
	n := C.detect_36h11((*C.uint8_t)(unsafe.Pointer(&grey.Bytes()[0])), C.int(grey.Width()), C.int(grey.Height()), C.int(grey.Width()),
		correctedBits, &found[0], mostTags)
	tags := make([]rawTag, 0, n)
	for _, f := range found[:min(int(n), mostTags)] {
		t := rawTag{id: int(f.id), margin: float64(f.margin)}
		for k := range t.corners {
			t.corners[k] = [2]float64{float64(f.p[k][0]) - 0.5, float64(f.p[k][1]) - 0.5}
		}
		tags = append(tags, t)
	}
	slices.SortFunc(tags, func(a, b rawTag) int {
		return cmp.Or(cmp.Compare(a.id, b.id), cmp.Compare(a.corners[0][0], b.corners[0][0]), cmp.Compare(a.corners[0][1], b.corners[0][1]))
	})
	return tags, nil
}
