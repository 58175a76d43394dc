/* Nested bisection of a tensor grid of elements, and the plan of its elimination that follows from it.

   A box of elements is cut across its longer side, each half again, down to small boxes. A node is eliminated in the
   smallest box that holds all the elements around it; those of a box's nodes that are not are its boundary, and the
   parent's business. Since a child's boundary is listed in the order of its parent's front, it falls on the parent's
   rows in a few runs. Source: George 1973, SIAM J. Numer. Anal. 10:345; Duff & Reid 1983, ACM Trans. Math. Softw. 9:302
   (from memory). */

#ifndef LABRUM_DISSECTION_H
#define LABRUM_DISSECTION_H

#include "body.h"

/* unknowns of a node: two in the section, three in a wave of the angle around the axis */
#ifndef WIDTH
#define WIDTH 2
#endif

static inline int64_t padded(int64_t count) { return (count + 3) & ~(int64_t)3; }

static inline int64_t pivot_rows(const Front *f) { return padded(WIDTH * f->pivots); }

static inline int64_t boundary_rows(const Front *f) { return padded(WIDTH * f->boundary); }

static inline int64_t front_rows(const Front *f) { return pivot_rows(f) + boundary_rows(f); }

static inline int is_leaf(const Front *f) { return f->left < 0; }

/* the lines of nodes strictly inside a box, or on the grid's own edge */
static inline void inner_lines(int64_t begin, int64_t end, int64_t whole, int64_t *first, int64_t *last)
{
    *first = begin == 0 ? 0 : 2 * begin + 1;
    *last = end == whole ? 2 * whole : 2 * end - 1;
}

static inline int is_centre(int64_t i, int64_t j) { return (i & 1) && (j & 1); }

/* node lines first to last by first to last, centres left out, to the list of nodes; how many */
static inline int32_t list_nodes(Plan *plan, int64_t i0, int64_t i1, int64_t j0, int64_t j1)
{
    const int64_t before = plan->nodes;
    for (int64_t i = i0; i <= i1; i++)
        for (int64_t j = j0; j <= j1; j++)
            if (!is_centre(i, j)) {
                if (plan->node) plan->node[plan->nodes] = (int32_t)(i * (2 * plan->rows + 1) + j);
                plan->nodes++;
            }
    return (int32_t)(plan->nodes - before);
}

static inline int in_box(const Plan *plan, const Front *f, int32_t node)
{
    const int64_t m = 2 * plan->rows + 1, i = node / m, j = node % m;
    return i >= 2 * f->column0 && i <= 2 * f->column1 && j >= 2 * f->row0 && j <= 2 * f->row1;
}

/* nodes on the four sides of a box that are not the grid's own edge */
static inline int32_t boundary_count(const Plan *plan, const Front *f)
{
    int64_t i0, i1, j0, j1, all = 0, inside = 0;
    const int64_t wide = f->column1 - f->column0, high = f->row1 - f->row0;
    all = (2 * wide + 1) * (2 * high + 1) - wide * high;
    inner_lines(f->column0, f->column1, plan->columns, &i0, &i1);
    inner_lines(f->row0, f->row1, plan->rows, &j0, &j1);
    inside = (i1 - i0 + 1) * (j1 - j0 + 1) - wide * high;
    return (int32_t)(all - inside);
}

/* row in the front of its k-th node, pivots first */
static inline int32_t row_of(const Front *f, int32_t k)
{
    return (int32_t)(k < f->pivots ? WIDTH * k : pivot_rows(f) + WIDTH * (k - f->pivots));
}

/* the boundary of ``child``: those nodes of the parent's front that lie in its box, in the same order */
static inline void list_boundary(Plan *plan, const Front *parent, Front *child)
{
    Run run = {0, -1, 0};
    for (int32_t k = 0, found = 0; k < parent->pivots + parent->boundary; k++) {
        const int32_t node = plan->node[parent->first_node + k], row = row_of(parent, k);
        if (!in_box(plan, child, node)) continue;
        if (run.onto + run.count != row || run.count == 0) {
            if (run.count) plan->run[plan->runs++] = run;
            run.from = WIDTH * found, run.onto = row, run.count = 0;
        }
        run.count += WIDTH;
        plan->node[plan->nodes++] = node;
        found++;
    }
    if (run.count) plan->run[plan->runs++] = run;
    child->runs = (int32_t)(plan->runs - child->first_run);
}

/* the largest box, in elements, that may be left whole, and the most nodes such a box has */
enum { LARGEST_LEAF = 16, MOST_LEAF_NODES = 3 * (2 * LARGEST_LEAF + 1) };

static inline void list_places(Plan *plan, const Front *f)
{
    const int64_t m = 2 * plan->rows + 1, high = 2 * (f->row1 - f->row0) + 1;
    int32_t row_at[MOST_LEAF_NODES];
    for (int32_t k = 0; k < f->pivots + f->boundary; k++) {
        const int32_t node = plan->node[f->first_node + k];
        row_at[(node / m - 2 * f->column0) * high + node % m - 2 * f->row0] = row_of(f, k);
    }
    for (int64_t column = f->column0; column < f->column1; column++)
        for (int64_t row = f->row0; row < f->row1; row++) {
            int64_t nodes[NODES];
            const int64_t e = column * plan->rows + row;
            nodes_of(plan->rows, e, nodes);
            for (int a = 0; a < OUTER; a++)
                plan->places[OUTER * e + a]
                    = row_at[(nodes[a] / m - 2 * f->column0) * high + nodes[a] % m - 2 * f->row0];
        }
}

/* count, or fill in, the front of a box and those of its parts; returns its number */
static int32_t divide(
    Plan *plan, int32_t column0, int32_t column1, int32_t row0, int32_t row1, const Front *parent, int32_t depth)
{
    const int32_t number = (int32_t)plan->fronts++, wide = column1 - column0, high = row1 - row0;
    const int leaf = wide * high <= plan->leaf, across = wide >= high;
    int64_t i0, i1, j0, j1;
    Front f = {-1, -1, 0, 0, depth, column0, column1, row0, row1, 0, plan->runs, plan->nodes, plan->factors, 0, 0};
    inner_lines(column0, column1, plan->columns, &i0, &i1);
    inner_lines(row0, row1, plan->rows, &j0, &j1);
    if (!leaf && across) i0 = i1 = 2 * (column0 + wide / 2);
    if (!leaf && !across) j0 = j1 = 2 * (row0 + high / 2);
    f.pivots = list_nodes(plan, i0, i1, j0, j1);
    f.boundary = boundary_count(plan, &f);
    f.diagonal = plan->pivots;
    if (plan->front && parent) list_boundary(plan, parent, &f);
    else plan->nodes += f.boundary, plan->runs += f.boundary;
    if (plan->front && leaf) list_places(plan, &f);
    plan->factors += front_rows(&f) * pivot_rows(&f);
    plan->pivots += pivot_rows(&f);
    if (plan->widest < front_rows(&f)) plan->widest = front_rows(&f);
    if (!leaf) {
        const int32_t c = column0 + wide / 2, r = row0 + high / 2;
        if (plan->front) plan->front[number] = f;
        f.left = divide(plan, column0, across ? c : column1, row0, across ? row1 : r, &f, depth + 1);
        f.right = divide(plan, across ? c : column0, column1, across ? row0 : r, row1, &f, depth + 1);
    }
    if (plan->front) plan->front[number] = f;
    return number;
}

/* Where contributions stand while they wait for their parent: two stacks, for even and for odd depths, so that a front
   is pushed on one while its children are popped off the other. */
static void place_contributions(Plan *plan)
{
    int64_t top[2] = {0, 0}, most[2] = {0, 0};
    for (int64_t k = plan->fronts - 1; k >= 0; k--) {
        Front *f = plan->front + k;
        const int here = f->depth & 1;
        f->schur = top[here];
        top[here] += boundary_rows(f) * boundary_rows(f);
        if (most[here] < top[here]) most[here] = top[here];
        if (!is_leaf(f))
            for (int side = 0; side < 2; side++) {
                const Front *child = plan->front + (side ? f->right : f->left);
                top[!here] -= boundary_rows(child) * boundary_rows(child);
            }
    }
    for (int64_t k = 0; k < plan->fronts; k++)
        if (plan->front[k].depth & 1) plan->front[k].schur += most[0];
    plan->work = most[0] + most[1];
}

/* count first, with no arrays given; then fill them in */
static void dissect(Plan *plan)
{
    plan->fronts = plan->nodes = plan->runs = plan->factors = plan->pivots = plan->widest = 0;
    divide(plan, 0, (int32_t)plan->columns, 0, (int32_t)plan->rows, NULL, 0);
    if (plan->front) place_contributions(plan);
}

#endif
