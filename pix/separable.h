#ifndef HIDECHART_SEPARABLE_H
#define HIDECHART_SEPARABLE_H

#include <stdint.h>

// A kernel that is even or odd about its middle: weight[0] is the middle's,
// weight[k] that of the pixel k further on; the one k back has the same weight
// times sign.
typedef struct {
    const float *weight;
    int reach;
    float sign;
} pix_half_kernel;

// What one output sums: at most two pairs of a kernel across and a kernel down.
typedef struct {
    int across[2], down[2], pairs;
} pix_filter;

// Part of a raster, from (x0, y0) to before (x1, y1).
typedef struct {
    int x0, y0, x1, y1;
} pix_part;

// Filters a part of the raster in, w wide and h high, mirrored at its border
// without repeating the border pixel; out[i] are rasters of the same size. room
// holds pix_filters_room values.
void pix_filters(const float *in, int w, int h, pix_part p, const pix_half_kernel *kernels, int n, const pix_filter *filters, int m,
                 float *const *out, float *room);

long pix_filters_room(pix_part p, const pix_half_kernel *kernels, int n);

// Adds (r/noise)² to sum where in is true, in rows y0 to before y1. Noise is
// given per block of so many pixels, nw × nh of them, and read bilinear between
// their middles. room holds 2·w + nw + 1 values.
void pix_add_ratios(float *sum, const float *r, const uint8_t *in, int w, int y0, int y1, const float *noise, int nw, int nh, int block,
                    float *room);

#endif
