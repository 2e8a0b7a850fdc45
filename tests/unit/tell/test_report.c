/* The argument as HTML and PDF: hostile texts stay texts, two steps to the piece, draft while
 * something is missing, same bytes. */
#include "dossier_sample.h"

#include "base/asset.h"

#include "check.h"

static const char *const odd[] = {
    NULL,
    "<script>alert(1)</script> & \"quotes\" 'single' <b>",
    "]]></style><img src=x onerror=alert(1)>",
    "שלום עולם, חצי מגש",
    "مرحبا ٣١٨ مم",
};

static size_t count(const char *text, const char *what) {
    size_t n = 0;
    for (; (text = strstr(text, what)); text += strlen(what))
        n++;
    return n;
}

static struct tell_doc *make(struct dossier_sample *s, struct arena *arena, const char *text) {
    struct error err = {0};
    dossier_sample(s, arena, text);
    s->d.cautions = asset_find("data/cautions.csv", &s->d.cautions_size);
    struct tell_doc *doc;
    check_ok(tell_report(&doc, &s->d, &err), &err);
    return doc;
}

static void html(void **unused) {
    (void)unused;
    for (size_t i = 0; i < sizeof odd / sizeof *odd; i++) {
        struct error err = {0};
        struct arena *arena = arena_new();
        struct dossier_sample s;
        struct tell_doc *doc = make(&s, arena, odd[i]);
        struct show_out o = {0};
        check_ok(tell_doc_html(&o, doc, &err), &err);
        assert_int_equal(count(o.bytes, "<script"), 0);
        assert_int_equal(count(o.bytes, "<img"), 0);
        /* the only addresses are the two names of SVG's own namespaces: nothing is fetched */
        assert_int_equal(count(o.bytes, "http://"), 2 * count(o.bytes, "<svg xmlns"));
        assert_int_equal(count(o.bytes, "https://"), 0);
        assert_int_equal(count(o.bytes, "</style>"), 1);
        assert_true(count(o.bytes, ">why?<") >= 5);
        show_out_deinit(&o);
        tell_doc_free(doc);
        arena_free(arena);
    }
}

/* Every link of the page goes somewhere: from a number to its piece in two steps. */
static void links(void **unused) {
    (void)unused;
    struct error err = {0};
    struct arena *arena = arena_new();
    struct dossier_sample s;
    struct tell_doc *doc = make(&s, arena, NULL);
    struct show_out o = {0};
    check_ok(tell_doc_html(&o, doc, &err), &err);
    size_t n = 0;
    for (const char *p = o.bytes; (p = strstr(p, "href=\"#")); n++) {
        p += 7;
        char id[200], wanted[220];
        size_t length = strcspn(p, "\"");
        assert_true(length < sizeof id);
        memcpy(id, p, length);
        id[length] = 0;
        snprintf(wanted, sizeof wanted, "id=\"%s\"", id);
        if (!strstr(o.bytes, wanted)) fail_msg("a link to #%s leads nowhere", id);
    }
    assert_true(n > 20);
    assert_non_null(strstr(o.bytes, "href=\"#piece-A01\""));
    assert_non_null(strstr(o.bytes, "It comes down to 3 pieces: A01, A02, A12"));
    show_out_deinit(&o);
    tell_doc_free(doc);
    arena_free(arena);
}

static void draft(void **unused) {
    (void)unused;
    struct error err = {0};
    struct arena *arena = arena_new();
    struct dossier_sample s;
    struct tell_doc *doc = make(&s, arena, NULL);
    struct tell_check *list;
    size_t n, missing = 0;
    check_ok(tell_checklist(&list, &n, &s.d, arena, &err), &err);
    for (size_t i = 0; i < n; i++)
        missing += list[i].done == 0;
    assert_true(n > 35 && missing > 3);
    struct show_out o = {0};
    check_ok(tell_doc_html(&o, doc, &err), &err);
    assert_non_null(strstr(o.bytes, "class=\"draft\""));
    char words[80];
    snprintf(words, sizeof words, "%zu of %zu points", missing, n);
    assert_non_null(strstr(o.bytes, words));
    assert_int_equal(tell_guesses(&s.d), 1);
    assert_non_null(strstr(o.bytes, "1 guess stands in it."));
    show_out_deinit(&o);
    tell_doc_free(doc);
    arena_free(arena);
}

static size_t open_points(const struct tell_check *list, size_t n, const char *group) {
    size_t missing = 0;
    for (size_t i = 0; i < n; i++)
        missing += list[i].done == 0 && !strcmp(list[i].group, group);
    return missing;
}

/* What is not done does not apply only when a person said why, and only while nothing of it is
 * entered; a trial's photograph counts when its file is kept. */
static void excused(void **unused) {
    (void)unused;
    struct error err = {0};
    struct arena *arena = arena_new();
    struct dossier_sample s;
    struct tell_doc *doc = make(&s, arena, NULL);
    struct tell_check *list;
    size_t n;
    struct handover h = s.handover;
    struct tell_trial trial = {.id = "T1", .photos = "photo-T1", .photo_lost = "photo-T1"};
    s.d.handover = &h;
    s.d.n_trials = s.d.n_as_made = 0;
    h.hours = h.mass = NAN;
    h.mark = NULL;
    check_ok(tell_checklist(&list, &n, &s.d, arena, &err), &err);
    assert_int_equal(open_points(list, n, "Trials"), 9);
    assert_true(open_points(list, n, "Replica") >= 5);
    h.no_trials = "a study on paper", h.no_copy = "a study on paper";
    check_ok(tell_checklist(&list, &n, &s.d, arena, &err), &err);
    assert_int_equal(open_points(list, n, "Trials"), 0);
    assert_int_equal(open_points(list, n, "Replica"), 0);
    for (size_t i = 0; i < n; i++)
        if (!strcmp(list[i].group, "Trials")) {
            assert_int_equal(list[i].done, -1);
            assert_string_equal(list[i].missing, "a study on paper");
        }
    h.mass = 540;
    s.d.trials = &trial, s.d.n_trials = 1;
    check_ok(tell_checklist(&list, &n, &s.d, arena, &err), &err);
    assert_true(open_points(list, n, "Replica") >= 4);
    size_t lost = open_points(list, n, "Trials");
    assert_true(lost > 0);
    trial.photo_lost = NULL;
    check_ok(tell_checklist(&list, &n, &s.d, arena, &err), &err);
    assert_int_equal(open_points(list, n, "Trials"), lost - 1);
    tell_doc_free(doc);
    arena_free(arena);
}

static void pdf(void **unused) {
    (void)unused;
    struct error err = {0};
    struct arena *arena = arena_new();
    struct show_shaper *shaper = show_shaper_new();
    struct dossier_sample s;
    struct show_out o[2] = {{0}};
    for (int i = 0; i < 2; i++) {
        struct tell_doc *doc = make(&s, arena, NULL);
        check_ok(tell_doc_pdf(&o[i], doc, shaper, &err), &err);
        tell_doc_free(doc);
    }
    assert_int_equal(o[0].n, o[1].n);
    assert_memory_equal(o[0].bytes, o[1].bytes, o[0].n);
    const char *folder = getenv("RELICT_PAGES");
    char path[1024];
    if (folder) {
        snprintf(path, sizeof path, "%s/argument.pdf", folder);
        check_ok(show_out_save(&o[0], path, &err), &err);
        struct tell_doc *doc = make(&s, arena, NULL);
        struct show_out h = {0};
        check_ok(tell_doc_html(&h, doc, &err), &err);
        snprintf(path, sizeof path, "%s/argument.html", folder);
        check_ok(show_out_save(&h, path, &err), &err);
        show_out_deinit(&h);
        tell_doc_free(doc);
    }
    for (int i = 0; i < 2; i++)
        show_out_deinit(&o[i]);
    show_shaper_free(shaper);
    arena_free(arena);
}

/* A sign that no font has is told, not printed as a box. */
static void missing_sign(void **unused) {
    (void)unused;
    struct error err = {0};
    struct arena *arena = arena_new();
    struct show_shaper *shaper = show_shaper_new();
    struct dossier_sample s;
    struct tell_doc *doc = make(&s, arena, "odd \xEE\x9F\xBF sign");
    struct show_out o = {0};
    assert_int_equal(tell_doc_pdf(&o, doc, shaper, &err), ERR_MISSING);
    assert_non_null(strstr(err.message, "\xEE\x9F\xBF"));
    show_out_deinit(&o);
    tell_doc_free(doc);
    show_shaper_free(shaper);
    arena_free(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(html),  cmocka_unit_test(links),
                                       cmocka_unit_test(draft), cmocka_unit_test(excused),
                                       cmocka_unit_test(pdf),   cmocka_unit_test(missing_sign)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
