// Which cells of a raster a curve on which it is 0 may cross.

#include "uneven.h"

#include <string.h>

#include "vector.h"

VECTOR
static void below(uint8_t *restrict out, const float *restrict v, int n) {
    for (int x = 0; x < n; x++) out[x] = v[x] < 0;
}

VECTOR
static void differ(uint8_t *restrict out, const uint8_t *restrict a, const uint8_t *restrict b, int n) {
    for (int x = 0; x < n; x++) out[x] = (a[x] ^ a[x + 1]) | (a[x] ^ b[x]) | (a[x] ^ b[x + 1]);
}

// a row's signs with what lies beyond it
static void signs(uint8_t *out, const float *v, int n) {
    memset(out, 1, n + 2);
    if (v) below(out + 1, v, n);
}

int pix_uneven_cells(const float *upper, const float *lower, int n, int32_t *cells, uint8_t *room) {
    uint8_t *a = room, *b = a + n + 2, *uneven = b + n + 2;
    signs(a, upper, n);
    signs(b, lower, n);
    differ(uneven, a, b, n + 1);
    memset(uneven + n + 1, 0, 8);
    int found = 0;
    for (int x = 0; x <= n; x += 8) {
        uint64_t eight;
        memcpy(&eight, uneven + x, 8);
        if (!eight) continue;
        for (int i = x; i < x + 8; i++)
            if (uneven[i]) cells[found++] = i - 1;
    }
    return found;
}
