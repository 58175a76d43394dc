/* The plain C interface: what callers hand over, and one table of functions for each instruction set. */

#ifndef LABRUM_INTERFACE_H
#define LABRUM_INTERFACE_H

#include <stdint.h>

/* a body of elements on a tensor grid: body.h */
typedef struct {
    int64_t columns, rows;         /* elements along R and along Z */
    const double *origins, *sizes; /* (e, 2) centre, width and height at rest, mm */
    const double *shear, *second, *third, *inverse_bulk; /* (e,) MPa, the last 1/MPa */
    const double *active; /* (e, 9) hoop tension per resting area at the integration points, MPa */
    int64_t law;          /* which of the laws in tissue.h */
} Body;

/* arrays that `condensed` fills; see the Python side for shapes */
typedef struct {
    double *force, *volume, *stiffness, *outer_force, *coupling, *centre_inverse, *centre_rows, *centre_force;
} Condensed;

/* the same of `wave_condensed`, whose nodes have three components, and of `wave_points` */
typedef struct {
    double *stiffness, *coupling, *centre_inverse, *centre_rows;
} WaveCondensed;

typedef struct {
    double *stress, *cosine, *sine;
} WavePoints;

/* rows of a child's contribution, ``count`` from ``from`` on, that fall on the parent's from ``onto`` on */
typedef struct {
    int32_t from, onto, count;
} Run;

/* A dense front: ``pivots`` nodes are eliminated in it, ``boundary`` nodes left to the parent. Fronts stand in an order
   in which parents come before their children. */
typedef struct {
    int32_t left, right; /* children, -1 where the box is a leaf */
    int32_t pivots, boundary, depth;
    int32_t column0, column1, row0, row1; /* the box of elements */
    int32_t runs;                         /* of its boundary on the parent's rows */
    int64_t first_run, first_node;        /* in the lists of runs and of nodes */
    int64_t panel, schur, diagonal;       /* doubles: in the factors, in the work space, in the pivots */
} Front;

/* the Python side makes room for these */
_Static_assert(sizeof(Run) == 12, "a run is three numbers of 32 bits");
_Static_assert(sizeof(Front) == 80, "a front is ten numbers of 32 bits and five of 64");

/* What is counted, or filled in where the arrays are given. ``places`` (e, 8): row in the leaf's front of each outer
   node of an element. */
typedef struct {
    int64_t columns, rows, leaf;
    int64_t fronts, nodes, runs, factors, work, pivots, widest;
    Front *front;
    int32_t *node, *places;
    Run *run;
} Plan;

/* What is to be factorised. ``frame`` (n,) is the number of a node's frame, -1 where it has none; trial and test
   (frames, 2, 2) directions as columns; ``known`` and ``added`` (n, 2): components not solved for, and what is added to
   the diagonal; ``skew`` (e,) elements whose matrix is not symmetric. */
typedef struct {
    const double *stiffness;
    const uint8_t *known, *skew;
    const int32_t *frame;
    const double *trial, *test, *added;
} System;

/* ``lower`` and ``upper`` (the same where nothing is unsymmetric) hold the fronts' columns, ``unsymmetric`` (fronts,)
   tells which fronts have columns in ``upper`` of their own. */
typedef struct {
    double *lower, *upper, *diagonal;
    uint8_t *unsymmetric;
} Factors;

/* ``count`` rows: a ray before the chain, its pieces, a ray after it; vectors (count, 2), joints (count + 1) */
typedef struct {
    int64_t count;
    const uint8_t *is_arc, *corner;
    const double *origin, *tangent, *lo, *hi, *offset, *apex, *radius, *middle, *half, *side, *tail, *head;
    const double *vertex_normal;
} Chain;

/* what is seen, per point: distance, foot (2), normal (2), second derivative, piece, arc length */
typedef struct {
    double *distance, *foot, *normal, *hessian;
    int64_t *piece;
    double *arc_length;
} Seen;

typedef struct {
    double (*element_forces)(const Body *body, const double *u, const double *p, double *force, double *volume);
    double (*smallest_ratio)(const Body *body, const double *u);
    double (*condensed)(const Body *body, const double *u, const double *p, const double *bulk, const Condensed *to);
    void (*interior)(
        int64_t columns, int64_t rows, const Condensed *from, const double *bulk, double *step, double *pressure);
    void (*product)(
        int64_t columns, int64_t rows, const double *stiffness, const uint8_t *chosen, int64_t sides, const double *x,
        double *y);
    void (*nodal_sums)(int64_t columns, int64_t rows, int64_t width, const double *parts, double *sums);
    void (*dissect)(Plan *plan);
    int64_t (*factorise)(const Plan *plan, const System *system, const Factors *factors, double *work);
    void (*solve)(const Plan *plan, const Factors *factors, int64_t sides, double *x, double *rows);
    void (*search)(
        const Chain *chain, int64_t count, const double *points, double shift, double *cos_half, const Seen *to);
    void (*wave_condensed)(
        const Body *body, const double *u, const double *p, const double *bulk, double order, double share,
        const WaveCondensed *to);
    void (*wave_points)(const Body *body, const double *u, const double *p, const WavePoints *to);
} Kernels;

/* the one kernel that is the same for all */
void labrum_search(
    const Chain *chain, int64_t count, const double *points, double shift, double *cos_half, const Seen *to);

#endif
