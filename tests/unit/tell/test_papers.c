/* The other papers: making book, trial sheet, landowner's page, forms, label, wood page; and the
 * folder that is handed over. RELICT_PAGES=FOLDER keeps them to be looked at. */
#include "dossier_sample.h"

#include "base/asset.h"
#include "base/csv.h"
#include "base/file.h"
#include "base/sha256.h"
#include "tell/folder.h"
#include "tell/hand_over.h"
#include "tell/linked.h"

#include "check.h"

#include <math.h>
#include <unistd.h>

struct bench {
    struct arena *arena;
    struct show_shaper *shaper;
    struct dossier_sample s;
    struct error err;
};

static void setup(struct bench *b, const char *odd) {
    b->arena = arena_new();
    b->shaper = show_shaper_new();
    b->err = (struct error){0};
    dossier_sample(&b->s, b->arena, odd);
    b->s.d.cautions = asset_find("data/cautions.csv", &b->s.d.cautions_size);
}

static void done(struct bench *b) {
    show_shaper_free(b->shaper);
    arena_free(b->arena);
}

static void write_both(struct bench *b, struct tell_doc *doc, const char *name, size_t *pages) {
    struct show_out h = {0}, p = {0};
    const char *folder = getenv("RELICT_PAGES");
    char path[1024];
    check_ok(tell_doc_html(&h, doc, &b->err), &b->err);
    check_ok(tell_doc_pdf(&p, doc, b->shaper, &b->err), &b->err);
    if (pages) {
        *pages = 0;
        for (size_t i = 0; i + 12 < p.n; i++)
            *pages += !memcmp(p.bytes + i, "/Type /Page\n", 12) ||
                      !memcmp(p.bytes + i, "/Type /Page ", 12);
    }
    if (folder) {
        snprintf(path, sizeof path, "%s/%s.html", folder, name);
        check_ok(show_out_save(&h, path, &b->err), &b->err);
        snprintf(path, sizeof path, "%s/%s.pdf", folder, name);
        check_ok(show_out_save(&p, path, &b->err), &b->err);
    }
    show_out_deinit(&h);
    show_out_deinit(&p);
    tell_doc_free(doc);
}

static void papers(void **unused) {
    (void)unused;
    struct bench b;
    struct tell_doc *doc;
    setup(&b, NULL);
    check_ok(tell_book(&doc, &b.s.d, &b.err), &b.err);
    write_both(&b, doc, "book", NULL);
    check_ok(tell_trial_sheet(&doc, &b.s.d, &b.s.trials[0], &b.err), &b.err);
    write_both(&b, doc, "trial", NULL);
    check_ok(tell_landowner(&doc, &b.s.d, &b.err), &b.err);
    write_both(&b, doc, "landowner", NULL);
    check_ok(tell_forms(&doc, &b.s.d, &b.err), &b.err);
    write_both(&b, doc, "forms", NULL);
    check_ok(tell_label(&doc, &b.s.d, false, &b.err), &b.err);
    write_both(&b, doc, "label", NULL);
    check_ok(tell_label(&doc, &b.s.d, true, &b.err), &b.err);
    write_both(&b, doc, "label-large", NULL);
    check_ok(tell_wood(&doc, &b.s.d, &b.err), &b.err);
    write_both(&b, doc, "wood", NULL);
    done(&b);
}

/* Story 7: 30 to 50 words, the longest sentence under 25. */
static void label_words(void **unused) {
    (void)unused;
    struct bench b;
    setup(&b, NULL);
    size_t words, longest;
    char *text = tell_label_text(&b.s.d, &words, &longest, b.arena);
    check_note("%s", text);
    assert_in_range(words, 30, 50);
    assert_in_range(longest, 3, 24);
    assert_non_null(strstr(text, "Not known: how many laths"));
    /* texts that are far too long are left out, not cut */
    b.s.handover.failed =
        "one two three four five six seven eight nine ten eleven twelve thirteen fourteen "
        "fifteen sixteen seventeen eighteen nineteen twenty one two three four five six";
    text = tell_label_text(&b.s.d, &words, &longest, b.arena);
    assert_null(strstr(text, "one two three"));
    assert_true(words <= 50);
    done(&b);
}

/* The wood page's table against the rule it is made by (R13): a living tree, a quarter of the
 * girth; story 5's own numbers are tested with the stems. */
static void wood(void **unused) {
    (void)unused;
    struct bench b;
    setup(&b, "</script><script>alert(1)</script>");
    struct tell_doc *doc;
    check_ok(tell_wood(&doc, &b.s.d, &b.err), &b.err);
    struct show_out h = {0};
    check_ok(tell_doc_html(&h, doc, &b.err), &b.err);
    const char *p = strstr(h.bytes, "\"around\":");
    assert_non_null(p);
    long around, along;
    assert_int_equal(sscanf(p, "\"around\":%ld,\"along\":%ld", &around, &along), 2);
    assert_int_equal(around, 338 + 50); /* fresh width and two trims of 25 */
    assert_int_equal(along, 518 + 100);
    const char *second = strstr(h.bytes, "<script");
    assert_non_null(second);
    assert_null(strstr(second + 1, "<script"));
    show_out_deinit(&h);
    tell_doc_free(doc);
    b.s.makings.part_count = 0;
    assert_int_equal(tell_wood(&doc, &b.s.d, &b.err), ERR_MISSING);
    done(&b);
}

/* ---- the folder ---- */

static bool is_hidden(const void *record) {
    return ((const struct piece *)record)->hidden == 1;
}

static void folder(void **unused) {
    (void)unused;
    struct bench b;
    setup(&b, "=HYPERLINK(\"x\"), \"quoted\"");
    b.s.pieces[4].hidden = 1;
    char path[64], command[400];
    snprintf(path, sizeof path, "/tmp/relict-folder-%d", (int)getpid());
    struct tell_folder *f;
    struct tell_folder_words words = {
        .title = "Sample", .licence = "CC BY 4.0", .date = "2026-05-01"};
    check_ok(tell_folder_open(&f, path, &words, &b.err), &b.err);
    tell_folder_table(f, &piece_kind, b.s.pieces, 6, is_hidden);
    tell_folder_table(f, &measure_kind, b.s.measures, 8, NULL);
    struct show_out o = {0};
    int code = tell_jsonld(&o, &b.s.d, &b.err);
    tell_folder_take(f, "argument.jsonld", "application/ld+json", "linked", &o, code, &b.err);
    code = tell_geojson_plan(&o, b.s.d.plan, &b.err);
    tell_folder_take(f, "plan.geojson", "application/geo+json", "plan", &o, code, &b.err);
    tell_folder_note(f, "piece A42 is private");
    check_ok(tell_folder_close(f, &b.err), &b.err);
    /* checksums by another program */
    snprintf(command, sizeof command, "cd %s && sha256sum -c --quiet checksums.sha256", path);
    assert_int_equal(system(command), 0);
    /* read back by the strict reader; the hidden row is gone, the formula is text */
    const char *text;
    size_t n;
    char name[128];
    snprintf(name, sizeof name, "%s/tables/piece.csv", path);
    check_ok(file_read(&text, &n, name, 0, b.arena, &b.err), &b.err);
    assert_null(strstr(text, "A42"));
    struct csv_table t;
    check_ok(csv_read(&t, text, n, NULL, b.arena, &b.err), &b.err);
    assert_int_equal(t.n, 6);
    size_t note = 0;
    while (strcmp(t.rows[0].cells[note], "note"))
        note++;
    assert_string_equal(t.rows[1].cells[note], "'=HYPERLINK(\"x\"), \"quoted\"");
    for (size_t i = 0; i < n; i++)
        if (text[i] == '\n') assert_int_equal(text[i - 1], '\r');
    snprintf(name, sizeof name, "%s/ro-crate-metadata.json", path);
    json_error_t why;
    json_t *crate = json_load_file(name, JSON_REJECT_DUPLICATES, &why);
    assert_non_null(crate);
    json_decref(crate);
    const char *keep = getenv("RELICT_PAGES");
    if (keep)
        snprintf(command, sizeof command, "rm -rf %.60s/handed && mv %s %.60s/handed", keep, path,
                 keep);
    else
        snprintf(command, sizeof command, "rm -r %s", path);
    assert_int_equal(system(command), 0);
    done(&b);
}

/* A JPEG head with EXIF in the other byte order: one GPS directory of two entries. */
static size_t sample_jpeg(unsigned char *p) {
    static const unsigned char head[] = {0xFF, 0xD8, 0xFF, 0xE1, 0, 0, 'E', 'x', 'i', 'f', 0, 0};
    static const unsigned char tiff[] = {
        'M',  'M',  0, 42, 0, 0, 0, 8, 0,   2,                        /* two entries */
        0x01, 0x0F, 0, 2,  0, 0, 0, 4, 'r', 'e', 'l', 0,              /* maker, kept */
        0x88, 0x25, 0, 4,  0, 0, 0, 1, 0,   0,   0,   38, 0, 0, 0, 0, /* GPS directory at 38 */
        0,    2,                                                      /* at 38 */
        0x00, 0x01, 0, 2,  0, 0, 0, 2, 'N', 0,   0,   0,              /* latitude reference */
        0x00, 0x02, 0, 5,  0, 0, 0, 3, 0,   0,   0,   68, 0, 0, 0, 0, /* latitude, at 68 */
        0,    0,    0, 52, 0, 0, 0, 1, 0,   0,   0,   33, 0, 0, 0, 1, 0, 0, 0, 44, 0, 0, 0, 1};
    size_t n = 0;
    memcpy(p, head, sizeof head);
    n += sizeof head;
    memcpy(p + n, tiff, sizeof tiff);
    n += sizeof tiff;
    p[4] = 0, p[5] = (unsigned char)(n - 4);
    static const unsigned char tail[] = {0xFF, 0xDA, 0, 2, 1, 2, 3, 0xFF, 0xD9};
    memcpy(p + n, tail, sizeof tail);
    return n + sizeof tail;
}

/* All at once; what is missing is told, not failed. */
static void everything(void **unused) {
    (void)unused;
    struct bench b;
    setup(&b, NULL);
    b.s.d.plan = &b.s.plan.plan;
    unsigned char photo[300];
    size_t photo_size = sample_jpeg(photo), n;
    const struct hand_file files[] = {
        {"finds list.csv", "text/csv", false, false, "a,b\r\n1,2\r\n", 10},
        {"owner.txt", "text/plain", true, false, "secret", 6},
        {"photo 1.jpg", "image/jpeg", false, false, photo, photo_size}};
    const struct ical_event events[] = {{.uid = "peel@sample",
                                         .summary = "Peel",
                                         .first = "2027-05-01",
                                         .last = "2027-06-30",
                                         .category = "season",
                                         .alarm_days = 56}};
    b.s.d.events = events, b.s.d.n_events = 1;
    const struct hand_options o = {.paper = PLAN_A4, .files = files, .n_files = 3};
    const char *keep = getenv("RELICT_PAGES");
    char path[600], command[1300];
    if (keep)
        snprintf(path, sizeof path, "%.500s/everything", keep);
    else
        snprintf(path, sizeof path, "/tmp/relict-all-%d", (int)getpid());
    struct tell_folder *f;
    struct tell_folder_words words = tell_words(&b.s.d);
    struct hand_missing *missing;
    check_ok(tell_folder_open(&f, path, &words, &b.err), &b.err);
    check_ok(tell_hand_over(f, &b.s.d, &o, b.shaper, &missing, &n, b.arena, &b.err), &b.err);
    assert_int_equal(n, 1); /* no form is computed */
    assert_string_equal(missing[0].name, "form");
    assert_true(tell_folder_count(f) > 35);
    check_ok(tell_folder_close(f, &b.err), &b.err);
    snprintf(command, sizeof command,
             "cd %s && sha256sum -c --quiet checksums.sha256 && "
             "! grep -rq secret . && grep -q 'private files are left out' README.txt && "
             "grep -q 'place was taken out of 1 photo' README.txt",
             path);
    assert_int_equal(system(command), 0);
    snprintf(command, sizeof command, "rm -r %s", path);
    if (!keep) assert_int_equal(system(command), 0);
    done(&b);
}

static void no_way_out(void **unused) {
    (void)unused;
    static const char *const names[] = {"../x", "/etc/x", "a/../b", ".hidden", "a//b", "a b", ""};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        struct error err = {0};
        struct tell_folder *f;
        char path[64];
        snprintf(path, sizeof path, "/tmp/relict-out-%d", (int)getpid());
        struct tell_folder_words words = {.title = "x"};
        check_ok(tell_folder_open(&f, path, &words, &err), &err);
        tell_folder_add(f, names[i], "text/plain", "x", "x", 1);
        assert_int_equal(tell_folder_close(f, &err), ERR_INPUT);
        rmdir(path);
    }
}

/* ---- photographs ---- */

/* A cone unrolled (any textbook of solid geometry): the arc is as long as the way round its edge,
 * and every point of it is a slant away from the tip. */
static void unrolled_cone(void **unused) {
    (void)unused;
    struct bench b;
    setup(&b, "");
    struct part *p = &b.s.parts[1];
    p->height = 60;
    p->diameter = 160;
    const struct show_plan *plain = b.s.d.plan, *plan = tell_plan_with_patterns(&b.s.d, b.arena);
    assert_int_equal(plan->n_parts, plain->n_parts + 1);
    const struct plan_part *q = &plan->parts[plan->n_parts - 1];
    double arc = 0, box[4];
    plan_box(box, plain);
    for (size_t i = 1; i < q->n; i++) {
        const double *v = q->xy + 2 * i;
        check_near(hypot(v[0] - q->xy[0], v[1] - q->xy[1]), 100, 1e-9); /* 60, 80, 100 */
        if (i > 1) arc += hypot(v[0] - v[-2], v[1] - v[-1]);
        assert_true(v[0] > box[2]); /* beside the object */
    }
    check_near(arc, M_PI * 160, 0.2); /* 72 chords for the arc */
    done(&b);
}

static void place_taken_out(void **unused) {
    (void)unused;
    unsigned char p[300];
    size_t n = sample_jpeg(p), gps;
    struct error err = {0};
    struct show_out o = {0};
    check_ok(tell_jpeg_without_place(&o, p, n, &gps, &err), &err);
    assert_int_equal(o.n, n);
    assert_int_equal(gps, 2);
    assert_null(memmem(o.bytes, o.n, "\x88\x25", 2));
    assert_null(memmem(o.bytes, o.n, "\0\0\0\x34\0\0\0\1", 8)); /* 52 degrees */
    assert_non_null(memmem(o.bytes, o.n, "rel", 3));
    assert_memory_equal(o.bytes + n - 9, p + n - 9, 9);
    show_out_deinit(&o);
    /* cut short anywhere: an answer or an error, never a crash */
    for (size_t k = 0; k < n; k++) {
        struct show_out cut = {0};
        tell_jpeg_without_place(&cut, p, k, &gps, &err);
        show_out_deinit(&cut);
    }
    for (size_t k = 12; k < n - 9; k++) { /* and with any byte of the block changed */
        struct show_out bad = {0};
        unsigned char old = p[k];
        p[k] = 0xFF;
        tell_jpeg_without_place(&bad, p, n, &gps, &err);
        p[k] = old;
        show_out_deinit(&bad);
    }
}

/* What a program lists day by day and stem by stem is told once, with nothing lost; seasons without
 * the list of everything else; a chance of 1e-23 in words. */
static void shorter(void **unused) {
    (void)unused;
    static const char *const day[] = {"day", "step", "what"},
                             *const stem[] = {"stem", "what", "what to do", "by", "state"},
                             *const season[] = {"step", "if it is missed"};
    static const char *const days[] = {"2023-05-02", "split hazel", "Begin: split hazel",
                                       "2023-05-02", "split hazel", "Damp ends",
                                       "2023-05-04", "split hazel", "Damp ends",
                                       "2023-05-06", "split hazel", "Damp ends",
                                       "2023-05-09", "ret bast",    "Look",
                                       "2023-05-10", "ret bast",    "Look"};
    static const char *const stems[] = {
        "L1", "Consent", "Have it in writing", "2024-05-01", "on record",
        "L2", "Consent", "Have it in writing", "2024-05-01", "missing",
        "L3", "Consent", "Have it in writing", "2024-05-01", "missing"};
    static const char *const seasons[] = {
        "take bark", "Next: 2024-05-01. Meanwhile: take hazel, ret.", "chance", "1.444e-23"};
    const struct tell_part_table tables[] = {
        {"material", "tasks", {"Days", 3, 6, day, days, NULL, false}, NULL},
        {"material", "checklist", {"Stems", 5, 3, stem, stems, NULL, false}, NULL},
        {"material", "windows", {"Seasons", 2, 2, season, seasons, NULL, false}, NULL},
    };
    struct tell_dossier d = {.title = "One", .tables = tables, .n_tables = 3};
    struct tell_doc *doc = tell_doc_new(&(struct tell_doc_options){.title = "One"});
    tell_tables_of(doc, &d, "material");
    size_t n, seen = 0;
    const struct tell_block *b = tell_doc_blocks(doc, &n);
    for (size_t i = 0; i < n; i++) {
        if (b[i].kind != TELL_TABLE) continue;
        const struct tell_table *t = &b[i].table;
        if (!strcmp(t->title, "Days")) {
            assert_int_equal(t->n_rows, 3);
            assert_string_equal(t->cells[t->n_columns + 0], "2023-05-02");
            assert_string_equal(t->cells[t->n_columns + 1], "2023-05-06");
            assert_string_equal(t->cells[t->n_columns + 3], "Damp ends, every 2 days");
            assert_string_equal(t->cells[2 * t->n_columns + 3], "Look, every day");
            seen |= 1;
        } else if (!strcmp(t->title, "Stems")) {
            assert_int_equal(t->n_rows, 1);
            assert_string_equal(t->cells[3], "L1");
            assert_string_equal(t->cells[4], "L2, L3");
            seen |= 2;
        } else if (!strcmp(t->title, "Seasons")) {
            assert_string_equal(t->cells[1], "Next: 2024-05-01.");
            assert_string_equal(t->cells[3], "under 0.001");
            seen |= 4;
        }
    }
    assert_int_equal(seen, 7);
    tell_doc_free(doc);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(papers),        cmocka_unit_test(label_words),
        cmocka_unit_test(wood),          cmocka_unit_test(folder),
        cmocka_unit_test(everything),    cmocka_unit_test(no_way_out),
        cmocka_unit_test(unrolled_cone), cmocka_unit_test(place_taken_out),
        cmocka_unit_test(shorter)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
