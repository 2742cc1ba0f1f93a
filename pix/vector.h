// What the C files share so that the compiler makes vector code of their inner
// loops: AVX2 where the processor has it, chosen at run time, and no fused
// operations, so that the result is the same on all machines.

#ifndef PIX_VECTOR_H
#define PIX_VECTOR_H

#pragma STDC FP_CONTRACT OFF

#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__)
#define VECTOR __attribute__((target_clones("avx2", "default")))
#else
#define VECTOR
#endif

#endif
