#include "gather/poles.h"

#include <math.h>
#include <string.h>

struct pole_options gather_pole_options(void) {
    return (struct pole_options){.saw = 3, .cleft = 2, .usable = 0.67, .bark = 2};
}

bool gather_same_genus(const char *a, const char *b) {
    if (!a || !b || !*a || !*b) return false;
    size_t n = strcspn(a, " ");
    return n == strcspn(b, " ") && strncmp(a, b, n) == 0;
}

double gather_wood_across(const struct stem *s, double height, double bark) {
    double at = isnan(s->girth_height) ? 1300 : s->girth_height,
           taper = isnan(s->taper) ? 0 : s->taper / 1000;
    double t = isnan(s->bark_thickness) ? bark : s->bark_thickness;
    return fmax(0, s->girth / M_PI - taper * (height - at) - 2 * t);
}

long gather_pole_blanks(double diameter, double width, double thickness, double cleft) {
    double r = diameter / 2;
    long n = 0;
    for (int row = 1; width > 0 && thickness > 0; row++) {
        double outer = row * (thickness + cleft); /* half the pith's own cleft is in the first */
        if (outer >= r) break;
        double chord = 2 * sqrt(r * r - outer * outer);
        long side = (long)floor((chord + cleft) / (width + cleft) + 1e-9);
        if (side <= 0) break;
        n += 2 * side;
    }
    return n;
}

/* ---- what is wanted ---- */

bool gather_is_stick(const struct need *n) {
    static const char *const sticks[] = {"lath", "rod", "rim", "grip", "peg"};
    for (size_t i = 0; n->what && i < sizeof sticks / sizeof sticks[0]; i++)
        if (!strcmp(n->what, sticks[i])) return n->length > 0 && n->width > 0;
    return false;
}

static double thick(const struct need *n) {
    return n->thickness > 0 ? n->thickness : n->width;
}

/* As thick as wide, within a fifth: a shoot in the round. */
static bool is_round(const struct need *n) {
    return thick(n) > 0.8 * n->width && (!strcmp(n->what, "rod") || !strcmp(n->what, "rim"));
}

/* A shoot serves for a round stick when it has its thickness and no more than half as much again.
 */
static long blanks_of(const struct need *n, double across, double cleft) {
    if (is_round(n)) return across >= n->width && across <= 1.5 * n->width ? 1 : 0;
    return gather_pole_blanks(across, n->width, thick(n), cleft);
}

static double usable_of(const struct need *n, long blanks, const struct pole_options *o) {
    return is_round(n) ? (double)blanks : o->usable * (double)blanks;
}

/* ---- one pole ---- */

struct cleaver {
    struct pole_plan *out;
    const struct need_list *needs;
    const struct pole_options *o;
    double *want; /* [needs] pieces still wanted */
    size_t room;
    struct arena *arena;
};

/* The stick to cut next from here: of those that fit, the widest, then the longest. */
static size_t next_stick(const struct cleaver *c, const struct stem *s, double z, double room) {
    size_t best = c->needs->n;
    for (size_t i = 0; i < c->needs->n; i++) {
        const struct need *n = &c->needs->need[i],
                          *b = best < c->needs->n ? &c->needs->need[best] : NULL;
        if (!(c->want[i] > 1e-9) || !gather_is_stick(n) || n->length > room ||
            !gather_same_genus(s->species, n->species))
            continue;
        double top = gather_wood_across(s, s->clear_from + z + n->length, c->o->bark);
        if (blanks_of(n, top, c->o->cleft) <= 0) continue;
        if (!b || n->width > b->width || (n->width == b->width && n->length > b->length)) best = i;
    }
    return best;
}

/* Where the stretch free of faults that begins at z ends; *z is moved past a fault it lies in. */
static double stretch(double *z, const struct stem *s, const struct stem_fault *faults, size_t n) {
    double end = s->clear_length;
    for (size_t k = 0; k < n; k++) /* faults come in any order: a pass for each that may move z */
        for (size_t f = 0; f < n; f++) {
            if (!faults[f].stem || strcmp(faults[f].stem, s->id)) continue;
            double low = faults[f].height - s->clear_from,
                   high = low + (faults[f].length > 0 ? faults[f].length : 0);
            if (*z >= low && *z < high) *z = high;
        }
    for (size_t f = 0; f < n; f++) {
        double low = faults[f].height - s->clear_from;
        if (faults[f].stem && !strcmp(faults[f].stem, s->id) && low >= *z && low < end) end = low;
    }
    return end;
}

/* mm3 of wood between two heights above the clear length's lower end: a cone's frustum. */
static double wood(const struct cleaver *c, const struct stem *s, double from, double to) {
    double a = gather_wood_across(s, s->clear_from + from, c->o->bark) / 2,
           b = gather_wood_across(s, s->clear_from + to, c->o->bark) / 2;
    return M_PI * (to - from) * (a * a + a * b + b * b) / 3;
}

static bool wants_more(const struct cleaver *c, const struct stem *s) {
    for (size_t i = 0; i < c->needs->n; i++)
        if (c->want[i] > 1e-9 && gather_is_stick(&c->needs->need[i]) &&
            gather_same_genus(s->species, c->needs->need[i].species))
            return true;
    return false;
}

static void cleave(struct cleaver *c, const struct stem *s, size_t index,
                   const struct stem_fault *faults, size_t n_faults) {
    double z = 0, in_blanks = 0, over = 0;
    size_t first = c->out->n;
    while (z < s->clear_length) {
        double end = stretch(&z, s, faults, n_faults);
        size_t i = next_stick(c, s, z, end - z);
        if (i == c->needs->n || c->out->n == c->room) {
            over = fmax(over, end - z);
            if (end >= s->clear_length) break;
            z = fmax(end, z + 1e-6); /* on past the fault */
            continue;
        }
        const struct need *n = &c->needs->need[i];
        double top = gather_wood_across(s, s->clear_from + z + n->length, c->o->bark);
        long blanks = blanks_of(n, top, c->o->cleft);
        double usable = usable_of(n, blanks, c->o);
        double taken = fmin(usable, c->want[i]), rest = usable - taken;
        const char *serves = arena_strdup(c->arena, n->part ? n->part : n->what);
        c->want[i] -= taken;
        in_blanks += taken * n->length * n->width * thick(n);
        /* what is over serves shorter sticks of the same section */
        for (size_t k = 0; k < c->needs->n && rest > 1e-9; k++) {
            const struct need *m = &c->needs->need[k];
            if (k == i || !gather_is_stick(m) || !gather_same_genus(m->species, n->species) ||
                m->length > n->length || m->width != n->width || thick(m) != thick(n))
                continue;
            double more = fmin(rest, fmax(0, c->want[k]));
            if (more > 0 && serves) serves = arena_printf(c->arena, "%s, %s", serves, m->part);
            c->want[k] -= more;
            rest -= more;
            in_blanks += more * m->length * m->width * thick(m);
        }
        if (!serves) c->out->say = NULL; /* no memory: told at the end */
        c->out->bolt[c->out->n++] =
            (struct pole_bolt){index, i, z, n->length, top, blanks, usable, serves};
        z += n->length + c->o->saw;
    }
    size_t k = c->out->poles++;
    double all = wood(c, s, 0, s->clear_length);
    c->out->pole[k] = index;
    c->out->left[k] = fmax(0, over);
    c->out->used[k] = all > 0 ? in_blanks / all : 0;
    c->out->none[k] = c->out->n > first  ? ""
                      : wants_more(c, s) ? "None: too thin, too thick or too short for what is "
                                           "still wanted of its wood."
                                         : "None is wanted of it: the poles before it give all.";
}

/* ---- all ---- */

static bool add_say(struct pole_plan *out, struct arena *arena, const char *text) {
    out->say = text ? arena_printf(arena, "%s%s", out->say, text) : NULL;
    return out->say != NULL;
}

static bool usable_pole(struct pole_plan *out, const struct stem *s, struct arena *arena) {
    if (s->kind == STEM_LIVING || !(s->girth > 0) || !(s->clear_length > 0)) return false;
    if (s->consent == CONSENT_GIVEN) return true;
    add_say(out, arena,
            arena_printf(arena, "%s is left out. %s", s->id, gather_consent_gap(s->consent)));
    return false;
}

/* Sticks of one wood and section that are missing too are named together, by the longest. */
static bool goes_with(const struct need *a, const struct need *b) {
    return gather_same_genus(a->species, b->species) && fabs(a->width - b->width) < 0.05 &&
           fabs(thick(a) - thick(b)) < 0.05 && is_round(a) == is_round(b);
}

static int tell_missing(struct pole_plan *out, const struct need_list *needs, const double *want,
                        struct arena *arena, struct error *err) {
    for (size_t i = 0; i < needs->n; i++)
        out->missing[i] = gather_is_stick(&needs->need[i]) ? fmax(0, ceil(want[i] - 1e-6)) : 0;
    for (size_t i = 0; i < needs->n; i++) {
        const struct need *n = &needs->need[i];
        bool told = !(out->missing[i] > 0);
        for (size_t k = 0; k < i && !told; k++)
            told = out->missing[k] > 0 && goes_with(&needs->need[k], n);
        if (told) continue;
        const char *wood = n->species && *n->species ? n->species : "its wood", *names = "";
        double length = 0;
        for (size_t k = i; k < needs->n && names; k++) {
            if (!(out->missing[k] > 0) || !goes_with(n, &needs->need[k])) continue;
            length = fmax(length, needs->need[k].length);
            names = arena_printf(arena, "%s%s%.0f of %s", names, *names ? ", " : "",
                                 out->missing[k], needs->need[k].part);
        }
        char *text =
            !names ? NULL
            : is_round(n)
                ? arena_printf(arena,
                               "Still wanted: %s: shoots of %s, %.0f mm thick, up to %.0f "
                               "long. ",
                               names, wood, n->width, length)
                : arena_printf(arena,
                               "Still wanted: %s: a straight pole of %s from which %.0f by %.0f mm "
                               "can be cleft, up to %.0f long. ",
                               names, wood, n->width, thick(n), length);
        if (!add_say(out, arena, text)) return fail_memory(err);
    }
    return 0;
}

int gather_poles(struct pole_plan *out, const struct need_list *needs, const struct stem *stems,
                 size_t n_stems, const struct stem_fault *faults, size_t n_faults,
                 const struct pole_options *options, struct arena *arena, struct error *err) {
    struct pole_options usual = gather_pole_options();
    struct cleaver c = {
        .out = out, .needs = needs, .o = options ? options : &usual, .room = 400, .arena = arena};
    *out = (struct pole_plan){.say = ""};
    out->bolt = ARENA_NEW(arena, struct pole_bolt, c.room);
    out->pole = ARENA_NEW(arena, size_t, n_stems);
    out->left = ARENA_NEW(arena, double, n_stems);
    out->used = ARENA_NEW(arena, double, n_stems);
    out->none = (const char **)ARENA_NEW(arena, char *, n_stems);
    out->missing = ARENA_NEW(arena, double, needs->n);
    c.want = ARENA_NEW(arena, double, needs->n);
    if (!out->bolt || !out->pole || !out->left || !out->used || !out->none || !out->missing ||
        !c.want)
        return fail_memory(err);
    for (size_t i = 0; i < needs->n; i++)
        c.want[i] =
            gather_is_stick(&needs->need[i]) && needs->need[i].get > 0 ? needs->need[i].get : 0;
    for (size_t i = 0; i < n_stems && out->say; i++) {
        bool serves = false;
        for (size_t k = 0; k < needs->n; k++)
            serves |= gather_is_stick(&needs->need[k]) &&
                      gather_same_genus(stems[i].species, needs->need[k].species);
        if (serves && usable_pole(out, &stems[i], arena))
            cleave(&c, &stems[i], i, faults, n_faults);
    }
    return out->say ? tell_missing(out, needs, c.want, arena, err) : fail_memory(err);
}
