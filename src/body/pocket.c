#include "body/pocket.h"

#include "body/shell_parts.h"

#include <math.h>

/* New natural curvature and strain of one lath from how the sheet bends it now; the change against
 * the last round, relative. */
static double follow(struct body_shell *s, struct body_pocket *p) {
    struct part *part = &s->part[p->part];
    const struct body_lath *l = &part->lath;
    double k, e, change = 0, band = p->span > 0 ? 8 * p->play / (p->span * p->span) : 0;
    body_part_line(s, p->part, &k, &e, NULL, NULL);
    if (!isfinite(k)) return 0;
    double nearest = fmin(fmax(k, l->curvature - band), l->curvature + band);
    p->loose = band > 0 && fabs(k - l->curvature) < band;
    double m = l->ei * (k - nearest);
    p->moment = m;
    double most = p->gripped + (p->span > 0 ? p->friction * 8 * fabs(m) / p->span : 0);
    double own = l->strain;
    double pull = isfinite(e) ? l->ea * (e - own) : 0;
    p->slipped = fabs(pull) > most;
    if (p->slipped && l->ea > 0) {
        pull = copysign(most, pull);
        own = e - pull / l->ea;
    }
    p->pull = pull;
    for (int i = 0; i < part->rows; i++) {
        struct row *r = &s->row[part->first_row + i];
        double want = r->kind == ROW_BEND ? nearest : r->kind == ROW_STRETCH ? own : r->own;
        double size = r->kind == ROW_BEND ? fabs(k) + band : fabs(e) + 1e-6;
        if (size > 0) change = fmax(change, fabs(want - r->own) / size);
        /* half way, so that play and rubbing do not chase each other */
        double next = r->own + (r->kind == ROW_TWIST ? 0 : 0.7) * (want - r->own);
        r->target += next - r->own;
        r->own = next;
    }
    s->dirty = 1;
    return change;
}

int body_pocket_settle(struct body_shell *s, struct body_pocket *pockets, size_t n,
                       const struct body_solve_options *options, struct body_solve *solve,
                       size_t *rounds, struct error *err) {
    for (size_t i = 0; i < n; i++)
        if (pockets[i].part < 0 || (size_t)pockets[i].part >= s->parts ||
            s->part[pockets[i].part].kind != PART_LATH || !(pockets[i].play >= 0) ||
            !(pockets[i].span >= 0) || !(pockets[i].friction >= 0) || !(pockets[i].gripped >= 0))
            return fail(
                err, ERR_INPUT, "Name a lath, and give play, span and friction of 0 or more.",
                "Pocket %zu names part %d or has a number out of range.", i + 1, pockets[i].part);
    for (size_t k = 0; k < 30; k++) {
        int rc = body_equilibrium(solve, s, options, err);
        if (rc) return rc;
        double change = 0;
        for (size_t i = 0; i < n; i++)
            change = fmax(change, follow(s, &pockets[i]));
        if (rounds) *rounds = k + 1;
        if (change < 1e-3) return body_equilibrium(solve, s, options, err);
    }
    return fail(err, ERR_SOLVE, "Give less play or less friction.",
                "The laths in their pockets did not settle in 30 rounds.");
}
