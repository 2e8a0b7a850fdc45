/* dossier_sample: a small invented dossier for tests: six pieces, their readings, statements on
 * every footing, a making, choices, sources, a trial. `odd` is a text put where a person may write.
 */
#ifndef RELICT_TESTS_DOSSIER_SAMPLE_H
#define RELICT_TESTS_DOSSIER_SAMPLE_H

#include "../show/plan_sample.h"
#include "tell/dossier.h"

struct dossier_sample {
    struct arena *arena;
    struct piece pieces[6];
    struct measure measures[12];
    struct source sources[4];
    struct choice choices[2];
    struct handling handlings[1];
    struct find find;
    struct making makings_v[2];
    struct part parts[5];
    struct step steps[3];
    struct makings makings;
    struct handover handover;
    struct as_made as_made[1];
    struct tell_question questions[1];
    struct tell_trial trials[2];
    struct plan_sample plan;
    struct tell_dossier d;
};

static inline struct piece sample_piece(const char *id, const char *part, const char *material,
                                        const char *zone, const char *note) {
    struct piece p;
    field_unknown(&piece_kind, &p);
    p.id = id, p.part = part, p.material = material, p.zone = zone, p.note = note;
    p.confidence = CONFIDENCE_FIRM;
    return p;
}

static inline struct measure sample_measure(const char *id, const char *piece, long quantity,
                                            double value, double tolerance, long state) {
    struct measure m;
    field_unknown(&measure_kind, &m);
    m.id = id, m.piece = piece, m.quantity = quantity, m.value = value, m.tolerance = tolerance;
    m.state = state;
    m.method = "calliper", m.observer = "finds illustrator", m.date = "2026-03-02";
    m.direction = quantity == QUANTITY_LENGTH ? DIRECTION_ALONG : DIRECTION_ACROSS;
    return m;
}

static inline struct statement sample_said(const char *id, const char *step, const char *sentence,
                                           long footing, double p05, double p50, double p95,
                                           const char *state) {
    struct statement s = statement_blank();
    s.id = id, s.step = step, s.sentence = sentence, s.footing = footing, s.state = state;
    if (isfinite(p50)) {
        double lo = p50 - p05, hi = p95 - p50;
        s.value = (struct spread){p50 - 1.6 * lo, p05, p50 - 0.41 * lo,   p50, p50 + 0.41 * hi, p95,
                                  p50 + 1.6 * hi, p50, (p95 - p05) / 3.29};
        s.unit = "mm";
    }
    return s;
}

static inline void sample_say(struct dossier_sample *s) {
    struct error err = {0};
    struct statement_set *set = statement_set_new(s->arena);
    struct statement a = sample_said("lath.width.west", "sizes",
                                     "The laths of the west half were this wide when cut.",
                                     FOOTING_WORKED_OUT, 25.6, 26.3, 27.0, "fresh");
    a.rule = "undoing the change in size between fresh and treated", a.raw = 25.5,
    a.raw_state = "after treatment", a.source = "Wood Handbook, GTR-190, 2010, table 4-3";
    a.standing = STANDING_ANALOGY;
    statement_link_add(&a, "measure", "A01.width", "reading", s->arena, &err);
    statement_link_add(&a, "measure", "A02.width", "reading", s->arena, &err);
    statement_link_add(&a, "fact", "wood_shrinkage.csv row 12", "alteration", s->arena, &err);
    statement_add(set, &a, &err);
    struct statement b = sample_said("lath.count", "making", "So many laths crossed the sheet.",
                                     FOOTING_GUESSED, 4, 6, 7, NULL);
    b.unit = "", b.rival = "five, if the shadow of the second is a fold";
    statement_link_add(&b, "statement", "lath.width.west", "argument: spacing", s->arena, &err);
    statement_link_add(&b, "piece", "A12", "argument: shadows 69 mm apart", s->arena, &err);
    statement_add(set, &b, &err);
    struct statement c = sample_said("rim.section", "found", "The rim rod is half round.",
                                     FOOTING_SEEN, NAN, NAN, NAN, NULL);
    statement_link_add(&c, "piece", "A20", "seen", s->arena, &err);
    statement_add(set, &c, &err);
    struct statement e = sample_said("outline.length", "outline", "The sheet was this long.",
                                     FOOTING_WORKED_OUT, 497, 518, 541, "new and dry");
    e.rule = "outline families fitted to arcs and straight runs";
    e.doubt = "reading A20.rise was changed on 2026-04-11";
    statement_link_add(&e, "measure", "A20.rise", "reading", s->arena, &err);
    statement_link_add(&e, "choice", "c1", "assumption", s->arena, &err);
    statement_add(set, &e, &err);
    struct statement f = sample_said("grip.length", "making", "The grip was this long.",
                                     FOOTING_PARALLEL, 150, 176, 205, "new and dry");
    f.source = "an invented parallel";
    statement_link_add(&f, "source", "s3", "parallel", s->arena, &err);
    statement_add(set, &f, &err);
    struct statement g =
        sample_said("strap", "making", "A strap is added so that visitors can hold it.",
                    FOOTING_MODERN_NEED, NAN, NAN, NAN, NULL);
    statement_link_add(&g, "choice", "c2", "assumption", s->arena, &err);
    statement_add(set, &g, &err);
    s->d.said = set;
}

static inline void dossier_sample(struct dossier_sample *s, struct arena *arena, const char *odd) {
    *s = (struct dossier_sample){.arena = arena};
    s->pieces[0] = sample_piece("A01", "cross lath", "Corylus avellana (split rod)", "W", odd);
    s->pieces[1] = sample_piece("A02", "cross lath", "Corylus avellana (split rod)", "W", NULL);
    s->pieces[2] = sample_piece("A12", "bark sheet", "Tilia sp.? / Ulmus sp.? bark", "W",
                                "two lath shadows 69 mm apart");
    s->pieces[2].confidence = CONFIDENCE_DOUBTFUL;
    s->pieces[2].other_taxon = "Ulmus";
    s->pieces[3] = sample_piece("A20", "rim rod (half-round)", "Corylus avellana", "W", NULL);
    s->pieces[4] = sample_piece("A42", "lath?", "not identified", "W", "no scale in the frame");
    s->pieces[4].shape_only = 1;
    s->pieces[5] = sample_piece("A43", "cross lath", "Corylus avellana", "W", NULL);
    s->pieces[5].same_as = "A01";
    static const struct {
        const char *id, *piece;
        long q;
        double v, t;
        long state;
    } rows[] = {{"A01.length", "A01", QUANTITY_LENGTH, 139.5, 0.5, STATE_TREATED},
                {"A01.width", "A01", QUANTITY_WIDTH, 25.5, 0.5, STATE_TREATED},
                {"A02.length", "A02", QUANTITY_LENGTH, 90.5, 0.5, STATE_TREATED},
                {"A02.width", "A02", QUANTITY_WIDTH, 25, 0.5, STATE_TREATED},
                {"A12.length", "A12", QUANTITY_LENGTH, 243, 1, STATE_TREATED},
                {"A12.holes", "A12", QUANTITY_HOLES, 9, NAN, STATE_TREATED},
                {"A20.chord", "A20", QUANTITY_CHORD, 126, 0.5, STATE_IN_GROUND},
                {"A20.rise", "A20", QUANTITY_SAGITTA, 17, 0.5, STATE_IN_GROUND}};
    size_t n = sizeof rows / sizeof rows[0];
    for (size_t i = 0; i < n; i++)
        s->measures[i] = sample_measure(rows[i].id, rows[i].piece, rows[i].q, rows[i].v, rows[i].t,
                                        rows[i].state);
    for (int i = 0; i < 4; i++)
        field_unknown(&source_kind, &s->sources[i]);
    s->sources[0].id = "s1", s->sources[0].kind = SOURCE_PHOTO, s->sources[0].title = "photo 17";
    s->sources[1].id = "s2", s->sources[1].kind = SOURCE_REPLY, s->sources[1].title = "reply";
    s->sources[1].who = "basket-maker", s->sources[1].date = "2026-04-02",
    s->sources[1].text = odd ? odd : "I would have made it with five.";
    s->sources[2].id = "s3", s->sources[2].kind = SOURCE_PARALLEL,
    s->sources[2].title = "an invented tray in an invented museum";
    s->sources[3].id = "s4", s->sources[3].kind = SOURCE_RECORD,
    s->sources[3].title = "trench book";
    for (int i = 0; i < 2; i++)
        field_unknown(&choice_kind, &s->choices[i]);
    s->choices[0].id = "c1", s->choices[0].about = "outline.family",
    s->choices[0].value = "squared oval", s->choices[0].rival = "rounded rectangle",
    s->choices[0].reason = odd, s->choices[0].who = "curator", s->choices[0].date = "2026-04-01";
    s->choices[1].id = "c2", s->choices[1].about = "strap", s->choices[1].value = "leather strap",
    s->choices[1].who = "designer", s->choices[1].footing = FOOTING_MODERN_NEED;
    field_unknown(&handling_kind, &s->handlings[0]);
    s->handlings[0].id = "h1", s->handlings[0].piece = "A12", s->handlings[0].allowed = 0;
    s->handlings[0].reason = "laminating";
    s->find = (struct find){.pieces = s->pieces,
                            .piece_count = 6,
                            .measures = s->measures,
                            .measure_count = n,
                            .sources = s->sources,
                            .source_count = 4,
                            .choices = s->choices,
                            .choice_count = 2,
                            .handlings = s->handlings,
                            .handling_count = 1};
    for (int i = 0; i < 2; i++)
        field_unknown(&making_kind, &s->makings_v[i]);
    s->makings_v[0].id = "m1", s->makings_v[0].title = "Flat sheet, seven laths",
    s->makings_v[0].weight = 0.7, s->makings_v[0].who = "bark-worker",
    s->makings_v[0].reason = "the spacing runs on", s->makings_v[0].date = "2026-04-20";
    s->makings_v[1].id = "m2", s->makings_v[1].title = "Hollow sheet, five laths",
    s->makings_v[1].weight = 0.3;
    for (int i = 0; i < 5; i++)
        field_unknown(&part_kind_kind, &s->parts[i]);
    static const char *const ids[] = {"sheet.1", "lath.1", "lath.2", "rim.1", "grip.1"};
    static const char *const names[] = {"sheet", "left lath", "middle lath", "outer rim rod",
                                        "grip"};
    static const long kinds[] = {PART_SHEET, PART_LATH, PART_LATH, PART_RIM, PART_GRIP};
    static const double length[] = {518, 294, 322, 1428, 176}, width[] = {338, 26, 26, 14, 30};
    for (int i = 0; i < 5; i++) {
        struct part *p = &s->parts[i];
        p->id = ids[i], p->making = "m1", p->kind = kinds[i], p->name = names[i];
        p->length = length[i], p->width = width[i], p->thickness = i ? 3.6 : 3.4;
        p->state = STATE_FRESH, p->footing = i == 4 ? FOOTING_PARALLEL : FOOTING_WORKED_OUT;
        p->substance = i ? SUBSTANCE_SPLIT_WOOD : SUBSTANCE_BARK;
        p->taxon = i ? "Corylus avellana" : "Tilia", p->side = i ? SIDE_WITHIN : SIDE_OUTER;
        p->rule = i == 1 ? "mirrored from lath.7" : NULL;
    }
    for (int i = 0; i < 3; i++)
        field_unknown(&step_kind, &s->steps[i]);
    static const char *const what[] = {"Soak the sheet.", "Push the laths between the layers.",
                                       "Bend the rim rods round and tie them."};
    for (int i = 0; i < 3; i++) {
        struct step *p = &s->steps[i];
        p->id = what[i], p->making = "m1", p->number = i + 1, p->what = what[i];
        p->hours = 2 + i, p->days = i ? 0 : 1, p->moisture_min = 0.3, p->moisture_max = 0.6;
        p->measure = "width across the middle", p->right = "338 mm (330 to 346)";
        p->if_not = "damp it again and lay it under weight for a day";
        p->footing = i == 1 ? FOOTING_GUESSED : FOOTING_SEEN;
    }
    s->makings = (struct makings){s->makings_v, 2, s->parts, 5, s->steps, 3};
    field_unknown(&handover_kind, &s->handover);
    s->handover.id = "report", s->handover.number = "INV 1", s->handover.version = "0.3";
    s->handover.authors = "curator; conservator; bark-worker", s->handover.licence = "CC BY 4.0";
    s->handover.claim = CLAIM_HYPOTHESIS, s->handover.copy = COPY_PILOT, s->handover.invented = 1;
    s->handover.used_for = "carrying food or small things";
    s->handover.failed = "two corners of the rim cracked when they were bent green";
    s->handover.unknown = "how many laths crossed it, and whether it had one grip or two";
    s->handover.hours = 46, s->handover.mass = 540, s->handover.trees = 3;
    s->as_made[0] = (struct as_made){.id = "x",
                                     .part = "lath.2",
                                     .planned = "322 mm",
                                     .made = "319 mm",
                                     .why = "knot at the end",
                                     .who = "maker",
                                     .when = "as made"};
    s->questions[0] =
        (struct tell_question){"How many laths, four to seven?",
                               "the shadow on the inner face of A13, without touch", "making"};
    s->trials[0] = (struct tell_trial){.id = "T1",
                                       .title = "Five bark strips, five trees",
                                       .question = "Does lime bark shrink 6 % across?",
                                       .prediction = "6.0 % (5.0 to 7.0)",
                                       .predicted_on = "2026-05-20",
                                       .before = 1,
                                       .fixed = "thickness 4 mm",
                                       .varied = "tree",
                                       .copies = "five strips, one from each of five trees",
                                       .maker = "bark-worker, 20 years",
                                       .tools = "period knife",
                                       .room = "48 to 55 % humidity",
                                       .outcome = "6.1 % (5.1 to 7.1)",
                                       .verdict = LOOK_SUPPORTS};
    s->trials[1] = (struct tell_trial){.id = "T2",
                                       .title = "Lath bent to 90 mm",
                                       .before = 0,
                                       .question = "Does a 5 mm lath take a radius of 90 mm?",
                                       .outcome = "3 of 5 cracked",
                                       .verdict = LOOK_DOES_NOT_SUPPORT};
    plan_sample(&s->plan, 1);
    s->d = (struct tell_dossier){.title = odd ? odd : "Sample tray (invented)",
                                 .file = "sample.relict",
                                 .moment = "2026-05-01T10:00:00Z",
                                 .hash = "1a2b3c4d5e6f7788",
                                 .version = "0.1.0",
                                 .seed = 1,
                                 .draws = 4096,
                                 .revision = 12,
                                 .handover = &s->handover,
                                 .find = &s->find,
                                 .makings = &s->makings,
                                 .as_made = s->as_made,
                                 .n_as_made = 1,
                                 .plan = &s->plan.plan,
                                 .questions = s->questions,
                                 .n_questions = 1,
                                 .trials = s->trials,
                                 .n_trials = 2,
                                 .steps = {LOOK_HOLDS, LOOK_HOLDS, LOOK_IN_DOUBT, LOOK_CAN_START},
                                 .open = {0, 0, 2, 1, 7}};
    sample_say(s);
}

#endif
