/* What a person entered, said in one line: every kind of thing, with everything known and with
 * nothing but its name. The wanted lines are read aloud, not copied from the program. */
#include "remains/sentence.h"

#include "check.h"

static struct arena *arena;

static void says(const struct find *f, const char *kind, const char *id, const char *want) {
    const char *got = find_sentence(f, kind, id, arena);
    if (!got || strcmp(got, want) != 0)
        fail_msg("%s %s: \"%s\", not \"%s\"", kind, id, got ? got : "", want);
}

static void measures(void **state) {
    (void)state;
    struct measure m[8];
    for (int i = 0; i < 8; i++) {
        field_unknown(&measure_kind, &m[i]);
        m[i].id = (const char *const[]){"a", "b", "c", "d", "e", "f", "g", "h"}[i];
    }
    m[0].quantity = QUANTITY_WIDTH;
    m[0].value = 25.5;
    m[0].tolerance = 0.5;
    m[0].direction = DIRECTION_ACROSS;
    m[0].state = STATE_TREATED;
    m[0].method = "calliper";
    m[0].observer = "illustrator";
    m[0].date = "2026-03-02";
    m[0].flag = "edge worn";
    m[1].quantity = QUANTITY_LENGTH;
    m[2].quantity = QUANTITY_HOLES;
    m[2].value = 7;
    m[3].quantity = QUANTITY_CHAMFER_ANGLE;
    m[3].value = 35;
    m[4].quantity = QUANTITY_MASS;
    m[4].value = 12.25;
    m[5].quantity = QUANTITY_MOISTURE;
    m[5].value = 12;
    m[6].quantity = QUANTITY_LENGTH;
    m[6].value = 100;
    m[6].bound = BOUND_AT_LEAST;
    m[7].quantity = QUANTITY_ROUNDS;
    m[7].value = 3;
    const struct find f = {.measures = m, .measure_count = 8};
    says(&f, "measure", "a",
         "width 25.5 ± 0.5 mm, across, after treatment; calliper; illustrator, 2026-03-02. "
         "Reservation: edge worn");
    says(&f, "measure", "b", "length not read, state unknown");
    says(&f, "measure", "c", "holes 7, state unknown");
    says(&f, "measure", "d", "chamfer angle 35 degrees, state unknown");
    says(&f, "measure", "e", "mass 12.25 g, state unknown");
    says(&f, "measure", "f", "moisture 12 %, state unknown");
    says(&f, "measure", "g", "length at least 100 mm, state unknown");
    says(&f, "measure", "h", "rounds 3, state unknown");
    assert_null(find_sentence(&f, "measure", "z", arena));
    assert_null(find_sentence(&f, "stem", "a", arena));
}

static void pieces_and_marks(void **state) {
    (void)state;
    struct piece p[2];
    struct mark m[2];
    for (int i = 0; i < 2; i++) {
        field_unknown(&piece_kind, &p[i]);
        field_unknown(&mark_kind_kind, &m[i]);
        p[i].id = m[i].id = i ? "2" : "1";
    }
    p[0].part = "cross lath";
    p[0].material = "Corylus avellana (split rod)";
    p[0].zone = "W";
    p[0].shape_only = 1;
    p[0].same_as = "A01";
    p[0].note = "burnt at one end";
    m[0].kind = MARK_CROSSING;
    m[0].piece = "A07";
    m[0].face = FACE_INNER;
    m[0].over = "A07";
    m[0].under = "A09";
    m[0].fits = "lath A09";
    m[0].what = "a dent";
    m[1].kind = MARK_HOLE;
    const struct find f = {.pieces = p, .piece_count = 2, .marks = m, .mark_count = 2};
    says(&f, "piece", "1",
         "cross lath, Corylus avellana (split rod), zone W; shape only, no scale; a second reading "
         "of A01; burnt at one end");
    says(&f, "piece", "2", "part unknown");
    says(&f, "mark", "1", "crossing on A07, inner: A07 over A09, left by lath A09: a dent");
    says(&f, "mark", "2", "hole");
}

static void sources_choices_handling(void **state) {
    (void)state;
    struct source s[2];
    struct choice c[2];
    struct handling h[3];
    for (int i = 0; i < 3; i++) {
        const char *id = (const char *const[]){"1", "2", "3"}[i];
        field_unknown(&handling_kind, &h[i]);
        h[i].id = id;
        if (i == 2) continue;
        field_unknown(&source_kind, &s[i]);
        field_unknown(&choice_kind, &c[i]);
        s[i].id = c[i].id = id;
    }
    s[0].kind = SOURCE_PARALLEL;
    s[0].title = "An invented box";
    s[0].who = "a keeper";
    s[0].date = "2025-02-01";
    s[0].text = "two rings";
    s[1].title = "A note";
    c[0].about = "the edge";
    c[0].value = "an oval";
    c[0].who = "curator";
    c[0].date = "2026-01-02";
    c[0].reason = "the arcs say so";
    c[0].rival = "a round one";
    c[1].about = "the sheet";
    h[0].allowed = 1;
    h[1].allowed = 0;
    h[1].reason = "brittle";
    h[1].what = "lifting";
    h[1].who = "conservator";
    h[1].date = "2026-02-03";
    const struct find f = {.sources = s,
                           .source_count = 2,
                           .choices = c,
                           .choice_count = 2,
                           .handlings = h,
                           .handling_count = 3};
    char want[200];
    snprintf(want, sizeof want, "%s: An invented box; a keeper, 2025-02-01: “two rings”",
             source_words[SOURCE_PARALLEL]);
    says(&f, "source", "1", want);
    says(&f, "source", "2", "A note");
    says(&f, "choice", "1",
         "the edge: an oval; curator, 2026-01-02. Because: the arcs say so. Else: a round one");
    says(&f, "choice", "2", "the sheet");
    says(&f, "handling", "1", "may be handled");
    says(&f, "handling", "2", "may not be handled: brittle; lifting; conservator, 2026-02-03");
    says(&f, "handling", "3", "nobody asked whether it may be handled");
}

int main(void) {
    arena = arena_new();
    const struct CMUnitTest tests[] = {cmocka_unit_test(measures),
                                       cmocka_unit_test(pieces_and_marks),
                                       cmocka_unit_test(sources_choices_handling)};
    int rc = cmocka_run_group_tests(tests, NULL, NULL);
    arena_free(arena);
    return rc;
}
