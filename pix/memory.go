package pix

/*
#include <stdlib.h>
#include <malloc.h>

// glibc only: elsewhere the allocator is left alone.
static void reuse_memory(void) {
#ifdef __GLIBC__
	mallopt(M_MMAP_MAX, 0);              // pictures come from the heap, whose pages are there already
	mallopt(M_TRIM_THRESHOLD, 2147483647);
	mallopt(M_ARENA_MAX, 1);             // one heap: what one thread frees another can have
#endif
}
*/
import "C"

// ReuseMemory makes the C library keep the memory of closed pictures for the
// next ones (mallopt(3)). Otherwise every large picture is new memory, which the
// kernel must clear page by page: a tenth of the time of a chart. The process
// then holds what it needed most until it ends. Call it once, before the first
// picture.
func ReuseMemory() { C.reuse_memory() }
