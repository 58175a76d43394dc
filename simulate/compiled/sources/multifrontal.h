/* Multifrontal factorisation L D U^T of the condensed elements' system, and the solution with it.

   Element matrices go straight into the fronts of the grid's own bisection (dissection.h): no global matrix is made.
   Touching nodes write their equations along directions of their own; the rows and columns of components that are known
   (fixed, or prescribed by contact) are replaced by the identity's. Fronts that hold no unsymmetric entry are
   factorised as L D L^T; friction and air make a few unsymmetric, and with them all that follow from those. */

#ifndef LABRUM_MULTIFRONTAL_H
#define LABRUM_MULTIFRONTAL_H

#include <math.h>

#include "dense.h"
#include "dissection.h"

static inline int is_skewed(const System *system, int32_t frame)
{
    const double *trial = system->trial + WIDTH * WIDTH * frame, *test = system->test + WIDTH * WIDTH * frame;
    int found = 0;
    for (int k = 0; k < WIDTH * WIDTH; k++) found |= trial[k] != test[k];
    return found;
}

enum { SIDE = OUTER * WIDTH }; /* rows of an element's matrix */

/* ``step`` apart, the components of one node along the columns of a frame that stands by rows */
static inline void turn_components(double *first, int64_t step, const double *frame)
{
    double own[WIDTH];
    for (int k = 0; k < WIDTH; k++) own[k] = first[k * step];
    for (int i = 0; i < WIDTH; i++) {
        double total = frame[i] * own[0];
        for (int k = 1; k < WIDTH; k++) total += frame[WIDTH * k + i] * own[k];
        first[i * step] = total;
    }
}

/* rows of node ``a`` along the test directions, columns along the trial directions */
static inline void turn(double block[SIDE][SIDE], int a, const double *trial, const double *test)
{
    for (int j = 0; j < SIDE; j++) turn_components(&block[WIDTH * a][j], SIDE, test);
    for (int i = 0; i < SIDE; i++) turn_components(&block[i][WIDTH * a], 1, trial);
}

static inline void mask(double block[SIDE][SIDE], int row)
{
    for (int k = 0; k < SIDE; k++) block[row][k] = block[k][row] = 0.0;
}

/* element ``e`` as it goes into its front: its own matrix, or ``room`` where it had to be turned or masked */
static inline const double *prepared(const System *system, int64_t rows, int64_t e, double room[SIDE][SIDE])
{
    const double *own = system->stiffness + SIDE * SIDE * e;
    int64_t nodes[NODES];
    int changed = 0;
    nodes_of(rows, e, nodes);
    for (int a = 0; a < OUTER; a++) {
        changed |= system->frame[nodes[a]] >= 0;
        for (int i = 0; i < WIDTH; i++) changed |= system->known[WIDTH * nodes[a] + i];
    }
    if (!changed) return own;
    memcpy(room, own, SIDE * SIDE * sizeof(double));
    for (int a = 0; a < OUTER; a++) {
        const int32_t frame = system->frame[nodes[a]];
        if (frame >= 0) turn(room, a, system->trial + WIDTH * WIDTH * frame, system->test + WIDTH * WIDTH * frame);
    }
    for (int row = 0; row < SIDE; row++)
        if (system->known[WIDTH * nodes[row / WIDTH] + row % WIDTH]) mask(room, row);
    return &room[0][0];
}

/* a front's columns: pivots' in L, pivots' rows in U (unsymmetric fronts only), the rest in what is left */
typedef struct {
    int64_t pivots, height, left;
    double *lower, *upper, *schur;
} Room;

static inline Room room_of(const Front *f, const Factors *factors, double *work)
{
    Room to = {pivot_rows(f), front_rows(f), boundary_rows(f), factors->lower + f->panel, factors->upper + f->panel,
               work + f->schur};
    return to;
}

static inline void add_entry(const Room *to, int symmetric, int64_t row, int64_t column, double value)
{
    if (symmetric && row < column) return;
    if (column < to->pivots) to->lower[column * to->height + row] += value;
    else if (row >= to->pivots) to->schur[(column - to->pivots) * to->left + row - to->pivots] += value;
    if (!symmetric && row < to->pivots) to->upper[row * to->height + column] += value;
}

/* a symmetric element's share of the lower triangle; its rows serve as columns, since they stand together */
static inline void add_symmetric_element(const Room *to, const int32_t *places, const double *matrix)
{
    for (int b = 0; b < OUTER; b++)
        for (int j = 0; j < WIDTH; j++) {
            const double *source = matrix + SIDE * (WIDTH * b + j);
            const int64_t column = places[b] + j;
            const int pivot = column < to->pivots;
            double *target = pivot ? to->lower + column * to->height : to->schur + (column - to->pivots) * to->left;
            for (int a = 0; a < OUTER; a++) {
                if (places[a] < places[b]) continue;
                const int64_t row = places[a] - (pivot ? 0 : to->pivots);
                for (int i = 0; i < WIDTH; i++) target[row + i] += source[WIDTH * a + i];
            }
        }
}

static inline void add_element(const Room *to, const int32_t *places, const double *matrix)
{
    for (int i = 0; i < SIDE; i++)
        for (int j = 0; j < SIDE; j++)
            add_entry(
                to, 0, places[i / WIDTH] + i % WIDTH, places[j / WIDTH] + j % WIDTH, matrix[SIDE * i + j]);
}

static inline int leaf_is_unsymmetric(const Plan *plan, const Front *f, const System *system)
{
    int found = 0;
    for (int64_t column = f->column0; column < f->column1 && !found; column++)
        for (int64_t row = f->row0; row < f->row1 && !found; row++) {
            const int64_t e = column * plan->rows + row;
            int64_t nodes[NODES];
            nodes_of(plan->rows, e, nodes);
            found |= system->skew[e];
            for (int a = 0; a < OUTER; a++) {
                const int32_t frame = system->frame[nodes[a]];
                if (frame >= 0) found |= is_skewed(system, frame);
            }
        }
    return found;
}

static void add_elements(const Plan *plan, const Front *f, const System *system, const Room *to, int symmetric)
{
    for (int64_t column = f->column0; column < f->column1; column++)
        for (int64_t row = f->row0; row < f->row1; row++) {
            const int64_t e = column * plan->rows + row;
            double room[SIDE][SIDE];
            const double *matrix = prepared(system, plan->rows, e, room);
            if (symmetric) add_symmetric_element(to, plan->places + OUTER * e, matrix);
            else add_element(to, plan->places + OUTER * e, matrix);
        }
}

/* pivots' own diagonals: what is added to them, and one where nothing is solved for */
static void add_diagonals(const Plan *plan, const Front *f, const System *system, const Room *to, int symmetric)
{
    for (int64_t k = WIDTH * f->pivots; k < to->pivots; k++) add_entry(to, symmetric, k, k, 1.0);
    for (int64_t k = 0; k < WIDTH * f->pivots; k++) {
        const int64_t component = WIDTH * (int64_t)plan->node[f->first_node + k / WIDTH] + k % WIDTH;
        const double value = system->known[component] ? 1.0 : system->added[component];
        if (value != 0.0) add_entry(to, symmetric, k, k, value);
    }
}

/* The contribution of a child into a symmetric parent: lower triangles, and columns in whole runs of rows. Runs rise on
   both sides, so a lower triangle falls on the lower one. */
static void add_child(const Plan *plan, const Front *child, const double *from, const Room *to)
{
    const int64_t height = boundary_rows(child);
    const Run *runs = plan->run + child->first_run;
    for (int c = 0; c < child->runs; c++)
        for (int k = 0; k < runs[c].count; k++) {
            const int64_t column = runs[c].onto + k;
            const int pivot = column < to->pivots;
            double *const target = pivot ? to->lower + column * to->height : to->schur + (column - to->pivots) * to->left;
            const double *source = from + (runs[c].from + k) * height;
            for (int r = c; r < child->runs; r++) {
                const int64_t shift = runs[r].onto - (pivot ? 0 : to->pivots), first = r == c ? k : 0;
                for (int64_t i = first; i < runs[r].count; i++) target[shift + i] += source[runs[r].from + i];
            }
        }
}

/* the lower triangle's mirror image in the upper one */
static void mirror(int64_t size, double *values)
{
    for (int64_t j = 0; j < size; j++)
        for (int64_t i = j + 1; i < size; i++) values[i * size + j] = values[j * size + i];
}

/* how many of a run's rows fall on the parent's pivots */
static inline int64_t rows_on_pivots(const Run *run, int64_t pivots)
{
    const int64_t rows = pivots - run->onto;
    return rows < 0 ? 0 : rows < run->count ? rows : run->count;
}

/* rows of run ``r`` out of column ``own`` of a whole contribution: into L where the column is a pivot's, else into what
   is left */
static inline void add_rows(const Room *to, const Run *r, const double *own, int64_t column)
{
    const int pivot = column < to->pivots;
    double *const target = pivot ? to->lower + column * to->height : to->schur + (column - to->pivots) * to->left;
    const int64_t first = pivot ? 0 : rows_on_pivots(r, to->pivots), shift = r->onto - (pivot ? 0 : to->pivots);
    for (int64_t i = first; i < r->count; i++) target[shift + i] += own[r->from + i];
}

/* the same into an unsymmetric parent, the contribution being whole: pivots' rows go into U besides */
static void add_child_whole(const Plan *plan, const Front *child, const double *from, const Room *to)
{
    const int64_t height = boundary_rows(child);
    const Run *runs = plan->run + child->first_run;
    for (int c = 0; c < child->runs; c++)
        for (int k = 0; k < runs[c].count; k++)
            for (int r = 0; r < child->runs; r++)
                add_rows(to, runs + r, from + (runs[c].from + k) * height, runs[c].onto + k);
    for (int r = 0; r < child->runs; r++)
        for (int64_t i = 0; i < rows_on_pivots(runs + r, to->pivots); i++) {
            double *const target = to->upper + (runs[r].onto + i) * to->height;
            const double *source = from + runs[r].from + i;
            for (int c = 0; c < child->runs; c++)
                for (int k = 0; k < runs[c].count; k++) target[runs[c].onto + k] += source[(runs[c].from + k) * height];
        }
}

/* zeros in the columns of a front; of a symmetric one in and below the diagonal's blocks of four only */
static void clear_columns(int64_t columns, int64_t height, int symmetric, double *values)
{
    for (int64_t k = 0; k < columns; k++) {
        const int64_t first = symmetric ? k - k % TILE : 0;
        memset(values + k * height + first, 0, (size_t)(height - first) * sizeof *values);
    }
}

static void assemble(
    const Plan *plan, int64_t number, const System *system, const Factors *factors, double *work, const Room *to)
{
    const Front *f = plan->front + number;
    const int symmetric = !factors->unsymmetric[number];
    clear_columns(to->pivots, to->height, symmetric, to->lower);
    clear_columns(to->left, to->left, symmetric, to->schur);
    if (!symmetric) clear_columns(to->pivots, to->height, symmetric, to->upper);
    if (is_leaf(f)) add_elements(plan, f, system, to, symmetric);
    for (int side = 0; side < 2 && !is_leaf(f); side++) {
        const int32_t which = side ? f->right : f->left;
        const Front *child = plan->front + which;
        if (symmetric) add_child(plan, child, work + child->schur, to);
        else {
            if (!factors->unsymmetric[which]) mirror(boundary_rows(child), work + child->schur);
            add_child_whole(plan, child, work + child->schur, to);
        }
    }
    add_diagonals(plan, f, system, to, symmetric);
}

/* Factorise; returns the number of negative pivots, or -1 where one was zero or not a number. ``upper`` may be NULL
   only where nothing is unsymmetric: -2 tells that it is wanted. ``work`` is room for plan->work + 4 widest numbers. */
static int64_t factorise(const Plan *plan, const System *system, const Factors *factors, double *work)
{
    int64_t negative = 0;
    for (int64_t number = plan->fronts - 1; number >= 0; number--) {
        const Front *f = plan->front + number;
        uint8_t *const unsymmetric = factors->unsymmetric;
        unsymmetric[number] = (uint8_t)(
            is_leaf(f) ? leaf_is_unsymmetric(plan, f, system) : unsymmetric[f->left] || unsymmetric[f->right]);
        if (unsymmetric[number] && !factors->upper) return -2;
    }
    for (int64_t number = plan->fronts - 1; number >= 0; number--) {
        const Front *f = plan->front + number;
        Factors own = *factors;
        if (!factors->unsymmetric[number]) own.upper = own.lower;
        Room to = room_of(f, &own, work);
        double *diagonal = factors->diagonal + f->diagonal;
        assemble(plan, number, system, factors, work, &to);
        eliminate(to.pivots, to.height, to.lower, to.upper, diagonal, to.schur, work + plan->work);
        for (int64_t k = 0; k < to.pivots; k++) {
            if (!(fabs(diagonal[k]) > 0.0) || !isfinite(diagonal[k])) return -1;
            negative += diagonal[k] < 0.0;
        }
    }
    return negative;
}

/* components of a front's nodes between a vector of the whole grid, x (n, WIDTH), and its rows */
static inline void take_rows(const Plan *plan, const Front *f, const double *x, int32_t first, int32_t last, double *rows)
{
    for (int32_t k = first; k < last; k++) {
        const double *from = x + WIDTH * (int64_t)plan->node[f->first_node + k];
        for (int i = 0; i < WIDTH; i++) rows[row_of(f, k) + i] = from[i];
    }
}

static inline void give_rows(const Plan *plan, const Front *f, const double *rows, int32_t first, int32_t last, double *x)
{
    for (int32_t k = first; k < last; k++) {
        double *to = x + WIDTH * (int64_t)plan->node[f->first_node + k];
        for (int i = 0; i < WIDTH; i++) to[i] = rows[row_of(f, k) + i];
    }
}

/* one or two right-hand sides, x (sides, n, WIDTH), ``size`` apart */
INLINE void solve_sides(const Plan *plan, const Factors *factors, int sides, int64_t size, double *x, double *rows)
{
    for (int64_t number = plan->fronts - 1; number >= 0; number--) {
        const Front *f = plan->front + number;
        const int64_t height = front_rows(f);
        const int32_t count = f->pivots + f->boundary;
        memset(rows, 0, (size_t)(sides * height) * sizeof *rows);
        for (int side = 0; side < sides; side++) take_rows(plan, f, x + side * size, 0, count, rows + side * height);
        forward(sides, pivot_rows(f), height, factors->lower + f->panel, rows);
        for (int side = 0; side < sides; side++) give_rows(plan, f, rows + side * height, 0, count, x + side * size);
    }
    for (int64_t number = 0; number < plan->fronts; number++) {
        const Front *f = plan->front + number;
        const int64_t height = front_rows(f);
        const double *columns = (factors->unsymmetric[number] ? factors->upper : factors->lower) + f->panel;
        memset(rows, 0, (size_t)(sides * height) * sizeof *rows);
        for (int side = 0; side < sides; side++)
            take_rows(plan, f, x + side * size, 0, f->pivots + f->boundary, rows + side * height);
        backward(sides, pivot_rows(f), height, columns, factors->diagonal + f->diagonal, rows);
        for (int side = 0; side < sides; side++)
            give_rows(plan, f, rows + side * height, 0, f->pivots, x + side * size);
    }
}

/* Solve in place for x (sides, n, WIDTH). ``rows`` is room for 2 plan->widest numbers. */
static void solve(const Plan *plan, const Factors *factors, int64_t sides, double *x, double *rows)
{
    const int64_t size = WIDTH * (2 * plan->columns + 1) * (2 * plan->rows + 1);
    int64_t side = 0;
    for (; side + 2 <= sides; side += 2) solve_sides(plan, factors, 2, size, x + side * size, rows);
    if (side < sides) solve_sides(plan, factors, 1, size, x + side * size, rows);
}

#endif
