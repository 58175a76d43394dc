/* The kernels of waves for x86-64 processors with AVX2 and fused multiply-add; used only where the processor says it has them. */

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "interface.h"

extern const Kernels *const labrum_wave_wide;

#if defined(__x86_64__) && defined(__GNUC__)

#if defined(__clang__)
#pragma clang attribute push(__attribute__((target("avx2,fma"))), apply_to = function)
#else
#pragma GCC target("avx2,fma")
#endif

#define LANES 4
#include "wave_kernels.h"

const Kernels *const labrum_wave_wide = &wave_kernels;

#if defined(__clang__)
#pragma clang attribute pop
#endif

#else

const Kernels *const labrum_wave_wide = 0;

#endif
