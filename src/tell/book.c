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

static void tables_of(struct tell_doc *doc, const struct tell_dossier *d, const char *step) {
    for (size_t i = 0; i < d->n_tables; i++) {
        if (strcmp(d->tables[i].step, step)) continue;
        if (d->tables[i].text) tell_p(doc, "%s", d->tables[i].text);
        tell_rows(doc, &d->tables[i].table);
    }
}

static void drawings_of(struct tell_doc *doc, const struct tell_dossier *d, const char *step) {
    for (size_t i = 0; i < d->n_drawings; i++) {
        if (strcmp(d->drawings[i].step, step)) continue;
        const struct show_drawing *from = d->drawings[i].drawing;
        struct show_drawing *copy =
            show_drawing_new(show_drawing_width(from), show_drawing_height(from));
        show_drawing_name(copy, show_drawing_title(from), show_drawing_alt(from));
        show_drawing_place(copy, from, 0, 0);
        tell_picture(doc, copy);
    }
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

static void cut_list(struct tell_doc *doc, const struct tell_dossier *d, const struct making *m) {
    struct arena *arena = tell_doc_arena(doc);
    struct grid g;
    grid_begin(&g, arena,
               (const char *const[]){"part", "name", "of", "state of the sizes", "length mm",
                                     "width mm", "thickness mm", "diameter mm", "how it is held",
                                     "footing", NULL});
    for (const struct part *p = NULL; (p = makings_part(d->makings, m->id, -1, p));) {
        grid_text(&g, p->id);
        grid_text(&g, p->name);
        grid_text(&g, p->taxon);
        grid_text(&g, word(state_words, p->state, STATE_COUNT));
        grid_real(&g, p->length, 0);
        grid_real(&g, p->width, 1);
        grid_real(&g, p->thickness, 1);
        grid_real(&g, p->diameter, 1);
        grid_text(&g, word(holding_words, p->holding, 5));
        grid_text(&g, word(footing_words, p->footing, FOOTING_COUNT));
    }
    tell_h1(doc, "cut", "Cut list", 4);
    tell_p(doc,
           "Sizes marked fresh are the ones to cut from green material; sizes marked new and dry "
           "are what the part should measure when it is used. Never mix the two.");
    if (!g.rows) tell_p(doc, "No part is entered.");
    grid_end(&g, doc, NULL);
}

static void work_step(struct tell_doc *doc, const struct step *s, const struct csv_table *care) {
    char a[40], b[40];
    struct arena *arena = tell_doc_arena(doc);
    tell_h2(doc, NULL, arena_printf(arena, "%ld. %s", s->number, s->what ? s->what : s->id));
    for (size_t i = 0; i < s->cautions.n; i++) {
        const char *name, *text = caution_of(care, s->cautions.v[i], &name);
        tell_care(doc, "%s%s%s", name, text ? ". " : ", see the local rules", text ? text : "");
    }
    if (isfinite(s->moisture_min) || isfinite(s->moisture_max))
        tell_item(doc, "State of the sheet: moisture %s to %s percent of its dry mass.",
                  isfinite(s->moisture_min) ? show_real(a, 100 * s->moisture_min, 0) : "any",
                  isfinite(s->moisture_max) ? show_real(b, 100 * s->moisture_max, 0) : "any");
    if (isfinite(s->hours)) tell_item(doc, "Work: %s h.", show_real(a, s->hours, 1));
    if (isfinite(s->days) && s->days > 0)
        tell_item(doc, "Waiting: %s days.", show_real(a, s->days, 1));
    if (s->measure) tell_item(doc, "Measure: %s.", s->measure);
    if (s->right) tell_item(doc, "Right is: %s.", s->right);
    if (s->if_not) tell_item(doc, "If it is not: %s.", s->if_not);
    if (s->footing >= 0)
        tell_item(doc, "Why here: %s%s.", footing_words[s->footing],
                  s->statements.n ? ", see the argument" : "");
    if (s->measure) tell_blank(doc, "measured, by, on");
}

static void order(struct tell_doc *doc, const struct tell_dossier *d, const struct making *m,
                  const struct csv_table *care) {
    tell_h1(doc, "order", "Order of work", 4);
    /* before the first cut: whether the order itself would pull the work apart */
    const struct statement *pull = statement_find(d->said, "strength.order.pull");
    if (pull && pull->caution)
        tell_care(doc, "The ties are pulled by up to %.2g N on each mm of edge (%.2g to %.2g): %s.",
                  pull->value.p50, pull->value.p05, pull->value.p95, pull->caution);
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
            work_step(doc, s, care);
            any = true;
        }
        last = next;
    }
    if (!any) tell_p(doc, "No order of work is entered.");
}

int tell_book(struct tell_doc **out, const struct tell_dossier *d, struct error *err) {
    *out = NULL;
    struct tell_doc *doc = open_doc(d, "Making book", NULL, false, err);
    if (!doc) return ERR_MEMORY;
    const struct making *m = tell_leading(d);
    struct csv_table care = {0};
    if (d->cautions &&
        csv_read(&care, d->cautions, d->cautions_size, NULL, tell_doc_arena(doc), err)) {
        tell_doc_free(doc);
        return (int)err->code;
    }
    tell_h1(doc, "what", "What is made", 4);
    if (m)
        tell_p(doc,
               "%s. It is one of %zu ways that are held possible; the others stand in the "
               "argument.",
               m->title ? m->title : m->id, d->makings->making_count);
    else
        tell_p(doc, "No making is entered yet.");
    tell_p(doc,
           "The plan at true size is a file of its own: print it at 100 %%, measure both sticks on "
           "every sheet, and cut nothing before they measure 100 mm.");
    tell_care(doc,
              "these pages say how it is thought to have been made. They call nothing safe; local "
              "rules and licensed people come first.");
    struct arena *arena = tell_doc_arena(doc);
    struct show_drawing *pair = tell_pair(d, false, 165, arena);
    if (pair) tell_picture(doc, pair);
    tell_h1(doc, "material", "What to get, and when", 6);
    tables_of(doc, d, "material");
    drawings_of(doc, d, "material");
    if (m) cut_list(doc, d, m);
    if (m) order(doc, d, m, &care);
    tell_h1(doc, "shape", "What shape it should have at each stage", 5);
    tell_p(doc,
           "Lay a straight-edge across and measure the rise in the middle; write it beside the "
           "predicted one.");
    tables_of(doc, d, "strength");
    drawings_of(doc, d, "strength");
    for (int i = 0; i < 4; i++)
        tell_blank(doc, "stage, rise in mm, by, on");
    if (care.n > 1) tell_h1(doc, "care", "All cautions", 8);
    for (size_t i = 1; i < care.n; i++)
        if (care.rows[i].n >= 2)
            tell_item(doc, "%s: %s", care.rows[i].cells[0], care.rows[i].cells[1]);
    return close_doc(out, doc, err);
}

/* ---- trial sheets ---- */

int tell_trial_sheet(struct tell_doc **out, const struct tell_dossier *d,
                     const struct tell_trial *t, struct error *err) {
    *out = NULL;
    struct tell_doc *doc =
        open_doc(d, t->title ? t->title : t->id, "A trial on one page", true, err);
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
    for (size_t r = 0; r < t->n_rows; r++)
        for (int k = 0; k < WANTED; k++)
            grid_text(&g, t->cells[r * t->n_columns + at[k]]);
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
           m && m->title ? ": " : "", m && m->title ? m->title : "");
    const struct part *sheet = m ? makings_part(d->makings, m->id, PART_SHEET, NULL) : NULL;
    char along[40], across[40];
    if (sheet && sheet->length > 0 && sheet->width > 0)
        tell_p(doc,
               "Above all, one sheet of bark%s%s, %s by %s mm %s; laths and rods as "
               "the making book lists them.",
               sheet->taxon ? " of " : "", sheet->taxon ? sheet->taxon : "",
               show_real(along, sheet->length, 0), show_real(across, sheet->width, 0),
               sheet->state == STATE_FRESH ? "when fresh, before trim" : "when finished");
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
        const char *label = o.failed ? NULL : arena_strdup(arena, o.bytes);
        show_out_deinit(&o);
        tell_blank(doc, label);
    }
}

int tell_forms(struct tell_doc **out, const struct tell_dossier *d, struct error *err) {
    *out = NULL;
    struct tell_doc_options o = tell_options(d, "Recording forms", NULL);
    o.subtitle =
        "Each line is a field the import reads by this name. What is not known stays empty: "
        "an empty line is an answer.";
    struct tell_doc *doc = tell_doc_new(&o);
    tell_h1(doc, "piece", "A piece", 0);
    card(doc, &piece_kind,
         (const char *const[]){"id", "part", "material", "taxon", "other_taxon", "substance",
                               "confidence", "zone", "face_up", "note", NULL});
    tell_new_page(doc);
    tell_h1(doc, "measure", "A reading", 0);
    tell_p(doc, "One card for each number. Never convert a unit; write what the tool showed.");
    card(doc, &measure_kind,
         (const char *const[]){"id", "piece", "quantity", "value", "tolerance", "bound",
                               "direction", "state", "treatment", "ends", "face", "observer",
                               "date", "method", "note", NULL});
    tell_new_page(doc);
    tell_h1(doc, "mark", "A mark on a piece", 0);
    card(doc, &mark_kind_kind,
         (const char *const[]){"id", "piece", "kind", "face", "over", "under", "fits", "what",
                               "confidence", NULL});
    tell_h1(doc, "handling", "Handling", 0);
    card(doc, &handling_kind,
         (const char *const[]){"id", "piece", "allowed", "reason", "what", "who", "date", NULL});
    return close_doc(out, doc, err);
}
