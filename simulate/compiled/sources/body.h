/* A body of Q9/P-1 elements on a tensor grid, and how its nodes are numbered.

   Nodes run along a column of nodes from the back to the surface, column after column; elements do the same. An
   element's nodes: corners anticlockwise, midsides (bottom, right, top, left), centre. Tables of the three-point Gauss
   rule and of the shape functions on the parent square stand here as well. */

#ifndef LABRUM_BODY_H
#define LABRUM_BODY_H

#include <stddef.h>

#include "interface.h"

enum { POINTS = 9, NODES = 9, OUTER = 8 };

static const double PI = 3.14159265358979323846;

/* node numbers of element ``e``, given the grid's elements along Z */
static inline void nodes_of(int64_t rows, int64_t e, int64_t *nodes)
{
    const int64_t m = 2 * rows + 1, base = 2 * (e / rows) * m + 2 * (e % rows);
    const int64_t beyond[NODES] = {0, 2 * m, 2 * m + 2, 2, m, 2 * m + 1, m + 2, 1, m + 1};
    for (int a = 0; a < NODES; a++) nodes[a] = base + beyond[a];
}

/* abscissae and weights of the rule, and per point and node: derivatives along xi and eta, and the value */
typedef struct {
    double xi[POINTS], eta[POINTS], weight[POINTS];
    double slope_xi[POINTS][NODES], slope_eta[POINTS][NODES], value[POINTS][NODES];
} Tables;

static inline double lagrange(int place, double x) { return place ? 0.5 * x * (x + place) : 1.0 - x * x; }

static inline double lagrange_slope(int place, double x) { return place ? x + 0.5 * place : -2.0 * x; }

static inline Tables tables(void)
{
    static const int at_xi[NODES] = {-1, 1, 1, -1, 0, 1, 0, -1, 0}, at_eta[NODES] = {-1, -1, 1, 1, -1, 0, 1, 0, 0};
    static const double gauss[3] = {-0.77459666924148337704, 0.0, 0.77459666924148337704};
    static const double gauss_weight[3] = {5.0 / 9.0, 8.0 / 9.0, 5.0 / 9.0};
    Tables t;
    for (int g = 0; g < POINTS; g++) {
        double xi = gauss[g / 3], eta = gauss[g % 3];
        t.xi[g] = xi, t.eta[g] = eta, t.weight[g] = gauss_weight[g / 3] * gauss_weight[g % 3];
        for (int a = 0; a < NODES; a++) {
            t.slope_xi[g][a] = lagrange_slope(at_xi[a], xi) * lagrange(at_eta[a], eta);
            t.slope_eta[g][a] = lagrange(at_xi[a], xi) * lagrange_slope(at_eta[a], eta);
            t.value[g][a] = lagrange(at_xi[a], xi) * lagrange(at_eta[a], eta);
        }
    }
    return t;
}

#endif
