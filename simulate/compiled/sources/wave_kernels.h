/* The solver alone, for three unknowns a node: what a wave of the angle around the axis needs beside numpy. */

#ifndef LABRUM_WAVE_KERNELS_H
#define LABRUM_WAVE_KERNELS_H

#define WIDTH 3
#include "multifrontal.h"

static const Kernels wave_kernels = {.dissect = dissect, .factorise = factorise, .solve = solve};

#endif
