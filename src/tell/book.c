/* book: the making book, trial sheets, the landowner's page and recording forms. */
#include "base/csv.h"
#include "tell/dossier.h"
#include "tell/grid.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

const struct making *tell_leading(const struct tell_dossier *d) {
    return d->makings ? makings_leading(d->makings) : NULL;
}

static const char *word(const char *const *words, long i, long count) {
    return i >= 0 && i < count ? words[i] : NULL;
}

/* Opens a document; the draft mark is the report's. */
static struct tell_doc *open_doc(const struct tell_dossier *d, const char *title,
                                 const char *subtitle, bool brief, struct error *err) {
    struct arena *arena = arena_new();
    struct tell_check *list;
    size_t n;
    if (!arena || tell_checklist(&list, &n, d, arena, err)) {
        arena_free(arena);
        fail_memory(err);
        return NULL;
    }
    struct tell_doc_options o = tell_options(d, title, tell_draft_reason(list, n, arena));
    o.subtitle = subtitle;
    o.whole = true; /* a step of the work is not turned over in the middle */
    if (o.draft && brief) o.draft = "the argument behind it is not complete yet.";
    struct tell_doc *doc = tell_doc_new(&o);
    if (!doc) fail_memory(err);
    arena_free(arena);
    return doc;
}

static int close_doc(struct tell_doc **out, struct tell_doc *doc, struct error *err) {
    int code = tell_doc_status(doc, err);
    if (code)
        tell_doc_free(doc);
    else
        *out = doc;
    return code;
}

/* ---- the making book ---- */

/* What stands under a hazard's name in data/cautions.csv; a step may name it in short ("dust" for
 * "wood dust"). NULL when it is not there. */
static const char *caution_of(const struct csv_table *t, const char *hazard, const char **name) {
    for (int part = 0; part < 2; part++)
        for (size_t i = 1; i < t->n; i++) {
            const struct csv_row *r = &t->rows[i];
            if (r->n < 2) continue;
            *name = r->cells[0];
            if (part ? strcasestr(r->cells[0], hazard) != NULL : !strcmp(r->cells[0], hazard))
                return r->cells[1];
        }
    *name = hazard;
    return NULL;
}

/* The size of a part when new and dry, by the statement that has it: "lath.3" is a lath. */
static void dry_size(struct grid *g, const struct tell_dossier *d, const struct part *p,
                     const char *quantity) {
    char id[120];
    int stem = (int)strcspn(p->id, ".");
    const char *from = p->id;
    if (p->making && !strncmp(from, p->making, strlen(p->making)) &&
        from[strlen(p->making)] == '.') {
        from += strlen(p->making) + 1; /* "proposed.cone.ring" */
        while (strchr(from, '.') && strspn(strchr(from, '.') + 1, "0123456789") == 0)
            from = strchr(from, '.') + 1;
        stem = (int)strcspn(from, ".");
    }
    snprintf(id, sizeof id, "%.*s.%s.dry", stem, from, quantity);
    const struct statement *s = d->said ? statement_find(d->said, id) : NULL;
    grid_real(g, s && p->state == STATE_FRESH ? s->value.p50 : NAN, 1);
}

static double span_of(size_t n, const double *xy, int axis) {
    double low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < n; i++)
        low = fmin(low, xy[2 * i + axis]), high = fmax(high, xy[2 * i + axis]);
    return high - low;
}

static void cut_list(struct tell_doc *doc, const struct tell_dossier *d, const struct making *m) {
    struct arena *arena = tell_doc_arena(doc);
    struct grid g;
    bool dry_sheet = d->plan && d->plan->n_dry > 2;
    grid_begin(&g, arena,
               (const char *const[]){"part", "of", "state", "length mm", "width mm", "dry width mm",
                                     "thickness mm", "dry thickness mm", "diameter mm",
                                     "how it is held", "footing", NULL});
    for (const struct part *p = NULL; (p = makings_part(d->makings, m->id, -1, p));) {
        grid_text(&g, p->name ? p->name : p->id);
        grid_text(&g, p->taxon);
        grid_text(&g, word(state_words, p->state, STATE_COUNT));
        grid_real(&g, p->length, 0);
        grid_real(&g, p->width, 1);
        if (p->kind == PART_SHEET && dry_sheet)
            grid_real(&g, span_of(d->plan->n_dry, d->plan->dry, 1), 1);
        else
            dry_size(&g, d, p, "width");
        grid_real(&g, p->thickness, 1);
        dry_size(&g, d, p, "thickness");
        grid_real(&g, p->diameter, 1);
        grid_text(&g, word(holding_words, p->holding, 5));
        grid_text(&g, word(footing_words, p->footing, FOOTING_COUNT));
    }
    tell_h1(doc, "cut", "Cut list", 4);
    tell_p(doc,
           "Sizes marked fresh are the ones to cut from green material; dry ones are what the part "
           "should measure when it is used. Never mix the two. Along the grain little changes.");
    if (dry_sheet)
        tell_p(doc, "The sheet is cut %.0f by %.0f mm and should dry to %.0f by %.0f mm.",
               span_of(d->plan->n_fresh, d->plan->fresh, 0),
               span_of(d->plan->n_fresh, d->plan->fresh, 1),
               span_of(d->plan->n_dry, d->plan->dry, 0), span_of(d->plan->n_dry, d->plan->dry, 1));
    if (!g.rows) tell_p(doc, "No part is entered.");
    grid_end(&g, doc, NULL);
    tell_drawing_of(doc, d, "sizes"); /* how far a size may be off and still be right */
}

/* Which cautions have been told in full, so that they are told once and then pointed to. */
enum { MOST_TOLD = 64 };
struct told {
    const struct csv_table *care;
    const char *names[MOST_TOLD];
    long step[MOST_TOLD];
    size_t n;
};

static void caution(struct tell_doc *doc, struct told *t, const char *hazard, long step) {
    const char *name, *text = caution_of(t->care, hazard, &name);
    for (size_t i = 0; i < t->n; i++)
        if (!strcmp(t->names[i], name)) {
            if (t->step[i] != step) tell_care(doc, "%s, as at step %ld.", name, t->step[i]);
            return;
        }
    tell_care(doc, "%s%s%s", name, text ? ". " : ": see the local rules.", text ? text : "");
    if (t->n == MOST_TOLD) return;
    t->names[t->n] = name;
    t->step[t->n++] = step;
}

static void state_needed(struct tell_doc *doc, const struct step *s) {
    char a[40], b[40];
    bool least = isfinite(s->moisture_min), most = isfinite(s->moisture_max);
    if (least && most)
        tell_item(doc, "State of the sheet: %s to %s %% water for its dry mass.",
                  show_real(a, 100 * s->moisture_min, 0), show_real(b, 100 * s->moisture_max, 0));
    else if (least || most)
        tell_item(doc, "State of the sheet: %s %s %% water for its dry mass.",
                  least ? "at least" : "at most",
                  show_real(a, 100 * (least ? s->moisture_min : s->moisture_max), 0));
}

/* "0.008 (0.002 to 0.085)" as a ruler reads it: tenths where it is small, else whole. */
static const char *in_mm(const char *text, struct arena *arena) {
    double v[3];
    char a[3][40];
    if (!text || sscanf(text, "%lf (%lf to %lf)", &v[0], &v[1], &v[2]) != 3) return text;
    int places = fmax(fabs(v[1]), fabs(v[2])) < 10 ? 1 : 0;
    for (int i = 0; i < 3; i++)
        show_real(a[i], v[i], places);
    return strcmp(a[1], a[2]) ? arena_printf(arena, "%s (%s to %s)", a[0], a[1], a[2])
                              : arena_printf(arena, "%s", a[0]);
}

/* What the strength step predicts after this step of the work, from its table of days. */
static void shape_after(struct tell_doc *doc, const struct tell_dossier *d, const struct step *s) {
    const struct tell_table *t = tell_table_named(d, "strength", "days");
    if (!t || !s->what) return;
    size_t after = tell_column(t, "after"), rise = tell_column(t, "rise, mm"),
           edge = tell_column(t, "edge lift, mm");
    if (after == t->n_columns || rise == t->n_columns || edge == t->n_columns) return;
    for (size_t r = 0; r < t->n_rows; r++) {
        const char *const *row = t->cells + r * t->n_columns;
        if (!row[after] || strcmp(row[after], s->what)) continue;
        tell_item(
            doc,
            "Predicted shape afterwards: the middle %s mm over the long edges, the edge %s mm "
            "off the table.",
            in_mm(row[rise], tell_doc_arena(doc)), in_mm(row[edge], tell_doc_arena(doc)));
        return;
    }
}

static void hours(struct tell_doc *doc, const struct step *s) {
    char a[40], b[40];
    bool work = isfinite(s->hours) && s->hours > 0, wait = isfinite(s->days) && s->days > 0;
    if (!work && !wait) return;
    if (work) show_real(a, s->hours, 1);
    if (wait) show_real(b, s->days, 1);
    tell_item(doc, "Time: %s%s%s%s%s.", work ? a : "", work ? " h of work" : "",
              work && wait ? ", then " : "", wait ? b : "", wait ? " days of waiting" : "");
}

static void work_step(struct tell_doc *doc, const struct tell_dossier *d, const struct step *s,
                      struct told *told) {
    struct arena *arena = tell_doc_arena(doc);
    tell_h2(doc, NULL, arena_printf(arena, "%ld. %s", s->number, s->what ? s->what : s->id));
    for (size_t i = 0; i < s->cautions.n; i++)
        caution(doc, told, s->cautions.v[i], s->number);
    state_needed(doc, s);
    hours(doc, s);
    if (s->measure) tell_item(doc, "Measure: %s.", s->measure);
    if (s->right) tell_item(doc, "Right is: %s.", s->right);
    if (s->if_not) tell_item(doc, "If it is not: %s.", s->if_not);
    if (s->footing >= 0 && s->footing != FOOTING_GUESSED)
        tell_item(doc, "Its place in the order is %s%s.", footing_words[s->footing],
                  s->statements.n ? "; the argument says from what" : "");
    shape_after(doc, d, s);
    tell_blank(doc, "measured, by, on");
}

static void order(struct tell_doc *doc, const struct tell_dossier *d, const struct making *m,
                  struct told *told) {
    tell_h1(doc, "order", "Order of work", 4);
    /* before the first cut: whether the order itself would pull the work apart */
    const struct statement *pull = statement_find(d->said, "strength.order.pull");
    if (pull && pull->caution)
        tell_care(doc, "The ties are pulled by up to %.2g N on each mm of edge (%.2g to %.2g): %s.",
                  pull->value.p50, pull->value.p05, pull->value.p95, pull->caution);
    tell_p(doc, "Where a step says nothing of its place in the order, it stands where the work "
                "usually puts it: that is a guess.");
    bool any = false;
    long last = -1;
    for (;;) { /* by number, then as entered */
        long next = LONG_MAX;
        for (size_t i = 0; i < d->makings->step_count; i++) {
            const struct step *s = &d->makings->steps[i];
            if ((s->making && strcmp(s->making, m->id)) || s->number <= last) continue;
            if (s->number < next) next = s->number;
        }
        if (next == LONG_MAX) break;
        for (size_t i = 0; i < d->makings->step_count; i++) {
            const struct step *s = &d->makings->steps[i];
            if ((s->making && strcmp(s->making, m->id)) || s->number != next) continue;
            work_step(doc, d, s, told);
            any = true;
        }
        last = next;
    }
    if (!any) tell_p(doc, "No order of work is entered.");
}

/* Materials, stems, days: what a maker needs of them; the argument holds the rest. */
static void material(struct tell_doc *doc, const struct tell_dossier *d) {
    tell_h1(doc, "material", "What to get, and when", 6);
    const struct tell_table *needs = tell_table_named(d, "material", "needs");
    if (needs) {
        tell_p(doc,
               "Sizes are what the raw material must yield. \"Get\" allows for what fails: bark "
               "twice over, rods and bast once and a half.");
        tell_rows_but(doc, needs, (const char *const[]){"rests on", "of the stock", NULL});
    } else
        tell_p(doc, "Nothing has been worked out about material yet.");
    const struct tell_table *stems = tell_table_named(d, "material", "stems");
    if (stems)
        tell_rows_but(
            doc, stems,
            (const char *const[]){"flattening strain, percent", "what stands in the way", NULL});
    tell_table_of(doc, d, "material", "layout");
    tell_drawing_of(doc, d, "layout");
    tell_table_of(doc, d, "material", "stock");
    tell_table_of(doc, d, "material", "season");
    tell_drawing_of(doc, d, "season");
    tell_table_of(doc, d, "material", "tasks");
    tell_table_of(doc, d, "material", "checklist");
}

static void shapes(struct tell_doc *doc, const struct tell_dossier *d) {
    tell_h1(doc, "shape", "What shape it should have at each stage", 5);
    tell_p(doc,
           "Lay a straight-edge across and measure the rise in the middle; set the sheet on a "
           "flat table and measure how far its edge stands off. What is predicted stands below; "
           "a shape outside the range is a finding: write it down before mending it.");
    size_t before = 0, after = 0;
    tell_doc_blocks(doc, &before);
    tell_drawings_of(doc, d, "strength", TELL_IN_ARGUMENT);
    tell_doc_blocks(doc, &after);
    if (before == after)
        tell_p(doc, "No shape has been worked out yet (relict compute FILE strength).");
}

/* The cautions that no step has told in full. */
static void other_cautions(struct tell_doc *doc, const struct told *told) {
    bool any = false;
    for (size_t i = 1; i < told->care->n; i++) {
        const struct csv_row *r = &told->care->rows[i];
        bool known = r->n < 2;
        for (size_t k = 0; k < told->n && !known; k++)
            known = !strcmp(told->names[k], r->cells[0]);
        if (known) continue;
        if (!any) tell_h1(doc, "care", "Other cautions", 8);
        any = true;
        tell_item(doc, "%s: %s", r->cells[0], r->cells[1]);
    }
}

int tell_book(struct tell_doc **out, const struct tell_dossier *d, struct error *err) {
    *out = NULL;
    struct tell_doc *doc = open_doc(d, "Making book", NULL, true, err);
    if (!doc) return ERR_MEMORY;
    const struct making *m = tell_leading(d);
    struct csv_table care = {0};
    if (d->cautions &&
        csv_read(&care, d->cautions, d->cautions_size, NULL, tell_doc_arena(doc), err)) {
        tell_doc_free(doc);
        return (int)err->code;
    }
    struct told told = {.care = &care};
    tell_h1(doc, "what", "What is made", 4);
    static const char *const counted[] = {"No", "One", "Two", "Three", "Four", "Five", "Six"};
    size_t ways = d->makings ? d->makings->making_count : 0;
    if (m && ways > 1)
        tell_p(
            doc,
            "%s. %s ways of making it are held possible; this is the likeliest, and the argument "
            "tells the others.",
            m->title ? m->title : m->id, ways < 7 ? counted[ways] : "Several");
    else if (m)
        tell_p(doc, "%s.", m->title ? m->title : m->id);
    else
        tell_p(doc, "No making is entered yet.");
    tell_p(doc,
           "The plan at true size is a file of its own: print it at 100 %%, measure both sticks "
           "on every sheet, and cut nothing before they measure 100 mm.");
    tell_care(doc, "these pages say how it is thought to have been made. They call nothing safe; "
                   "local rules and licensed people come first.");
    struct show_drawing *pair = tell_pair(d, false, 165, 0, tell_doc_arena(doc));
    if (pair) tell_picture(doc, pair);
    material(doc, d);
    if (m) cut_list(doc, d, m);
    if (m) order(doc, d, m, &told);
    shapes(doc, d);
    other_cautions(doc, &told);
    return close_doc(out, doc, err);
}

/* ---- trial sheets ---- */

int tell_trial_sheet(struct tell_doc **out, const struct tell_dossier *d,
                     const struct tell_trial *t, struct error *err) {
    *out = NULL;
    char title[100];
    snprintf(title, sizeof title, "Trial %.80s", t->id);
    struct tell_doc *doc =
        open_doc(d, title, t->title ? t->title : "A trial on one page", true, err);
    if (!doc) return ERR_MEMORY;
    if (t->question) tell_answer(doc, "%s", t->question);
    if (t->before == 0)
        tell_care(doc, "it was made before it was asked, and is marked so for ever.");
    else if (t->prediction)
        tell_p(doc, "Predicted%s%s: %s. Write nothing over it.", t->predicted_on ? " on " : "",
               t->predicted_on ? t->predicted_on : "", t->prediction);
    else
        tell_care(doc, "no prediction is written down. Write it before the first cut.");
    const char *const labels[] = {"Held",  "Varied", "Order", "Copies and trees",
                                  "Maker", "Tools",  "Room"};
    const char *texts[] = {t->fixed, t->varied, t->order, t->copies, t->maker, t->tools, t->room};
    for (int i = 0; i < 7; i++) {
        if (texts[i])
            tell_item(doc, "%s: %s", labels[i], texts[i]);
        else
            tell_blank(doc, labels[i]);
    }
    static const char *const heads[] = {"copy",       "tree",         "day",    "length mm",
                                        "width mm",   "thickness mm", "mass g", "rise mm over mm",
                                        "humidity %", "by",           NULL};
    const char *cells[14 * 10] = {0};
    for (int i = 0; i < 14; i++)
        cells[10 * i] = " ";
    struct tell_table table = {
        "Readings; day 0 is before anything is done", 10, 14, heads, cells, NULL, true};
    tell_rows(doc, &table);
    tell_p(doc,
           "Dry is when two weighings 48 hours apart differ by less than half a percent. A failure "
           "is a result: say what broke, where, on which day.");
    tell_blank(doc, "What happened");
    tell_blank(doc, "");
    return close_doc(out, doc, err);
}

/* ---- the landowner's page ---- */

/* Of a table about stems only what its owner asks first, so that all stays on one page. */
static void trees_in_view(struct tell_doc *doc, const struct tell_table *t) {
    static const char *const wanted[] = {"stem", "species", "fits", "share of girth, percent",
                                         "harm"};
    enum { WANTED = 5, MOST_ROWS = 6 };
    size_t at[WANTED];
    if (!t->n_columns || strcmp(t->columns[0], "stem") || t->n_rows > MOST_ROWS) return;
    struct grid g;
    grid_begin(&g, tell_doc_arena(doc),
               (const char *const[]){"tree or pole", "species", "gives the sheet",
                                     "share of its girth, percent", "what it does to it", NULL});
    for (int k = 0; k < WANTED; k++) {
        at[k] = 0;
        while (at[k] < t->n_columns && strcmp(t->columns[at[k]], wanted[k]))
            at[k]++;
        if (at[k] == t->n_columns) return;
    }
    for (size_t r = 0; r < t->n_rows; r++) {
        const char *const *row = t->cells + r * t->n_columns;
        struct show_out stems = {0}, shares = {0};
        bool told = false;
        for (size_t q = 0; q < t->n_rows; q++) { /* stems alike share a row */
            const char *const *other = t->cells + q * t->n_columns;
            bool alike = true;
            for (int k = 1; k < WANTED; k++)
                alike &= k == 3 ||
                         !strcmp(row[at[k]] ? row[at[k]] : "", other[at[k]] ? other[at[k]] : "");
            if (!alike) continue;
            told |= q < r;
            show_out_format(&stems, "%s%s", stems.n ? ", " : "", other[at[0]]);
            show_out_format(&shares, "%s%s", shares.n ? ", " : "", other[at[3]]);
        }
        for (int k = 0; k < WANTED && !told; k++)
            grid_text(&g, k == 0   ? arena_strdup(g.arena, stems.bytes)
                          : k == 3 ? arena_strdup(g.arena, shares.bytes)
                                   : row[at[k]]);
        show_out_deinit(&stems);
        show_out_deinit(&shares);
    }
    grid_end(&g, doc, "Stems in view");
}

int tell_landowner(struct tell_doc **out, const struct tell_dossier *d, struct error *err) {
    *out = NULL;
    struct tell_doc *doc = open_doc(d, "For whoever owns the trees", NULL, true, err);
    if (!doc) return ERR_MEMORY;
    const struct making *m = tell_leading(d);
    tell_h1(doc, "ask", "What is asked for", 6);
    tell_p(doc,
           "Material for a copy of an old object%s%s. You decide; a yes can be taken back at any "
           "time.",
           d->title ? ": " : "", d->title ? d->title : "");
    const struct part *sheet = m ? makings_part(d->makings, m->id, PART_SHEET, NULL) : NULL;
    char along[40], across[40];
    if (sheet && sheet->length > 0 && sheet->width > 0)
        tell_p(doc,
               "Above all, one sheet of bark%s%s, %s by %s mm %s; laths and rods as "
               "the making book lists them.",
               sheet->taxon ? " of " : "", sheet->taxon ? sheet->taxon : "",
               show_real(along, sheet->length, 0), show_real(across, sheet->width, 0),
               sheet->state == STATE_FRESH ? "when fresh, and a margin to trim" : "when finished");
    for (size_t i = 0; i < d->n_tables; i++)
        if (!strcmp(d->tables[i].step, "material")) trees_in_view(doc, &d->tables[i].table);
    tell_h1(doc, "harm", "What it does to a tree", 6);
    tell_item(doc,
              "Bark taken down to the wood from less than a quarter of the girth of a living tree "
              "usually heals over.");
    tell_item(doc,
              "From a quarter to a half, the tree is damaged and may live with care: this needs a "
              "named approval besides yours.");
    tell_item(doc,
              "From more than half, it does badly, and a full ring kills it: this is not done.");
    tell_item(doc,
              "A cut or wind-thrown stem, or a coppice pole, gives the same sheet without a wound "
              "to a tree that goes on standing.");
    tell_item(
        doc,
        "Birds nest from March to August: the tree is looked over within two days of the work.");
    tell_p(doc,
           "Felling licences, protected trees and nesting birds are matters of local law: whoever "
           "cuts must hold the permits that apply here.");
    tell_p(doc,
           "Someone comes back each year for three years, measures the wound and tells you how it "
           "heals. Tools are cleaned between trees; bark leaves the wood in sealed bags.");
    tell_h2(doc, "yes", "Your answer");
    static const char *const blanks[] = {"Tree or stool, and where (as coarse as you like)",
                                         "Yes, no, or yes if", "Until when; name, date"};
    for (size_t i = 0; i < sizeof blanks / sizeof blanks[0]; i++)
        tell_blank(doc, blanks[i]);
    return close_doc(out, doc, err);
}

/* ---- recording forms ---- */

/* Blanks of one kind: label, unit and the words to choose from, as the import reads them. */
static void card(struct tell_doc *doc, const struct kind *kind, const char *const *names) {
    struct arena *arena = tell_doc_arena(doc);
    for (size_t i = 0; names[i]; i++) {
        const struct field *f = field_find(kind, names[i]);
        if (!f) continue;
        struct show_out o = {0};
        show_out_text(&o, f->label);
        if (f->unit && *f->unit) show_out_format(&o, ", %s", f->unit);
        for (size_t k = 0; f->choices && f->choices[k]; k++)
            show_out_format(&o, "%s%s", k ? ", " : " (", f->choices[k]);
        if (f->choices) show_out_text(&o, ")");
        if (f->type == FIELD_FLAG) show_out_text(&o, " (yes, no)");
        const char *label = o.failed ? NULL : arena_strdup(arena, o.bytes);
        show_out_deinit(&o);
        tell_blank(doc, label);
    }
}

int tell_forms(struct tell_doc **out, const struct tell_dossier *d, struct error *err) {
    *out = NULL;
    struct tell_doc_options o = tell_options(d, "Recording forms", NULL);
    o.subtitle =
        "Each line is a field that the import reads by the words printed here. Type the cards into "
        "a table headed by these words, one card a row, and import it under the name that "
        "stands on the card. What is not known stays empty: an empty line is an answer.";
    struct tell_doc *doc = tell_doc_new(&o);
    tell_h1(doc, "piece", "A piece", 0);
    tell_p(doc, "As a table: relict import FILE piece.csv --as piece");
    card(doc, &piece_kind,
         (const char *const[]){"id", "part", "material", "taxon", "other_taxon", "substance",
                               "confidence", "zone", "face_up", "note", NULL});
    tell_new_page(doc);
    tell_h1(doc, "measure", "A reading", 0);
    tell_p(doc, "As a table: relict import FILE measure.csv. One card for each number. Never "
                "convert a unit; "
                "write what the tool showed.");
    card(doc, &measure_kind,
         (const char *const[]){"id", "piece", "quantity", "value", "tolerance", "bound",
                               "direction", "state", "treatment", "ends", "face", "observer",
                               "date", "method", "note", NULL});
    tell_new_page(doc);
    tell_h1(doc, "mark", "A mark on a piece", 0);
    tell_p(doc, "As a table: relict import FILE mark.csv");
    card(doc, &mark_kind_kind,
         (const char *const[]){"id", "piece", "kind", "face", "over", "under", "fits", "what",
                               "confidence", NULL});
    tell_h1(doc, "handling", "Handling", 0);
    tell_p(doc, "As a table: relict import FILE handling.csv");
    card(doc, &handling_kind,
         (const char *const[]){"id", "piece", "allowed", "reason", "what", "who", "date", NULL});
    return close_doc(out, doc, err);
}
