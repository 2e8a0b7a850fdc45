/* check: the checklist of a report, as far as a computer can tick it. What it asks for is in
 * reference/trade.md section 4 (London Charter 2.1, principle 4; ICOMOS principles 2017; CIDOC CRM;
 * FAIR; W3C contrast). */
#include "tell/dossier.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

struct ticks {
    struct tell_check *v;
    size_t n, room;
    struct arena *arena;
    bool failed;
};

static void tick(struct ticks *t, const char *group, const char *item, long done, char *missing) {
    if (!missing) t->failed = true;
    if (t->failed || t->n == t->room) return;
    t->v[t->n++] = (struct tell_check){group, item, done, done == 1 ? "" : missing};
}

/* What was ticked from `first` on and is open does not apply, for a reason that a person gave. */
static void excuse(struct ticks *t, size_t first, const char *why) {
    for (size_t i = first; i < t->n; i++)
        if (t->v[i].done == 0) t->v[i] = (struct tell_check){t->v[i].group, t->v[i].item, -1, why};
}

static bool has(const char *text) {
    return text && *text;
}

/* A field of the handover entry. */
static void entry(struct ticks *t, const char *group, const char *item, bool done,
                  const char *field) {
    tick(t, group, item, done, arena_printf(t->arena, "not entered (handover, %s)", field));
}

static void identity(struct ticks *t, const struct tell_dossier *d) {
    static const struct handover none;
    const struct handover *h = d->handover ? d->handover : &none;
    bool known = d->handover != NULL;
    const char *g = "Identity and scope";
    entry(t, g, "title", has(d->title), "project title");
    entry(t, g, "object number", has(h->number), "number");
    entry(t, g, "version", has(h->version), "version");
    entry(t, g, "date", has(h->date) || has(d->moment), "date");
    entry(t, g, "authors and roles", has(h->authors), "authors");
    entry(t, g, "licence", has(h->licence), "licence");
    /* a project has one from its first day (RFC 4122); a registered one is entered beside it */
    entry(t, g, "persistent identifier", has(h->identifier) || has(d->uuid), "identifier");
    entry(t, g, "what it claims to be", known && h->claim >= 0, "claim");
    entry(t, g, "purpose", has(h->purpose), "purpose");
    entry(t, g, "audience", has(h->audience), "audience");
    entry(t, g, "kind of making", known && h->copy >= 0, "copy");
}

static bool has_photo(const struct find *find, const char *piece) {
    /* a piece kept as shape only has no scale to show: its photograph is all there can be */
    const struct piece *p = find_piece(find, piece);
    bool shape = p && p->shape_only == 1;
    for (size_t i = 0; i < find->source_count; i++) {
        const struct source *s = &find->sources[i];
        if (s->kind != SOURCE_PHOTO || (!isfinite(s->bar_length) && !shape)) continue;
        for (size_t k = 0; k < s->about.n; k++)
            if (!strcmp(s->about.v[k], piece)) return true;
    }
    return false;
}

/* A count has no tolerance; a limit ("under 0.5 mm") says what is known as it is. */
static bool needs_tolerance(const struct measure *m) {
    return m->quantity != QUANTITY_HOLES && m->quantity != QUANTITY_ROUNDS &&
           m->quantity != QUANTITY_STITCHES_PER_10_MM && m->bound != BOUND_AT_LEAST &&
           m->bound != BOUND_AT_MOST;
}

/* What else a doubtful material could be: in the list, or as a view with its rival. A trace is the
 * mark of a thing that is gone and has no material of its own. */
static bool has_other(const struct find *f, const struct piece *p) {
    if (has(p->other_taxon) || p->substance == SUBSTANCE_TRACE) return true;
    size_t n = strlen(p->id);
    for (size_t i = 0; i < f->choice_count; i++) {
        const struct choice *c = &f->choices[i];
        if (has(c->about) && has(c->rival) && !strncmp(c->about, p->id, n) &&
            !strcmp(c->about + n, ".material"))
            return true;
    }
    return false;
}

/* Names up to six of those that fail, then counts. */
struct names {
    struct show_out text;
    size_t n;
};

static void name_it(struct names *k, const char *id) {
    if (k->n < 6) show_out_format(&k->text, "%s%s", k->n ? ", " : "", id ? id : "?");
    k->n++;
}

static void tick_names(struct ticks *t, const char *group, const char *item, struct names *k,
                       bool any, const char *words) {
    /* "1 piece without", "34 pieces without" */
    size_t word = strcspn(words, " "), plural = 0;
    if (k->n == 1 && word > 3 && words[word - 1] == 's')
        plural = !strncmp(words + word - 3, "ses", 3) && strncmp(words, "choices", 7) ? 2 : 1;
    char *missing =
        arena_printf(t->arena, "%zu %.*s%s: %s%s", k->n, (int)(word - plural), words, words + word,
                     k->text.bytes ? k->text.bytes : "", k->n > 6 ? " and more" : "");
    t->failed |= k->text.failed;
    show_out_deinit(&k->text);
    tick(t, group, item, any ? k->n == 0 : 0,
         any ? missing : arena_printf(t->arena, "nothing is entered"));
    k->n = 0;
}

/* Every piece has a size, or says why it has none; every reading says its unit by what it is of. */
static void sizes(struct ticks *t, const struct find *f) {
    struct names none = {0}, lost = {0}, value = {0};
    for (size_t i = 0; i < f->piece_count; i++) {
        const struct piece *p = &f->pieces[i];
        bool any = p->shape_only == 1;
        for (size_t k = 0; k < f->measure_count && !any; k++)
            any = f->measures[k].piece && !strcmp(f->measures[k].piece, p->id);
        if (!any) name_it(&none, p->id);
        if (p->shape_only == 1 && !has(p->note)) name_it(&lost, p->id);
    }
    for (size_t i = 0; i < f->measure_count; i++)
        if (!isfinite(f->measures[i].value) || f->measures[i].quantity < 0)
            name_it(&value, f->measures[i].id);
    const char *g = "Evidence";
    tick_names(t, g, "every piece has a size", &none, f->piece_count > 0, "pieces without");
    tick_names(t, g, "every reading has a value and a unit", &value, f->measure_count > 0,
               "readings without");
    tick_names(t, g, "pieces lost or not seen say so", &lost, f->piece_count > 0, "pieces without");
}

/* Who named a material and how: a reply or a record about the piece. */
static void identified(struct ticks *t, const struct find *f) {
    struct names by = {0};
    for (size_t i = 0; i < f->piece_count; i++) {
        const struct piece *p = &f->pieces[i];
        bool told = !has(p->material);
        for (size_t k = 0; k < f->source_count && !told; k++) {
            const struct source *s = &f->sources[k];
            if (s->kind == SOURCE_PHOTO || s->kind == SOURCE_PARALLEL || !has(s->who)) continue;
            for (size_t m = 0; m < s->about.n && !told; m++)
                told = !strcmp(s->about.v[m], p->id);
        }
        if (!told) name_it(&by, p->id);
    }
    tick_names(t, "Evidence", "who named every material, and how", &by, f->piece_count > 0,
               "pieces without a reply or a record");
}

/* A parallel is another object: it may not be listed as about a piece of this one. */
static void parallels(struct ticks *t, const struct tell_dossier *d) {
    struct names mixed = {0};
    for (size_t i = 0; d->find && i < d->find->source_count; i++) {
        const struct source *s = &d->find->sources[i];
        for (size_t k = 0; s->kind == SOURCE_PARALLEL && k < s->about.n; k++)
            if (find_piece(d->find, s->about.v[k])) {
                name_it(&mixed, s->id);
                break;
            }
    }
    tick_names(t, "Evidence", "parallels stand apart from the object's own evidence", &mixed, true,
               "parallels entered as about a piece");
}

static void evidence(struct ticks *t, const struct tell_dossier *d) {
    static const struct find none;
    const struct find *f = d->find ? d->find : &none;
    const char *g = "Evidence";
    struct names photo = {0}, state = {0}, tol = {0}, method = {0}, observer = {0}, date = {0},
                 other = {0}, firm = {0};
    for (size_t i = 0; i < f->piece_count; i++) {
        const struct piece *p = &f->pieces[i];
        if (!has_photo(f, p->id)) name_it(&photo, p->id);
        if (has(p->material) && p->confidence < 0) name_it(&firm, p->id);
        if (p->confidence == CONFIDENCE_DOUBTFUL && !has_other(f, p)) name_it(&other, p->id);
    }
    for (size_t i = 0; i < f->measure_count; i++) {
        const struct measure *m = &f->measures[i];
        if (m->state < 0) name_it(&state, m->id);
        if (!isfinite(m->tolerance) && needs_tolerance(m)) name_it(&tol, m->id);
        if (!has(m->method)) name_it(&method, m->id);
        if (!has(m->observer)) name_it(&observer, m->id);
        if (!has(m->date)) name_it(&date, m->id);
    }
    bool pieces = f->piece_count > 0, measures = f->measure_count > 0;
    tick(t, g, "every piece has a number", pieces,
         arena_printf(t->arena, "no piece is entered (relict import)"));
    sizes(t, f);
    tick_names(t, g, "every piece has a photo with scale", &photo, pieces, "pieces without");
    tick_names(t, g, "every reading has its state", &state, measures, "readings without");
    tick_names(t, g, "every reading has its tolerance", &tol, measures, "readings without");
    tick_names(t, g, "every reading has its method", &method, measures, "readings without");
    tick_names(t, g, "every reading has its observer", &observer, measures, "readings without");
    tick_names(t, g, "every reading has its date", &date, measures, "readings without");
    tick_names(t, g, "how firm every material name is", &firm, pieces, "pieces without");
    tick_names(t, g, "what else a doubtful material could be", &other, pieces, "pieces without");
    identified(t, f);
    tick(t, g, "sources are listed", f->source_count > 0,
         arena_printf(t->arena, "no source is entered"));
    parallels(t, d);
    tick(t, g, "handling and treatment are logged", f->handling_count > 0,
         arena_printf(t->arena, "no handling is entered"));
}

/* What is rejected, and who saw it otherwise: every choice names its rival, and where people hold
 * different views each is signed. */
static void views(struct ticks *t, const struct tell_dossier *d) {
    struct names rival = {0}, view = {0};
    const struct find *f = d->find;
    for (size_t i = 0; f && i < f->choice_count; i++) {
        const struct choice *c = &f->choices[i];
        if (!has(c->rival)) name_it(&rival, c->id);
        for (size_t k = 0; k < f->choice_count; k++) {
            const struct choice *o = &f->choices[k];
            if (k == i || !has(c->about) || !has(o->about) || strcmp(c->about, o->about)) continue;
            if (!has(c->who) || !has(c->date)) name_it(&view, c->id);
            break;
        }
    }
    const char *g = "Reasoning";
    tick_names(t, g, "every choice names what was rejected", &rival, true, "choices without");
    tick_names(t, g, "who disagreed is named and dated", &view, true, "views without");
}

static void reasoning(struct ticks *t, const struct tell_dossier *d) {
    const char *g = "Reasoning";
    struct names foot = {0}, rule = {0}, range = {0}, rival = {0}, cited = {0}, signed_off = {0};
    size_t n = d->said ? statement_count(d->said) : 0;
    for (size_t i = 0; i < n; i++) {
        const struct statement *s = statement_at(d->said, i);
        if (s->footing < 0) name_it(&foot, s->id);
        if (s->footing == FOOTING_GUESSED && !has(s->rival)) name_it(&rival, s->id);
        if (s->footing == FOOTING_PARALLEL && !has(s->source) && !s->rests_on.n)
            name_it(&cited, s->id);
        if (s->footing != FOOTING_WORKED_OUT) continue;
        if (!has(s->rule) || !s->rests_on.n) name_it(&rule, s->id);
        if (isfinite(s->value.p50) && !(isfinite(s->value.p05) && isfinite(s->value.p95)))
            name_it(&range, s->id);
    }
    const struct makings *m = d->makings;
    for (size_t i = 0; m && i < m->part_count; i++)
        if (m->parts[i].footing < 0) name_it(&foot, m->parts[i].id);
    for (size_t i = 0; d->find && i < d->find->choice_count; i++) {
        const struct choice *c = &d->find->choices[i];
        if (!has(c->reason) || !has(c->who) || !has(c->date)) name_it(&signed_off, c->id);
    }
    tick_names(t, g, "every feature has a footing", &foot, n > 0, "features without");
    tick_names(t, g, "what is worked out names inputs and rule", &rule, n > 0,
               "statements without");
    tick_names(t, g, "what is worked out shows low, best and high", &range, n > 0,
               "statements without");
    tick_names(t, g, "every guess names a rival", &rival, n > 0, "guesses without");
    tick_names(t, g, "every parallel is cited", &cited, n > 0, "statements without");
    tick_names(t, g, "every choice has reason, date and name", &signed_off, true,
               "choices without");
    views(t, d);
    tick(t, g, "what falls if one input changes is listed", n > 0,
         arena_printf(t->arena, "there are no statements yet"));
}

static void trials(struct ticks *t, const struct tell_dossier *d) {
    const char *g = "Trials";
    struct names ask = {0}, told = {0}, held = {0}, by = {0}, word = {0}, order = {0}, raw = {0},
                 photo = {0}, tree = {0};
    for (size_t i = 0; i < d->n_trials; i++) {
        const struct tell_trial *k = &d->trials[i];
        if (!has(k->question)) name_it(&ask, k->id);
        if (k->before != 0 && (!has(k->prediction) || !has(k->predicted_on))) name_it(&told, k->id);
        if (!has(k->fixed) || !has(k->varied) || !has(k->copies)) name_it(&held, k->id);
        if (!has(k->maker) || !has(k->skill) || !has(k->tools) || !has(k->room))
            name_it(&by, k->id);
        if (has(k->outcome) && k->verdict < 0) name_it(&word, k->id);
        if (!has(k->order)) name_it(&order, k->id);
        if (k->n_readings <= 0) name_it(&raw, k->id);
        if (!has(k->photos) || k->photo_lost) name_it(&photo, k->id);
        if (!k->nesting) name_it(&tree, k->id);
    }
    bool any = d->n_trials > 0;
    size_t first = t->n;
    tick_names(t, g, "question of each trial", &ask, any, "trials without");
    tick_names(t, g, "prediction with number and date before making", &told, any, "trials without");
    tick_names(t, g, "things held and varied, copies", &held, any, "trials without");
    tick_names(t, g, "maker, skill, tools, room humidity", &by, any, "trials without");
    tick_names(t, g, "order in which the copies were made", &order, any, "trials without");
    tick_names(t, g, "which tree each copy came from", &tree, any, "trials without");
    tick_names(t, g, "raw readings, failures included", &raw, any, "trials without");
    tick_names(t, g, "photographs of each trial, their files kept", &photo, any, "trials without");
    tick_names(t, g, "result in the three words", &word, any, "trials without");
    if (!any && d->handover && has(d->handover->no_trials))
        excuse(t, first, d->handover->no_trials);
}

static void replica(struct ticks *t, const struct tell_dossier *d) {
    static const struct handover none;
    const struct handover *h = d->handover ? d->handover : &none;
    const char *g = "Replica";
    tick(t, g, "specification", d->makings && d->makings->part_count > 0,
         arena_printf(t->arena, "no making with parts is entered"));
    size_t first = t->n;
    tick(t, g, "differences between plan and copy", d->n_as_made > 0,
         arena_printf(t->arena, "no as_made entry"));
    entry(t, g, "modern aids", has(h->aids), "aids");
    entry(t, g, "hours", d->handover && isfinite(h->hours) && h->hours > 0, "hours");
    entry(t, g, "mass", d->handover && isfinite(h->mass) && h->mass > 0, "mass");
    entry(t, g, "mark as a copy", has(h->mark), "mark");
    entry(t, g, "tree and stock numbers", has(h->stock), "stock");
    const struct tell_table *visits = tell_table_named(d, "material", "visits");
    tick(t, g, "what the harvest did, at years 1 to 3", visits && visits->n_rows ? 1 : 0,
         arena_printf(t->arena, "no later visit to a tree is entered (stem_visit)"));
    bool begun = d->n_as_made > 0 || isfinite(h->hours) || isfinite(h->mass) || has(h->mark);
    if (d->handover && !begun && has(h->no_copy)) excuse(t, first, h->no_copy);
}

/* W3C, WCAG 2.2, relative luminance and contrast ratio. */
static double luminance(struct show_rgb c) {
    double v[3] = {c.r / 255.0, c.g / 255.0, c.b / 255.0};
    for (int i = 0; i < 3; i++)
        v[i] = v[i] <= 0.04045 ? v[i] / 12.92 : pow((v[i] + 0.055) / 1.055, 2.4);
    return 0.2126 * v[0] + 0.7152 * v[1] + 0.0722 * v[2];
}

static double least_contrast(void) {
    static const enum show_colour texts[] = {SHOW_INK, SHOW_BARK, SHOW_ALDER, SHOW_SLOE},
                                  grounds[] = {SHOW_PAPER, SHOW_LEAF, SHOW_BIRCH};
    double least = INFINITY;
    for (int theme = 0; theme < SHOW_THEMES; theme++)
        for (int i = 0; i < 4; i++)
            for (int k = 0; k < 3; k++) {
                double a = luminance(show_rgb(texts[i], (enum show_theme)theme));
                double b = luminance(show_rgb(grounds[k], (enum show_theme)theme));
                least = fmin(least, (fmax(a, b) + 0.05) / (fmin(a, b) + 0.05));
            }
    return least;
}

/* Each footing has a hatch of its own, in one colour: what tells them apart is the figure. */
static bool hatches_differ(void) {
    struct show_cell cells[FOOTING_COUNT];
    for (long f = 0; f < FOOTING_COUNT; f++)
        show_hatch_cell(&cells[f], look_hatch(f));
    for (long a = 0; a < FOOTING_COUNT; a++)
        for (long b = 0; b < a; b++) {
            bool alike = cells[a].n == cells[b].n && cells[a].width == cells[b].width &&
                         cells[a].height == cells[b].height;
            for (size_t k = 0; alike && k < cells[a].n; k++)
                alike = !memcmp(&cells[a].steps[k], &cells[b].steps[k], sizeof cells[a].steps[k]);
            if (alike) return false;
        }
    return true;
}

static bool ends_with_one(const char *name, const char *const *ends) {
    size_t n = strlen(name);
    for (; *ends; ends++)
        if (n > strlen(*ends) && !strcasecmp(name + n - strlen(*ends), *ends)) return true;
    return false;
}

/* Photographs as they came; scans as meshes that any program reads. */
static void files_kept(struct ticks *t, const struct tell_dossier *d) {
    static const char *const open_mesh[] = {".ply", ".stl", ".obj", ".glb", ".gltf", NULL};
    struct names photo = {0}, scan = {0};
    bool scans = false;
    for (size_t i = 0; d->find && i < d->find->source_count; i++) {
        const struct source *s = &d->find->sources[i];
        if (s->kind == SOURCE_PHOTO && !has(s->file)) name_it(&photo, s->id);
        if (s->kind != SOURCE_SCAN) continue;
        scans = true;
        if (!has(s->file) || !ends_with_one(s->file, open_mesh)) name_it(&scan, s->id);
    }
    const char *g = "Access and keeping";
    tick_names(t, g, "photographs are kept as they came", &photo, true,
               "photographs without a file");
    if (scans)
        tick_names(t, g, "scans are kept as open meshes", &scan, true, "scans without one");
    else
        tick(t, g, "scans are kept as open meshes", -1, arena_printf(t->arena, "no scan"));
}

static void keeping(struct ticks *t, const struct tell_dossier *d) {
    static const struct handover none;
    const struct handover *h = d->handover ? d->handover : &none;
    const char *g = "Access and keeping";
    /* `relict tell` writes report, tables and list of checksums together; what can lack is a
     * drawing */
    tick(t, g, "report as PDF beside open tables with dictionary, README and checksums",
         d->find && (d->find->piece_count > 0),
         arena_printf(t->arena, "there is nothing to hand over"));
    tick(t, g, "drawings with a 100 mm bar at true size", d->plan != NULL,
         arena_printf(t->arena, "no plan can be drawn: no making with a sheet or a lath"));
    files_kept(t, d);
    tick(t, g, "colour is never the only carrier of a footing", hatches_differ(),
         arena_printf(t->arena, "two footings have the same hatch"));
    tick(t, g, "text contrast 4.5 to 1 or more", least_contrast() >= 4.5,
         arena_printf(t->arena, "least contrast is %.2f", least_contrast()));
    entry(t, g, "place of deposit", has(h->deposit), "deposit");
    entry(t, g, "embargo", has(h->embargo), "embargo; \"none\" is an answer");
    entry(t, g, "contact", has(h->contact), "contact");
}

int tell_checklist(struct tell_check **out, size_t *n, const struct tell_dossier *d,
                   struct arena *arena, struct error *err) {
    struct ticks t = {.room = 96, .arena = arena};
    t.v = ARENA_NEW(arena, struct tell_check, t.room);
    if (!t.v) return fail_memory(err);
    identity(&t, d);
    evidence(&t, d);
    reasoning(&t, d);
    trials(&t, d);
    replica(&t, d);
    keeping(&t, d);
    if (t.failed) return fail_memory(err);
    *out = t.v;
    *n = t.n;
    return 0;
}

const char *tell_draft_reason(const struct tell_check *list, size_t n, struct arena *arena) {
    size_t missing = 0;
    struct show_out o = {0};
    for (size_t i = 0; i < n; i++) {
        if (list[i].done != 0) continue;
        if (missing < 3)
            show_out_format(&o, "%s\"%s\" (%s)", missing ? "; " : "", list[i].item,
                            list[i].missing);
        missing++;
    }
    const char *text = NULL;
    if (missing)
        text = arena_printf(arena, "%zu of %zu points of the checklist %s open%s: %s%s.", missing,
                            n, missing == 1 ? "is" : "are", missing > 3 ? ", among them" : "",
                            o.bytes ? o.bytes : "",
                            missing > 3 ? ". The checklist at the end has them all" : "");
    show_out_deinit(&o);
    return text;
}

size_t tell_guesses(const struct tell_dossier *d) {
    size_t guesses = 0, n = d->said ? statement_count(d->said) : 0;
    for (size_t i = 0; i < n; i++)
        guesses += statement_at(d->said, i)->footing == FOOTING_GUESSED;
    for (size_t i = 0; d->makings && i < d->makings->part_count; i++)
        guesses += d->makings->parts[i].footing == FOOTING_GUESSED;
    return guesses;
}

size_t tell_without_footing(const struct tell_dossier *d) {
    size_t blank = 0, n = d->said ? statement_count(d->said) : 0;
    for (size_t i = 0; i < n; i++)
        blank += statement_at(d->said, i)->footing < 0;
    for (size_t i = 0; d->makings && i < d->makings->part_count; i++)
        blank += d->makings->parts[i].footing < 0;
    return blank;
}

struct tell_doc_options tell_options(const struct tell_dossier *d, const char *title,
                                     const char *draft) {
    return (struct tell_doc_options){
        .title = title,
        .object = d->title,
        .state = d->handover && d->handover->invented == 1 ? "Invented, for practice" : NULL,
        .file = d->file,
        .date = d->moment,
        .moment = d->moment,
        .hash = d->hash,
        .author = d->handover ? d->handover->authors : NULL,
        .draft = draft};
}

json_t *tell_check_encode(const struct tell_check *list, size_t n) {
    json_t *out = json_array();
    for (size_t i = 0; i < n; i++)
        json_array_append_new(out, json_pack("{s:s,s:s,s:s,s:s}", "of", list[i].group, "point",
                                             list[i].item, "done",
                                             list[i].done == 1   ? "yes"
                                             : list[i].done == 0 ? "no"
                                                                 : "does not apply",
                                             "missing", list[i].missing));
    return out;
}
