#ifndef PIX_EXPOSURE_H
#define PIX_EXPOSURE_H

#include <stdint.h>

// A photograph as stored, 1 or 3 channels of 8 or 16 bits, and the light of each
// code: light[code], and for 8 bits spread[4 (256 c + code) + c], 0 in the other three of
// four lanes.
typedef struct {
    const void *codes;
    int bits, w, h, channels;
    const float *light, *spread;
} pix_exposure;

// to, n pixels of the photograph's channels, is its light between the pixels round
// (xs, ys), rounded; 0 beyond the photograph.
void pix_read_between(const pix_exposure *e, const float *xs, const float *ys, uint16_t *to, int n);

#endif
