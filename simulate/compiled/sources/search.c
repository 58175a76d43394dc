/* Contact search: signed distance of points to a chain of arcs and lines, with normal, second derivative and foot.

   The same formulas, in the same order, as the chain's own module in the geometry package, which tells where they come
   from: a crown that is all but flat is measured from its apex, so that nothing is lost to its far-away centre. Compiled once, for any processor, so that ties between pieces fall as they do there. */

#include <math.h>

#include "interface.h"

typedef struct {
    double x, y;
} Vector;

static inline Vector vector_at(const double *from, int64_t k) { return (Vector){from[2 * k], from[2 * k + 1]}; }

static inline Vector less(Vector a, Vector b) { return (Vector){a.x - b.x, a.y - b.y}; }

static inline double inner(Vector a, Vector b) { return a.x * b.x + a.y * b.y; }

static inline double cross(Vector a, Vector b) { return a.x * b.y - a.y * b.x; }

static inline double clamped(double x, double lo, double hi) { return x < lo ? lo : x > hi ? hi : x; }

/* of a point seen from the apex: distance from the centre along the middle, in all, and beyond the circle */
typedef struct {
    double ahead, reach, off;
} Polar;

static inline Polar polar(Vector seen, Vector middle, double radius)
{
    const double rise = inner(seen, middle), sideways = cross(middle, seen);
    Polar out;
    out.ahead = radius + rise;
    out.reach = sqrt(out.ahead * out.ahead + sideways * sideways);
    out.off = (inner(seen, seen) / radius + 2.0 * rise) / (out.reach / radius + 1.0);
    return out;
}

static inline double squared_distance(const Chain *chain, const double *cos_half, Vector point, int64_t k)
{
    if (chain->is_arc[k]) {
        const Polar p = polar(less(point, vector_at(chain->apex, k)), vector_at(chain->middle, k), chain->radius[k]);
        if (p.ahead >= p.reach * cos_half[k]) return p.off * p.off;
        const Vector to_tail = less(point, vector_at(chain->tail, k)), to_head = less(point, vector_at(chain->head, k));
        return fmin(inner(to_tail, to_tail), inner(to_head, to_head));
    }
    const Vector seen = less(point, vector_at(chain->origin, k)), tangent = vector_at(chain->tangent, k);
    const double along = inner(seen, tangent), excess = along - clamped(along, chain->lo[k], chain->hi[k]);
    const double across = cross(seen, tangent);
    return across * across + excess * excess;
}

/* what a point sees of one piece; ``past`` -1 at or before its start, 1 at or after its end, 0 between */
typedef struct {
    double distance, hessian, along;
    Vector foot, normal;
    int past;
} View;

static inline int past_end(double free, double lo, double hi) { return free >= hi ? 1 : free <= lo ? -1 : 0; }

static inline View line_view(const Chain *chain, Vector point, int64_t k)
{
    const Vector origin = vector_at(chain->origin, k), tangent = vector_at(chain->tangent, k);
    const Vector seen = less(point, origin), normal = {tangent.y, -tangent.x};
    const double free = inner(seen, tangent), along = clamped(free, chain->lo[k], chain->hi[k]);
    const Vector foot = {origin.x + along * tangent.x, origin.y + along * tangent.y};
    return (View){inner(seen, normal), 0.0, along, foot, normal, past_end(free, chain->lo[k], chain->hi[k])};
}

static inline View arc_view(const Chain *chain, Vector point, int64_t k)
{
    const Vector apex = vector_at(chain->apex, k), middle = vector_at(chain->middle, k), seen = less(point, apex);
    const double side = chain->side[k], half = chain->half[k], radius = chain->radius[k];
    const Polar p = polar(seen, middle, radius);
    const int central = p.reach > 0.0;
    const double per_reach = central ? 1.0 / p.reach : 0.0;
    const Vector spoke = {seen.x + radius * middle.x, seen.y + radius * middle.y};
    const Vector ray = central ? (Vector){spoke.x / p.reach, spoke.y / p.reach} : middle;
    const double free = side * atan2(cross(middle, seen), p.ahead), angle = clamped(free, -half, half);
    const double turn = side * angle, half_sine = sin(0.5 * turn);
    const double back = radius * 2.0 * half_sine * half_sine, out = radius * sin(turn);
    const Vector foot = {apex.x - back * middle.x - out * middle.y, apex.y - back * middle.y + out * middle.x};
    const Vector normal = {side * ray.x, side * ray.y};
    return (View){side * p.off, side * per_reach, radius * (angle + half), foot, normal, past_end(free, -half, half)};
}

/* where the foot is a corner, everything follows from the vertex; nearer to it than 1e-9 mm its direction is lost */
static inline void see_vertex(Vector seen, Vector mean_normal, View *view)
{
    const double reach = sqrt(inner(seen, seen)), sign = inner(seen, mean_normal) < 0.0 ? -1.0 : 1.0;
    const int clear = reach > 1e-9;
    view->distance = sign * reach;
    view->normal = clear ? (Vector){sign / reach * seen.x, sign / reach * seen.y} : mean_normal;
    view->hessian = clear ? sign / reach : 0.0;
}

static inline int64_t nearest_piece(const Chain *chain, const double *cos_half, Vector point)
{
    int64_t best = 0;
    double least = squared_distance(chain, cos_half, point, 0);
    for (int64_t k = 1; k < chain->count; k++) {
        const double distance = squared_distance(chain, cos_half, point, k);
        if (distance < least) least = distance, best = k;
    }
    return best;
}

/* ``points`` (count, 2), each moved up by ``shift``; ``cos_half`` is room for chain->count numbers */
void labrum_search(
    const Chain *chain, int64_t count, const double *points, double shift, double *cos_half, const Seen *to)
{
    for (int64_t k = 0; k < chain->count; k++) cos_half[k] = cos(chain->half[k]);
    for (int64_t i = 0; i < count; i++) {
        const Vector point = {points[2 * i], points[2 * i + 1] + shift};
        const int64_t k = nearest_piece(chain, cos_half, point);
        View view = chain->is_arc[k] ? arc_view(chain, point, k) : line_view(chain, point, k);
        const int64_t joint = k + (view.past > 0);
        if (view.past && chain->corner[joint])
            see_vertex(
                less(point, vector_at(view.past > 0 ? chain->head : chain->tail, k)),
                vector_at(chain->vertex_normal, joint), &view);
        to->distance[i] = view.distance;
        to->foot[2 * i] = view.foot.x, to->foot[2 * i + 1] = view.foot.y;
        to->normal[2 * i] = view.normal.x, to->normal[2 * i + 1] = view.normal.y;
        to->hessian[i] = view.hessian;
        to->piece[i] = k < 1 ? 0 : k > chain->count - 2 ? chain->count - 3 : k - 1;
        to->arc_length[i] = chain->offset[k] + view.along;
    }
}
