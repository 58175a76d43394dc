/* Condensed tangents of Q9/P-1 elements in one wave (U cos nt, V sin nt, W cos nt) of the angle, LANES at a time.

   The gradient's change has nine entries, of which an axisymmetric state's energy does not couple the first five and the
   last four (labrum.simulate.off_axis.waves derives it):
       cosine   rR: U,R    rZ: U,Z    zR: W,R    zZ: W,Z    hoop: (U + n V) / R
       sine     r Theta: -(n U + V) / R    theta R: V,R    theta Z: V,Z    z Theta: -n W / R
   Only the cosine part changes a volume. Elimination is that of elements.h, with three components a node. */

#ifndef LABRUM_WAVE_ELEMENTS_H
#define LABRUM_WAVE_ELEMENTS_H

#include "points.h"

/* how many waves, and what cos^2 or sin^2 leaves of the full circle */
typedef struct {
    double order, share;
} Wave;

/* the tangent of a group: blocks[pair(a, b)] for nodes a <= b, entries by row; and the coupling */
typedef struct {
    Lane blocks[45][9], coupling[NODES][3][3];
} WaveTangent;

INLINE int wave_pair_of(int a, int b) { return b * (b + 1) / 2 + a; }

INLINE void clear_wave(WaveTangent *out)
{
    for (int k = 0; k < 45; k++)
        for (int i = 0; i < 9; i++) out->blocks[k][i] = all(0.0);
    for (int a = 0; a < NODES; a++)
        for (int k = 0; k < 9; k++) out->coupling[a][k / 3][k % 3] = all(0.0);
}

/* both tangents of a point with derivatives taken on the parent square, times its volume */
INLINE void wave_to_parent(Lane cosine[5][5], SineTangent *sine, const Measure *by, Lane volume)
{
    const Lane along[5] = {by->slope_r, by->slope_z, by->slope_r, by->slope_z, by->per_radius};
    const Lane around[4] = {by->per_radius, by->slope_r, by->slope_z, by->per_radius};
    static const int row[4] = {0, 2, 0, 1}, column[4] = {1, 3, 2, 3};
    for (int i = 0; i < 5; i++)
        for (int j = 0; j < 5; j++) cosine[i][j] *= volume * along[i] * along[j];
    for (int i = 0; i < 4; i++) {
        sine->own[i] *= volume * around[i] * around[i];
        sine->cross[i] *= volume * around[row[i]] * around[column[i]];
    }
}

/* stress by a unit of one component at one node: the five cosine entries, then the four sine ones */
typedef struct {
    Lane of[3][9];
} NodeStress;

/* the derivatives along xi and eta, and the value, of a node's shape function at a point */
typedef struct {
    double x, y, n;
} Shape;

INLINE Shape shape_at(const Tables *t, int g, int a)
{
    Shape out = {t->slope_xi[g][a], t->slope_eta[g][a], t->value[g][a]};
    return out;
}

INLINE NodeStress node_stress(Lane d[5][5], const SineTangent *s, Shape b, double order)
{
    NodeStress out;
    const double turned = order * b.n;
    for (int i = 0; i < 5; i++) {
        out.of[0][i] = d[i][0] * b.x + d[i][1] * b.y + d[i][4] * b.n;
        out.of[1][i] = d[i][4] * turned;
        out.of[2][i] = d[i][2] * b.x + d[i][3] * b.y;
    }
    Lane *u = out.of[0] + 5, *v = out.of[1] + 5, *w = out.of[2] + 5;
    u[0] = s->own[0] * -turned, u[1] = s->cross[0] * -turned, u[2] = s->cross[2] * -turned, u[3] = all(0.0);
    v[0] = s->own[0] * -b.n + s->cross[0] * b.x + s->cross[2] * b.y;
    v[1] = s->cross[0] * -b.n + s->own[1] * b.x;
    v[2] = s->cross[2] * -b.n + s->own[2] * b.y;
    v[3] = s->cross[3] * b.x + s->cross[1] * b.y;
    w[0] = all(0.0), w[1] = s->cross[3] * -turned, w[2] = s->cross[1] * -turned, w[3] = s->own[3] * -turned;
    return out;
}

INLINE void add_wave_tangent(const Tables *t, Lane d[5][5], const SineTangent *s, double order, int g, WaveTangent *out)
{
    for (int b = 0; b < NODES; b++) {
        NodeStress stress = node_stress(d, s, shape_at(t, g, b), order);
        for (int a = 0; a <= b; a++) {
            const Shape at = shape_at(t, g, a);
            const double turned = order * at.n;
            Lane *block = out->blocks[wave_pair_of(a, b)];
            for (int j = 0; j < 3; j++) {
                const Lane *k = stress.of[j];
                block[j] += k[0] * at.x + k[1] * at.y + k[4] * at.n - k[5] * turned;
                block[3 + j] += k[4] * turned - k[5] * at.n + k[6] * at.x + k[7] * at.y;
                block[6 + j] += k[2] * at.x + k[3] * at.y - k[8] * turned;
            }
        }
    }
}

INLINE void add_wave_coupling(
    const Tables *t, const Measure *by, const Strain *at, const Wave *wave, int g, WaveTangent *out)
{
    Loads loads = loads_of(at->cofactor, by);
    for (int a = 0; a < NODES; a++) {
        const Lane pull[3] = {
            wave->share * load_r(t, &loads, g, a), (wave->share * wave->order * t->value[g][a]) * loads.r[2],
            wave->share * load_z(t, &loads, g, a)};
        for (int i = 0; i < 3; i++) {
            out->coupling[a][i][0] += pull[i];
            out->coupling[a][i][1] += pull[i] * t->xi[g];
            out->coupling[a][i][2] += pull[i] * t->eta[g];
        }
    }
}

/* K + C B C^T, in place */
INLINE void eliminate_wave_pressure(const Lane bulk[3][3], WaveTangent *tangent)
{
    for (int b = 0; b < NODES; b++)
        for (int j = 0; j < 3; j++) {
            const Lane *own = tangent->coupling[b][j];
            Lane squeeze[3];
            for (int k = 0; k < 3; k++)
                squeeze[k] = bulk[k][0] * own[0] + bulk[k][1] * own[1] + bulk[k][2] * own[2];
            for (int a = 0; a <= b; a++)
                for (int i = 0; i < 3; i++) {
                    const Lane *c = tangent->coupling[a][i];
                    tangent->blocks[wave_pair_of(a, b)][3 * i + j]
                        += c[0] * squeeze[0] + c[1] * squeeze[1] + c[2] * squeeze[2];
                }
        }
}

/* the inverse of the centre node's own block m, symmetric, by its adjugate */
INLINE void invert_centre(const Lane *m, Lane inverse[9])
{
    inverse[0] = m[4] * m[8] - m[5] * m[7];
    inverse[1] = inverse[3] = m[2] * m[7] - m[1] * m[8];
    inverse[2] = inverse[6] = m[1] * m[5] - m[2] * m[4];
    inverse[4] = m[0] * m[8] - m[2] * m[6];
    inverse[5] = inverse[7] = m[2] * m[3] - m[0] * m[5];
    inverse[8] = m[0] * m[4] - m[1] * m[3];
    Lane determinant = m[0] * inverse[0] + m[1] * inverse[3] + m[2] * inverse[6];
    for (int k = 0; k < 9; k++) inverse[k] /= determinant;
}

INLINE void eliminate_wave_centre(WaveTangent *tangent, Lane inverse[9])
{
    invert_centre(tangent->blocks[wave_pair_of(8, 8)], inverse);
    for (int b = 0; b < OUTER; b++) {
        const Lane *to = tangent->blocks[wave_pair_of(b, 8)]; /* rows: node b; columns: centre */
        Lane lift[3][3];
        for (int i = 0; i < 3; i++)
            for (int j = 0; j < 3; j++)
                lift[i][j] = to[3 * i] * inverse[j] + to[3 * i + 1] * inverse[3 + j] + to[3 * i + 2] * inverse[6 + j];
        for (int a = 0; a <= b; a++) {
            const Lane *from = tangent->blocks[wave_pair_of(a, 8)];
            Lane *block = tangent->blocks[wave_pair_of(a, b)];
            for (int i = 0; i < 3; i++)
                for (int j = 0; j < 3; j++)
                    block[3 * i + j] -= from[3 * i] * lift[j][0] + from[3 * i + 1] * lift[j][1] + from[3 * i + 2] * lift[j][2];
        }
    }
}

INLINE void write_wave_stiffness(WaveTangent *from, int lane, double *stiffness)
{
    for (int b = 0; b < OUTER; b++)
        for (int a = 0; a <= b; a++)
            for (int i = 0; i < 3; i++)
                for (int j = 0; j < 3; j++) {
                    const double value = each(&from->blocks[wave_pair_of(a, b)][3 * i + j])[lane];
                    stiffness[24 * (3 * a + i) + 3 * b + j] = value;
                    stiffness[24 * (3 * b + j) + 3 * a + i] = value;
                }
}

INLINE void write_wave(const Group *group, WaveTangent *tangent, Lane inverse[9], const WaveCondensed *to)
{
    for (int lane = 0; lane < group->count; lane++) {
        const int64_t e = group->first + lane;
        write_wave_stiffness(tangent, lane, to->stiffness + 576 * e);
        for (int a = 0; a < NODES; a++)
            for (int k = 0; k < 9; k++)
                to->coupling[81 * e + 9 * a + k] = each(&tangent->coupling[a][k / 3][k % 3])[lane];
        for (int k = 0; k < 9; k++) to->centre_inverse[9 * e + k] = each(&inverse[k])[lane];
        for (int a = 0; a < OUTER; a++)
            for (int i = 0; i < 3; i++)
                for (int j = 0; j < 3; j++) /* rows: centre; the block is the transposed of the one kept */
                    to->centre_rows[72 * e + 24 * i + 3 * a + j]
                        = each(&tangent->blocks[wave_pair_of(a, 8)][3 * j + i])[lane];
    }
}

/* the condensed systems of all elements in a wave of ``order``, with ``bulk`` (e, 3, 3) */
static void wave_condensed(
    const Body *body, const double *u, const double *p, const double *bulk, double order, double share,
    const WaveCondensed *to)
{
    const Tables t = tables();
    const Wave wave = {order, share};
    const int64_t count = body->columns * body->rows;
    for (int64_t first = 0; first < count; first += LANES) {
        Group group;
        WaveTangent tangent;
        Lane stiff[3][3], inverse[9];
        gather(body, u, p, first, &group);
        for (int lane = 0; lane < LANES; lane++)
            for (int k = 0; k < 9; k++)
                each(&stiff[k / 3][k % 3])[lane] = bulk[9 * (first + (lane < group.count ? lane : 0)) + k];
        clear_wave(&tangent);
        for (int g = 0; g < POINTS; g++) {
            Measure by = measure_at(&t, &group, g);
            Strain at = strain_at(&t, &group, &by, g);
            Lane pressure = pressure_at(&t, &group, g), piola[5], cosine[5][5];
            SineTangent sine = sine_tangent(&group.constants, &at, pressure, group.active[g]);
            passive_tangent(&group.constants, &at, pressure, piola, cosine);
            wave_to_parent(cosine, &sine, &by, share * by.weight);
            add_wave_tangent(&t, cosine, &sine, order, g, &tangent);
            add_wave_coupling(&t, &by, &at, &wave, g, &tangent);
        }
        eliminate_wave_pressure(stiff, &tangent);
        eliminate_wave_centre(&tangent, inverse);
        write_wave(&group, &tangent, inverse, to);
    }
}

INLINE void write_point(const Group *group, int g, Lane *piola, Lane cosine[5][5], SineTangent *sine, const WavePoints *to)
{
    static const int row[4] = {0, 2, 0, 1}, column[4] = {1, 3, 2, 3};
    for (int lane = 0; lane < group->count; lane++) {
        const int64_t at = POINTS * (group->first + lane) + g;
        for (int i = 0; i < 5; i++) to->stress[5 * at + i] = each(&piola[i])[lane];
        for (int k = 0; k < 25; k++) to->cosine[25 * at + k] = each(&cosine[k / 5][k % 5])[lane];
        for (int k = 0; k < 16; k++) to->sine[16 * at + k] = 0.0;
        for (int i = 0; i < 4; i++) {
            to->sine[16 * at + 5 * i] = each(&sine->own[i])[lane];
            to->sine[16 * at + 4 * row[i] + column[i]] = each(&sine->cross[i])[lane];
            to->sine[16 * at + 4 * column[i] + row[i]] = each(&sine->cross[i])[lane];
        }
    }
}

/* stress (e, 9, 5) and both parts of its derivative, (e, 9, 5, 5) and (e, 9, 4, 4), MPa, at the integration points */
static void wave_points(const Body *body, const double *u, const double *p, const WavePoints *to)
{
    const Tables t = tables();
    const int64_t count = body->columns * body->rows;
    for (int64_t first = 0; first < count; first += LANES) {
        Group group;
        gather(body, u, p, first, &group);
        for (int g = 0; g < POINTS; g++) {
            Measure by = measure_at(&t, &group, g);
            Strain at = strain_at(&t, &group, &by, g);
            Lane pressure = pressure_at(&t, &group, g), piola[5], cosine[5][5];
            SineTangent sine = sine_tangent(&group.constants, &at, pressure, group.active[g]);
            passive_tangent(&group.constants, &at, pressure, piola, cosine);
            piola[4] += group.active[g];
            write_point(&group, g, piola, cosine, &sine, to);
        }
    }
}

#endif
