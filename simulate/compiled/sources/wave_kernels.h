/* What a wave of the angle around the axis needs: its elements, and the solver for three unknowns a node. */

#ifndef LABRUM_WAVE_KERNELS_H
#define LABRUM_WAVE_KERNELS_H

#define WIDTH 3
#include "multifrontal.h"
#include "wave_elements.h"

static const Kernels wave_kernels = {
    .dissect = dissect, .factorise = factorise, .solve = solve, .wave_condensed = wave_condensed,
    .wave_points = wave_points};

#endif
