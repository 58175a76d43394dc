/* Element-wise products and sums: what stands in for a global sparse matrix. */

#ifndef LABRUM_PRODUCTS_H
#define LABRUM_PRODUCTS_H

#include "body.h"
#include "lanes.h"

/* y += K x for one element matrix (16, 16), by rows */
INLINE void add_product(const double *matrix, const double *x, double *y)
{
    for (int i = 0; i < 16; i++) {
        Lane part = all(0.0);
        double rest = 0.0;
        if (LANES > 1)
            for (int j = 0; j < 16; j += LANES) part += load(matrix + 16 * i + j) * load(x + j);
        else
            for (int j = 0; j < 16; j++) rest += matrix[16 * i + j] * x[j];
        y[i] += LANES > 1 ? sum(part) : rest;
    }
}

/* y (k, n, 2) = sum over elements of K_e x (k, n, 2); only elements with a node in ``chosen`` (n,), where it is given */
static void product(
    int64_t columns, int64_t rows, const double *stiffness, const uint8_t *chosen, int64_t sides, const double *x,
    double *y)
{
    const int64_t size = 2 * (2 * columns + 1) * (2 * rows + 1);
    memset(y, 0, (size_t)(sides * size) * sizeof *y);
    for (int64_t e = 0; e < columns * rows; e++) {
        int64_t nodes[NODES];
        int any = 0;
        nodes_of(rows, e, nodes);
        for (int a = 0; chosen && a < OUTER; a++) any |= chosen[nodes[a]];
        if (chosen && !any) continue;
        for (int64_t side = 0; side < sides; side++) {
            double in[16], out[16] = {0.0};
            for (int a = 0; a < OUTER; a++)
                for (int i = 0; i < 2; i++) in[2 * a + i] = x[side * size + 2 * nodes[a] + i];
            add_product(stiffness + 256 * e, in, out);
            for (int a = 0; a < OUTER; a++)
                for (int i = 0; i < 2; i++) y[side * size + 2 * nodes[a] + i] += out[2 * a + i];
        }
    }
}

/* (n, 2) sums at the nodes of element vectors (e, nodes, 2) of the first ``width`` nodes of each element */
static void nodal_sums(int64_t columns, int64_t rows, int64_t width, const double *parts, double *sums)
{
    memset(sums, 0, (size_t)(2 * (2 * columns + 1) * (2 * rows + 1)) * sizeof *sums);
    for (int64_t e = 0; e < columns * rows; e++) {
        int64_t nodes[NODES];
        nodes_of(rows, e, nodes);
        for (int64_t a = 0; a < width; a++)
            for (int i = 0; i < 2; i++) sums[2 * nodes[a] + i] += parts[2 * (width * e + a) + i];
    }
}

/* what elimination left behind, got back: centre displacements, written into ``step`` (n, 2) whose outer ones are
   given, and pressure increments (e, 3); arrays as `condensed` fills them */
static void interior(
    int64_t columns, int64_t rows, const Condensed *from, const double *bulk, double *step, double *pressure)
{
    for (int64_t e = 0; e < columns * rows; e++) {
        int64_t nodes[NODES];
        double whole[18], pull[2], strain[3];
        nodes_of(rows, e, nodes);
        for (int a = 0; a < OUTER; a++)
            for (int i = 0; i < 2; i++) whole[2 * a + i] = step[2 * nodes[a] + i];
        for (int i = 0; i < 2; i++) {
            pull[i] = from->centre_force[2 * e + i];
            for (int j = 0; j < 16; j++) pull[i] += from->centre_rows[32 * e + 16 * i + j] * whole[j];
        }
        for (int i = 0; i < 2; i++) {
            whole[16 + i] = -from->centre_inverse[4 * e + 2 * i] * pull[0] - from->centre_inverse[4 * e + 2 * i + 1] * pull[1];
            step[2 * nodes[8] + i] = whole[16 + i];
        }
        for (int k = 0; k < 3; k++) strain[k] = from->volume[3 * e + k];
        for (int j = 0; j < 18; j++)
            for (int k = 0; k < 3; k++) strain[k] += from->coupling[54 * e + 3 * j + k] * whole[j];
        for (int k = 0; k < 3; k++) {
            const double *row = bulk + 9 * e + 3 * k;
            pressure[3 * e + k] = row[0] * strain[0] + row[1] * strain[1] + row[2] * strain[2];
        }
    }
}

#endif
