// Sums along lines and of squares over tiles of a raster; see along.go.
// Written so that the compiler makes vector code of every inner loop: each pixel
// is computed by itself, in one order, so the result is the same on all machines.

#include "along.h"

#include <string.h>

#include "vector.h"

VECTOR
static void combine(float *restrict out, const float *restrict a, const float *restrict b, const float *restrict c,
                    float ca, float cb, float cc, int n) {
    for (int x = 0; x < n; x++) out[x] = ca * a[x] + cb * b[x] + cc * c[x];
}

VECTOR
static void combine2(float *restrict out, const float *restrict a, const float *restrict b, float ca, float cb, int n) {
    for (int x = 0; x < n; x++) out[x] = ca * a[x] + cb * b[x];
}

// The upper half of a float, rounded to even at a half: bfloat16.
static inline pix_short shortened(float v) {
    uint32_t bits;
    memcpy(&bits, &v, sizeof bits);
    return (pix_short)((bits + 0x7fff + (bits >> 16 & 1)) >> 16);
}

static inline float widened(pix_short v) {
    const uint32_t bits = (uint32_t)v << 16;
    float out;
    memcpy(&out, &bits, sizeof out);
    return out;
}

VECTOR
static void add(pix_short *restrict out, const float *restrict a, const float *restrict b, int n) {
    for (int x = 0; x < n; x++) out[x] = shortened(a[x] + b[x]);
}

VECTOR
static void copy(pix_short *restrict out, const float *restrict from, int n) {
    for (int x = 0; x < n; x++) out[x] = shortened(from[x]);
}

VECTOR
static void add_to(float *restrict to, const float *restrict from, int n) {
    for (int x = 0; x < n; x++) to[x] += from[x];
}

VECTOR
static void add_scaled_squares(float *restrict sum, const pix_short *restrict r, const float *restrict scale, int n) {
    for (int x = 0; x < n; x++) sum[x] += widened(r[x]) * widened(r[x]) * scale[x];
}

static int imin(int a, int b) { return a < b ? a : b; }
static int imax(int a, int b) { return a > b ? a : b; }

void pix_sum_along(const float *a, const float *b, const float *c, float ca, float cb, float cc, pix_raster f, pix_tile t,
                   const int32_t *sx, const int32_t *sy, int steps, pix_short *first, int first_at, pix_short *last, float *buf) {
    int left = 0, right = 0, below = 0;
    for (int k = 0; k < steps; k++) {
        left += sx[k] < 0 ? -sx[k] : 0;
        right += sx[k] > 0 ? sx[k] : 0;
        below += sy[k];
    }
    const int x0 = t.x0 - left, bw = t.x1 - t.x0 + left + right, bh = t.y1 - t.y0 + below;
    float *const spare = buf + (long)bw * bh; // a row
    for (int y = 0; y < bh; y++) { // beyond the raster all is 0
        float *row = buf + (long)y * bw;
        int lo = imax(0, -x0), hi = imin(bw, f.w - x0);
        if (t.y0 + y >= f.h || lo >= hi) { lo = hi = bw; }
        for (int x = 0; x < lo; x++) row[x] = 0;
        for (int x = hi; x < bw; x++) row[x] = 0;
        if (lo == hi) continue;
        long at = (long)(t.y0 + y) * f.w + x0 + lo;
        if (c) combine(row + lo, a + at, b + at, c + at, ca, cb, cc, hi - lo);
        else combine2(row + lo, a + at, b + at, ca, cb, hi - lo);
    }
    int l = left, r = right, d = below;
    for (int k = 0; k < steps; k++) {
        l -= sx[k] < 0 ? -sx[k] : 0;
        r -= sx[k] > 0 ? sx[k] : 0;
        d -= sy[k];
        const int lo = left - l, n = t.x1 - t.x0 + l + r, end = k + 1 == steps;
        for (int y = 0; y < t.y1 - t.y0 + d; y++) { // in place: what is read below has not been changed yet
            float *own = buf + (long)y * bw + lo;
            const float *other = own + (long)sy[k] * bw + sx[k];
            if (end) {
                add(last + (long)(t.y0 + y) * f.w + t.x0, own, other, n);
                continue;
            }
            if (sy[k] == 0) other = memcpy(spare, other, sizeof(float) * n);
            add_to(own, other, n);
        }
        if (k + 1 != first_at) continue;
        for (int y = t.y0; y < t.y1; y++)
            copy(first + (long)y * f.w + t.x0, buf + (long)(y - t.y0) * bw + left, t.x1 - t.x0);
    }
}

VECTOR
static void keep_row(float *restrict best, uint8_t *restrict name, const float *restrict sum, const uint8_t *restrict in, uint8_t as, int n) {
    for (int x = 0; x < n; x++) {
        int wins = in[x] && sum[x] > best[x];
        best[x] = wins ? sum[x] : best[x];
        name[x] = wins ? as : name[x];
    }
}

void pix_keep_squares(float *best, uint8_t *name, const uint8_t *in, uint8_t as, pix_raster f, pix_tile t, int dx, int dy,
                      const pix_short *const *r, const float *const *scale, int n, int block, int blocks, float *sum) {
    const int from = imax(t.x0, dx), end = imin(t.x1, f.w + imin(dx, 0)), width = t.x1 - t.x0;
    int spread = -1; // row of blocks whose scales lie in wide, n rows of one per pixel
    float *wide = sum + width;
    for (int y = imax(t.y0, dy); y < imin(t.y1, f.h + imin(dy, 0)) && from < end; y++) {
        if ((y - dy) / block != spread) {
            spread = (y - dy) / block;
            for (int k = 0; k < n; k++)
                for (int x = from; x < end; x++) wide[(long)k * width + x - t.x0] = scale[k][(long)spread * blocks + (x - dx) / block];
        }
        memset(sum, 0, sizeof(float) * width);
        for (int k = 0; k < n; k++)
            add_scaled_squares(sum + from - t.x0, r[k] + (long)(y - dy) * f.w + from - dx, wide + (long)k * width + from - t.x0, end - from);
        long at = (long)y * f.w + t.x0;
        keep_row(best + at, name + at, sum, in + at, as, width);
    }
}

// r or s holds the values.
static inline void block_squares(float *sum, const float *r, const pix_short *s, const uint8_t *in, pix_raster f, int every, int block, int blocks,
                                 float limit) {
    const int w = f.w;
    for (int y = 0; y < f.h; y += every)
        for (int b = 0; b < blocks; b++) {
            const long row = (long)y * w;
            float squares = 0;
            for (int x = b * block; x < imin((b + 1) * block, w); x += every) {
                float v = r ? r[row + x] : widened(s[row + x]);
                v = v < -limit ? -limit : v;
                v = v > limit ? limit : v;
                squares += in[row + x] ? v * v : 0;
            }
            sum[(long)(y / block) * blocks + b] += squares;
        }
}

void pix_block_squares(float *sum, const float *r, const uint8_t *in, pix_raster f, int every, int block, int blocks, float limit) {
    block_squares(sum, r, 0, in, f, every, block, blocks, limit);
}

void pix_block_squares_short(float *sum, const pix_short *s, const uint8_t *in, pix_raster f, int every, int block, int blocks, float limit) {
    block_squares(sum, 0, s, in, f, every, block, blocks, limit);
}
