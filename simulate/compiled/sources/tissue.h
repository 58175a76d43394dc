/* The tissue laws that have a compiled form: first Piola-Kirchhoff stress and its derivative at a point.

   The deformation gradient of an axisymmetric state has five entries: dr/dR, dr/dZ, dz/dR, dz/dZ, r/R. A symmetric
   5 x 5 derivative is kept whole. */

#ifndef LABRUM_TISSUE_H
#define LABRUM_TISSUE_H

#include "lanes.h"

/* numbers of the laws, as the callers know them */
enum { GENERALISED_NEO_HOOKEAN = 0 };

typedef struct {
    Lane shear, second, third; /* mu, c2, c3 of W = mu/2 x + c2 x^2 + c3 x^3, x = J^(-2/3) F:F - 3 */
} Constants;

/* the deformation gradient, the derivative of J with respect to it, and J */
typedef struct {
    Lane gradient[5], cofactor[5], ratio;
} Strain;

INLINE void complete_strain(Strain *at)
{
    const Lane *f = at->gradient;
    at->cofactor[0] = f[3] * f[4];
    at->cofactor[1] = -f[2] * f[4];
    at->cofactor[2] = -f[1] * f[4];
    at->cofactor[3] = f[0] * f[4];
    at->cofactor[4] = f[0] * f[3] - f[1] * f[2];
    at->ratio = at->cofactor[4] * f[4];
}

/* J^(-2/3), F:F, the first two derivatives of the isochoric energy with respect to x, and the gradient of x */
typedef struct {
    Lane j23, invariant, first, second, gradient[5];
} Isochoric;

INLINE Isochoric isochoric(const Constants *constants, const Strain *at)
{
    Isochoric out;
    Lane root = inverse_cube_root(at->ratio), x;
    const Lane *f = at->gradient;
    out.j23 = root * root;
    out.invariant = f[0] * f[0] + f[1] * f[1] + f[2] * f[2] + f[3] * f[3] + f[4] * f[4];
    x = out.j23 * out.invariant - 3.0;
    out.first = 0.5 * constants->shear + 2.0 * constants->second * x + 3.0 * constants->third * x * x;
    out.second = 2.0 * constants->second + 6.0 * constants->third * x;
    Lane share = (2.0 / 3.0) * out.invariant / at->ratio;
    for (int i = 0; i < 5; i++) out.gradient[i] = out.j23 * (2.0 * f[i] - share * at->cofactor[i]);
    return out;
}

INLINE void passive_stress(const Constants *constants, const Strain *at, Lane pressure, Lane *piola)
{
    Isochoric law = isochoric(constants, at);
    for (int i = 0; i < 5; i++) piola[i] = law.first * law.gradient[i] + pressure * at->cofactor[i];
}

/* ``factor`` times the second derivative of J */
INLINE void add_volume_hessian(Lane tangent[5][5], const Lane *f, Lane factor)
{
    static const int row[6] = {0, 1, 0, 1, 2, 3}, column[6] = {3, 2, 4, 4, 4, 4};
    const Lane value[6] = {f[4], -f[4], f[3], -f[2], -f[1], f[0]};
    for (int k = 0; k < 6; k++) {
        tangent[row[k]][column[k]] += factor * value[k];
        tangent[column[k]][row[k]] += factor * value[k];
    }
}

INLINE void passive_tangent(
    const Constants *constants, const Strain *at, Lane pressure, Lane *piola, Lane tangent[5][5])
{
    Isochoric law = isochoric(constants, at);
    const Lane *f = at->gradient, *cof = at->cofactor;
    Lane inverse = 1.0 / at->ratio, scaled = law.first * law.j23;
    Lane mixed = (-4.0 / 3.0) * scaled * inverse;
    Lane square = (10.0 / 9.0) * scaled * law.invariant * inverse * inverse;
    for (int i = 0; i < 5; i++) {
        piola[i] = law.first * law.gradient[i] + pressure * cof[i];
        for (int j = 0; j <= i; j++) {
            tangent[i][j] = law.second * law.gradient[i] * law.gradient[j] + mixed * (f[i] * cof[j] + cof[i] * f[j])
                + square * cof[i] * cof[j];
            tangent[j][i] = tangent[i][j];
        }
    }
    for (int i = 0; i < 5; i++) tangent[i][i] += 2.0 * scaled;
    add_volume_hessian(tangent, f, pressure - (2.0 / 3.0) * scaled * law.invariant * inverse);
}

/* The energy's second derivative in the four other entries of the gradient (r Theta, theta R, theta Z, z Theta), which
   are zero in an axisymmetric state: ``own`` on the diagonal, ``cross`` between 0 and 1, 2 and 3, 0 and 2, 1 and 3;
   between 0 and 3, and 1 and 2, there is nothing. The muscle's tension resists what turns its fibre. */
typedef struct {
    Lane own[4], cross[4];
} SineTangent;

INLINE SineTangent sine_tangent(const Constants *constants, const Strain *at, Lane pressure, Lane active)
{
    SineTangent out;
    Isochoric law = isochoric(constants, at);
    const Lane *f = at->gradient;
    Lane scaled = 2.0 * law.first * law.j23, fibre = active / f[4];
    Lane volume = pressure - (1.0 / 3.0) * scaled * law.invariant / at->ratio;
    out.own[0] = out.own[3] = scaled + fibre;
    out.own[1] = out.own[2] = scaled;
    out.cross[0] = -volume * f[3];
    out.cross[1] = -volume * f[0];
    out.cross[2] = volume * f[2];
    out.cross[3] = volume * f[1];
    return out;
}

#endif
