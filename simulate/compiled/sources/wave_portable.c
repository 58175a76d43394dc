/* The kernels of waves for any processor of the family the library is built for. */

#if defined(__GNUC__)
#define LANES 2
#else
#define LANES 1
#endif

#include "wave_kernels.h"

extern const Kernels *const labrum_wave_portable;
const Kernels *const labrum_wave_portable = &wave_kernels;
