// Package heap makes the C library keep the memory of closed pictures for the
// next ones (mallopt(3)); a program imports it for that alone. Otherwise every
// large picture is new memory, which the kernel must clear page by page: a tenth of
// the time of a chart. The process then holds what it needed most until it ends.
package heap

/*
#include <stdlib.h>
#include <malloc.h>

// Before main, as the threads that Go starts there would have heaps of their own
// already, and keep them: each would grow to the largest piece it was ever asked
// for. glibc only: elsewhere the allocator is left alone.
__attribute__((constructor)) static void one_heap(void) {
#ifdef __GLIBC__
	mallopt(M_MMAP_MAX, 0);              // pictures come from the heap, whose pages are there already
	mallopt(M_TRIM_THRESHOLD, 2147483647);
	mallopt(M_ARENA_MAX, 1);             // what one thread frees another can have
#endif
}
*/
import "C"
