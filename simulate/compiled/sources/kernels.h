/* All kernels of one instruction set, which the file that includes this one has chosen. */

#ifndef LABRUM_KERNELS_H
#define LABRUM_KERNELS_H

#include "elements.h"
#include "multifrontal.h"
#include "products.h"

static const Kernels kernels = {
    element_forces, smallest_ratio, condensed, interior, product, nodal_sums, dissect, factorise, solve, labrum_search};

#endif
