#include "body/sheet.h"

#include "base/mem.h"
#include "body/part.h"
#include "body/pocket.h"

#include <math.h>
#include <string.h>

struct body_sheet_model {
    struct body_sheet sheet; /* its laths, readings and areas are the three below */
    struct body_sheet_lath *own;
    struct body_sheet_place *reading, *bared;
    struct plane_mesh *reference,
        *mesh; /* mesh: carried to the present outline, or the reference */
    struct body_shell *shell;
    int *lath;                  /* [laths] the part each is */
    struct body_pocket *pocket; /* [pockets], room for all laths */
    size_t pockets;
    size_t middle; /* vertex nearest to the middle */
    int grip;      /* part, or -1 */
    size_t ties;   /* of the rim, one at each point of the edge, then pegs */
    int first_tie;
    double *tied; /* [points of the edge] ties each stands for */
    size_t *rim;  /* [vertices all round] nodes of a tied rim, or NULL */
    int rod;      /* the part it is */
};

static int finite_all(const double *v, size_t n) {
    for (size_t i = 0; i < n; i++)
        if (!isfinite(v[i])) return 0;
    return 1;
}

/* Extent of the outline along a direction. */
static double extent(const struct plane_loop *loop, double angle) {
    double lo = INFINITY, hi = -INFINITY;
    for (size_t i = 0; i < loop->n; i++) {
        double t = cos(angle) * loop->xy[2 * i] + sin(angle) * loop->xy[2 * i + 1];
        lo = fmin(lo, t);
        hi = fmax(hi, t);
    }
    return hi - lo;
}

static int check(const struct body_sheet *s, struct error *err) {
    if (s->layers < 1 || s->layers > BODY_SHEET_LAYERS || s->holes > BODY_SHEET_HOLES)
        return fail(err, ERR_RANGE, "Give 1 to 4 layers and at most 8 holes.",
                    "The sheet has %zu layers and %zu holes.", s->layers, s->holes);
    if (!finite_all(&s->grain, 1) || !finite_all(s->curvature, 3) || !finite_all(s->strain, 3))
        return fail(err, ERR_INPUT, "Give numbers.",
                    "Grain, natural curvature or strain is not a number.");
    for (int c = 0; c < 2; c++) {
        double across = extent(&s->outline, s->grain + c * M_PI / 2), k = fabs(s->curvature[c]);
        if (k * across > 2 * M_PI)
            return fail(
                err, ERR_RANGE, "Take a thicker stem or a narrower sheet.",
                "The sheet is %.0f mm wide, but a stem of radius %.0f mm is only %.0f mm round.",
                across, 1 / k, 2 * M_PI / k);
    }
    if (s->rim != BODY_RIM_NONE &&
        (!(s->rim_diameter > 0) || !(s->rim_e > 0) || !(s->rim_g >= 0) || !(s->rim_density >= 0)))
        return fail(err, ERR_RANGE, "Give the rim's diameter and modulus.",
                    "The rim has diameter %g mm and E %g MPa.", s->rim_diameter, s->rim_e);
    if (s->rim == BODY_RIM_TIED &&
        (!(s->tie_every > 0) || !(s->tie_stiffness > 0) || !isfinite(s->tie_slack)))
        return fail(err, ERR_RANGE, "Give the distance and stiffness of the ties.",
                    "The rim's ties stand %g mm apart with %g N/mm.", s->tie_every,
                    s->tie_stiffness);
    if (!(s->rim_joint >= 0 && s->rim_joint <= 1))
        return fail(err, ERR_RANGE, "Give a share from 0 to 1.", "The rim's joint is %g.",
                    s->rim_joint);
    for (size_t i = 0; i < s->readings; i++)
        if (!finite_all(s->reading[i].at, 2) || !(s->reading[i].value > 0))
            return fail(err, ERR_RANGE, "Measure it again or leave it out.",
                        "Reading %zu of the thickness is %g mm.", i + 1, s->reading[i].value);
    for (size_t i = 0; i < s->bareds; i++)
        if (!finite_all(s->bared[i].at, 2) || !(s->bared[i].radius >= 0) ||
            !(s->bared[i].value >= 0 && s->bared[i].value <= 1))
            return fail(err, ERR_RANGE, "Give a radius, and a share from 0 (gone) to 1 (all).",
                        "Area %zu of the outer layer has a share of %g left.", i + 1,
                        s->bared[i].value);
    const struct body_sheet_ring *r = &s->ring;
    if (r->thickness != 0 &&
        (!(r->thickness > 0) || !(r->outer > r->inner) || !(r->inner >= 0) || !(r->e_round > 0) ||
         !(r->e_radial > 0) || !(r->g > 0) || !isfinite(r->outer + r->at[0] + r->at[1])))
        return fail(err, ERR_RANGE, "Give its radii, thickness and moduli.",
                    "The coiled piece has radii %g and %g mm, thickness %g mm.", r->inner, r->outer,
                    r->thickness);
    if (s->pegs > BODY_SHEET_PEGS || (s->pegs && !(s->peg_stiffness > 0)) ||
        !(s->grip_ei >= 0 && isfinite(s->grip_ei)) || !(s->other_mass >= 0))
        return fail(err, ERR_RANGE, "Give at most 16 pegs with a stiffness, and no mass below 0.",
                    "The sheet has %zu pegs of %g N/mm, a bar of %g N mm2.", s->pegs,
                    s->peg_stiffness, s->grip_ei);
    return 0;
}

/* The coil at an angle to the sheet's first axis added to the sheet's laminate. The natural state
 * is that of both together: their free forces add. */
static int add_coil(struct body_laminate *out, const struct body_laminate *sheet,
                    const double strain[3], const double curvature[3],
                    const struct body_sheet_ring *ring, double angle, struct error *err) {
    /* a ply's Poisson's ratio round the coil hardly matters: its rounds do not hold each other */
    const struct body_ply ply = {.e1 = ring->e_round,
                                 .e2 = ring->e_radial,
                                 .nu12 = 0.2,
                                 .g12 = ring->g,
                                 .thickness = ring->thickness,
                                 .density = ring->density,
                                 .angle = angle};
    struct body_laminate coil;
    int rc = body_laminate_make(&coil, &ply, 1, err);
    if (rc) return rc;
    double force[3] = {0}, moment[3] = {0};
    for (int k = 0; k < 9; k++) {
        force[k / 3] += sheet->a[k] * strain[k % 3] + sheet->c[k] * curvature[k % 3];
        moment[k / 3] += sheet->c[k] * strain[k % 3] + sheet->d[k] * curvature[k % 3];
        out->a[k] = sheet->a[k] + coil.a[k];
        out->c[k] = sheet->c[k];
        out->d[k] = sheet->d[k] + coil.d[k];
    }
    out->thickness = sheet->thickness;
    out->mass = sheet->mass + coil.mass;
    if (body_laminate_solve(out->strain, out->curvature, out, force, moment))
        return fail(err, ERR_SOLVE, "Check the coiled piece.",
                    "Sheet and coiled piece together are singular.");
    return 0;
}

/* Angle of the coil's rounds from the grain in a face, when its middle lies under the coil. */
static int under_coil(const struct body_sheet_model *m, size_t f, double *angle) {
    const struct body_sheet_ring *r = &m->sheet.ring;
    if (!(r->thickness > 0)) return 0;
    double c[2] = {-r->at[0], -r->at[1]};
    for (int i = 0; i < 3; i++)
        for (int k = 0; k < 2; k++)
            c[k] += m->mesh->p[m->mesh->tri[f][i]][k] / 3;
    double d = hypot(c[0], c[1]);
    *angle = atan2(c[1], c[0]) + M_PI / 2 - m->sheet.grain;
    return d >= r->inner && d <= r->outer;
}

/* ---- what differs from place to place -------------------------------------------------------- */

static void face_middle(const struct body_sheet_model *m, size_t f, double c[2]) {
    c[0] = c[1] = 0;
    for (int i = 0; i < 3; i++)
        for (int k = 0; k < 2; k++)
            c[k] += m->mesh->p[m->mesh->tri[f][i]][k] / 3;
}

static double read_thickness(const struct body_sheet *s, const double at[2], double near2) {
    double sum = 0, whole = 0;
    for (size_t i = 0; i < s->readings; i++) {
        double dx = s->reading[i].at[0] - at[0], dy = s->reading[i].at[1] - at[1],
               w = 1 / (dx * dx + dy * dy + near2);
        sum += w * s->reading[i].value;
        whole += w;
    }
    return sum / whole;
}

/* Thickness of each face over the mean; NULL and no error when it is the same all over. */
static int thickness_field(double **out, const struct body_sheet_model *m, struct error *err) {
    const struct body_sheet *s = &m->sheet;
    *out = NULL;
    if (s->readings < 2) return 0;
    double *t = MEM_NEW(double, m->mesh->nf), sum = 0, whole = 0,
           near = extent(&s->outline, 0) / 20;
    if (!t) return fail_memory(err);
    for (size_t f = 0; f < m->mesh->nf; f++) {
        double c[2], a = body_shell_area(m->shell, f);
        face_middle(m, f, c);
        t[f] = read_thickness(s, c, near * near);
        sum += a * t[f];
        whole += a;
    }
    for (size_t f = 0; f < m->mesh->nf; f++)
        t[f] *= whole / sum;
    *out = t;
    return 0;
}

/* Share of the outermost layer left in a place: the least of the areas it lies in. */
static double outer_left(const struct body_sheet *s, const double at[2]) {
    double left = 1;
    for (size_t i = 0; i < s->bareds; i++)
        if (hypot(at[0] - s->bared[i].at[0], at[1] - s->bared[i].at[1]) <= s->bared[i].radius)
            left = fmin(left, s->bared[i].value);
    return left;
}

enum { CUT_POINTS = 6 };

static int near_mouth(const struct body_sheet_model *m, size_t f, double t) {
    double c[2], size = 2 * sqrt(body_shell_area(m->shell, f));
    face_middle(m, f, c);
    for (size_t k = 0; k < m->sheet.laths; k++) {
        const struct body_sheet_lath *q = &m->sheet.lath[k];
        double far = q->width / 2 + t + size;
        if (q->cut > 0 && (hypot(c[0] - q->from[0], c[1] - q->from[1]) < far ||
                           hypot(c[0] - q->to[0], c[1] - q->to[1]) < far))
            return 1;
    }
    return 0;
}

/* Share of a face, by points in it, that lies in the mouth of a pocket: a lath wide, a thickness to
 * each side of the slit; and what is left of the thickness under it. */
static double in_mouth(const struct body_sheet_model *m, size_t f, double *left) {
    const struct body_sheet *s = &m->sheet;
    const int *v = m->mesh->tri[f];
    double t = 0, in = 0, all = 0;
    for (size_t k = 0; k < s->layers; k++)
        t += s->layer[k].thickness;
    *left = 1;
    if (!near_mouth(m, f, t)) return 0;
    for (int i = 0; i <= CUT_POINTS; i++)
        for (int j = 0; i + j <= CUT_POINTS; j++) {
            double l0 = (i + 1.0 / 3) / (CUT_POINTS + 1), l1 = (j + 1.0 / 3) / (CUT_POINTS + 1),
                   at[2];
            for (int c = 0; c < 2; c++)
                at[c] = l0 * m->mesh->p[v[0]][c] + l1 * m->mesh->p[v[1]][c] +
                        (1 - l0 - l1) * m->mesh->p[v[2]][c];
            all++;
            for (size_t k = 0; k < s->laths; k++) {
                const struct body_sheet_lath *q = &s->lath[k];
                if (!(q->cut > 0)) continue;
                double ax = q->to[0] - q->from[0], ay = q->to[1] - q->from[1], l = hypot(ax, ay),
                       dx = at[0] - q->from[0], dy = at[1] - q->from[1],
                       along = (dx * ax + dy * ay) / l, across = (dx * ay - dy * ax) / l;
                if (fabs(across) > q->width / 2 || (fabs(along) > t && fabs(along - l) > t))
                    continue;
                in++;
                *left = fmin(*left, 1 - fmin(q->cut / t, 0.95));
                break;
            }
        }
    return in / all;
}

struct local {
    double *thickness; /* [faces] or NULL */
    struct stuff_fissured fissured;
    bool any, cut;
};

static int local_begin(struct local *l, const struct body_sheet_model *m, struct error *err) {
    const struct body_sheet *s = &m->sheet;
    double t = 0;
    *l = (struct local){.fissured = {1, 1, 1, 1}};
    for (size_t k = 0; k < s->layers; k++)
        t += s->layer[k].thickness;
    for (size_t k = 0; k < s->laths; k++)
        l->cut |= s->lath[k].cut > 0;
    l->any = s->readings > 1 || s->bareds || s->fissures.depth > 0 || l->cut;
    int rc = s->fissures.depth > 0 ? stuff_bark_fissured(&l->fissured, t, &s->fissures, err) : 0;
    return rc ? rc : thickness_field(&l->thickness, m, err);
}

/* The laminate of one face: its layers as thick as there, weakened across the grain by fissures
 * and by the slits of pockets (strips of two thicknesses bend one after another: in series). */
static int local_laminate(struct body_laminate *out, const struct body_sheet_model *m,
                          const struct local *l, size_t f, struct error *err) {
    const struct body_sheet *s = &m->sheet;
    struct body_ply ply[BODY_SHEET_LAYERS];
    size_t n = 0;
    double at[2], left, factor = l->thickness ? l->thickness[f] : 1;
    face_middle(m, f, at);
    left = outer_left(s, at);
    for (size_t k = 0; k < s->layers; k++) {
        ply[n] = s->layer[k];
        ply[n].thickness *= factor * (k + 1 == s->layers && k > 0 ? left : 1);
        if (ply[n].thickness > 0) n++;
    }
    int rc = body_laminate_make(out, ply, n, err);
    const struct stuff_fissured *q = &l->fissured;
    /* fissures go as deep as the outer layer that is left */
    if (!rc && left > 0.5)
        body_laminate_weaken(out, q->tension_along, q->bending_along, q->tension_around,
                             q->bending_around);
    double thin, share = l->cut ? in_mouth(m, f, &thin) : 0;
    if (!rc && share > 0) { /* slits lie across the laths; their own direction hardly matters */
        double stretch = 1 / (1 - share + share / thin),
               bend = 1 / (1 - share + share / (thin * thin * thin));
        body_laminate_weaken(out, stretch, bend, stretch, bend);
    }
    return rc;
}

static int dress(struct body_sheet_model *m, struct error *err) {
    const struct body_sheet *s = &m->sheet;
    struct body_laminate l;
    const double axis[3] = {cos(s->grain), sin(s->grain), 0};
    int rc = body_laminate_make(&l, s->layer, s->layers, err);
    double strain[3], curvature[3], angle;
    for (int c = 0; c < 3; c++) {
        strain[c] = s->strain[c] + l.strain[c];
        curvature[c] = s->curvature[c] + l.curvature[c];
    }
    struct local local = {0};
    if (!rc) rc = local_begin(&local, m, err);
    for (size_t f = 0; f < m->mesh->nf && !rc; f++) {
        rc = body_shell_axis(m->shell, f, axis, err);
        if (!rc && local.any) rc = local_laminate(&l, m, &local, f, err);
        for (int c = 0; c < 3 && local.any; c++) {
            strain[c] = s->strain[c] + l.strain[c];
            curvature[c] = s->curvature[c] + l.curvature[c];
        }
        if (rc) break;
        if (under_coil(m, f, &angle)) {
            struct body_laminate both;
            rc = add_coil(&both, &l, strain, curvature, &s->ring, angle, err);
            if (rc) break;
            body_shell_material(m->shell, f, &both);
            body_shell_natural(m->shell, f, both.strain, both.curvature);
            continue;
        }
        body_shell_material(m->shell, f, &l);
        body_shell_natural(m->shell, f, strain, curvature);
    }
    mem_free(local.thickness);
    return rc;
}

/* Shortens a lath to the part of its line that lies in the sheet. */
static int lath_of(const struct body_sheet_model *m, size_t k, struct body_lath *out,
                   struct error *err) {
    const struct body_sheet_lath *l = &m->sheet.lath[k];
    const double given[] = {l->width,  l->thickness, l->e,    l->g,        l->density, l->curvature,
                            l->strain, l->height,    l->play, l->friction, l->cut};
    if (!finite_all(l->from, 2) || !finite_all(l->to, 2) || !finite_all(given, 11) ||
        !(l->width > 0) || !(l->thickness >= 0) || !(l->play >= 0) || !(l->friction >= 0) ||
        !(l->gripped >= 0) || !(l->cut >= 0) || !(l->e > 0) || l->thickness > 1e3)
        return fail(err, ERR_RANGE, "Give its ends, width, thickness and modulus.",
                    "Lath %zu has a number out of range.", k + 1);
    struct plane_mesh_piece *p = MEM_NEW(struct plane_mesh_piece, m->mesh->nf);
    if (!p) return fail_memory(err);
    size_t n = plane_mesh_cut(m->mesh, l->from, l->to, p, m->mesh->nf);
    double lo = n ? p[0].from : 0, hi = n ? p[n - 1].to : 0;
    mem_free(p);
    if (!(hi > lo + 0.02))
        return fail(err, ERR_RANGE, "Move the lath into the sheet.",
                    "Lath %zu lies outside the sheet.", k + 1);
    double area = l->width * l->thickness, cube = l->width * pow(l->thickness, 3);
    *out = (struct body_lath){.ei = l->e * cube / 12,
                              .gj = l->g * cube / 3,
                              .ea = l->e * area,
                              .z = l->height,
                              .curvature = l->curvature,
                              .strain = l->strain,
                              .mass = l->density * area};
    for (int c = 0; c < 2; c++) {
        out->a[c] = l->from[c] + (lo + 1e-6) * (l->to[c] - l->from[c]);
        out->b[c] = l->from[c] + (hi - 1e-6) * (l->to[c] - l->from[c]);
    }
    const struct body_pocket_room room = {.play = l->play,
                                          .width = l->width,
                                          .span =
                                              hypot(out->b[0] - out->a[0], out->b[1] - out->a[1]),
                                          .friction = l->friction,
                                          .gripped = l->gripped};
    body_pocket_play(out, &room);
    return 0;
}

static int add_laths(struct body_sheet_model *m, int again, struct error *err) {
    m->pockets = 0;
    for (size_t k = 0; k < m->sheet.laths; k++) {
        const struct body_sheet_lath *l = &m->sheet.lath[k];
        struct body_lath b;
        int rc = lath_of(m, k, &b, err);
        if (!rc)
            rc = again ? body_part_lath_set(m->shell, m->lath[k], &b, 0.5, err)
                       : body_part_lath(m->shell, &b, 0.5, &m->lath[k], err);
        if (rc) return rc;
        if (l->friction > 0 && isfinite(l->gripped))
            m->pocket[m->pockets++] =
                (struct body_pocket){.part = m->lath[k],
                                     .friction = l->friction,
                                     .gripped = l->gripped,
                                     .span = hypot(b.b[0] - b.a[0], b.b[1] - b.a[1])};
    }
    return 0;
}

/* A tie of the rim at the i-th point of the edge; stiffness and slack come after. */
static int tie_at(struct body_sheet_model *m, size_t i, double off, double stiffness,
                  struct error *err) {
    struct body_tie tie = {.node = m->rim[i], .stiffness = stiffness, .off = off};
    for (size_t f = 0; f < m->mesh->nf; f++)
        for (int c = 0; c < 3; c++)
            if (m->mesh->tri[f][c] == (int)i) {
                tie.face = f;
                memset(tie.bary, 0, sizeof tie.bary);
                tie.bary[c] = 1;
            }
    int part, rc = body_part_tie(m->shell, &tie, &part, err);
    if (m->ties++ == 0) m->first_tie = part;
    return rc;
}

static double edge_length(const struct body_sheet_model *m, size_t i) {
    size_t n = m->mesh->loop_start[1], next = (i + 1) % n;
    return hypot(m->mesh->p[next][0] - m->mesh->p[i][0], m->mesh->p[next][1] - m->mesh->p[i][1]);
}

/* How many ties each point of the edge stands for: evenly, or the same number in groups whose ties
 * stand a third as far apart. A tie belongs to the nearest point. */
static void deal_ties(struct body_sheet_model *m) {
    const struct body_sheet *s = &m->sheet;
    size_t n = m->mesh->loop_start[1], group = s->tie_group > 1 ? s->tie_group : 1, at = 0;
    double whole = 0, before = 0;
    for (size_t i = 0; i < n; i++) {
        m->tied[i] = 0;
        whole += edge_length(m, i);
    }
    size_t ties = (size_t)fmax(3, floor(whole / s->tie_every + 0.5)),
           groups = (ties + group - 1) / group;
    for (size_t g = 0, k = 0; g < groups; g++) {
        size_t members = k + group <= ties ? group : ties - k;
        for (size_t i = 0; i < members; i++, k++) {
            double place =
                (double)g * whole / (double)groups + (double)i * (group > 1 ? s->tie_every / 3 : 0);
            while (at + 1 < n && before + edge_length(m, at) <= place)
                before += edge_length(m, at++);
            size_t next = place - before > edge_length(m, at) / 2 ? (at + 1) % n : at;
            m->tied[next]++;
        }
    }
}

void body_sheet_ties(struct body_sheet_model *m, double strength, double slack) {
    if (m->sheet.rim != BODY_RIM_TIED) return;
    for (size_t i = 0; i < m->mesh->loop_start[1]; i++)
        body_part_tie_set(m->shell, m->first_tie + (int)i,
                          strength * m->tied[i] * m->sheet.tie_stiffness, slack);
}

double body_sheet_tie_force(const struct body_sheet_model *m) {
    double most = 0;
    size_t edge = m->sheet.rim == BODY_RIM_TIED ? m->mesh->loop_start[1] : 0;
    for (size_t i = 0; i < edge; i++) {
        double force = 0;
        if (!(m->tied[i] > 0)) continue;
        body_part_energy(m->shell, m->first_tie + (int)i, &force);
        most = fmax(most, fabs(force) / m->tied[i]);
    }
    return most;
}

double body_rim_joint(double e, double diameter, double every, double stiffness, double wave) {
    double area = M_PI * diameter * diameter / 8;
    if (!(every > 0) || !(stiffness > 0) || !(wave > 0)) return 0;
    /* B.1 with gamma_2 = 1 and a_2 = gamma_1 h / (gamma_1 + 1): of the A h^2 / 2 that joining adds,
     * 2 gamma_1 / (1 + gamma_1) */
    return 1 / (1 + M_PI * M_PI * e * area * every / (2 * stiffness * wave * wave));
}

/* Section of the rim: a half circle of radius r has its centroid at 4 r / (3 pi) over the flat,
 * second moments pi r^4 / 8 about the axis upright on the flat and (pi / 8 - 8 / (9 pi)) r^4 about
 * its own along it. */
struct rim_section {
    double ei_normal, ei_inplane, ea, gj, off, area;
};

static struct rim_section rim_section(const struct body_sheet *s) {
    double r = s->rim_diameter / 2, r4 = pow(r, 4), t = 0, half = M_PI * r * r / 2;
    for (size_t k = 0; k < s->layers; k++)
        t += s->layer[k].thickness;
    double arm = 4 * r / (3 * M_PI) + t / 2, own = (M_PI / 8 - 8 / (9 * M_PI)) * r4;
    struct rim_section q = {.ei_normal = s->rim_e * M_PI * r4 / 4,
                            .ei_inplane = s->rim_e * M_PI * r4 / 4,
                            .gj = s->rim_g * M_PI * r4 / 2,
                            .area = 2 * half};
    if (s->rim_form == BODY_RIM_HALVES)
        q.ei_normal = 2 * s->rim_e * (own + s->rim_joint * half * arm * arm);
    if (s->rim_form == BODY_RIM_OUTER || s->rim_form == BODY_RIM_INNER) {
        q.ei_normal = s->rim_e * own;
        q.ei_inplane /= 2;
        q.area = half;
        q.off = s->rim_form == BODY_RIM_OUTER ? arm : -arm;
    }
    /* J = 0.296 r^4 a half: W. C. Young, R. G. Budynas, Roark's Formulas, 7th ed. 2002, table 10.1
     */
    if (s->rim_form != BODY_RIM_ROUND) q.gj *= 0.38 * q.area / (2 * half);
    q.ea = s->rim_e * q.area;
    return q;
}

static size_t nearest_edge(const struct body_sheet_model *m, const double at[2]) {
    size_t best = 0;
    double d = INFINITY;
    for (size_t i = 0; i < m->mesh->loop_start[1]; i++) {
        double e = hypot(m->mesh->p[i][0] - at[0], m->mesh->p[i][1] - at[1]);
        if (e < d) {
            d = e;
            best = i;
        }
    }
    return best;
}

/* Takes a tied rim to the present outline. */
static int move_rim(struct body_sheet_model *m, struct error *err) {
    size_t n = m->mesh->loop_start[1];
    if (!m->rim || m->sheet.rim != BODY_RIM_TIED) return 0;
    double(*x)[3] = mem_alloc(n, sizeof *x);
    if (!x) return fail_memory(err);
    for (size_t i = 0; i < n; i++) {
        memcpy(x[i], m->mesh->p[i], sizeof m->mesh->p[i]);
        x[i][2] = rim_section(&m->sheet).off;
    }
    int rc = body_part_node_rest(m->shell, m->rim, (const double(*)[3])x, n, err);
    mem_free(x);
    return rc;
}

/* A half rod lies flat against the sheet and cannot turn. Where the halves work as one and are
 * stiffer out of the sheet than in it, the rod is taken as round with the larger stiffness. */
static int flat_rim(const struct body_sheet *s) {
    return s->rim_form != BODY_RIM_ROUND;
}

static int add_rim(struct body_sheet_model *m, struct error *err) {
    const struct body_sheet *s = &m->sheet;
    size_t n = m->mesh->loop_start[1];
    const struct rim_section q = rim_section(s);
    if (s->rim == BODY_RIM_NONE) return 0;
    int *chain = MEM_NEW(int, n + 1), rc = 0;
    size_t *node = m->rim = MEM_NEW(size_t, n);
    if (!chain || !node) rc = fail_memory(err);
    for (size_t i = 0; !rc && i <= n; i++)
        chain[i] = (int)(i % n);
    if (!rc && s->rim == BODY_RIM_SEWN) {
        struct body_edge_rod rod = {.vertices = chain,
                                    .n = n + 1,
                                    .ei_normal = q.ei_normal,
                                    .ei_inplane = q.ei_inplane,
                                    .ea = q.ea,
                                    .gj = q.gj,
                                    .z = q.off,
                                    .set_inplane = s->rim_set};
        rc = body_part_edge_rod(m->shell, &rod, NULL, err);
    }
    if (!rc && s->rim == BODY_RIM_TIED) {
        for (size_t i = 0; i < n && !rc; i++)
            rc = body_part_node(m->shell, (double[3]){m->mesh->p[i][0], m->mesh->p[i][1], q.off},
                                &node[i], err);
        struct body_rod rod = {.nodes = node,
                               .n = n,
                               .closed = 1,
                               .ei = q.ei_normal,
                               .ei_inplane = flat_rim(s) ? fmax(q.ei_inplane, q.ei_normal) : 0,
                               .ea = q.ea,
                               .set = s->rim_set,
                               .near = chain};
        if (!rc) rc = body_part_rod(m->shell, &rod, &m->rod, err);
        m->tied = MEM_NEW(double, n);
        if (!rc && !m->tied) rc = fail_memory(err);
        for (size_t i = 0; i < n && !rc; i++)
            rc = tie_at(m, i, q.off, 0, err);
        if (!rc) {
            deal_ties(m);
            body_sheet_ties(m, 1, s->tie_slack);
        }
        for (size_t k = 0; k < s->pegs && !rc; k++)
            rc = tie_at(m, nearest_edge(m, s->peg[k]), q.off, s->peg_stiffness, err);
    }
    mem_free(chain);
    return rc;
}

/* Vertices of a seat: those within its radius, at least the three nearest. */
static size_t seat_vertices(const struct body_sheet_model *m, const double at[2], double radius,
                            int *out, size_t most) {
    size_t n = 0;
    for (double r = radius; n < 3; r = fmax(r, 1) * 1.2) {
        n = 0;
        for (size_t v = 0; v < m->mesh->nv && n < most; v++)
            if (hypot(m->mesh->p[v][0] - at[0], m->mesh->p[v][1] - at[1]) <= r) out[n++] = (int)v;
        if (r > 1e6) break;
    }
    return n;
}

static int add_grip(struct body_sheet_model *m, struct error *err) {
    const struct body_sheet *s = &m->sheet;
    m->grip = -1;
    if (!s->grip) return 0;
    int a[63], b[63];
    double apart = hypot(s->seat[1][0] - s->seat[0][0], s->seat[1][1] - s->seat[0][1]);
    struct body_grip g = {.seat = {a, b},
                          .chord = s->grip_chord > 0 ? s->grip_chord : apart,
                          .chord_stiffness = s->grip_chord <= 0 ? 0
                                             : s->grip_hold > 0 ? s->grip_hold
                                                                : 1e4,
                          .slope = {-s->grip_slope, -s->grip_slope},
                          .slope_stiffness = s->grip_moment,
                          .bar_ei = s->grip_ei};
    for (int k = 0; k < 2; k++) {
        double bary[3];
        if (!finite_all(s->seat[k], 2) || plane_mesh_locate(m->mesh, s->seat[k], 0, bary) < 0)
            return fail(err, ERR_RANGE, "Move the seat into the sheet.",
                        "Seat %d of the grip lies outside the sheet.", k + 1);
        g.n[k] = seat_vertices(m, s->seat[k], s->seat_radius, k ? b : a, 63);
    }
    return body_part_grip(m->shell, &g, &m->grip, err);
}

static void find_middle(struct body_sheet_model *m) {
    double c[2] = {0, 0}, whole = 0, best = INFINITY;
    for (size_t f = 0; f < m->mesh->nf; f++) {
        double a = body_shell_area(m->shell, f);
        whole += a;
        for (int i = 0; i < 3; i++)
            for (int k = 0; k < 2; k++)
                c[k] += a * m->mesh->p[m->mesh->tri[f][i]][k] / 3;
    }
    for (size_t v = 0; v < m->mesh->nv; v++) {
        double d = hypot(m->mesh->p[v][0] - c[0] / whole, m->mesh->p[v][1] - c[1] / whole);
        if (d < best) {
            best = d;
            m->middle = v;
        }
    }
}

static int shell_make(struct body_sheet_model *m, struct error *err) {
    double(*x)[3] = mem_alloc(m->mesh->nv, sizeof *x);
    if (!x) return fail_memory(err);
    for (size_t v = 0; v < m->mesh->nv; v++)
        memcpy(x[v], m->mesh->p[v], sizeof m->mesh->p[v]);
    struct body_shell_mesh mesh = {m->mesh->nv, m->mesh->nf, (const double(*)[3])x,
                                   (const int(*)[3])m->mesh->tri, NULL};
    int rc = body_shell_new(&m->shell, &mesh, err);
    mem_free(x);
    return rc;
}

/* Takes over the numbers of a sheet, with copies of what it only lends. All or nothing. */
static int own(struct body_sheet_model *m, const struct body_sheet *sheet, struct error *err) {
    struct body_sheet_lath *lath = MEM_NEW(struct body_sheet_lath, sheet->laths + 1);
    struct body_sheet_place *reading = MEM_NEW(struct body_sheet_place, sheet->readings + 1),
                            *bared = MEM_NEW(struct body_sheet_place, sheet->bareds + 1);
    if (!lath || !reading || !bared) {
        mem_free(lath);
        mem_free(reading);
        mem_free(bared);
        return fail_memory(err);
    }
    for (size_t i = 0; i < sheet->laths; i++)
        lath[i] = sheet->lath[i];
    for (size_t i = 0; i < sheet->readings; i++)
        reading[i] = sheet->reading[i];
    for (size_t i = 0; i < sheet->bareds; i++)
        bared[i] = sheet->bared[i];
    mem_free(m->own);
    mem_free(m->reading);
    mem_free(m->bared);
    m->sheet = *sheet;
    m->sheet.lath = m->own = lath;
    m->sheet.reading = m->reading = reading;
    m->sheet.bared = m->bared = bared;
    return 0;
}

int body_sheet_new(struct body_sheet_model **out, const struct body_sheet *sheet, size_t triangles,
                   struct error *err) {
    *out = NULL;
    int rc = check(sheet, err);
    if (rc) return rc;
    struct body_sheet_model *m = MEM_NEW(struct body_sheet_model, 1);
    if (!m) return fail_memory(err);
    rc = own(m, sheet, err);
    m->lath = MEM_NEW(int, sheet->laths + 1);
    m->pocket = MEM_NEW(struct body_pocket, sheet->laths + 1);
    if (!rc && (!m->lath || !m->pocket)) rc = fail_memory(err);
    struct plane_loop loops[1 + BODY_SHEET_HOLES] = {sheet->outline};
    memcpy(loops + 1, sheet->hole, sheet->holes * sizeof *loops);
    struct plane_mesh_options o = {.triangles = triangles};
    if (!rc) rc = plane_mesh_new(&m->reference, loops, 1 + sheet->holes, &o, err);
    m->mesh = m->reference;
    if (!rc) rc = shell_make(m, err);
    if (!rc) rc = dress(m, err);
    if (!rc) rc = add_laths(m, 0, err);
    if (!rc) rc = add_rim(m, err);
    if (!rc) rc = add_grip(m, err);
    if (!rc) rc = body_shell_prepare(m->shell, err);
    if (rc) {
        body_sheet_free(m);
        return rc;
    }
    find_middle(m);
    *out = m;
    return 0;
}

void body_sheet_free(struct body_sheet_model *m) {
    if (!m) return;
    if (m->mesh != m->reference) plane_mesh_free(m->mesh);
    plane_mesh_free(m->reference);
    body_shell_free(m->shell);
    mem_free(m->own);
    mem_free(m->reading);
    mem_free(m->bared);
    mem_free(m->lath);
    mem_free(m->pocket);
    mem_free(m->rim);
    mem_free(m->tied);
    mem_free(m);
}

static int same_loop(const struct plane_loop *a, const struct plane_loop *b) {
    return a->n == b->n && memcmp(a->xy, b->xy, 2 * a->n * sizeof *a->xy) == 0;
}

void body_sheet_forget_outline(struct body_sheet_model *m) {
    m->sheet.outline = (struct plane_loop){0};
}

int body_sheet_change(struct body_sheet_model *m, const struct body_sheet *sheet,
                      struct error *err) {
    int rc = check(sheet, err);
    if (rc) return rc;
    if (sheet->laths != m->sheet.laths || sheet->rim != m->sheet.rim ||
        sheet->grip != m->sheet.grip || sheet->holes != m->sheet.holes ||
        sheet->grip_moment != m->sheet.grip_moment || sheet->grip_hold != m->sheet.grip_hold ||
        (sheet->grip_ei > 0) != (m->sheet.grip_ei > 0) || sheet->pegs != m->sheet.pegs ||
        sheet->peg_stiffness != m->sheet.peg_stiffness)
        return fail(err, ERR_RANGE, "Make a new model.",
                    "The sheet has other kinds or counts of part.");
    if (sheet->rim != BODY_RIM_NONE &&
        (sheet->rim_form != m->sheet.rim_form || sheet->rim_set != m->sheet.rim_set ||
         (sheet->rim == BODY_RIM_SEWN &&
          (sheet->rim_e != m->sheet.rim_e || sheet->rim_diameter != m->sheet.rim_diameter))))
        return fail(err, ERR_RANGE, "Make a new model.", "The rim is another one.");
    struct plane_loop loops[1 + BODY_SHEET_HOLES] = {sheet->outline};
    memcpy(loops + 1, sheet->hole, sheet->holes * sizeof *loops);
    if (!same_loop(&sheet->outline, &m->sheet.outline)) {
        struct plane_mesh *moved;
        rc = plane_mesh_morph(&moved, m->reference, loops, 1 + sheet->holes, 18 * M_PI / 180, err);
        if (rc) return rc;
        if (m->mesh != m->reference) plane_mesh_free(m->mesh);
        m->mesh = moved;
        double(*x)[3] = mem_alloc(moved->nv, sizeof *x);
        if (!x) return fail_memory(err);
        for (size_t v = 0; v < moved->nv; v++)
            memcpy(x[v], moved->p[v], sizeof moved->p[v]);
        rc = body_shell_rest(m->shell, (const double(*)[3])x, NULL, err);
        mem_free(x);
        if (!rc) rc = move_rim(m, err);
        if (rc) return rc;
    }
    rc = own(m, sheet, err);
    if (rc) return rc;
    if (sheet->rim == BODY_RIM_TIED) {
        const struct rim_section q = rim_section(sheet);
        body_part_rod_set(m->shell, m->rod, q.ei_normal, q.ei_inplane, q.ea);
        deal_ties(m);
        body_sheet_ties(m, 1, sheet->tie_slack);
    }
    rc = dress(m, err);
    if (!rc) rc = add_laths(m, 1, err);
    if (!rc && m->grip >= 0) {
        double apart =
            hypot(sheet->seat[1][0] - sheet->seat[0][0], sheet->seat[1][1] - sheet->seat[0][1]);
        double slope[2] = {-sheet->grip_slope, -sheet->grip_slope};
        body_part_grip_set(m->shell, m->grip, sheet->grip_chord > 0 ? sheet->grip_chord : apart,
                           slope);
        if (sheet->grip_ei > 0) body_part_grip_bar(m->shell, m->grip, sheet->grip_ei);
    }
    return rc;
}

/* Height towards the viewer of a place, seen from the middle of the sheet: axes of the middle
 * vertex. */
static double height(const struct body_sheet_model *m, size_t v) {
    const double(*x)[3] = body_shell_place(m->shell), *n = body_shell_normal(m->shell)[m->middle];
    double h = 0;
    for (int c = 0; c < 3; c++)
        h += (x[v][c] - x[m->middle][c]) * n[c];
    return h;
}

/* Edge vertices nearest to the ends of the two axes through the middle: 0 right, 1 left, 2 upper, 3
 * lower. */
static void edge_marks(const struct body_sheet_model *m, size_t mark[4]) {
    const double *c = m->mesh->p[m->middle];
    double best[4] = {-INFINITY, -INFINITY, -INFINITY, -INFINITY};
    for (size_t v = 0; v < m->mesh->loop_start[1]; v++) {
        double dx = m->mesh->p[v][0] - c[0], dy = m->mesh->p[v][1] - c[1], r = hypot(dx, dy);
        const double aim[4] = {dx / r, -dx / r, dy / r, -dy / r};
        for (int k = 0; k < 4; k++)
            if (aim[k] > best[k]) {
                best[k] = aim[k];
                mark[k] = v;
            }
    }
}

static double apart(const struct body_sheet_model *m, size_t a, size_t b) {
    const double(*x)[3] = body_shell_place(m->shell);
    return sqrt(pow(x[a][0] - x[b][0], 2) + pow(x[a][1] - x[b][1], 2) + pow(x[a][2] - x[b][2], 2));
}

static void mean_curvature(const struct body_sheet_model *m, double out[3]) {
    double whole = 0, sum[3] = {0};
    for (size_t f = 0; f < m->mesh->nf; f++) {
        struct body_feel feel;
        double a = body_shell_area(m->shell, f);
        body_shell_feel(m->shell, f, &feel);
        whole += a;
        for (int c = 0; c < 3; c++)
            sum[c] += a * feel.curvature[c];
    }
    for (int c = 0; c < 3; c++)
        sum[c] /= whole;
    body_voigt_turn(out, sum, m->sheet.grain);
    for (int c = 0; c < 3; c++)
        out[c] = -out[c]; /* towards the viewer */
}

/* Stiffness under a hand: the edge rests on a table (no way along the middle's normal, taken as z),
 * the patch in the middle is pressed; from the tangent at this equilibrium. */
static int patch_stiffness(struct body_sheet_model *m, double *out, struct error *err) {
    size_t n = body_shell_unknowns(m->shell);
    double *h = MEM_NEW(double, n), *a = MEM_NEW(double, n),
           radius = m->sheet.patch_radius > 0 ? m->sheet.patch_radius : 45;
    double weight = 0, way = 0;
    int rc = h && a ? 0 : fail_memory(err);
    const double *c = m->mesh->p[m->middle];
    for (size_t f = 0; !rc && f < m->mesh->nf; f++)
        for (int i = 0; i < 3; i++) {
            size_t v = (size_t)m->mesh->tri[f][i];
            if (hypot(m->mesh->p[v][0] - c[0], m->mesh->p[v][1] - c[1]) > radius) continue;
            h[5 * v + 2] += body_shell_area(m->shell, f);
            weight += body_shell_area(m->shell, f);
        }
    for (size_t i = 0; !rc && i < n; i++)
        h[i] /= weight;
    if (!rc) {
        body_shell_unfix(m->shell);
        for (size_t v = 0; v < m->mesh->loop_start[1]; v++)
            body_shell_fix(m->shell, v, BODY_FIX_Z);
        size_t mark[4];
        edge_marks(m, mark);
        body_shell_fix(m->shell, mark[0], BODY_FIX_Y);
        body_shell_fix(m->shell, mark[1], BODY_FIX_X | BODY_FIX_Y);
        rc = body_equilibrium_adjoint(a, m->shell, h, err);
        for (size_t i = 0; !rc && i < n; i++)
            way += h[i] * a[i];
        body_shell_unfix(m->shell);
    }
    *out = way > 0 ? 1 / way : NAN;
    mem_free(h);
    mem_free(a);
    return rc;
}

/* Supports that only take away rigid motion, at the middle. */
static void hold(struct body_sheet_model *m) {
    size_t mark[4];
    body_shell_unfix(m->shell);
    edge_marks(m, mark);
    body_shell_fix(m->shell, m->middle, BODY_FIX_ALL);
    body_shell_fix(m->shell, mark[0], BODY_FIX_Y);
}

static double whole_mass(const struct body_sheet_model *m) {
    const struct body_sheet *s = &m->sheet;
    double g = body_shell_mass(m->shell);
    for (size_t k = 0; k < s->laths; k++) {
        struct body_lath b;
        if (lath_of(m, k, &b, NULL) == 0) g += b.mass * hypot(b.b[0] - b.a[0], b.b[1] - b.a[1]);
    }
    g += s->other_mass;
    if (s->rim == BODY_RIM_NONE) return g;
    size_t n = m->mesh->loop_start[1];
    double round = 0;
    for (size_t i = 0; i < n; i++)
        round += hypot(m->mesh->p[(i + 1) % n][0] - m->mesh->p[i][0],
                       m->mesh->p[(i + 1) % n][1] - m->mesh->p[i][1]);
    return g + round * s->rim_density * rim_section(s).area;
}

/* t* = (12 D22 s / (E b))^(1/3): lath spacing s and width b, from E b t^3 / 12 = D22 s. */
static double equal_thickness(const struct body_sheet_model *m) {
    const struct body_sheet *s = &m->sheet;
    struct body_laminate l;
    if (s->laths == 0 || body_laminate_make(&l, s->layer, s->layers, NULL)) return 0;
    const struct body_sheet_lath *one = &s->lath[0];
    double turned = atan2(one->to[1] - one->from[1], one->to[0] - one->from[0]) + M_PI / 2;
    double spacing = extent(&s->outline, turned) / (double)s->laths;
    double a = turned - M_PI / 2 - s->grain, c = cos(a),
           q = sin(a); /* the sheet's stiffness along the laths */
    double d = l.d[0] * pow(c, 4) + 2 * (l.d[1] + 2 * l.d[8]) * c * c * q * q + l.d[4] * pow(q, 4);
    return cbrt(12 * d * spacing / (one->e * one->width));
}

void body_sheet_hold(struct body_sheet_model *m) {
    hold(m);
}

void body_sheet_parts(const struct body_sheet_model *m, size_t *laths, size_t *parts) {
    *laths = m->sheet.laths;
    *parts = body_part_count(m->shell);
}

int body_sheet_grip(const struct body_sheet_model *m) {
    return m->grip;
}

void body_sheet_look(const struct body_sheet_model *m, struct body_sheet_out *out) {
    memset(out, 0, sizeof *out);
    size_t mark[4];
    edge_marks(m, mark);
    mean_curvature(m, out->curvature);
    out->rise = -(height(m, mark[2]) + height(m, mark[3])) / 2;
    out->end_rise = -(height(m, mark[0]) + height(m, mark[1])) / 2;
    double lo = INFINITY, hi = -INFINITY;
    for (size_t v = 0; v < m->mesh->loop_start[1]; v++) {
        lo = fmin(lo, height(m, v));
        hi = fmax(hi, height(m, v));
    }
    out->edge_lift = hi - lo;
    out->length = apart(m, mark[0], mark[1]);
    out->width = apart(m, mark[2], mark[3]);
    out->twist = -out->curvature[2] / 2 * extent(&m->sheet.outline, 0);
}

int body_sheet_solve(struct body_sheet_model *m, struct body_sheet_out *out, struct error *err) {
    struct body_solve solve = {0};
    memset(out, 0, sizeof *out);
    body_shell_reset(m->shell);
    hold(m);
    int rc = m->pockets
                 ? body_pocket_settle(m->shell, m->pocket, m->pockets, NULL, &solve, NULL, err)
                 : body_equilibrium(&solve, m->shell, NULL, err);
    if (rc) return rc;
    body_sheet_look(m, out);
    out->solve = solve;
    out->energy = out->solve.energy;
    out->mass = whole_mass(m);
    out->equal_lath = equal_thickness(m);
    for (size_t k = 0; k < m->sheet.laths; k++) {
        double pull = 0, moment = 0;
        body_part_line(m->shell, m->lath[k], NULL, NULL, &pull, &moment);
        out->lath_moment = fmax(out->lath_moment, fabs(moment));
        out->lath_pull = fmax(out->lath_pull, fabs(pull));
    }
    for (size_t k = 0; k < m->pockets; k++)
        out->laths_sliding += (size_t)m->pocket[k].slipped;
    out->tie_force = body_sheet_tie_force(m);
    rc = patch_stiffness(m, &out->stiffness, err);
    hold(m);
    return rc;
}

struct body_shell *body_sheet_shell(struct body_sheet_model *m) {
    return m->shell;
}
const struct plane_mesh *body_sheet_mesh(const struct body_sheet_model *m) {
    return m->mesh;
}

/* The sheet as it was made with one number multiplied. */
static void scaled(struct body_sheet_model *m, const struct body_sheet *made,
                   const struct body_sheet_lath *lath, enum body_sheet_number which, double f) {
    struct body_sheet *s = &m->sheet;
    *s = *made;
    for (size_t k = 0; k < s->layers; k++) {
        struct body_ply *p = &s->layer[k];
        if (which == BODY_SHEET_THICKNESS) p->thickness *= f;
        if (which == BODY_SHEET_ALONG) p->e1 *= f;
        if (which == BODY_SHEET_ACROSS) { /* the other Poisson's ratio stays */
            p->e2 *= f;
            p->nu12 /= f;
        }
        if (which == BODY_SHEET_SHEAR) p->g12 *= f;
    }
    for (int c = 0; c < 3; c++)
        if (which == BODY_SHEET_CURVATURE) s->curvature[c] *= f;
    for (size_t k = 0; k < s->laths; k++) {
        m->own[k] = lath[k];
        if (which == BODY_SHEET_LATH) m->own[k].thickness *= f;
        if (which == BODY_SHEET_LATH_E) m->own[k].e *= f;
    }
}

int body_sheet_sensitivity(struct body_sheet_model *m, double rise[BODY_SHEET_NUMBERS],
                           struct error *err) {
    size_t n = body_shell_unknowns(m->shell), mark[4];
    double *h = MEM_NEW(double, n), *a = MEM_NEW(double, n),
           *g[2] = {MEM_NEW(double, n), MEM_NEW(double, n)};
    const struct body_sheet sheet = m->sheet;
    struct body_sheet_lath *lath = MEM_NEW(struct body_sheet_lath, sheet.laths + 1);
    struct body_state *at = NULL;
    int rc =
        h && a && g[0] && g[1] && lath ? body_state_save(&at, m->shell, err) : fail_memory(err);
    for (size_t k = 0; lath && k < sheet.laths; k++)
        lath[k] = m->own[k];
    if (!rc) {
        hold(m);
        edge_marks(m, mark);
        const double *up = body_shell_normal(m->shell)[m->middle];
        for (int k = 2; k < 4; k++)
            for (int c = 0; c < 3; c++)
                h[5 * mark[k] + (size_t)c] -= up[c] / 2;
        rc = body_equilibrium_adjoint(a, m->shell, h, err);
    }
    const double step = 1e-4;
    for (int p = 0; p < BODY_SHEET_NUMBERS && !rc; p++) {
        rise[p] = 0;
        for (int side = 0; side < 2 && !rc; side++) {
            scaled(m, &sheet, lath, (enum body_sheet_number)p, 1 + (side ? step : -step));
            rc = dress(m, err);
            if (!rc && sheet.laths && p >= BODY_SHEET_LATH) rc = add_laths(m, 1, err);
            body_state_load(m->shell, at);
            if (!rc) rc = body_shell_gradient(m->shell, g[side], err);
        }
        for (size_t i = 0; i < n && !rc; i++)
            rise[p] -= a[i] * (g[1][i] - g[0][i]) / (2 * step);
    }
    if (lath) scaled(m, &sheet, lath, BODY_SHEET_NUMBERS, 1); /* back as it was */
    if (!rc) rc = dress(m, err);
    if (!rc && sheet.laths) rc = add_laths(m, 1, err);
    if (at) body_state_load(m->shell, at);
    body_state_free(at);
    mem_free(h);
    mem_free(a);
    mem_free(g[0]);
    mem_free(g[1]);
    mem_free(lath);
    return rc;
}
