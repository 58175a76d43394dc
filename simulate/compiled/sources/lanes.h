/* A lane-wise number: several elements, or several rows of a matrix, worked on at once.

   LANES is set by the file that includes this one, to what its instruction set holds in a register. With a compiler
   that has no vector types a lane-wise number is a plain one. */

#ifndef LABRUM_LANES_H
#define LABRUM_LANES_H

#include <math.h>
#include <stdint.h>
#include <string.h>

#if LANES > 1
typedef double Lane __attribute__((vector_size(8 * LANES), may_alias));
typedef double UnalignedLane __attribute__((vector_size(8 * LANES), aligned(8), may_alias));
#define INLINE static inline __attribute__((always_inline))
#else
typedef double Lane;
typedef double UnalignedLane;
#define INLINE static inline
#endif

/* the numbers in a lane-wise one, to be read or set one by one */
INLINE double *each(Lane *x) { return (double *)x; }

INLINE Lane all(double value)
{
    Lane x;
    for (int lane = 0; lane < LANES; lane++) each(&x)[lane] = value;
    return x;
}

INLINE Lane load(const double *from) { return *(const UnalignedLane *)from; }

INLINE void store(double *to, Lane value) { *(UnalignedLane *)to = value; }

INLINE double sum(Lane x)
{
    double total = 0.0;
    for (int lane = 0; lane < LANES; lane++) total += each(&x)[lane];
    return total;
}

/* 1 / cube root: a first guess from the exponent, then three steps of third order. Not a number where x <= 0. */
INLINE Lane inverse_cube_root(Lane x)
{
    Lane y;
    for (int lane = 0; lane < LANES; lane++) {
        uint64_t bits;
        double guess;
        memcpy(&bits, &each(&x)[lane], sizeof bits);
        bits = UINT64_C(0x553EF0FF289DD796) - bits / 3;
        memcpy(&guess, &bits, sizeof guess);
        each(&y)[lane] = each(&x)[lane] > 0.0 ? guess : NAN;
    }
    for (int step = 0; step < 3; step++) {
        Lane miss = 1.0 - x * y * y * y;
        y += y * miss * (1.0 / 3.0 + (2.0 / 9.0) * miss);
    }
    return y;
}

#endif
