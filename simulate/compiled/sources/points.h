/* LANES elements at once, and what they are at an integration point: place, volume, strain, pressure.

   Tables of the rule and the numbering of nodes stand in body.h, the tissue's constants in tissue.h. */

#ifndef LABRUM_POINTS_H
#define LABRUM_POINTS_H

#include "body.h"
#include "tissue.h"

/* LANES elements: numbers, places, constants, nodal displacements and pressure coefficients */
typedef struct {
    int64_t first, count;
    Lane middle, half_width, volume_scale; /* R of the centre; dR/dxi; what R and a weight make a volume of */
    Lane slope_r, slope_z;                 /* dxi/dR, deta/dZ */
    Constants constants;
    Lane inverse_bulk, active[POINTS];
    Lane u[2][NODES], p[3];
} Group;

INLINE void gather_tissue(const Body *body, int64_t e, int lane, Group *group)
{
    each(&group->constants.shear)[lane] = body->shear[e];
    each(&group->constants.second)[lane] = body->second[e];
    each(&group->constants.third)[lane] = body->third[e];
    each(&group->inverse_bulk)[lane] = body->inverse_bulk[e];
    for (int g = 0; g < POINTS; g++) each(&group->active[g])[lane] = body->active[POINTS * e + g];
}

/* the elements from ``first`` on; lanes past the last element repeat it */
INLINE void gather(const Body *body, const double *u, const double *p, int64_t first, Group *group)
{
    const int64_t last = body->columns * body->rows - 1;
    int64_t nodes[NODES];
    group->first = first;
    group->count = last - first + 1 < LANES ? last - first + 1 : LANES;
    for (int lane = 0; lane < LANES; lane++) {
        const int64_t e = first + lane < last ? first + lane : last;
        const double width = body->sizes[2 * e], height = body->sizes[2 * e + 1];
        each(&group->middle)[lane] = body->origins[2 * e];
        each(&group->half_width)[lane] = 0.5 * width;
        each(&group->volume_scale)[lane] = 0.5 * PI * width * height;
        each(&group->slope_r)[lane] = 2.0 / width;
        each(&group->slope_z)[lane] = 2.0 / height;
        gather_tissue(body, e, lane, group);
        nodes_of(body->rows, e, nodes);
        for (int a = 0; a < NODES; a++) {
            each(&group->u[0][a])[lane] = u[2 * nodes[a]];
            each(&group->u[1][a])[lane] = u[2 * nodes[a] + 1];
        }
        for (int k = 0; k < 3; k++) each(&group->p[k])[lane] = p ? p[3 * e + k] : 0.0;
    }
}

/* factors from parent derivatives to those along R and Z and to 1/R, and the volume of point ``g`` */
typedef struct {
    Lane slope_r, slope_z, per_radius, weight;
} Measure;

INLINE Measure measure_at(const Tables *t, const Group *group, int g)
{
    Lane radius = group->middle + group->half_width * t->xi[g];
    Measure out = {group->slope_r, group->slope_z, 1.0 / radius, group->volume_scale * t->weight[g] * radius};
    return out;
}

INLINE Strain strain_at(const Tables *t, const Group *group, const Measure *by, int g)
{
    Strain at;
    Lane rx = all(0.0), ry = rx, r = rx, zx = rx, zy = rx;
    for (int a = 0; a < NODES; a++) {
        rx += t->slope_xi[g][a] * group->u[0][a];
        ry += t->slope_eta[g][a] * group->u[0][a];
        r += t->value[g][a] * group->u[0][a];
        zx += t->slope_xi[g][a] * group->u[1][a];
        zy += t->slope_eta[g][a] * group->u[1][a];
    }
    at.gradient[0] = 1.0 + rx * by->slope_r;
    at.gradient[1] = ry * by->slope_z;
    at.gradient[2] = zx * by->slope_r;
    at.gradient[3] = 1.0 + zy * by->slope_z;
    at.gradient[4] = 1.0 + r * by->per_radius;
    complete_strain(&at);
    return at;
}

INLINE Lane pressure_at(const Tables *t, const Group *group, int g)
{
    return group->p[0] + group->p[1] * t->xi[g] + group->p[2] * t->eta[g];
}

/* entries of a stress-like quantity, weighted: what multiplies slope_xi, slope_eta, value in a nodal force */
typedef struct {
    Lane r[3], z[2];
} Loads;

INLINE Loads loads_of(const Lane *stress, const Measure *by)
{
    Lane along_r = by->weight * by->slope_r, along_z = by->weight * by->slope_z;
    Loads out = {
        {stress[0] * along_r, stress[1] * along_z, stress[4] * by->weight * by->per_radius},
        {stress[2] * along_r, stress[3] * along_z}};
    return out;
}

INLINE Lane load_r(const Tables *t, const Loads *loads, int g, int a)
{
    return loads->r[0] * t->slope_xi[g][a] + loads->r[1] * t->slope_eta[g][a] + loads->r[2] * t->value[g][a];
}

INLINE Lane load_z(const Tables *t, const Loads *loads, int g, int a)
{
    return loads->z[0] * t->slope_xi[g][a] + loads->z[1] * t->slope_eta[g][a];
}

#endif
