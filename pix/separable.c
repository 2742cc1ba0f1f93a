// Separable filters over parts of a raster, several at once: what they share of
// the pass across is done once, and a part's passes stay in a core's cache. Each
// pixel is computed by itself, in one order, so that the result is the same on
// all machines and whatever the parts.

#include "separable.h"

#include <string.h>

#include "vector.h"

// Pixels that are summed side by side, in registers.
#define WIDE 32

static int mirrored(int i, int n) {
    if (n == 1) return 0;
    while (i < 0 || i >= n) i = i < 0 ? -i : 2 * n - 2 - i;
    return i;
}

static int most_reach(const pix_half_kernel *k, int n) {
    int most = 0;
    for (int i = 0; i < n; i++) most = k[i].reach > most ? k[i].reach : most;
    return most;
}

static int padded(int n) { return (n + WIDE - 1) / WIDE * WIDE; }

long pix_filters_room(pix_part p, const pix_half_kernel *kernels, int n) {
    const int reach = most_reach(kernels, n), w = padded(p.x1 - p.x0), h = p.y1 - p.y0 + 2 * reach;
    return (long)w + 2 * reach + WIDE + (long)n * w * h + w; // a row, the passes across, a row
}

// sums n values (a multiple of WIDE) with a kernel whose neighbours lie step apart.
VECTOR
static void filter_row(float *restrict to, const float *restrict from, long step, const float *weight, int reach, float sign, int n) {
    for (int x = 0; x < n; x += WIDE) {
        float sum[WIDE];
        const float *at = from + x;
        for (int i = 0; i < WIDE; i++) sum[i] = weight[0] * at[i];
        if (sign > 0) {
            for (int k = 1; k <= reach; k++) {
                const float *a = at + k * step, *b = at - k * step, f = weight[k];
                for (int i = 0; i < WIDE; i++) sum[i] += f * (a[i] + b[i]);
            }
        } else {
            for (int k = 1; k <= reach; k++) {
                const float *a = at + k * step, *b = at - k * step, f = weight[k];
                for (int i = 0; i < WIDE; i++) sum[i] += f * (a[i] - b[i]);
            }
        }
        for (int i = 0; i < WIDE; i++) to[x + i] = sum[i];
    }
}

VECTOR
static void add_row(float *restrict to, const float *restrict from, int n) {
    for (int x = 0; x < n; x++) to[x] += from[x];
}

void pix_filters(const float *in, int w, int h, pix_part p, const pix_half_kernel *kernels, int n, const pix_filter *filters, int m,
                 float *const *out, float *room) {
    const int reach = most_reach(kernels, n), width = p.x1 - p.x0, wide = padded(width), rows = p.y1 - p.y0 + 2 * reach;
    float *source = room, *pass = source + wide + 2 * reach + WIDE, *column = pass + (long)n * wide * rows;
    memset(source, 0, sizeof(float) * (wide + 2 * reach + WIDE));
    for (int y = 0; y < rows; y++) {
        const float *row = in + (long)mirrored(p.y0 - reach + y, h) * w;
        const int lo = p.x0 - reach, hi = p.x1 + reach;
        for (int x = lo; x < 0 && x < hi; x++) source[x - lo] = row[mirrored(x, w)];
        const int a = lo > 0 ? lo : 0, b = hi < w ? hi : w;
        memcpy(source + a - lo, row + a, sizeof(float) * (b - a));
        for (int x = b; x < hi; x++) source[x - lo] = row[mirrored(x, w)];
        for (int i = 0; i < n; i++)
            filter_row(pass + ((long)i * rows + y) * wide, source + reach, 1, kernels[i].weight, kernels[i].reach, kernels[i].sign, wide);
    }
    for (int j = 0; j < m; j++)
        for (int y = 0; y < p.y1 - p.y0; y++) {
            float *to = out[j] + (long)(p.y0 + y) * w + p.x0;
            for (int q = 0; q < filters[j].pairs; q++) {
                const pix_half_kernel *k = kernels + filters[j].down[q];
                const float *from = pass + ((long)filters[j].across[q] * rows + y + reach) * wide;
                const int whole = q == 0 ? width / WIDE * WIDE : 0; // written in place
                filter_row(to, from, wide, k->weight, k->reach, k->sign, whole);
                filter_row(column, from + whole, wide, k->weight, k->reach, k->sign, wide - whole);
                if (q == 0) memcpy(to + whole, column, sizeof(float) * (width - whole));
                else add_row(to, column, width);
            }
        }
}

VECTOR
static void blend_rows(float *restrict to, const float *restrict a, const float *restrict b, float f, int n) {
    for (int x = 0; x < n; x++) to[x] = a[x] * (1 - f) + b[x] * f;
}

VECTOR
static void add_ratios(float *restrict sum, const float *restrict r, const float *restrict noise, const uint8_t *restrict in, int n) {
    for (int x = 0; x < n; x++) {
        float z = r[x] / noise[x];
        sum[x] += in[x] ? z * z : 0;
    }
}

// before is the block whose middle lies before pixel x, and how far towards the
// next one x lies.
static int before(int x, int block, int blocks, float *part) {
    float u = ((float)x + 0.5f) / (float)block - 0.5f;
    u = u < 0 ? 0 : u > (float)(blocks - 1) ? (float)(blocks - 1) : u;
    *part = u - (float)(int)u;
    return (int)u;
}

void pix_add_ratios(float *sum, const float *r, const uint8_t *in, int w, int y0, int y1, const float *noise, int nw, int nh, int block,
                    float *room) {
    float *coarse = room, *part = coarse + nw + 1, *stretched = part + w;
    for (int x = 0; x < w; x++) before(x, block, nw, part + x);
    for (int y = y0; y < y1; y++) {
        float f;
        const int at = before(y, block, nh, &f), next = at + 1 < nh ? at + 1 : at;
        blend_rows(coarse, noise + (long)at * nw, noise + (long)next * nw, f, nw);
        coarse[nw] = coarse[nw - 1];
        for (int x = 0; x < w;) { // pixels between the same two middles
            float first;
            const int l = before(x, block, nw, &first);
            int end = x + 1;
            for (float g; end < w && before(end, block, nw, &g) == l; end++) {}
            for (; x < end; x++) stretched[x] = coarse[l] + part[x] * (coarse[l + 1] - coarse[l]);
        }
        add_ratios(sum + (long)y * w, r + (long)y * w, stretched, in + (long)y * w, w);
    }
}
