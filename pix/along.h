#ifndef PIX_ALONG_H
#define PIX_ALONG_H

#include <stdint.h>

typedef struct { int w, h; } pix_raster;
typedef struct { int x0, y0, x1, y1; } pix_tile; // up to but not with x1, y1
typedef uint16_t pix_short; // bfloat16: the upper half of a float

// last(p) = sum over 2^steps places of ca a + cb b + cc c (c may be null), of
// which step k brings those shifted by (sx[k], sy[k]), sy not negative; first
// likewise after first_at steps (0: none). buf holds the
// tile with its margins and a row.
void pix_sum_along(const float *a, const float *b, const float *c, float ca, float cb, float cc, pix_raster f, pix_tile t,
                   const int32_t *sx, const int32_t *sy, int steps, pix_short *first, int first_at, pix_short *last, float *buf);

// Over a tile: where in(p) and the sum of r(p − d)² scale(block of p − d) over n
// rasters is greater than best(p), best(p) becomes it and name(p) becomes as. What
// lies beyond the rasters is 0. sum holds n + 1 rows of the tile.
void pix_keep_squares(float *best, uint8_t *name, const uint8_t *in, uint8_t as, pix_raster f, pix_tile t, int dx, int dy,
                      const pix_short *const *r, const float *const *scale, int n, int block, int blocks, float *sum);

// sum(block of p) += v², v = r(p) held between ±limit, over every every-th p of a
// row and a column where in(p).
void pix_block_squares(float *sum, const float *r, const uint8_t *in, pix_raster f, int every, int block, int blocks, float limit);
void pix_block_squares_short(float *sum, const pix_short *r, const uint8_t *in, pix_raster f, int every, int block, int blocks, float limit);

#endif
