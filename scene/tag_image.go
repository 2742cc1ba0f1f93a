package scene

/*
#cgo LDFLAGS: -lapriltag -lapriltag-utils
#include <apriltag/apriltag.h>
#include <apriltag/tag36h11.h>
#include <apriltag/common/image_u8.h>

// Copies the cells of one tag, row by row, black 0, white 1; returns the
// number of cells along an edge or 0 when id is not in the family.
static int scene_tag_cells(int id, unsigned char *out, int room) {
	apriltag_family_t *family = tag36h11_create();
	int n = 0;
	if (id >= 0 && (uint32_t)id < family->ncodes) {
		image_u8_t *im = apriltag_to_image(family, id);
		if (im->width * im->height <= room) {
			n = im->width;
			for (int y = 0; y < im->height; y++)
				for (int x = 0; x < im->width; x++)
					out[y * n + x] = im->buf[y * im->stride + x] > 127;
		}
		image_u8_destroy(im);
	}
	tag36h11_destroy(family);
	return n;
}
*/
import "C"

import "hidechart/hide"

// tagCells is the width of a tag36h11 picture in cells: 6 of data, a black
// ring of 1 and a white ring of 1 around them (Olson 2011).
const tagCells = 10

// blackCells is the width of the black square, the edge_mm of the rig.
const blackCells = 8

// tagPicture returns the cells of a tag36h11 as libapriltag prints it
// upright: row 0 is the far edge; true is white.
func tagPicture(id int) ([tagCells][tagCells]bool, error) {
	var out [tagCells][tagCells]bool
	var raw [tagCells * tagCells]C.uchar
	if n := C.scene_tag_cells(C.int(id), &raw[0], C.int(len(raw))); n != tagCells {
		return out, hide.Faultf(hide.Invalid, "scene: tag %d is not in the family tag36h11", id)
	}
	for i, v := range raw {
		out[i/tagCells][i%tagCells] = v != 0
	}
	return out, nil
}
