/* Forces and condensed tangents of Q9/P-1 elements, LANES elements at a time.

   Weak form, per element, integrals over the full circle dV = 2 pi R dR dZ, F the deformation gradient:
       force    f_a = integral of P : grad(N_a) dV                        (virtual work of the stress)
       volume   v_k = integral of (J - 1 - p / kappa) Q_k dV              (the pressure's own equation)
       tangent  K_ab = integral of grad(N_a) : dP/dF : grad(N_b) dV
       coupling C_ak = integral of (dJ/dF : grad(N_a)) Q_k dV
   Pressure functions Q: 1, xi, eta. The pressure increment is B (C^T du + v) with B the inverse of the (regularised)
   compliance, which leaves K + C B C^T and f + C B v; the centre node then leaves by a 2 x 2 Schur complement. */

#ifndef LABRUM_ELEMENTS_H
#define LABRUM_ELEMENTS_H

#include <math.h>

#include "points.h"

/* residuals of a group: force (9, 2), volume (3), smallest J of each lane */
typedef struct {
    Lane force[NODES][2], volume[3], ratio;
} Residual;

INLINE Lane smaller(Lane a, Lane b)
{
    /* a ratio that is not a number stays, as the smallest of all */
    for (int lane = 0; lane < LANES; lane++)
        if (!(each(&a)[lane] <= each(&b)[lane])) each(&a)[lane] = each(&b)[lane];
    return a;
}

INLINE void clear_residual(Residual *out)
{
    for (int a = 0; a < NODES; a++) out->force[a][0] = out->force[a][1] = all(0.0);
    for (int k = 0; k < 3; k++) out->volume[k] = all(0.0);
    out->ratio = all(HUGE_VAL);
}

INLINE void add_residual(
    const Tables *t, const Group *group, const Measure *by, const Strain *at, Lane *piola, int g, Residual *out)
{
    piola[4] += group->active[g];
    Loads loads = loads_of(piola, by);
    for (int a = 0; a < NODES; a++) {
        out->force[a][0] += load_r(t, &loads, g, a);
        out->force[a][1] += load_z(t, &loads, g, a);
    }
    Lane miss = by->weight * (at->ratio - 1.0 - pressure_at(t, group, g) * group->inverse_bulk);
    out->volume[0] += miss;
    out->volume[1] += miss * t->xi[g];
    out->volume[2] += miss * t->eta[g];
    out->ratio = smaller(out->ratio, at->ratio);
}

INLINE void write_residual(const Group *group, Residual *from, double *force, double *volume, double *smallest)
{
    for (int lane = 0; lane < group->count; lane++) {
        const int64_t e = group->first + lane;
        for (int a = 0; a < NODES; a++)
            for (int i = 0; i < 2; i++) force[18 * e + 2 * a + i] = each(&from->force[a][i])[lane];
        for (int k = 0; k < 3; k++) volume[3 * e + k] = each(&from->volume[k])[lane];
        if (!(each(&from->ratio)[lane] >= *smallest)) *smallest = each(&from->ratio)[lane];
    }
}

/* residual forces (e, 9, 2) N and volume residuals (e, 3) mm3; returns the smallest J at any integration point */
static double element_forces(const Body *body, const double *u, const double *p, double *force, double *volume)
{
    const Tables t = tables();
    const int64_t count = body->columns * body->rows;
    double smallest = HUGE_VAL;
    for (int64_t first = 0; first < count; first += LANES) {
        Group group;
        Residual out;
        gather(body, u, p, first, &group);
        clear_residual(&out);
        for (int g = 0; g < POINTS; g++) {
            Measure by = measure_at(&t, &group, g);
            Strain at = strain_at(&t, &group, &by, g);
            Lane piola[5];
            passive_stress(&group.constants, &at, pressure_at(&t, &group, g), piola);
            add_residual(&t, &group, &by, &at, piola, g, &out);
        }
        write_residual(&group, &out, force, volume, &smallest);
    }
    return smallest;
}

static double smallest_ratio(const Body *body, const double *u)
{
    const Tables t = tables();
    const int64_t count = body->columns * body->rows;
    double smallest = HUGE_VAL;
    for (int64_t first = 0; first < count; first += LANES) {
        Group group;
        Lane least = all(HUGE_VAL);
        gather(body, u, NULL, first, &group);
        for (int g = 0; g < POINTS; g++) {
            Measure by = measure_at(&t, &group, g);
            least = smaller(least, strain_at(&t, &group, &by, g).ratio);
        }
        for (int lane = 0; lane < group.count; lane++)
            if (!(each(&least)[lane] >= smallest)) smallest = each(&least)[lane];
    }
    return smallest;
}

/* the tangent of a group: blocks[pair(a, b)] for nodes a <= b, entries rr, rz, zr, zz; and the coupling */
typedef struct {
    Lane blocks[45][4], coupling[NODES][2][3];
} Tangent;

INLINE int pair_of(int a, int b) { return b * (b + 1) / 2 + a; }

INLINE void clear_tangent(Tangent *out)
{
    for (int k = 0; k < 45; k++)
        for (int i = 0; i < 4; i++) out->blocks[k][i] = all(0.0);
    for (int a = 0; a < NODES; a++)
        for (int k = 0; k < 3; k++) out->coupling[a][0][k] = out->coupling[a][1][k] = all(0.0);
}

/* dP/dF with its entries' derivatives taken on the parent square, times the point's volume */
INLINE void to_parent(Lane tangent[5][5], const Measure *by)
{
    const Lane scale[5] = {by->slope_r, by->slope_z, by->slope_r, by->slope_z, by->per_radius};
    for (int i = 0; i < 5; i++) {
        Lane row = scale[i] * by->weight;
        for (int j = 0; j < 5; j++) tangent[i][j] *= row * scale[j];
    }
}

INLINE void add_tangent(const Tables *t, Lane d[5][5], int g, Tangent *out)
{
    for (int b = 0; b < NODES; b++) {
        const double bx = t->slope_xi[g][b], by = t->slope_eta[g][b], bn = t->value[g][b];
        Lane r[5], z[5]; /* stress by a unit displacement of node b along r, along z */
        for (int i = 0; i < 5; i++) {
            r[i] = d[i][0] * bx + d[i][1] * by + d[i][4] * bn;
            z[i] = d[i][2] * bx + d[i][3] * by;
        }
        for (int a = 0; a <= b; a++) {
            const double ax = t->slope_xi[g][a], ay = t->slope_eta[g][a], an = t->value[g][a];
            Lane *block = out->blocks[pair_of(a, b)];
            block[0] += r[0] * ax + r[1] * ay + r[4] * an;
            block[1] += z[0] * ax + z[1] * ay + z[4] * an;
            block[2] += r[2] * ax + r[3] * ay;
            block[3] += z[2] * ax + z[3] * ay;
        }
    }
}

INLINE void add_coupling(const Tables *t, const Measure *by, const Strain *at, int g, Tangent *out)
{
    Loads loads = loads_of(at->cofactor, by);
    for (int a = 0; a < NODES; a++) {
        const Lane both[2] = {load_r(t, &loads, g, a), load_z(t, &loads, g, a)};
        for (int i = 0; i < 2; i++) {
            out->coupling[a][i][0] += both[i];
            out->coupling[a][i][1] += both[i] * t->xi[g];
            out->coupling[a][i][2] += both[i] * t->eta[g];
        }
    }
}

/* K + C B C^T and f + C B v, in place */
INLINE void eliminate_pressure(const Lane bulk[3][3], Tangent *tangent, Residual *residual)
{
    for (int b = 0; b < NODES; b++) {
        Lane stiffened[2][3];
        for (int j = 0; j < 2; j++) {
            const Lane *c = tangent->coupling[b][j];
            for (int k = 0; k < 3; k++) stiffened[j][k] = bulk[k][0] * c[0] + bulk[k][1] * c[1] + bulk[k][2] * c[2];
            for (int k = 0; k < 3; k++) residual->force[b][j] += stiffened[j][k] * residual->volume[k];
        }
        for (int a = 0; a <= b; a++)
            for (int i = 0; i < 2; i++)
                for (int j = 0; j < 2; j++) {
                    const Lane *c = tangent->coupling[a][i];
                    tangent->blocks[pair_of(a, b)][2 * i + j]
                        += c[0] * stiffened[j][0] + c[1] * stiffened[j][1] + c[2] * stiffened[j][2];
                }
    }
}

/* the inverse of the centre node's own 2 x 2 block */
typedef struct {
    Lane inverse[2][2];
} Centre;

INLINE Centre eliminate_centre(Tangent *tangent, Residual *residual)
{
    const Lane *own = tangent->blocks[pair_of(8, 8)], *pull = residual->force[8];
    Lane determinant = own[0] * own[3] - own[1] * own[2];
    Centre out = {{{own[3] / determinant, -own[1] / determinant}, {-own[2] / determinant, own[0] / determinant}}};
    for (int b = 0; b < OUTER; b++) {
        const Lane *to = tangent->blocks[pair_of(b, 8)]; /* rows: node b; columns: centre */
        Lane lift[2][2];
        for (int i = 0; i < 2; i++)
            for (int j = 0; j < 2; j++)
                lift[i][j] = to[2 * i] * out.inverse[0][j] + to[2 * i + 1] * out.inverse[1][j];
        for (int i = 0; i < 2; i++) residual->force[b][i] -= lift[i][0] * pull[0] + lift[i][1] * pull[1];
        for (int a = 0; a <= b; a++) {
            const Lane *from = tangent->blocks[pair_of(a, 8)];
            Lane *block = tangent->blocks[pair_of(a, b)];
            for (int i = 0; i < 2; i++)
                for (int j = 0; j < 2; j++) block[2 * i + j] -= from[2 * i] * lift[j][0] + from[2 * i + 1] * lift[j][1];
        }
    }
    return out;
}

INLINE void write_stiffness(Tangent *from, int lane, double *stiffness)
{
    for (int b = 0; b < OUTER; b++)
        for (int a = 0; a <= b; a++) {
            Lane *block = from->blocks[pair_of(a, b)];
            for (int i = 0; i < 2; i++)
                for (int j = 0; j < 2; j++) {
                    const double value = each(&block[2 * i + j])[lane];
                    stiffness[16 * (2 * a + i) + 2 * b + j] = value;
                    stiffness[16 * (2 * b + j) + 2 * a + i] = value;
                }
        }
}

INLINE void write_condensed(
    const Group *group, Tangent *tangent, Residual *residual, Centre *centre, const Condensed *to)
{
    for (int lane = 0; lane < group->count; lane++) {
        const int64_t e = group->first + lane;
        write_stiffness(tangent, lane, to->stiffness + 256 * e);
        for (int a = 0; a < NODES; a++)
            for (int i = 0; i < 2; i++)
                for (int k = 0; k < 3; k++)
                    to->coupling[54 * e + 6 * a + 3 * i + k] = each(&tangent->coupling[a][i][k])[lane];
        for (int i = 0; i < 2; i++) {
            for (int j = 0; j < 2; j++) to->centre_inverse[4 * e + 2 * i + j] = each(&centre->inverse[i][j])[lane];
            for (int a = 0; a < OUTER; a++)
                for (int j = 0; j < 2; j++) /* rows: centre; the block is the transposed of the one kept */
                    to->centre_rows[32 * e + 16 * i + 2 * a + j]
                        = each(&tangent->blocks[pair_of(a, 8)][2 * j + i])[lane];
            to->centre_force[2 * e + i] = each(&residual->force[8][i])[lane];
            for (int a = 0; a < OUTER; a++) to->outer_force[16 * e + 2 * a + i] = each(&residual->force[a][i])[lane];
        }
    }
}

/* residuals, and the condensed systems of all elements with ``bulk`` (e, 3, 3); returns the smallest J */
static double condensed(const Body *body, const double *u, const double *p, const double *bulk, const Condensed *to)
{
    const Tables t = tables();
    const int64_t count = body->columns * body->rows;
    double smallest = HUGE_VAL;
    for (int64_t first = 0; first < count; first += LANES) {
        Group group;
        Residual residual;
        Tangent tangent;
        Centre centre;
        Lane stiff[3][3];
        gather(body, u, p, first, &group);
        for (int lane = 0; lane < LANES; lane++)
            for (int k = 0; k < 9; k++)
                each(&stiff[k / 3][k % 3])[lane] = bulk[9 * (first + (lane < group.count ? lane : 0)) + k];
        clear_residual(&residual);
        clear_tangent(&tangent);
        for (int g = 0; g < POINTS; g++) {
            Measure by = measure_at(&t, &group, g);
            Strain at = strain_at(&t, &group, &by, g);
            Lane piola[5], slopes[5][5];
            passive_tangent(&group.constants, &at, pressure_at(&t, &group, g), piola, slopes);
            to_parent(slopes, &by);
            add_tangent(&t, slopes, g, &tangent);
            add_coupling(&t, &by, &at, g, &tangent);
            add_residual(&t, &group, &by, &at, piola, g, &residual);
        }
        write_residual(&group, &residual, to->force, to->volume, &smallest);
        eliminate_pressure(stiff, &tangent, &residual);
        centre = eliminate_centre(&tangent, &residual);
        write_condensed(&group, &tangent, &residual, &centre, to);
    }
    return smallest;
}

#endif
