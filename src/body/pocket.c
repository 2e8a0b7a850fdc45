#include "body/pocket.h"

#include "body/shell_parts.h"

#include <math.h>

void body_pocket_play(struct body_lath *lath, const struct body_pocket_room *room) {
    if (room->span > 0) lath->play = 8 * room->play / (room->span * room->span);
    if (room->span > 0 && room->width > 0)
        lath->twist_play = 2 * room->play / (room->width * room->span);
    if (room->friction == 0 && room->gripped == 0)
        lath->ea = 0; /* slides freely */
    else if (isfinite(room->gripped))
        lath->slides = room->gripped;
}

double body_pocket_ligament(double depth) {
    return pow(depth, 3) + pow(1 - depth, 3);
}

static double limit_of(const struct body_shell *s, const struct body_pocket *p) {
    const struct part *part = &s->part[p->part];
    for (int i = 0; i < part->rows; i++) {
        const struct row *r = &s->row[part->first_row + i];
        if (r->kind == ROW_STRETCH && r->weight > 0) return r->most / r->weight;
    }
    return 0;
}

static void set_limit(struct body_shell *s, const struct body_pocket *p, double limit) {
    struct part *part = &s->part[p->part];
    for (int i = 0; i < part->rows; i++) {
        struct row *r = &s->row[part->first_row + i];
        if (r->kind == ROW_STRETCH) r->most = limit * r->weight;
    }
    s->dirty = 1;
}

/* What the lath bears now and a new limit of its pull; how far that is off the last, relative. A
 * lath that does not reach its limit is at rest whatever the limit is. */
static double follow(struct body_shell *s, struct body_pocket *p) {
    const struct body_lath *l = &s->part[p->part].lath;
    body_part_line(s, p->part, NULL, NULL, &p->pull, &p->moment);
    p->loose = l->play > 0 && p->moment == 0;
    p->slipped = 0;
    if (!(l->ea > 0) || !isfinite(p->gripped)) return 0;
    double before = limit_of(s, p),
           now = p->gripped + (p->span > 0 ? p->friction * 8 * fabs(p->moment) / p->span : 0);
    now = fmax(now, 1e-6 * l->ea); /* a limit of 0 would mean none */
    double pull = fabs(p->pull);
    p->slipped = pull > 0.85 * now;
    if (pull < 0.85 * fmin(now, before > 0 ? before : INFINITY)) return 0;
    if (before == 0) before = 2 * now;
    /* half way, so that bending and rubbing do not chase each other */
    set_limit(s, p, (before + now) / 2);
    return fabs(now - before) / now;
}

int body_pocket_settle(struct body_shell *s, struct body_pocket *pockets, size_t n,
                       const struct body_solve_options *options, struct body_solve *solve,
                       size_t *rounds, struct error *err) {
    for (size_t i = 0; i < n; i++)
        if (pockets[i].part < 0 || (size_t)pockets[i].part >= s->parts ||
            s->part[pockets[i].part].kind != PART_LATH || !(pockets[i].span >= 0) ||
            !(pockets[i].friction >= 0) || !(pockets[i].gripped >= 0))
            return fail(err, ERR_INPUT, "Name a lath, and give span and friction of 0 or more.",
                        "Pocket %zu names part %d or has a number out of range.", i + 1,
                        pockets[i].part);
    for (size_t k = 0; k < 30; k++) {
        int rc = body_equilibrium(solve, s, options, err);
        if (rc) return rc;
        double change = 0;
        for (size_t i = 0; i < n; i++)
            change = fmax(change, follow(s, &pockets[i]));
        if (rounds) *rounds = k + 1;
        if (change < 0.01) return body_equilibrium(solve, s, options, err);
    }
    return fail(err, ERR_SOLVE, "Give less friction, or hold the laths.",
                "The laths' rubbing in their pockets did not settle in 30 rounds.");
}
