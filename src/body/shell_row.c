/* The law of a stiff row with play (a lath in a pocket) or with a limit (one that slides).
 *
 * One-sided contact as a penalty in the energy: nothing within the play, then as stiff as the part.
 * So that Newton's steps see no corner, the tangent goes from none to all over a tenth of the play
 * on either side of its end (a quadratic in the force); the energy has two continuous derivatives
 * there. A limit is rounded off in the same way (after P. J. Huber, Ann. Math. Statist. 35 (1964)
 * 73-101, eq 1.3: square in the middle, straight outside). Both are convex: they make no new ways
 * to stand. */
#include "body/shell_parts.h"

#include <math.h>

static const double ROUND = 0.1; /* of the play or the limit */

static double with_play(const struct row *r, double a, double *tangent, double *energy) {
    double e = ROUND * r->play, u = a - r->play + e;
    if (u <= 0) {
        *tangent = *energy = 0;
        return 0;
    }
    if (u < 2 * e) {
        *tangent = r->k * u / (2 * e);
        *energy = r->k * u * u * u / (12 * e);
        return r->k * u * u / (4 * e);
    }
    double past = a - r->play;
    *tangent = r->k;
    *energy = r->k * (past * past / 2 + e * e / 6);
    return r->k * past;
}

static double with_limit(const struct row *r, double a, double *tangent, double *energy) {
    double end = r->most / r->k, e = ROUND * end, u = a - end + e;
    if (u <= 0) {
        *tangent = r->k;
        *energy = r->k * a * a / 2;
        return r->k * a;
    }
    if (u < 2 * e) {
        *tangent = r->k * (1 - u / (2 * e));
        *energy = r->k * (a * a / 2 - u * u * u / (12 * e));
        return r->k * (a - u * u / (4 * e));
    }
    double far = end + e;
    *tangent = 0;
    *energy = r->k * (far * far / 2 - 2 * e * e / 3) + r->most * (a - far);
    return r->most;
}

/* Taken as known: bearing on one side (a spring from the end of the play), off, or sliding. */
static double as_held(const struct row *r, double x, double *tangent, double *energy) {
    double side = r->held == ROW_UP ? 1 : r->held == ROW_DOWN ? -1 : 0;
    if (r->held == ROW_OFF || (r->play == 0 && side != 0)) {
        *tangent = 0;
        *energy = side * r->most * x;
        return side * r->most;
    }
    x -= side * r->play;
    *tangent = r->k;
    *energy = r->k * x * x / 2;
    return r->k * x;
}

double row_law(const struct row *r, double y, double *tangent, double *energy) {
    double x = y - r->target, k = r->k, w = 0.5 * r->k * x * x, force = r->k * x;
    if (r->held != ROW_FREE)
        force = as_held(r, x, &k, &w);
    else if (r->k > 0 && r->play > 0)
        force = copysign(with_play(r, fabs(x), &k, &w), x);
    else if (r->k > 0 && r->most > 0)
        force = copysign(with_limit(r, fabs(x), &k, &w), x);
    if (tangent) *tangent = k;
    if (energy) *energy = w;
    return force;
}

double row_reading(const struct row *r, const double q[NQ]) {
    double y = 0;
    for (int j = 0; j < NQ; j++)
        y += r->v[j] * q[j];
    return y;
}

/* What the law says at x: off within the play, sticking below the limit (ROW_TIGHT). */
static int by_law(const struct row *r, double x) {
    if (r->play > 0) return fabs(x) < r->play ? ROW_OFF : x > 0 ? ROW_UP : ROW_DOWN;
    return r->k * fabs(x) < r->most ? ROW_TIGHT : x > 0 ? ROW_UP : ROW_DOWN;
}

void rows_hold(struct body_shell *s) {
    shell_touch(s);
    int bears = 0;
    for (int pass = 0; pass < 2; pass++)
        for (size_t i = 0; i < s->rows; i++) {
            struct row *r = &s->row[i];
            if (!row_is_loose(r) || !(r->k > 0)) continue;
            double q[NQ];
            face_scalars(s, (size_t)r->face, q);
            int now = by_law(r, row_reading(r, q) - r->target);
            if (pass == 0)
                bears |= r->play > 0 && now != ROW_OFF;
            else
                r->held = bears ? now : ROW_TIGHT;
        }
}

size_t rows_follow(struct body_shell *s) {
    shell_touch(s);
    size_t changed = 0;
    for (size_t i = 0; i < s->rows; i++) {
        struct row *r = &s->row[i];
        if (r->held == ROW_FREE) continue;
        double q[NQ];
        face_scalars(s, (size_t)r->face, q);
        double x = row_reading(r, q) - r->target, side = x > 0 ? 1 : -1;
        int next = by_law(r, x);
        if (r->play > 0 && r->held == ROW_TIGHT) next = side > 0 ? ROW_UP : ROW_DOWN;
        changed += next != r->held;
        r->held = next;
    }
    return changed;
}

void rows_free(struct body_shell *s) {
    shell_touch(s);
    for (size_t i = 0; i < s->rows; i++)
        s->row[i].held = ROW_FREE;
}
