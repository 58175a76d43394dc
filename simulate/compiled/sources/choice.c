/* Which kernels this processor can run; decided when asked, not when built. */

#include <string.h>

#include "interface.h"

extern const Kernels *const labrum_portable;
extern const Kernels *const labrum_wide;
extern const Kernels *const labrum_wave_portable;
extern const Kernels *const labrum_wave_wide;

#if defined(_WIN32)
#define EXPORTED __declspec(dllexport)
#else
#define EXPORTED __attribute__((visibility("default")))
#endif

static int processor_is_wide(void)
{
#if defined(__x86_64__) && defined(__GNUC__)
    __builtin_cpu_init();
    return __builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma");
#else
    return 0;
#endif
}

EXPORTED const Kernels *labrum_kernels(const char *name);
EXPORTED const Kernels *labrum_wave_kernels(const char *name);
EXPORTED int64_t labrum_table_size(void);

/* the table called "portable" or "wide"; NULL where it was not built, or the processor cannot run it */
const Kernels *labrum_kernels(const char *name)
{
    if (strcmp(name, "portable") == 0) return labrum_portable;
    if (strcmp(name, "wide") == 0 && labrum_wide && processor_is_wide()) return labrum_wide;
    return 0;
}

/* the same of what waves need: their elements, the solver for three unknowns a node; all else is NULL */
const Kernels *labrum_wave_kernels(const char *name)
{
    if (strcmp(name, "portable") == 0) return labrum_wave_portable;
    if (strcmp(name, "wide") == 0 && labrum_wave_wide && processor_is_wide()) return labrum_wave_wide;
    return 0;
}

/* how large a table is: who reads it as one of another size has a build of other sources */
int64_t labrum_table_size(void) { return sizeof(Kernels); }
