/* Dense kernels of a front: the partial factorisation A = L D U^T of its first ``pivots`` columns, without pivoting.

   ``lower`` holds the columns of L and, on its diagonal while they are eliminated, of D; ``upper`` those of U, which is
   L itself in a symmetric front. Columns stand one after the other, ``height`` rows each; both counts are multiples of
   four, filled up with pivots of one and rows of zeros. */

#ifndef LABRUM_DENSE_H
#define LABRUM_DENSE_H

#include "lanes.h"

enum { TILE = 4, PARTS = TILE / LANES, TALLEST = LANES == 4 ? 3 : 1 };

/* c -= a b for ``strips`` strips of four rows and four columns; ``b`` (depth, 4) by rows */
INLINE void update_tile(
    int strips, int64_t depth, const double *a, int64_t a_height, const double *b, double *c, int64_t c_height)
{
    Lane total[3 * PARTS][TILE];
    for (int k = 0; k < strips * PARTS; k++)
        for (int j = 0; j < TILE; j++) total[k][j] = load(c + j * c_height + LANES * k);
    for (int64_t p = 0; p < depth; p++) {
        const double *column = a + p * a_height, *row = b + TILE * p;
        Lane left[3 * PARTS];
        for (int k = 0; k < strips * PARTS; k++) left[k] = load(column + LANES * k);
        for (int j = 0; j < TILE; j++) {
            const Lane factor = all(row[j]);
            for (int k = 0; k < strips * PARTS; k++) total[k][j] -= left[k] * factor;
        }
    }
    for (int k = 0; k < strips * PARTS; k++)
        for (int j = 0; j < TILE; j++) store(c + j * c_height + LANES * k, total[k][j]);
}

/* c -= a b for any number of rows, a multiple of four */
INLINE void update_strip(
    int64_t rows, int64_t depth, const double *a, int64_t a_height, const double *b, double *c, int64_t c_height)
{
    int64_t i = 0;
    if (TALLEST == 3)
        for (; i + 3 * TILE <= rows; i += 3 * TILE) update_tile(3, depth, a + i, a_height, b, c + i, c_height);
    if (TALLEST == 3 && i + 2 * TILE <= rows) {
        update_tile(2, depth, a + i, a_height, b, c + i, c_height);
        i += 2 * TILE;
    }
    for (; i < rows; i += TILE) update_tile(1, depth, a + i, a_height, b, c + i, c_height);
}

/* four rows of U times D, as `update_strip` wants them: b (depth, 4) */
INLINE void pack(int64_t depth, const double *four_rows, int64_t height, const double *diagonal, double *b)
{
    for (int64_t p = 0; p < depth; p++)
        for (int j = 0; j < TILE; j++) b[TILE * p + j] = four_rows[p * height + j] * diagonal[p];
}

/* the four columns from ``at`` on, all earlier ones being taken off already */
INLINE void eliminate_four(int64_t at, int64_t height, double *lower, double *upper, double *diagonal)
{
    for (int64_t k = at; k < at + TILE; k++) {
        double *l = lower + k * height, *u = upper + k * height;
        const double pivot = l[k], inverse = 1.0 / pivot;
        diagonal[k] = pivot;
        for (int64_t i = k + 1; i < height; i++) l[i] *= inverse;
        if (u != l)
            for (int64_t i = k + 1; i < height; i++) u[i] *= inverse;
        for (int64_t j = k + 1; j < at + TILE; j++) {
            double *to = lower + j * height;
            const double factor = u[j] * pivot;
            for (int64_t i = j; i < height; i++) to[i] -= l[i] * factor;
        }
        if (u != l)
            for (int64_t j = k + 1; j < at + TILE; j++) {
                double *to = upper + j * height;
                const double factor = l[j] * pivot;
                for (int64_t i = j + 1; i < height; i++) to[i] -= u[i] * factor;
            }
    }
}

/* Factorise the first ``pivots`` columns and take their share off what is left, ``schur`` (height - pivots, squared);
   of a symmetric front only the lower triangle is right. ``packed`` is room for 4 pivots numbers. */
static void eliminate(
    int64_t pivots, int64_t height, double *lower, double *upper, double *diagonal, double *schur, double *packed)
{
    const int64_t left = height - pivots;
    for (int64_t at = 0; at < pivots; at += TILE) {
        pack(at, upper + at, height, diagonal, packed);
        update_strip(height - at, at, lower + at, height, packed, lower + at * height + at, height);
        if (upper != lower) {
            pack(at, lower + at, height, diagonal, packed);
            update_strip(height - at, at, upper + at, height, packed, upper + at * height + at, height);
        }
        eliminate_four(at, height, lower, upper, diagonal);
    }
    for (int64_t j = 0; j < left; j += TILE) {
        const int64_t from = upper == lower ? j : 0;
        pack(pivots, upper + pivots + j, height, diagonal, packed);
        update_strip(left - from, pivots, lower + pivots + from, height, packed, schur + j * left + from, left);
    }
}

/* One or two right-hand sides at once, ``height`` apart, four pivots at a time: every column is read once. */

/* x -= L x from the first pivot to the last, all rows of the front */
INLINE void forward(int sides, int64_t pivots, int64_t height, const double *lower, double *x)
{
    for (int64_t k = 0; k < pivots; k += TILE) {
        const double *l = lower + k * height;
        Lane factor[2][TILE];
        for (int side = 0; side < sides; side++) {
            double *own = x + side * height;
            for (int j = 0; j < TILE; j++) {
                for (int i = j + 1; i < TILE; i++) own[k + i] -= l[j * height + k + i] * own[k + j];
                factor[side][j] = all(own[k + j]);
            }
        }
        for (int64_t i = k + TILE; i < height; i += LANES) {
            Lane column[TILE];
            for (int j = 0; j < TILE; j++) column[j] = load(l + j * height + i);
            for (int side = 0; side < sides; side++) {
                Lane value = load(x + side * height + i);
                for (int j = 0; j < TILE; j++) value -= column[j] * factor[side][j];
                store(x + side * height + i, value);
            }
        }
    }
}

/* the pivots' own unknowns, the others in x being known */
INLINE void backward(int sides, int64_t pivots, int64_t height, const double *upper, const double *diagonal, double *x)
{
    for (int64_t k = pivots - TILE; k >= 0; k -= TILE) {
        const double *u = upper + k * height;
        Lane share[2][TILE];
        for (int side = 0; side < sides; side++)
            for (int j = 0; j < TILE; j++) share[side][j] = all(0.0);
        for (int64_t i = k + TILE; i < height; i += LANES) {
            Lane column[TILE];
            for (int j = 0; j < TILE; j++) column[j] = load(u + j * height + i);
            for (int side = 0; side < sides; side++) {
                const Lane value = load(x + side * height + i);
                for (int j = 0; j < TILE; j++) share[side][j] += column[j] * value;
            }
        }
        for (int side = 0; side < sides; side++) {
            double *own = x + side * height;
            for (int j = TILE - 1; j >= 0; j--) {
                double value = own[k + j] / diagonal[k + j] - sum(share[side][j]);
                for (int i = j + 1; i < TILE; i++) value -= u[j * height + k + i] * own[k + i];
                own[k + j] = value;
            }
        }
    }
}

#endif
