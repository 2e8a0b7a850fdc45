#include "remains/stock_take.h"

#include "remains/classify.h"
#include "remains/counts.h"
#include "remains/find_alteration.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { WORD = 48 };

static const char *state_text(const struct measure *m, struct arena *arena) {
    if (m->state < 0 || m->state >= STATE_COUNT) return "state not given";
    if (m->state == STATE_TREATED && m->treatment && *m->treatment)
        return arena_printf(arena, "after %s", m->treatment);
    return state_words[m->state];
}

/* Any measure of a piece, for its state. */
static const struct measure *any_measure(const struct find *find, const struct piece *p) {
    const struct measure *length = find_measure_of(find, p->id, QUANTITY_LENGTH);
    for (size_t i = 0; i < find->measure_count && !length; i++)
        if (strcmp(find->measures[i].piece, p->id) == 0) length = &find->measures[i];
    return length;
}

static const struct piece *first_of_part(const struct find *find, const char *part) {
    char word[WORD];
    for (size_t i = 0; i < find->piece_count; i++) {
        remains_part_word(&find->pieces[i], word, sizeof word);
        if (strcmp(word, part) == 0) return &find->pieces[i];
    }
    return NULL;
}

/* ---- stock ---------------------------------------------------------------------------------- */

static struct stock_line *line_of(struct stock_take *s, const char *part, const char *state) {
    for (size_t i = 0; i < s->line_count; i++)
        if (strcmp(s->lines[i].part, part) == 0 && strcmp(s->lines[i].state, state) == 0)
            return &s->lines[i];
    struct stock_line *l = &s->lines[s->line_count++];
    *l = (struct stock_line){.part = part, .state = state};
    return l;
}

static void remark(struct stock_take *s, const char *about, const char *what, const char *instead) {
    s->remarks[s->remark_count++] = (struct stock_remark){about, what, instead};
}

static int stock_piece(struct stock_take *s, const struct find *find, const struct piece *p,
                       struct arena *arena, struct error *err) {
    const struct measure *m = any_measure(find, p);
    char word[WORD];
    if (p->same_as) {
        s->second_readings++;
        remark(s, p->id,
               arena_printf(arena, "a second reading of %s, not another piece", p->same_as),
               "it is counted once; the two readings together measure the change of size");
        return 0;
    }
    s->pieces++;
    if (p->shape_only == 1) {
        s->shape_only++;
        remark(s, p->id, "no scale: shape only, out of every sum",
               "a known size in the picture would give it one");
        return 0;
    }
    if (p->belongs < 0.9) {
        s->doubtful++;
        remark(s, p->id, "may not belong to the object", "it weighs by how likely it belongs");
    }
    if (!m) {
        remark(s, p->id, "nothing was measured on it", "one size with its state makes it usable");
        return 0;
    }
    if (m->state == FIELD_UNKNOWN)
        remark(s, p->id, "the state it was measured in is not given",
               "ask whoever measured it; until then its sizes stay as they are");
    remains_part_word(p, word, sizeof word);
    const char *part = arena_strdup(arena, word), *state = state_text(m, arena);
    if (!part || !state) return fail_memory(err);
    struct stock_line *l = line_of(s, part, state);
    l->pieces++;
    if (m->quantity != QUANTITY_LENGTH) return 0;
    l->whole += remains_is_complete(p, m);
    l->length += m->value;
    l->longest = fmax(l->longest, m->value);
    return 0;
}

/* Parts that stand in several states: neither added nor averaged. */
static int state_remarks(struct stock_take *s, struct arena *arena, struct error *err) {
    for (size_t i = 0; i < s->line_count; i++) {
        const char *states = s->lines[i].state;
        bool before = false, several = false;
        for (size_t k = 0; k < s->line_count; k++) {
            if (k == i || strcmp(s->lines[k].part, s->lines[i].part) != 0) continue;
            before = before || k < i;
            several = true;
            states = arena_printf(arena, "%s, %s", states, s->lines[k].state);
            if (!states) return fail_memory(err);
        }
        if (before || !several) continue;
        const char *what = arena_printf(
            arena, "measured in several states (%s): no sum and no mean of the raw sizes", states);
        if (!what) return fail_memory(err);
        remark(
            s, s->lines[i].part, what,
            "bring them to one state first (relict compute FILE sizes), or take each state alone");
    }
    return 0;
}

static int say_stock(const struct stock_take *s, const struct find *find,
                     struct statement_set *said, struct arena *arena, struct error *err) {
    struct statement q = statement_blank();
    q.step = "found";
    q.about = "object";
    q.quantity = "pieces";
    q.id = "object.pieces";
    q.footing = FOOTING_SEEN;
    q.sentence = "Number of pieces in the list, second readings left out.";
    q.value = spread_exact((double)s->pieces);
    int rc = 0;
    for (size_t i = 0; !rc && i < find->piece_count; i++)
        if (!find->pieces[i].same_as)
            rc = statement_link_add(&q, "piece", find->pieces[i].id, "counted", arena, err);
    if (!rc && q.rests_on.n) rc = statement_add(said, &q, err);
    for (size_t i = 0; !rc && i < find->piece_count; i++) {
        const struct piece *p = &find->pieces[i];
        if (p->shape_only != 1) continue;
        struct statement t = statement_blank();
        t.step = "found";
        t.about = arena_printf(arena, "piece %s", p->id);
        t.quantity = "scale";
        t.id = arena_printf(arena, "%s.shape_only", p->id);
        t.footing = FOOTING_SEEN;
        t.sentence = arena_printf(arena, "Piece %s is kept as shape only.", p->id);
        t.caution = "no scale: out of every sum";
        t.value = spread_unknown();
        if (!t.about || !t.id || !t.sentence) return fail_memory(err);
        rc = statement_link_add(&t, "piece", p->id, "seen", arena, err);
        if (!rc) rc = statement_add(said, &t, err);
    }
    return rc;
}

int remains_stock_take(struct stock_take *out, const struct find *find, struct statement_set *said,
                       struct arena *arena, struct error *err) {
    size_t n = find->piece_count;
    *out = (struct stock_take){.rows = (long)n, .measures = (long)find->measure_count};
    out->lines = ARENA_NEW(arena, struct stock_line, n + 1);
    out->remarks = ARENA_NEW(arena, struct stock_remark, 4 * n + 1);
    if (!out->lines || !out->remarks) return fail_memory(err);
    for (size_t i = 0; i < n; i++) {
        int rc = stock_piece(out, find, &find->pieces[i], arena, err);
        if (rc) return rc;
    }
    int rc = state_remarks(out, arena, err);
    return rc || !said ? rc : say_stock(out, find, said, arena, err);
}

/* ---- shopping ------------------------------------------------------------------------------- */

/* Widens [low, high] by one reading brought to fresh with the material's own figures. */
static int take_range(double *low, double *high, const struct find *find, const struct piece *p,
                      long quantity, struct arena *arena, struct error *err) {
    const struct measure *m = find_measure_of(find, p->id, quantity);
    struct alteration_prior a;
    if (!m || !remains_is_complete(p, m)) return 0;
    if (m->state == FIELD_UNKNOWN || !*remains_alteration_class(p)) return 0;
    int rc = remains_alteration_prior(&a, find, p, m->state, remains_axis_of(p, m), arena, err);
    if (rc == ERR_MISSING) {
        error_clear(err);
        return 0;
    }
    if (rc) return rc;
    *low = fmin(*low, m->value / (1 - a.p05));
    *high = fmax(*high, m->value / (1 - a.p95));
    return 0;
}

/* Counts of one part, roughly: as the sizes do, with middle figures. */
static int shopping_number(struct shopping_line *l, const struct find *find, const char *part,
                           double lifted_width, double lifted_length, struct arena *arena,
                           struct error *err) {
    struct part_count c = {0};
    long whole = 0, units = 0;
    double total = 0, spacing = NAN;
    char word[WORD], want[WORD + 12];
    snprintf(want, sizeof want, "%s_spacing", part);
    for (size_t i = 0; i < find->piece_count; i++) {
        const struct piece *p = &find->pieces[i];
        remains_part_word(p, word, sizeof word);
        const struct measure *m = find_measure_of(find, p->id, QUANTITY_LENGTH);
        const struct measure *s = find_measure_of(find, p->id, QUANTITY_PITCH);
        if (s && strcmp(word, want) == 0) spacing = s->value;
        if (strcmp(word, part) != 0 || p->same_as || p->shape_only == 1) continue;
        units += p->joins.n == 0 || find_piece(find, p->joins.v[0]) > p; /* a join once */
        if (!m) continue;
        total += m->value;
        for (size_t k = 0; k < m->end_kinds.n; k++)
            whole += end_is_whole(m->end_kinds.v[k]);
    }
    bool cross = strcmp(part, "lath") == 0;
    int rc = remains_count_arguments(&c, whole, total, cross ? lifted_width : NAN,
                                     cross ? lifted_length : NAN, spacing, arena, err);
    if (rc) return rc;
    l->number_low = c.least;
    l->number_high = c.spaced.expected > c.least ? c.spaced.expected
                     : units > c.least           ? units
                                                 : c.least;
    l->number_why =
        arena_printf(arena, "%s%s%s%s%s", c.ends.text ? c.ends.text : "",
                     c.ends.text && c.length.text ? "; " : "", c.length.text ? c.length.text : "",
                     c.spaced.text ? "; " : "", c.spaced.text ? c.spaced.text : "");
    if (l->number_why && !*l->number_why)
        l->number_why = arena_printf(arena, "%ld pieces of it survive", units);
    return l->number_why ? 0 : fail_memory(err);
}

static double lifted(const struct find *find, long quantity) {
    for (size_t i = 0; i < find->piece_count; i++) {
        const struct piece *p = &find->pieces[i];
        const struct measure *m = find_measure_of(find, p->id, quantity);
        if (p->substance == SUBSTANCE_MIXED && m) return m->value;
    }
    return NAN;
}

static int shopping_line(struct shopping_line *l, const struct find *find, const char *part,
                         struct arena *arena, struct error *err) {
    const struct piece *first = first_of_part(find, part);
    double longest = 0, whole_low = INFINITY, whole_high = 0;
    double w[2] = {INFINITY, 0}, t[2] = {INFINITY, 0};
    char word[WORD];
    *l = (struct shopping_line){.part = part, .material = first->material};
    for (size_t i = 0; i < find->piece_count; i++) {
        const struct piece *p = &find->pieces[i];
        remains_part_word(p, word, sizeof word);
        if (strcmp(word, part) != 0 || p->shape_only == 1) continue;
        const struct measure *m = find_measure_of(find, p->id, QUANTITY_LENGTH);
        if (m) longest = fmax(longest, m->value);
        int rc = take_range(&whole_low, &whole_high, find, p, QUANTITY_LENGTH, arena, err);
        if (!rc) rc = take_range(&w[0], &w[1], find, p, QUANTITY_WIDTH, arena, err);
        if (!rc) rc = take_range(&t[0], &t[1], find, p, QUANTITY_THICKNESS, arena, err);
        if (rc) return rc;
    }
    bool sheet = first->substance == SUBSTANCE_BARK || first->substance == SUBSTANCE_HIDE;
    double whole_l = lifted(find, QUANTITY_LENGTH), whole_w = lifted(find, QUANTITY_WIDTH);
    l->length_low = longest > 0 ? longest : NAN;
    l->length_high = whole_high > 0 ? whole_high : NAN;
    l->width_low = w[1] > 0 ? w[0] : NAN;
    l->width_high = w[1] > 0 ? w[1] : NAN;
    l->thickness_low = t[1] > 0 ? t[0] : NAN;
    l->thickness_high = t[1] > 0 ? t[1] : NAN;
    if (sheet && strcmp(part, "sheet") == 0) {
        l->number_low = l->number_high = 1;
        l->number_why = "taken for one sheet";
        l->length_low = fmax(longest, isfinite(whole_l) ? whole_l : 0);
        l->width_low = whole_w;
        l->guess = "one sheet, no smaller than the crushed whole as lifted; rival: several sheets "
                   "sewn together";
        return 0;
    }
    if (first->substance == SUBSTANCE_COIL) {
        l->number_low = l->number_high = 1;
        l->number_why = "taken for pieces of one";
        l->guess = "all pieces are of one coiled part; rival: two of them";
        return 0;
    }
    l->guess = isfinite(l->length_high)
                   ? "the longest is no longer than the whole pieces that survive; rival: longer "
                     "ones are lost"
                   : "no piece has both ends: the length is only a minimum; rival: much longer";
    return shopping_number(l, find, part, whole_w, whole_l, arena, err);
}

static int say_shopping(const struct shopping_line *l, const struct find *find,
                        struct statement_set *said, struct arena *arena, struct error *err) {
    struct statement s = statement_blank();
    char word[WORD];
    s.step = "found";
    s.about = arena_printf(arena, "part %s", l->part);
    s.quantity = "number to get";
    s.id = arena_printf(arena, "%s.shopping", l->part);
    s.footing = FOOTING_GUESSED;
    snprintf(word, sizeof word, "%s", l->part); /* "side_rod" as a person says it */
    for (char *c = word; *c; c++)
        if (*c == '_') *c = ' ';
    s.sentence = arena_printf(arena, "A maker would have to get about so many %ss, of %s.", word,
                              l->material ? l->material : "a material not given");
    s.value = spread_unknown();
    s.value.p05 = (double)l->number_low;
    s.value.p95 = (double)l->number_high;
    s.value.p50 = 0.5 * (double)(l->number_low + l->number_high);
    const char *rival = l->guess ? strstr(l->guess, "rival: ") : NULL;
    s.rule = rival ? arena_printf(arena, "%s; %.*s", l->number_why, (int)(rival - l->guess - 2),
                                  l->guess)
                   : l->number_why;
    s.rival = rival ? rival + strlen("rival: ") : l->guess;
    s.caution = "a rough count, taken before anything was worked out";
    if (!s.about || !s.id || !s.sentence || !s.rule) return fail_memory(err);
    int rc = 0;
    for (size_t i = 0; !rc && i < find->piece_count; i++) {
        remains_part_word(&find->pieces[i], word, sizeof word);
        if (strcmp(word, l->part) == 0)
            rc = statement_link_add(&s, "piece", find->pieces[i].id, "counted", arena, err);
    }
    return rc ? rc : statement_add(said, &s, err);
}

int remains_shopping(struct shopping *out, const struct find *find, struct statement_set *said,
                     struct arena *arena, struct error *err) {
    *out =
        (struct shopping){.lines = ARENA_NEW(arena, struct shopping_line, find->piece_count + 1)};
    if (!out->lines) return fail_memory(err);
    for (size_t i = 0; i < find->piece_count; i++) {
        const struct piece *p = &find->pieces[i];
        char word[WORD];
        bool known = !*remains_alteration_class(p) || p->same_as || p->shape_only == 1;
        remains_part_word(p, word, sizeof word);
        for (size_t k = 0; k < out->line_count && !known; k++)
            known = strcmp(out->lines[k].part, word) == 0;
        if (known || (p->part && strncmp(p->part, "photo-only", 10) == 0)) continue;
        struct shopping_line *l = &out->lines[out->line_count++];
        const char *part = arena_strdup(arena, word);
        if (!part) return fail_memory(err);
        int rc = shopping_line(l, find, part, arena, err);
        if (!rc && said) rc = say_shopping(l, find, said, arena, err);
        if (rc) return rc;
    }
    return 0;
}

/* ---- tables --------------------------------------------------------------------------------- */

static json_t *table(const char *title, const char *const *heads, size_t n) {
    json_t *t = json_pack("{s:s,s:[],s:[]}", "title", title, "columns", "rows");
    for (size_t i = 0; t && i < n; i++)
        json_array_append_new(json_object_get(t, "columns"), json_string(heads[i]));
    return t;
}
static void row(json_t *t, json_t *cells) {
    json_array_append_new(json_object_get(t, "rows"), cells);
}
static json_t *whole_number(double v) {
    char text[32];
    snprintf(text, sizeof text, "%.0f", v);
    return v > 0 ? json_string(text) : json_string("");
}
/* "24 to 31", "at least 132", "". */
static json_t *range(double low, double high, int digits) {
    char text[64] = "";
    if (isfinite(low) && isfinite(high) && high > low)
        snprintf(text, sizeof text, "%.*f to %.*f", digits, low, digits, high);
    else if (isfinite(low) && !isfinite(high))
        snprintf(text, sizeof text, "at least %.*f", digits, low);
    else if (isfinite(low))
        snprintf(text, sizeof text, "%.*f", digits, low);
    return json_string(text);
}

json_t *remains_stock_table(const struct stock_take *s) {
    static const char *const heads[] = {
        "part", "state", "pieces", "both ends", "length added, mm", "longest, mm"};
    char title[160];
    snprintf(title, sizeof title,
             "%ld rows: %ld pieces, %ld second reading%s, %ld of them shape only; %ld measures",
             s->rows, s->pieces, s->second_readings, s->second_readings == 1 ? "" : "s",
             s->shape_only, s->measures);
    json_t *t = table(title, heads, 6);
    for (size_t i = 0; t && i < s->line_count; i++) {
        const struct stock_line *l = &s->lines[i];
        row(t, json_pack("[s,s,I,I,o,o]", l->part, l->state, (json_int_t)l->pieces,
                         (json_int_t)l->whole, whole_number(l->length), whole_number(l->longest)));
    }
    return t;
}

json_t *remains_remark_table(const struct stock_take *s) {
    static const char *const heads[] = {"about", "what", "instead"};
    json_t *t = table("What may not be added up, and what to know", heads, 3);
    for (size_t i = 0; t && i < s->remark_count; i++)
        row(t,
            json_pack("[s,s,s]", s->remarks[i].about, s->remarks[i].what, s->remarks[i].instead));
    return t;
}

json_t *remains_shopping_table(const struct shopping *s) {
    static const char *const heads[] = {"part",      "material",      "number", "longest, mm",
                                        "width, mm", "thickness, mm", "why",    "guessed"};
    json_t *t = table("What a maker would have to get, roughly; sizes fresh", heads, 8);
    for (size_t i = 0; t && i < s->line_count; i++) {
        const struct shopping_line *l = &s->lines[i];
        row(t, json_pack("[s,s,o,o,o,o,s,s]", l->part, l->material ? l->material : "",
                         range((double)l->number_low, (double)l->number_high, 0),
                         range(l->length_low, l->length_high, 0),
                         range(l->width_low, l->width_high, l->width_high < 20 ? 1 : 0),
                         range(l->thickness_low, l->thickness_high, 1), l->number_why,
                         l->guess ? l->guess : ""));
    }
    return t;
}

/* ---- means ---------------------------------------------------------------------------------- */

static int refuse_state(const struct measure *a, const struct measure *b, struct error *err) {
    const char *s = a->state >= 0 && a->state < STATE_COUNT ? state_words[a->state] : "not known";
    const char *t = b->state >= 0 && b->state < STATE_COUNT ? state_words[b->state] : "not known";
    return fail(
        err, ERR_REFUSED,
        "Bring them to fresh first (relict compute FILE sizes), or average each state by "
        "itself.",
        "%s was measured %s and %s %s: sizes in different states are never averaged, because "
        "each state has shrunk differently.",
        a->id, s, b->id, t);
}

static bool same_state(const struct measure *a, const struct measure *b) {
    const char *s = a->treatment ? a->treatment : "", *t = b->treatment ? b->treatment : "";
    return a->state == b->state && a->state != FIELD_UNKNOWN &&
           (a->state != STATE_TREATED || strcmp(s, t) == 0) &&
           (a->state != STATE_TRIAL_DAY || a->day == b->day);
}

int remains_mean(struct mean_size *out, const struct find *find, const struct measure *const *v,
                 size_t n, struct error *err) {
    double sum = 0, square = 0, error = 0;
    if (n == 0) return fail(err, ERR_MISSING, "Name the readings.", "No reading to average.");
    for (size_t i = 0; i < n; i++) {
        const struct piece *p = find_piece(find, v[i]->piece);
        if (!same_state(v[0], v[i])) return refuse_state(v[0], v[i], err);
        if (p && p->shape_only == 1)
            return fail(err, ERR_REFUSED, "Find its scale first.",
                        "%s has no scale: it is kept as shape, out of every sum.", v[i]->id);
        if (p && !remains_is_complete(p, v[i]))
            return fail(err, ERR_REFUSED,
                        "Leave it out, or let the sizes treat it as a minimum (relict calc "
                        "part-length).",
                        "%s is a minimum: an end is missing, so a mean would come out too small.",
                        v[i]->id);
        if (v[i]->rival_of)
            return fail(err, ERR_REFUSED, "Keep both side by side, or choose one and say why.",
                        "%s contradicts %s: rival readings are never averaged.", v[i]->id,
                        v[i]->rival_of);
        double sd = measure_sd(v[i]);
        sum += v[i]->value;
        error += isfinite(sd) ? sd * sd : 0;
    }
    out->n = n;
    out->mean = sum / (double)n;
    for (size_t i = 0; i < n; i++)
        square += (v[i]->value - out->mean) * (v[i]->value - out->mean);
    out->sd = n > 1 ? sqrt(square / (double)(n - 1)) : NAN;
    out->u = sqrt(fmax(n > 1 ? out->sd * out->sd / (double)n : 0, error / (double)(n * n)));
    out->state = state_words[v[0]->state];
    return 0;
}
