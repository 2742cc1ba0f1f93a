#ifndef PIX_UNEVEN_H
#define PIX_UNEVEN_H

#include <stdint.h>

// Writes to cells, in rising order, the columns from -1 on of those cells of a row
// whose four corners are not all below 0 or all not: upper and lower are the rows
// of n values above and below, null beyond the raster, where all is below 0. room
// holds 2·(n + 2) + n + 1 + 8 bytes. Returns how many.
int pix_uneven_cells(const float *upper, const float *lower, int n, int32_t *cells, uint8_t *room);

#endif
