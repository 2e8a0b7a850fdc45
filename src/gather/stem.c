#include "gather/stem.h"

#include "gather/day.h"
#include "gather/describe.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_fit.h>
#include <math.h>
#include <string.h>

const char *const stem_kind_words[] = {"living tree", "coppice pole", "cut stem", "wind-thrown",
                                       NULL};
const char *const consent_words[] = {"not asked", "asked", "given", "refused", "withdrawn", NULL};
const char *const fault_words[] = {"branch", "fissure", "scar", "knot", "rot", "other", NULL};
const char *const slip_words[] = {"does not slip", "slips in part", "slips", NULL};
const char *const crown_words[] = {"full", "thin", "dead twigs", "dying", NULL};
const char *const healing_words[] = {"as expected", "slower than expected", "faster than expected",
                                     "cannot tell yet", NULL};

/* Wording of trade reference R09 (tree-care advice, no trial data): the program shows it as advice.
 */
const char *const harm_words[] = {
    "no living tree is harmed",
    "usually recovers (under 25 % of the girth)",
    "damaged; may live with care (25 to 50 % of the girth)",
    "poor outlook (over 50 % of the girth)",
    "a full ring kills the stem above it",
    "the pole is gone; the stool shoots again when cut in winter and kept from browsing",
    NULL};

const char *const permit_words[] = {"owner's consent", "owner's consent and a named approval",
                                    "refused: over half the girth of a living tree", NULL};

/* Usual: wound width of oriental beech, 18.4 +- 3.4 mm a year, both edges together (logging wounds,
 * 5 years; Univ. of Padua repository 3396935). Slow: shade trees of modest growth closed 9.5 mm in
 * a season (Neely 1979, J. Arboriculture 5, 135). Fast: 18.4 + 3.4. Reference tree table. */
const struct closing gather_closing_default = {
    9.5, 18.4, 18.4 + 3.4,
    "oriental beech 18.4 +- 3.4 mm/yr (Univ. of Padua 3396935); Neely 1979, J. Arboric. 5, 135"};

/* Shares at which the wording of R09 changes and a name or a refusal is asked for. */
static const double quarter = 0.25, half_girth = 0.50;

/* ---- kinds ------------------------------------------------------------------------------------
 */

static const struct field stem_fields[] = {
    F_ID(stem, "Short name of the stem, as chalked on it."),
    F_TEXT(stem, species, "Species", "Latin name or genus."),
    {AT(stem, kind), .label = "Kind", .type = FIELD_CHOICE, .choices = stem_kind_words,
     .required = true, .help = "A living tree is spared; a pole, cut or thrown stem gives all."},
    F_MM(stem, girth, "Girth", "Tape round the stem over bark."),
    {AT(stem, girth_height), .label = "At height", .unit = "mm", .type = FIELD_REAL, .max = 60000,
     .preset = "1300", .help = "Height of the tape above ground; breast height is 1,300 mm."},
    {AT(stem, clear_from), .label = "Clean from", .unit = "mm", .type = FIELD_REAL, .max = 60000,
     .preset = "300", .help = "Height above ground where usable bark begins."},
    F_MM(stem, clear_length, "Clean length", "Length of stem without branches above that."),
    {AT(stem, taper), .label = "Taper", .unit = "mm/m", .type = FIELD_REAL, .max = 100,
     .preset = "10", .help = "Diameter lost per metre of height; 5 to 15 on a clean lower stem."},
    {AT(stem, bark_thickness), .label = "Bark", .unit = "mm", .type = FIELD_REAL, .max = 100,
     .above_min = true, .help = "Thickness of the fresh bark; leave empty when not measured."},
    F_TEXT(stem, health, "Health", "Crown, fungus, disease signs."),
    F_TEXT(stem, owner, "Owner", "Who was asked; private."),
    F_CHOICE(stem, consent, "Consent", consent_words, "Of the owner; needed before any cut."),
    F_TEXT(stem, place, "Place", "Kept coarse: a wood or a parish, never a grid point."),
    F_TEXT(stem, approval, "Approval", "Name and date of who approves taking over a quarter."),
    F_DATE(stem, nests_checked, "Nests checked", "Day of the nest check."),
    F_TEXT(stem, note, "Note", "Anything else."),
};
const struct kind stem_kind_kind = {"stem", "A tree, pole or stem", sizeof(struct stem),
                                    FIELDS(stem_fields), "Where bark, laths and rods come from."};

static const struct field fault_fields[] = {
    F_ID(stem_fault, "Short name."),
    F_REFERS(stem_fault, stem, "Stem", "stem", "The stem it is on."),
    F_CHOICE(stem_fault, kind, "Kind", fault_words, "What it is."),
    F_MM(stem_fault, height, "Height", "Of its lower end above ground."),
    F_MM(stem_fault, around, "Round", "From the chalk line to its left edge, round the bark."),
    F_MM(stem_fault, length, "Length", "Along the stem; it must be above 0."),
    F_MM(stem_fault, width, "Width", "Round the stem; it must be above 0."),
};
const struct kind stem_fault_kind = {"stem_fault", "A fault on a stem", sizeof(struct stem_fault),
                                     FIELDS(fault_fields), "No part is laid over a fault."};

static const struct field peel_fields[] = {
    F_ID(test_peel, "Short name."),
    F_REFERS(test_peel, stem, "Stem", "stem", "The stem it was tried on."),
    {AT(test_peel, date), .label = "Day", .type = FIELD_DATE, .required = true, .help = "When."},
    F_CHOICE(test_peel, slips, "Slips", slip_words, "Whether the flap lifts clean from the wood."),
    F_FLAG(test_peel, drought, "Drought", "Dry weeks before."),
    F_FLAG(test_peel, bends, "Bends", "The flap bent both ways without splitting."),
    F_TEXT(test_peel, note, "Note", "Anything else."),
};
const struct kind test_peel_kind = {"test_peel", "A test peel", sizeof(struct test_peel),
                                    FIELDS(peel_fields), "Does it slip today?"};

static const struct field visit_fields[] = {
    F_ID(stem_visit, "Short name."),
    F_REFERS(stem_visit, stem, "Stem", "stem", "The stem visited."),
    {AT(stem_visit, date), .label = "Day", .type = FIELD_DATE, .required = true, .help = "When."},
    F_MM(stem_visit, wound_width, "Open width", "Of bare wood at the widest place."),
    F_MM(stem_visit, callus_left, "Callus left", "Grown in from the left edge."),
    F_MM(stem_visit, callus_right, "Callus right", "Grown in from the right edge."),
    F_MM(stem_visit, callus_foot, "Callus foot", "Grown up from the foot."),
    F_CHOICE(stem_visit, crown, "Crown", crown_words, "How the crown looks."),
    F_TEXT(stem_visit, note, "Note", "Anything else."),
};
const struct kind stem_visit_kind = {"stem_visit", "A visit in a later year",
                                     sizeof(struct stem_visit), FIELDS(visit_fields),
                                     "Three yearly visits are common practice."};

/* ---- sheet ------------------------------------------------------------------------------------
 */

static int check_share(double v, const char *what, struct error *err) {
    if (v >= 0 && v < 0.9) return 0;
    return fail(err, ERR_RANGE, "Give it in percent of the fresh size, from 0 to 90.",
                "Shrinkage %s: %g %%.", what, 100 * v);
}

int gather_sheet_cut(double *around, double *along, const struct sheet_want *w, struct error *err) {
    static const char remedy[] = "Give the finished size in mm, above 0.";
    if (!(w->around > 0 && w->around < 1e5) || !(w->along > 0 && w->along < 1e5))
        return fail(err, ERR_RANGE, remedy, "A sheet of %g across by %g along mm.", w->around,
                    w->along);
    if (check_share(w->shrink_around, "around", err) || check_share(w->shrink_along, "along", err))
        return ERR_RANGE;
    if (!(w->trim_around >= 0 && w->trim_along >= 0))
        return fail(err, ERR_RANGE, "Give the trim of one side in mm.", "Trim %g and %g mm.",
                    w->trim_around, w->trim_along);
    if (!(w->thickness > 0 && w->thickness < 100))
        return fail(err, ERR_RANGE,
                    "Measure the bark at a cut edge, or use the range of the tables.",
                    "Bark %g mm thick; it must be above 0 and under 100.", w->thickness);
    /* 1e-9: what is a whole millimetre up to rounding stays one */
    *around = ceil(w->around / (1 - w->shrink_around) + 2 * w->trim_around - 1e-9);
    *along = ceil(w->along / (1 - w->shrink_along) + 2 * w->trim_along - 1e-9);
    return 0;
}

enum harm gather_harm(enum stem_kind kind, double share) {
    if (kind == STEM_POLE) return HARM_STOOL;
    if (kind != STEM_LIVING) return HARM_NONE;
    if (share >= 0.999) return HARM_DIES; /* a ring closed but for a thread */
    return share > half_girth ? HARM_POOR : share > quarter ? HARM_DAMAGED : HARM_RECOVERS;
}

enum permit gather_permit(enum stem_kind kind, double share) {
    if (kind != STEM_LIVING) return PERMIT_OWNER;
    /* 1e-9: a quarter typed as 25 % is a quarter */
    return share > half_girth + 1e-9 ? PERMIT_REFUSED
           : share > quarter + 1e-9  ? PERMIT_APPROVAL
                                     : PERMIT_OWNER;
}

static const char *conflict_of(enum stem_kind kind) {
    switch (kind) {
    case STEM_LIVING:
        return "Bark slips in early summer, when birds nest (check March to August).";
    case STEM_POLE:
        return "A stool is best cut in winter, but bark slips in early summer, and birds nest "
               "then: "
               "cut the pole in early summer and lose vigour, or cut in winter and peel hard.";
    case STEM_CUT:
        return "Bark slips only from a stem cut in early summer and peeled within days; a stem cut "
               "in winter holds its bark.";
    default:
        return "A thrown stem slips only while its roots still feed it and in early summer; stems "
               "under tension are for trained people.";
    }
}

static void closing_years(double width, const struct closing *c, double *usual, double *fast,
                          double *slow) {
    *usual = width / c->usual;
    *fast = width / c->fast;
    *slow = width / c->slow;
}

static struct stem_route route(const char *what, enum stem_kind kind, double share, double pieces,
                               double around, double thickness, const struct closing *c) {
    struct stem_route r = {
        .what = what, .kind = stem_kind_words[kind], .pieces = pieces, .share = share};
    r.girth_mid = around / share;
    r.girth = r.girth_mid + M_PI * thickness; /* R13: over bark is larger by pi x thickness */
    r.diameter = r.girth / M_PI;
    /* Unrolling a sheet of radius r strains its faces by t/(2 r) about mid thickness; thickness
     * over diameter, here over bark as the trade reference reckons it (a twentieth less at most).
     */
    r.strain = thickness / r.diameter;
    bool lives = kind == STEM_LIVING;
    r.wound_width = lives ? around : 0;
    if (lives) closing_years(around, c, &r.close_usual, &r.close_fast, &r.close_slow);
    r.harm = harm_words[gather_harm(kind, share)];
    r.permit = permit_words[gather_permit(kind, share)];
    r.conflict = conflict_of(kind);
    return r;
}

int gather_stem_routes(struct stem_route *out, size_t *n, const struct sheet_want *want,
                       const struct closing *c, struct arena *arena, struct error *err) {
    (void)arena;
    double around, along;
    *n = 0;
    int rc = gather_sheet_cut(&around, &along, want, err);
    if (rc) return rc;
    /* Two sheets joined by a seam overlap by the trim: each is half the finished width, shrunk and
     * trimmed like the whole. */
    struct sheet_want part = *want;
    part.around = want->around / 2;
    double half_around, half_along;
    if ((rc = gather_sheet_cut(&half_around, &half_along, &part, err))) return rc;
    double t = want->thickness;
    out[(*n)++] =
        route("A living tree, a quarter of its girth", STEM_LIVING, 0.25, 1, around, t, c);
    out[(*n)++] = route("A living tree, a third of its girth", STEM_LIVING, 0.33, 1, around, t, c);
    out[(*n)++] = route("Two living trees and a seam, a quarter of each", STEM_LIVING, 0.25, 2,
                        half_around, t, c);
    out[(*n)++] = route("A cut stem, the whole sleeve", STEM_CUT, 1, 1, around, t, c);
    out[(*n)++] =
        route("One pole thinned from a stool, the whole sleeve", STEM_POLE, 1, 1, around, t, c);
    out[(*n)++] = route("Two cut poles and a seam", STEM_POLE, 1, 2, half_around, t, c);
    out[(*n)++] = route("A wind-thrown or felled tree, three quarters of the girth", STEM_THROWN,
                        0.75, 1, around, t, c);
    return 0;
}

/* Girth over bark at a height, by the straight taper of a clean lower stem. */
static double girth_at(const struct stem *s, double height) {
    double taper = isnan(s->taper) ? 0 : s->taper / 1000; /* mm a m -> mm a mm */
    return s->girth - M_PI * taper * (height - s->girth_height);
}

static int check_stem(const struct stem *s, struct error *err) {
    if (!(s->girth > 50 && s->girth < 2e4))
        return fail(err, ERR_RANGE, "Put a tape round the stem over bark and enter mm.",
                    "Stem %s: girth %g mm; it must lie between 50 and 20,000.", s->id ? s->id : "",
                    s->girth);
    if (!(s->clear_length > 0))
        return fail(err, ERR_MISSING, "Measure the clean length up to the first branch.",
                    "Stem %s has no clean length.", s->id ? s->id : "");
    double top = s->clear_from + s->clear_length;
    if (!(girth_at(s, top) > 0.2 * s->girth))
        return fail(err, ERR_RANGE, "Check taper (mm of diameter per m) and clean length.",
                    "Stem %s would taper to %.0f mm of girth at %.1f m.", s->id ? s->id : "",
                    girth_at(s, top), top / 1000);
    return 0;
}

static const char *what_else(const struct stem *s, const struct sheet_want *want, double around,
                             struct arena *arena) {
    double t = want->thickness, quarter_tree = (around / quarter) / M_PI + t;
    return arena_printf(arena,
                        "%sOther ways: a tree of %.0f mm diameter at a quarter of its girth; two "
                        "sheets and a seam; a cut or thinned stem of %.0f mm, whole.",
                        s->kind == STEM_LIVING ? "" : "Harm to a living tree is avoided. ",
                        quarter_tree, around / M_PI + t);
}

const char *gather_consent_gap(long consent) {
    return consent == CONSENT_GIVEN       ? ""
           : consent == CONSENT_REFUSED   ? "The owner has refused. "
           : consent == CONSENT_WITHDRAWN ? "The owner has taken the consent back. "
                                          : "The owner's consent is not on record. ";
}

int gather_stem_answer(struct stem_answer *out, const struct stem *s, const struct sheet_want *want,
                       const struct closing *c, struct arena *arena, struct error *err) {
    *out = (struct stem_answer){0};
    int rc = gather_sheet_cut(&out->around, &out->along, want, err);
    if (!rc) rc = check_stem(s, err);
    if (rc) return rc;
    double top = s->clear_from + fmin(out->along, s->clear_length);
    double over = girth_at(s, top);
    out->top_girth_mid = over - M_PI * want->thickness;
    out->share = out->around / out->top_girth_mid;
    out->strain = want->thickness / (over / M_PI);
    enum stem_kind kind = (enum stem_kind)s->kind;
    enum permit permit = gather_permit(kind, out->share);
    bool wide = out->share <= 1, tall = out->along <= s->clear_length;
    bool named = permit != PERMIT_APPROVAL || (s->approval && *s->approval);
    out->fits = wide && tall && permit != PERMIT_REFUSED;
    if (kind == STEM_LIVING) {
        out->wound_width = out->around;
        closing_years(out->around, c, &out->close_usual, &out->close_fast, &out->close_slow);
    }
    out->harm = harm_words[gather_harm(kind, fmin(out->share, 1))];
    out->permit = permit_words[permit];
    out->conflict = conflict_of(kind);
    out->say = arena_printf(
        arena, "%s%s%s%s%s%s", wide ? "" : "The stem is too thin for one sheet. ",
        tall ? "" : "The clean length is too short. ",
        permit == PERMIT_REFUSED ? "Over half the girth of a living tree: refused. " : "",
        named || permit == PERMIT_REFUSED ? "" : "A named approval is missing. ",
        gather_consent_gap(s->consent), what_else(s, want, out->around, arena));
    return out->say ? 0 : fail_memory(err);
}

/* ---- the unrolled stem ------------------------------------------------------------------------
 */

/* Area of faults that a strip from `start` of width `take` (over bark, mm) would hold. */
static double faults_met(const struct stem_fault *f, size_t n, double start, double take,
                         double girth, double cut) {
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        double at = fmod(f[i].around - start, girth);
        if (at < 0) at += girth;
        double inside = fmin(at + f[i].width, take) - at;
        if (at + f[i].width > girth) inside = fmax(0, inside) + fmin(at + f[i].width - girth, take);
        if (inside > 0) sum += inside * f[i].length;
        /* a whole sleeve is opened along a line: a line through a fault costs nothing more */
        if (cut > 0 && at + f[i].width > girth) sum -= cut * f[i].length;
    }
    return sum;
}

static double best_start(const struct stem_fault *f, size_t n, double take, double girth,
                         bool sleeve) {
    double best = 0, least = INFINITY;
    for (size_t i = 0; i <= 2 * n; i++) { /* candidates: 0, behind each fault, its middle */
        double s = i == 0   ? 0
                   : i <= n ? f[i - 1].around + f[i - 1].width
                            : f[i - n - 1].around + f[i - n - 1].width / 2;
        s = fmod(s, girth);
        double cost = faults_met(f, n, s, take, girth, sleeve ? 1 : 0);
        if (cost < least - 1e-9) {
            least = cost;
            best = s;
        }
    }
    return best;
}

int gather_stem_unroll(struct nest_sheet *out, double *start, const struct stem *s,
                       const struct stem_fault *fault, size_t faults, double share,
                       struct arena *arena, struct error *err) {
    int rc = check_stem(s, err);
    if (rc) return rc;
    if (gather_permit((enum stem_kind)s->kind, share) == PERMIT_REFUSED ||
        !(share > 0 && share <= 1))
        return fail(err, ERR_REFUSED, "Take at most half, or take a stem that is cut anyway.",
                    "Stem %s: %.0f %% of the girth of a living tree.", s->id ? s->id : "",
                    100 * share);
    double t = isnan(s->bark_thickness) ? 0 : s->bark_thickness;
    double low = girth_at(s, s->clear_from), high = girth_at(s, s->clear_from + s->clear_length);
    double mid_low = share * (low - M_PI * t), mid_high = share * (high - M_PI * t);
    *start = best_start(fault, faults, share * low, low, share > 0.999);
    double *ring = ARENA_NEW(arena, double, 8);
    struct nest_ring *hole = ARENA_NEW(arena, struct nest_ring, 2 * faults);
    if (!ring || !hole) return fail_memory(err);
    double drop = (mid_low - mid_high) / 2, l = s->clear_length;
    const double corner[8] = {0, 0, l, drop, l, drop + mid_high, 0, mid_low};
    memcpy(ring, corner, sizeof corner);
    *out = (struct nest_sheet){.name = s->id, .ring = {4, ring}, .fault = hole};
    double squeeze = (low - M_PI * t) / low; /* round the bark -> round mid thickness */
    for (size_t i = 0; i < faults; i++) {
        double x = fault[i].height - s->clear_from, at = fmod(fault[i].around - *start, low);
        if (!(fault[i].length > 0 && fault[i].width > 0) || x > l || x + fault[i].length < 0)
            continue;
        if (at < 0) at += low;
        for (int turn = 0; turn < 2; turn++) { /* a fault over the cut shows at both edges */
            double y0 = (at - turn * low) * squeeze, y1 = y0 + fault[i].width * squeeze;
            if (y1 <= 0 || y0 >= mid_low) continue;
            double *xy = ARENA_NEW(arena, double, 8);
            if (!xy) return fail_memory(err);
            const double box[8] = {x, y0, x + fault[i].length, y0, x + fault[i].length, y1, x, y1};
            memcpy(xy, box, sizeof box);
            hole[out->faults++] = (struct nest_ring){4, xy};
        }
    }
    return 0;
}

/* ---- later years ------------------------------------------------------------------------------
 */

int gather_healing(struct healing_fit *out, const struct stem_visit *v, size_t n,
                   const struct closing *c, struct error *err) {
    *out = (struct healing_fit){.visits = n, .word = HEALING_OPEN, .last_width = NAN};
    double x[64], y[64];
    size_t used = 0;
    long first = 0, last = 0;
    for (size_t i = 0; i < n; i++) {
        if (isnan(v[i].wound_width)) continue;
        if (used == 64)
            return fail(err, ERR_RANGE, "Leave out the oldest.", "More than 64 visits.");
        long day;
        int rc = gather_day_read(&day, v[i].date, err);
        if (rc) return rc;
        if (used == 0) first = last = day;
        if (day >= last) {
            last = day;
            out->last_width = v[i].wound_width;
        }
        x[used] = (double)day / 365.2425;
        y[used++] = v[i].wound_width;
    }
    if (used < 2 || last == first)
        return fail(err, ERR_MISSING, "Visit the tree once more, some months later.",
                    "A closing rate needs two visits on different days; there are %zu.", used);
    for (size_t i = 0; i < used; i++) /* years from the first: centred sums keep their digits */
        x[i] -= (double)first / 365.2425;
    double c0, c1, c00, c01, c11, rss;
    gsl_fit_linear(x, 1, y, 1, used, &c0, &c1, &c00, &c01, &c11, &rss);
    double half = used > 2 ? gsl_cdf_tdist_Pinv(0.975, (double)used - 2) * sqrt(c11) : INFINITY;
    out->visits = used;
    out->rate = -c1;
    out->low = -c1 - half;
    out->high = -c1 + half;
    out->start_width = c0;
    out->years_left = out->last_width <= 0 ? 0
                      : out->rate > 0      ? out->last_width / out->rate
                                           : INFINITY;
    if (used > 2) {
        if (out->high < c->slow)
            out->word = HEALING_SLOW;
        else if (out->low > c->fast)
            out->word = HEALING_FAST;
        else if (out->rate >= c->slow && out->rate <= c->fast)
            out->word = HEALING_EXPECTED;
    }
    return 0;
}

int gather_slip(struct slip_season *out, const struct test_peel *p, size_t n, struct error *err) {
    *out = (struct slip_season){.tried = (long)n};
    long first = 0, last = 0, before = 0, day;
    for (size_t i = 0; i < n; i++) {
        int rc = gather_day_read(&day, p[i].date, err);
        if (rc) return rc;
        if (p[i].slips == SLIP_YES) {
            if (!out->first || day < first) {
                out->first = p[i].date;
                first = day;
            }
            if (!out->last || day > last) {
                out->last = p[i].date;
                last = day;
            }
        } else if (p[i].drought == 1)
            out->drought = 1;
    }
    for (size_t i = 0; i < n; i++) {
        if (gather_day_read(&day, p[i].date, err)) return ERR_INPUT;
        if (p[i].slips == SLIP_NO && (!out->first || day < first) &&
            (!out->before || day > before)) {
            out->before = p[i].date;
            before = day;
        }
    }
    return 0;
}
