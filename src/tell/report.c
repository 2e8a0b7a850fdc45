/* report: the argument. Everything a reader needs to question the reconstruction, in the order of
 * the job, with every number's footing and chain. */
#include "tell/dossier.h"
#include "tell/grid.h"
#include "tell/report_views.h"

#include "base/csv.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char *word(const char *const *words, long i, long count) {
    return i >= 0 && i < count ? words[i] : NULL;
}

static const char *const step_names[] = {"found",    "sizes",    "outline", "curve", "making",
                                         "strength", "material", "trials",  "report"};

/* ---- the first page ---- */

static void what_it_is(struct tell_doc *doc, const struct tell_dossier *d) {
    const struct handover *h = d->handover;
    tell_h1(doc, "what", "What this is, and what it is not", 8);
    const char *claim = h ? word(claim_words, h->claim, 3) : NULL;
    size_t guesses = tell_guesses(d), blank = tell_without_footing(d);
    tell_answer(doc, "%zu guess%s.", guesses, guesses == 1 ? " stands in it" : "es stand in it");
    tell_p(doc,
           "This is %s%s. It says what the remains allow, how sure that is, and what would settle "
           "what "
           "is open. It decides nothing. Every number stands with its range, in which it lies in "
           "ninety of a hundred of the possible originals, with the kind of reason it rests on, "
           "and with the chain down to the pieces.",
           claim ? "a " : "an argument about an object of which parts survive", claim ? claim : "");
    tell_p(doc,
           "It is not the object, and that something can be made so does not show that it was.");
    if (h && h->invented == 1)
        tell_p(doc, "The object, its place, its people and all numbers about it are invented.");
    if (blank)
        tell_care(doc, "%zu features have no footing yet; every page says draft until they have.",
                  blank);
    if (h && h->purpose) tell_p(doc, "Purpose: %s.", h->purpose);
    if (h && h->audience) tell_p(doc, "Written for: %s.", h->audience);
    if (h && h->authors) tell_p(doc, "By: %s.", h->authors);
    if ((h && h->identifier) || d->uuid)
        tell_p(doc, "Identifier: %s%s.",
               h && h->identifier ? h->identifier : "urn:uuid:", h && h->identifier ? "" : d->uuid);
    if (h && word(copy_words, h->copy, 4)) tell_p(doc, "Kind of making: %s.", copy_words[h->copy]);
}

static struct show_drawing *key_drawing(void) {
    struct show_drawing *d = show_drawing_new(74, 66);
    show_drawing_name(d, "Key",
                      "The five kinds of reason, each as hatch and glyph, and the three faces on "
                      "which a part can lie, each by its line.");
    look_key(d, 1, 64, 31, 7);
    return d;
}

static struct show_drawing *tally_drawing(const struct tell_dossier *d) {
    struct show_drawing *p = show_drawing_new(110, 76);
    show_drawing_name(p, "Where the job stands",
                      "A tally of nine steps; the word beside each notch says its state.");
    look_tally(p, 4, 74, 8, d->steps, d->open, -1, true);
    return p;
}

/* Said of many things alike (rows of holes piece by piece, what each part needs), or a refusal that
 * says the same words again: told as a table. */
static bool is_one_of_many(const struct tell_dossier *d, const struct statement *s) {
    if (s->about && !strncmp(s->about, "piece ", 6) && s->step && strcmp(s->step, "found"))
        return true;
    if (s->step && !strcmp(s->step, "material")) return true;
    if (s->quantity && !strcmp(s->quantity, "offer withheld")) return true;
    size_t alike = 0;
    for (size_t i = 0; i < statement_count(d->said); i++) {
        const struct statement *t = statement_at(d->said, i);
        alike += t->sentence && s->sentence && !strcmp(t->sentence, s->sentence);
    }
    return alike > 2;
}

static size_t statements_of(struct tell_doc *doc, const struct tell_dossier *d, const char *step,
                            struct error *err) {
    size_t told = 0, many = 0;
    for (size_t i = 0; d->said && i < statement_count(d->said); i++) {
        const struct statement *s = statement_at(d->said, i);
        if (!s->step || strcmp(s->step, step) || tell_is_of_piece(s) || tell_is_private(d, s))
            continue;
        told++;
        if (is_one_of_many(d, s))
            many++;
        else if (tell_say(doc, d, s, err))
            return told;
    }
    if (many && !strcmp(step, "trials"))
        tell_p(doc,
               "%zu more give the size of a single reading each, with the trials taken in: they "
               "stand in results/statements.csv, and beside what they were without in "
               "results/trials-changes.csv.",
               many);
    else if (many && !strcmp(step, "material"))
        report_material(doc, d);
    else if (many)
        report_statement_table(doc, d, step, is_one_of_many, "Said of several things at once");
    return told;
}

/* ---- what was found ---- */

static void pieces(struct tell_doc *doc, const struct tell_dossier *d) {
    const struct find *f = d->find;
    struct arena *arena = tell_doc_arena(doc);
    struct grid g;
    tell_h2(doc, "pieces", "Pieces");
    grid_begin(&g, arena,
               (const char *const[]){"piece", "taken for", "material as written", "how firm",
                                     "zone", "note", NULL});
    for (size_t i = 0; i < f->piece_count; i++) {
        const struct piece *p = &f->pieces[i];
        if (p->hidden == 1) continue;
        grid_text(&g, p->id);
        grid_anchor(&g, "piece", p->id);
        grid_text(&g, p->part);
        grid_text(&g, p->material);
        grid_text(&g, word(confidence_words, p->confidence, CONFIDENCE_COUNT));
        grid_text(&g, p->zone);
        grid_text(&g, p->note);
    }
    grid_end(&g, doc, NULL);
}

static void photographs(struct tell_doc *doc, const struct tell_dossier *d) {
    size_t n = 0, shown = 0;
    for (size_t i = 0; i < d->find->source_count; i++)
        n += d->find->sources[i].kind == SOURCE_PHOTO && d->find->sources[i].hidden != 1;
    for (size_t i = 0; i < d->n_drawings; i++)
        shown += !strcmp(d->drawings[i].step, "photo");
    if (!n) return;
    tell_h2(doc, "photographs", "Photographs");
    tell_p(doc,
           "%zu photograph%s listed among the sources%s. The bar in a picture gives its scale; one "
           "without a bar is kept as shape only.",
           n, n == 1 ? " is" : "s are",
           shown ? "; those whose files are kept here follow" : "; no file of theirs is kept here");
    tell_drawings_of(doc, d, "photo", TELL_IN_BOOK);
}

static void readings(struct tell_doc *doc, const struct tell_dossier *d) {
    const struct find *f = d->find;
    struct arena *arena = tell_doc_arena(doc);
    tell_h2(doc, "readings", "Readings, by the state in which they were taken");
    tell_p(doc, "Sizes taken in different states are never added or averaged.");
    for (long state = -1; state < STATE_COUNT; state++) {
        struct grid g;
        grid_begin(&g, arena,
                   (const char *const[]){"reading", "what", "value", "±", "direction", "ends",
                                         "method", "observer", "date", NULL});
        for (size_t i = 0; i < f->measure_count; i++) {
            const struct measure *m = &f->measures[i];
            long is = m->state < 0 ? -1 : m->state;
            const struct piece *of = m->piece ? find_piece(f, m->piece) : NULL;
            if (is != state || (of && of->hidden == 1)) continue;
            struct show_out ends = {0};
            for (size_t k = 0; k < m->ends.n; k++)
                show_out_format(&ends, "%s%s", k ? "; " : "", m->ends.v[k] ? m->ends.v[k] : "");
            grid_text(&g, m->id);
            grid_text(&g, word(quantity_words, m->quantity, QUANTITY_COUNT));
            char value[40];
            grid_text(&g, isfinite(m->value) ? arena_printf(arena, "%s%s",
                                                            m->bound == BOUND_AT_LEAST ? "at least "
                                                            : m->bound == BOUND_AT_MOST ? "at most "
                                                                                        : "",
                                                            show_real(value, m->value, 3))
                                             : NULL);
            grid_real(&g, m->tolerance, 3);
            grid_text(&g, word(direction_words, m->direction, 4));
            grid_text(&g, ends.bytes ? arena_strdup(arena, ends.bytes) : NULL);
            grid_text(&g, m->method);
            grid_text(&g, m->observer);
            grid_text(&g, m->date);
            show_out_deinit(&ends);
        }
        char *title = arena_printf(arena, "%s", state < 0 ? "state unknown" : state_words[state]);
        grid_end(&g, doc, title);
    }
}

/* Pieces that are kept out, and why. */
static void set_aside(struct tell_doc *doc, const struct tell_dossier *d) {
    const struct find *f = d->find;
    struct arena *arena = tell_doc_arena(doc);
    struct grid g;
    grid_begin(&g, arena,
               (const char *const[]){"piece", "why it is not used, or only in part", NULL});
    for (size_t i = 0; i < f->piece_count; i++) {
        const struct piece *p = &f->pieces[i];
        char share[40];
        const char *why = NULL;
        if (p->same_as)
            why = arena_printf(arena, "a second reading of %s, not another piece", p->same_as);
        else if (p->shape_only == 1)
            why = "no scale: kept as shape, out of every sum";
        else if (isfinite(p->belongs) && p->belongs < 0.9)
            why = arena_printf(arena, "may not belong to the object: probability %s",
                               show_real(share, p->belongs, 2));
        if (!why) continue;
        grid_text(&g, p->id);
        grid_text(&g, why);
    }
    if (!g.rows) return;
    tell_h2(doc, "aside", "Pieces not used, and why");
    grid_end(&g, doc, NULL);
}

static void handling(struct tell_doc *doc, const struct tell_dossier *d) {
    const struct find *f = d->find;
    struct arena *arena = tell_doc_arena(doc);
    struct grid g;
    grid_begin(
        &g, arena,
        (const char *const[]){"piece", "may it be touched", "what", "reason", "who", "date", NULL});
    for (size_t i = 0; i < f->handling_count; i++) {
        const struct handling *h = &f->handlings[i];
        grid_text(&g, h->piece);
        grid_text(&g, h->allowed == 1 ? "yes" : h->allowed == 0 ? "no" : "nobody asked");
        grid_text(&g, h->what);
        grid_text(&g, h->reason);
        grid_text(&g, h->who);
        grid_text(&g, h->date);
    }
    tell_h2(doc, "handling", "Handling log");
    if (!g.rows) tell_p(doc, "Nothing is logged.");
    grid_end(&g, doc, NULL);
}

/* ---- trials ---- */

static void trial(struct tell_doc *doc, const struct tell_dossier *d, const struct tell_trial *t) {
    tell_h2(doc, t->id,
            arena_printf(tell_doc_arena(doc), "%s%s%s", t->id, t->title ? ": " : "",
                         t->title ? t->title : ""));
    if (t->question) tell_p(doc, "Question: %s", t->question);
    if (t->before == 0)
        tell_care(doc, "made before it was asked: no prediction was written down.");
    else if (t->prediction)
        tell_p(doc, "Predicted%s%s: %s", t->predicted_on ? " on " : "",
               t->predicted_on ? t->predicted_on : "", t->prediction);
    const char *const labels[] = {"Held",  "Varied", "Made in this order", "Maker", "Skill",
                                  "Tools", "Room",   "Photographs"};
    const char *texts[] = {t->fixed, t->varied, t->order, t->maker,
                           t->skill, t->tools,  t->room,  t->photos};
    if (t->copies && !t->nesting) tell_item(doc, "Copies and trees: %s", t->copies);
    for (int i = 0; i < 8; i++)
        if (texts[i]) tell_item(doc, "%s: %s", labels[i], texts[i]);
    if (t->outcome) tell_p(doc, "Outcome: %s", t->outcome);
    if (t->verdict == LOOK_CANNOT_TELL)
        tell_p(doc, "The trial cannot tell yet.");
    else if (t->verdict >= 0 && t->verdict < LOOK_CANNOT_TELL)
        tell_p(doc, "The trial %s the prediction%s.", look_verdict_words[t->verdict],
               t->before == 0 ? ", which was only written down after the making" : "");
    if (t->changed) tell_p(doc, "What follows: %s", t->changed);
    tell_drawings_of(doc, d, arena_printf(tell_doc_arena(doc), "trial %s", t->id), TELL_IN_BOOK);
    if (t->nesting) tell_rows(doc, t->nesting);
}

static void trials(struct tell_doc *doc, const struct tell_dossier *d, struct error *err) {
    tell_h1(doc, "trials", "Trials, failures included", 7);
    if (!d->n_trials) tell_p(doc, "No trial is entered yet.");
    for (size_t i = 0; i < d->n_trials; i++)
        trial(doc, d, &d->trials[i]);
    statements_of(doc, d, "trials", err);
    static const char *const tables[] = {"answers",    "series", "drying", "plan",
                                         "plan_facts", "taught", NULL};
    for (size_t i = 0; tables[i]; i++) /* what they changed stands in a chapter of its own */
        tell_table_of(doc, d, "trials", tables[i]);
    tell_drawings_of(doc, d, "trials", TELL_IN_BOOK);
}

static void open_questions(struct tell_doc *doc, const struct tell_dossier *d) {
    struct arena *arena = tell_doc_arena(doc);
    struct grid g;
    grid_begin(&g, arena,
               (const char *const[]){"what is open", "what would settle it", "step", NULL});
    for (size_t i = 0; i < d->n_questions; i++) {
        grid_text(&g, d->questions[i].question);
        grid_text(&g, d->questions[i].settles);
        grid_text(&g, d->questions[i].step);
    }
    tell_h1(doc, "open", "What is open, and what would settle it", 8);
    if (g.rows)
        tell_p(doc,
               "Where nothing is named, a mark on a piece, a parallel or a trial would settle it.");
    else
        tell_p(doc, "No open question is entered.");
    grid_end(&g, doc, NULL);
}

/* ---- the copy ---- */

static void as_made(struct tell_doc *doc, const struct tell_dossier *d) {
    const struct handover *h = d->handover;
    struct arena *arena = tell_doc_arena(doc);
    char number[40];
    tell_h1(doc, "copy", "The copy as made, and later", 8);
    if (h && isfinite(h->hours)) tell_p(doc, "Hours of work: %s.", show_real(number, h->hours, 1));
    if (h && isfinite(h->mass)) tell_p(doc, "Mass: %s g.", show_real(number, h->mass, 0));
    if (h && h->aids) tell_p(doc, "Modern aids: %s.", h->aids);
    if (h && h->mark) tell_p(doc, "Marked for good as a copy: %s.", h->mark);
    if (h && h->stock) tell_p(doc, "Trees and stock: %s.", h->stock);
    struct grid g;
    grid_begin(&g, arena,
               (const char *const[]){"part", "planned", "made", "why", "seen by", "when", NULL});
    for (size_t i = 0; i < d->n_as_made; i++) {
        const struct as_made *a = &d->as_made[i];
        grid_text(&g, a->part);
        grid_text(&g, a->planned);
        grid_text(&g, a->made);
        grid_text(&g, a->why);
        grid_text(&g, a->who);
        grid_text(&g, a->when ? a->when : a->date);
    }
    grid_end(&g, doc, "Differences between plan and copy");
    tell_p(doc, "After one year (length, width, rise, loose ties, cracks, humidity of the case):");
    for (int i = 0; i < 3; i++)
        tell_blank(doc, "");
    tell_p(doc, "After five years:");
    for (int i = 0; i < 3; i++)
        tell_blank(doc, "");
}

/* ---- cautions, sources, checklist, machine ---- */

static void cautions(struct tell_doc *doc, const struct tell_dossier *d, struct error *err) {
    if (!d->cautions) return;
    struct csv_table table;
    if (csv_read(&table, d->cautions, d->cautions_size, NULL, tell_doc_arena(doc), err)) return;
    tell_h1(doc, "care", "Take care", 8);
    tell_p(doc, "These are the usual cautions. Local rules and licensed people come first; nothing "
                "here calls anything safe for a child, a fight or a load.");
    for (size_t i = 1; i < table.n; i++)
        if (table.rows[i].n >= 2)
            tell_item(doc, "%s: %s", table.rows[i].cells[0], table.rows[i].cells[1]);
}

static void sources(struct tell_doc *doc, const struct tell_dossier *d) {
    const struct find *f = d->find;
    struct arena *arena = tell_doc_arena(doc);
    tell_h1(doc, "sources", "Sources", 8);
    for (int parallel = 0; parallel < 2; parallel++) {
        struct grid g;
        grid_begin(&g, arena,
                   (const char *const[]){"source", "kind", "title", "who", "date", NULL});
        for (size_t i = 0; f && i < f->source_count; i++) {
            const struct source *s = &f->sources[i];
            if (s->hidden == 1 || (s->kind == SOURCE_PARALLEL) != parallel) continue;
            grid_text(&g, s->id);
            grid_anchor(&g, "source", s->id);
            grid_text(&g, word(source_words, s->kind, 7));
            grid_text(&g, s->title);
            grid_text(&g, s->who);
            grid_text(&g, s->date);
        }
        if (!g.rows && !parallel) tell_p(doc, "No source is entered.");
        grid_end(&g, doc,
                 parallel ? "Parallels: other objects, no evidence of this one"
                          : "The object's own evidence");
    }
    /* Publications behind the rules, each once. */
    size_t n = d->said ? statement_count(d->said) : 0;
    struct grid g;
    grid_begin(&g, arena, (const char *const[]){"publication behind a rule", "used by", NULL});
    for (size_t i = 0; i < n; i++) {
        const struct statement *s = statement_at(d->said, i);
        bool first = s->source != NULL;
        for (size_t k = 0; k < i && first; k++) {
            const char *before = statement_at(d->said, k)->source;
            first = !before || strcmp(before, s->source);
        }
        if (!first) continue;
        size_t uses = 0;
        for (size_t k = i; k < n; k++) {
            const char *at = statement_at(d->said, k)->source;
            uses += at && !strcmp(at, s->source);
        }
        grid_text(&g, s->source);
        grid_text(&g, arena_printf(arena, "%s%s", s->id, uses > 1 ? " and others" : ""));
    }
    grid_end(&g, doc, "Publications");
}

static void checklist(struct tell_doc *doc, const struct tell_check *list, size_t n) {
    struct arena *arena = tell_doc_arena(doc);
    struct grid g;
    grid_begin(&g, arena, (const char *const[]){"of", "point", "done", "what is missing", NULL});
    for (size_t i = 0; i < n; i++) {
        grid_text(&g, list[i].group);
        grid_text(&g, list[i].item);
        grid_text(&g, list[i].done == 1 ? "yes" : list[i].done == 0 ? "no" : "does not apply");
        grid_text(&g, list[i].missing);
    }
    tell_h1(doc, "checklist", "Checklist", 8);
    tell_p(doc, "What the charters for computer-based pictures of the past, and those for keeping "
                "data, ask of a report, as far as a program can tick it.");
    grid_end(&g, doc, NULL);
}

static void machine(struct tell_doc *doc, const struct tell_dossier *d) {
    tell_h1(doc, "machine", "How this was worked out", 8);
    tell_p(
        doc,
        "Program: relict %s. Project: %s, revision %ld, hash %s. Seed %ld, %ld possible originals. "
        "The same project gives the same numbers again on the same machine; on another, "
        "within the stated error of sampling.",
        d->version ? d->version : "", d->file ? d->file : "", d->revision,
        d->hash ? d->hash : "not known", d->seed, d->draws);
}

/* Of two statements about the same size of a piece, fresh and dry. */
static void both_states(const struct tell_dossier *d, size_t first, const struct statement **fresh,
                        const struct statement **dry) {
    const struct statement *s = statement_at(d->said, first);
    *fresh = *dry = NULL;
    for (size_t k = first; k < statement_count(d->said); k++) {
        const struct statement *t = statement_at(d->said, k);
        if (!tell_is_of_piece(t) || strcmp(t->about, s->about) || strcmp(t->quantity, s->quantity))
            continue;
        bool is_dry = t->state && !strcmp(t->state, "new and dry");
        if (is_dry && !*dry) *dry = t;
        if (!is_dry && !*fresh) *fresh = t;
    }
}

/* The first of its size among those that were read in `state`. */
static bool was_read_in(const struct tell_dossier *d, const struct statement *s,
                        const char *state) {
    return tell_is_of_piece(s) && !tell_is_private(d, s) && !strcmp(tell_anchor(d, s), s->id) &&
           !strcmp(s->raw_state ? s->raw_state : "", state);
}

static void sizes_in_state(struct tell_doc *doc, const struct tell_dossier *d, const char *state) {
    struct arena *arena = tell_doc_arena(doc);
    struct grid g;
    grid_begin(&g, arena,
               (const char *const[]){"piece", "what", "as read", "fresh", "new and dry",
                                     "take care", NULL});
    for (size_t i = 0; i < statement_count(d->said); i++) {
        const struct statement *s = statement_at(d->said, i), *fresh, *dry;
        if (!was_read_in(d, s, state)) continue;
        both_states(d, i, &fresh, &dry);
        char raw[40];
        grid_text(&g, s->about + 6);
        grid_anchor_whole(&g, s->id);
        grid_text(&g, s->quantity);
        grid_text(&g, isfinite(s->raw) ? arena_printf(arena, "%s %s", show_real(raw, s->raw, 2),
                                                      s->unit ? s->unit : "")
                                       : NULL);
        grid_text(&g, fresh ? statement_number(fresh, arena) : NULL);
        grid_text(&g, dry ? statement_number(dry, arena) : NULL);
        /* what to do about it stands once, in the table that follows */
        const char *care = s->caution ? s->caution : s->doubt,
                   *rest = care ? strchr(care, ';') : NULL;
        grid_text(&g, rest ? arena_printf(arena, "%.*s", (int)(rest - care), care) : care);
    }
    grid_end(&g, doc, *state ? arena_printf(arena, "Read %s", state) : "State not known");
}

/* Every reading beside what it is fresh, and new and dry; a table for each state of reading. */
static void sizes_of_pieces(struct tell_doc *doc, const struct tell_dossier *d) {
    size_t n = d->said ? statement_count(d->said) : 0;
    bool any = false;
    for (size_t i = 0; i < n; i++) {
        const struct statement *s = statement_at(d->said, i);
        const char *state = s->raw_state ? s->raw_state : "";
        if (!was_read_in(d, s, state)) continue;
        bool told = false;
        for (size_t k = 0; k < i && !told; k++)
            told = was_read_in(d, statement_at(d->said, k), state);
        if (told) continue;
        if (!any) {
            tell_h2(doc, "sizes-of-pieces",
                    "Each reading, with what it was fresh, and new and dry");
            tell_p(doc, "The change is undone by the rules named above; what a reading rests on is "
                        "the reading itself and the change of its material, zone and direction. "
                        "All are worked out but those of which nothing is known that could be "
                        "undone: these stand as they were seen.");
        }
        any = true;
        sizes_in_state(doc, d, state);
    }
    if (any) tell_table_of(doc, d, "sizes", "handling");
}

static void step_section(struct tell_doc *doc, const struct tell_dossier *d, int step,
                         const char *heading, struct error *err) {
    tell_h1(doc, step_names[step], heading, step);
    size_t told = statements_of(doc, d, step_names[step], err);
    if (!told) tell_p(doc, "Nothing is said about this yet.");
    tell_drawings_of(doc, d, step_names[step], TELL_IN_BOOK);
    if (step == 1)
        sizes_of_pieces(doc, d); /* in place of the step's own list of readings */
    else if (step != 4)          /* the makings follow, part by part */
        tell_tables_of(doc, d, step_names[step]);
}

static void body(struct tell_doc *doc, const struct tell_dossier *d, const struct tell_check *list,
                 size_t n, struct error *err) {
    what_it_is(doc, d);
    tell_picture(doc, tally_drawing(d));
    tell_drawings_of(doc, d, "report", TELL_IN_BOOK);
    report_in_short(doc, d);
    tell_h2(doc, "key", "How to read it");
    tell_picture(doc, key_drawing());
    tell_h1(doc, "found", "What was found", 0);
    statements_of(doc, d, "found", err);
    tell_drawings_of(doc, d, "found", TELL_IN_BOOK);
    if (d->find) {
        pieces(doc, d);
        photographs(doc, d);
        readings(doc, d);
        set_aside(doc, d);
        handling(doc, d);
    }
    tell_tables_of(doc, d, "found");
    step_section(doc, d, 1, "Sizes when fresh, and new and dry", err);
    step_section(doc, d, 2, "Outline", err);
    step_section(doc, d, 3, "Curve", err);
    step_section(doc, d, 4, "How it was made", err);
    report_makings(doc, d);
    report_choices(doc, d);
    step_section(doc, d, 5, "Shape and strength", err);
    step_section(doc, d, 6, "Material and season", err);
    trials(doc, d, err);
    report_without(doc, d);
    report_falls(doc, d);
    open_questions(doc, d);
    as_made(doc, d);
    cautions(doc, d, err);
    sources(doc, d);
    checklist(doc, list, n);
    machine(doc, d);
}

int tell_report(struct tell_doc **out, const struct tell_dossier *d, struct error *err) {
    *out = NULL;
    struct arena *arena = arena_new();
    if (!arena) return fail_memory(err);
    struct tell_check *list;
    size_t n;
    int code = tell_checklist(&list, &n, d, arena, err);
    if (!code) {
        struct tell_doc_options o =
            tell_options(d, "The argument", tell_draft_reason(list, n, arena));
        o.contents = true;
        struct tell_doc *doc = tell_doc_new(&o);
        struct error trouble = {0};
        body(doc, d, list, n, &trouble);
        code = trouble.code ? (int)trouble.code : tell_doc_status(doc, &trouble);
        if (code && err) *err = trouble;
        if (code)
            tell_doc_free(doc);
        else
            *out = doc;
    }
    arena_free(arena);
    return code;
}
