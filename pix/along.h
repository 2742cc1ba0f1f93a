#ifndef PIX_ALONG_H
#define PIX_ALONG_H

#include <stdint.h>

typedef struct { int w, h; } pix_raster;
typedef struct { int x0, y0, x1, y1; } pix_tile; // up to but not with x1, y1

// last(p) = sum over 2^steps places of ca a + cb b + cc c (c may be null), of
// which step k brings those shifted by (sx[k], sy[k]), sy not negative; first
// likewise after first_at steps (0: none).
void pix_sum_along(const float *a, const float *b, const float *c, float ca, float cb, float cc, pix_raster f, pix_tile t,
                   const int32_t *sx, const int32_t *sy, int steps, float *first, int first_at, float *last, float *buf);

// sum(p) += r(p − d)² scale(block of p − d), over a tile.
void pix_add_squares(float *sum, const float *r, pix_raster f, pix_tile t, int dx, int dy, const float *scale, int block, int blocks);

// best(p) = sum(p) and name(p) = as, where in(p) and sum(p) is greater.
void pix_keep_greater(float *best, uint8_t *name, const float *sum, const uint8_t *in, uint8_t as, pix_raster f, pix_tile t);

#endif
