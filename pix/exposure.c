// Linear light read between the pixels of a photograph; see exposure.go. Each
// pixel is computed by itself, in one order, without fused operations, so the
// result is the same on all machines. Positions, weights and the order of the sum
// are those of OpenCV 4.6's remap of the picture of light, and so are the values.

#include "exposure.h"

#include <string.h>

#include "vector.h"

typedef float lanes __attribute__((vector_size(16)));
typedef uint32_t whole __attribute__((vector_size(16)));

#define STEPS 32 // of a position per pixel
#define AT_ONCE 256 // pixels whose places are worked out together

static inline lanes load(const float *at) {
    lanes v;
    memcpy(&v, at, sizeof v);
    return v;
}

static inline lanes all(float v) { return (lanes){v, v, v, v}; }

// The light of a pixel, a channel a lane.
static inline lanes light8x3(const pix_exposure *e, long i) {
    const uint8_t *s = (const uint8_t *)e->codes + 3 * i;
    return load(e->spread + 4 * s[0]) + load(e->spread + 4 * (256 + s[1])) + load(e->spread + 4 * (512 + s[2]));
}

static inline lanes light8x1(const pix_exposure *e, long i) { return (lanes){e->light[((const uint8_t *)e->codes)[i]]}; }

static inline lanes light16x3(const pix_exposure *e, long i) {
    const uint16_t *s = (const uint16_t *)e->codes + 3 * i;
    return (lanes){e->light[s[0]], e->light[s[1]], e->light[s[2]]};
}

static inline lanes light16x1(const pix_exposure *e, long i) { return (lanes){e->light[((const uint16_t *)e->codes)[i]]}; }

// A place between pixels: of the upper left one, and the parts of a pixel beyond it.
typedef struct {
    int32_t x[AT_ONCE], y[AT_ONCE], inside[AT_ONCE];
    float fx[AT_ONCE], fy[AT_ONCE];
} places;

// Eight at a time, written as vectors since the compiler does not make them here.
typedef float reals __attribute__((vector_size(32)));
typedef int32_t counts __attribute__((vector_size(32)));

// STEPPED rounds positions to steps, to even at a half: added to 1.5 * 2^23, a float has
// no bits left for fractions. What is too far off for that, or no number, is taken
// as before the photograph's corner.
#define STEPPED(to, from)                                                                         \
    do {                                                                                          \
        reals v;                                                                                  \
        memcpy(&v, from, sizeof v);                                                               \
        const counts near = (v > -131000.0f) & (v < 131000.0f);                                   \
        v = v * STEPS + 12582912.0f;                                                              \
        memcpy(&to, &v, sizeof to);                                                               \
        to = ((to - 0x4B400000) & near) | (-2 * STEPS & ~near);                                   \
    } while (0)

// inside tells that all four pixels are in the photograph.
VECTOR
static void find(places *p, const float *xs, const float *ys, int w, int h) {
    for (int i = 0; i < AT_ONCE; i += sizeof(counts) / sizeof(int32_t)) {
        counts px, py;
        STEPPED(px, xs + i);
        STEPPED(py, ys + i);
        const counts x = px >> 5, y = py >> 5, inside = (x >= 0) & (y >= 0) & (x < w - 1) & (y < h - 1);
        const reals fx = __builtin_convertvector(px & (STEPS - 1), reals) / STEPS, fy = __builtin_convertvector(py & (STEPS - 1), reals) / STEPS;
        memcpy(p->x + i, &x, sizeof x);
        memcpy(p->y + i, &y, sizeof y);
        memcpy(p->inside + i, &inside, sizeof inside);
        memcpy(p->fx + i, &fx, sizeof fx);
        memcpy(p->fy + i, &fy, sizeof fy);
    }
}

// round_to writes values from 0 to 65535, rounded as in STEPPED.
static inline void round_to(uint16_t *to, lanes v, int channels) {
    whole bits;
    v += all(8388608.0f);
    memcpy(&bits, &v, sizeof bits);
    for (int c = 0; c < channels; c++) to[c] = (uint16_t)bits[c];
}

#define READ_BETWEEN(name, channels, light)                                                                                        \
    VECTOR                                                                                                                         \
    static void name(const pix_exposure *e, const places *p, uint16_t *to, int n) {                                                \
        const int w = e->w, h = e->h;                                                                                              \
        for (int i = 0; i < n; i++, to += channels) {                                                                              \
            const float fx = p->fx[i], fy = p->fy[i];                                                                              \
            const long at = (long)p->y[i] * w + p->x[i];                                                                           \
            lanes a = {0}, b = {0}, c = {0}, d = {0};                                                                              \
            if (p->inside[i]) {                                                                                                    \
                a = light(e, at), b = light(e, at + 1), c = light(e, at + w), d = light(e, at + w + 1);                            \
                __builtin_prefetch((const char *)e->codes + (at + 2 * w) * (long)(channels * e->bits / 8)); /* the next row */     \
            } else {                                                                                                               \
                const int x = p->x[i], y = p->y[i], left = x >= 0 && x < w, right = x + 1 >= 0 && x + 1 < w;                       \
                if (y >= 0 && y < h && left) a = light(e, at);                                                                     \
                if (y >= 0 && y < h && right) b = light(e, at + 1);                                                                \
                if (y + 1 >= 0 && y + 1 < h && left) c = light(e, at + w);                                                         \
                if (y + 1 >= 0 && y + 1 < h && right) d = light(e, at + w + 1);                                                    \
            }                                                                                                                      \
            round_to(to, a * all((1 - fy) * (1 - fx)) + b * all((1 - fy) * fx) + c * all(fy * (1 - fx)) + d * all(fy * fx), channels); \
        }                                                                                                                          \
    }

READ_BETWEEN(between8x1, 1, light8x1)
READ_BETWEEN(between8x3, 3, light8x3)
READ_BETWEEN(between16x1, 1, light16x1)
READ_BETWEEN(between16x3, 3, light16x3)

void pix_read_between(const pix_exposure *e, const float *xs, const float *ys, uint16_t *to, int n) {
    places p;
    float x[AT_ONCE] = {0}, y[AT_ONCE] = {0};
    for (int i = 0; i < n; i += AT_ONCE) {
        const int m = n - i < AT_ONCE ? n - i : AT_ONCE;
        memcpy(x, xs + i, sizeof(float) * m);
        memcpy(y, ys + i, sizeof(float) * m);
        find(&p, x, y, e->w, e->h);
        uint16_t *row = to + (long)i * e->channels;
        if (e->bits == 8) (e->channels == 1 ? between8x1 : between8x3)(e, &p, row, m);
        else (e->channels == 1 ? between16x1 : between16x3)(e, &p, row, m);
    }
}
