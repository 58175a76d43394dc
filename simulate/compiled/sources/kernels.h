/* All kernels of one instruction set, which the file that includes this one has chosen. */

#ifndef LABRUM_KERNELS_H
#define LABRUM_KERNELS_H

#include "elements.h"
#include "multifrontal.h"
#include "products.h"

static const Kernels kernels = {
    .element_forces = element_forces, .smallest_ratio = smallest_ratio, .condensed = condensed, .interior = interior,
    .product = product, .nodal_sums = nodal_sums, .dissect = dissect, .factorise = factorise, .solve = solve,
    .search = labrum_search};

#endif
