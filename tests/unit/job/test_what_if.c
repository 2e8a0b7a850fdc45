/* what_if: a changed making answered by the shell, and a try kept as a copy. */
#include "job/what_if.h"

#include "check.h"

#include <unistd.h>

enum { ROUND = 48, LATHS = 3 };

static const double stuff[WHAT_IF_STUFFS] = {1000, 400, 200, 0.5, 150, 10000, 6e-4, 6.2e-4};

/* An oval sheet with three laths across and a sewn rim. */
struct tray {
    double xy[2 * ROUND];
    struct part part[LATHS + 2];
    char id[LATHS][16];
};

static void tray_make(struct tray *t) {
    for (int i = 0; i < ROUND; i++) {
        t->xy[2 * i] = 200 * cos(2 * M_PI * i / ROUND);
        t->xy[2 * i + 1] = 120 * sin(2 * M_PI * i / ROUND);
    }
    for (int i = 0; i < LATHS + 2; i++)
        field_unknown(&part_kind_kind, &t->part[i]);
    t->part[0].id = "sheet";
    t->part[0].kind = PART_SHEET;
    t->part[0].thickness = 3;
    t->part[0].points = (struct tuples){ROUND, 2, t->xy};
    for (int i = 0; i < LATHS; i++) {
        struct part *p = &t->part[1 + i];
        snprintf(t->id[i], sizeof t->id[i], "lath.%d", i + 1);
        p->id = t->id[i];
        p->kind = PART_LATH;
        p->x = 80 * (i - 1);
        p->y = 0;
        p->angle = M_PI / 2;
        p->length = 180;
        p->width = 20;
        p->thickness = 3;
    }
    t->part[LATHS + 1].id = "rim";
    t->part[LATHS + 1].kind = PART_RIM;
    t->part[LATHS + 1].width = 8;
}

static struct what_if *open_tray(struct tray *t) {
    struct what_if *w;
    struct error err = {0};
    tray_make(t);
    assert_int_equal(what_if_of(&w, t->part, LATHS + 2, stuff, 1, &err), 0);
    return w;
}

static void test_as_it_stands(void **state) {
    (void)state;
    struct tray t;
    struct what_if *w = open_tray(&t);
    struct what_if_answer a;
    struct error err = {0};
    assert_int_equal(what_if_shell(&a, NULL, w, t.part, LATHS + 2, &err), 0);
    assert_true(a.value[BODY_OUT_RISE] > 0);
    assert_true(a.value[BODY_OUT_RISE] == a.before[BODY_OUT_RISE]); /* nothing was changed */
    what_if_free(w);
}

/* Straight laths hold the sheet against its curl: fewer let it rise higher; the weight falls by
 * just the lath's own. */
static void test_without_a_lath(void **state) {
    (void)state;
    struct tray t;
    struct what_if *w = open_tray(&t);
    struct what_if_answer a;
    struct error err = {0};
    struct part less[LATHS + 1] = {t.part[0], t.part[1], t.part[3], t.part[4]};
    assert_int_equal(what_if_shell(&a, NULL, w, less, LATHS + 1, &err), 0);
    assert_true(a.value[BODY_OUT_RISE] > a.before[BODY_OUT_RISE]);
    double lath = 180 * 20 * 3 * 0.62e-3; /* g: volume times density */
    assert_true(fabs(a.before[BODY_OUT_WEIGHT] - a.value[BODY_OUT_WEIGHT] - lath) < 0.05 * lath);
    what_if_free(w);
}

static void test_refused(void **state) {
    (void)state;
    struct tray t;
    struct what_if *w = open_tray(&t);
    struct what_if_answer a;
    struct error err = {0};
    t.part[1].x = -900; /* off the sheet: told, not drawn into it */
    assert_int_not_equal(what_if_shell(&a, NULL, w, t.part, LATHS + 2, &err), 0);
    assert_true(*err.message && *err.remedy);
    error_clear(&err);
    assert_int_equal(what_if_shell(&a, NULL, w, t.part + 1, 1, &err), ERR_MISSING); /* no sheet */
    error_clear(&err);
    assert_int_equal(what_if_quick(&a, w, t.part, LATHS + 2, &err), ERR_CONFLICT); /* not learned */
    what_if_free(w);
    struct part none = t.part[1];
    assert_int_equal(what_if_of(&w, &none, 1, stuff, 1, &err), ERR_MISSING);
    assert_null(w);
}

static void test_form(void **state) {
    (void)state;
    struct tray t;
    struct what_if *w = open_tray(&t);
    struct what_if_answer a;
    struct error err = {0};
    json_t *form = NULL;
    assert_int_equal(what_if_shell(&a, &form, w, t.part, 1, &err), 0); /* the sheet alone */
    size_t n = json_array_size(json_object_get(form, "points"));
    assert_true(n > 100);
    assert_int_equal(json_array_size(json_object_get(form, "flat")), n);
    assert_true(json_array_size(json_object_get(form, "triangles")) > n);
    json_decref(form);
    what_if_free(w);
}

/* ---- keeping a copy ------------------------------------------------------------------------- */

static void enter(struct job *job, const char *kind, const char *id, const char *text) {
    struct error err = {0};
    json_t *body = json_loads(text, 0, NULL);
    assert_non_null(body);
    assert_int_equal(job_enter(job, kind, id, body, 0, "test", NULL, &err), 0);
    json_decref(body);
}

static int count(const struct record_entry *e, void *context, struct error *err) {
    (void)err;
    if (!e->gone) ++*(int *)context;
    return 0;
}

static int entries(struct job *job, const char *kind) {
    int n = 0;
    struct error err = {0};
    assert_int_equal(record_each(job_record(job), kind, 0, count, &n, &err), 0);
    return n;
}

static void test_keep(void **state) {
    (void)state;
    char path[] = "/tmp/relict-what-if-XXXXXX";
    assert_non_null(mkdtemp(path));
    char file[64];
    snprintf(file, sizeof file, "%s/a.relict", path);
    struct error err = {0};
    struct job *job;
    const struct job_options o = {
        .who = "test", .when = "2026-05-01T10:00:00Z", .state_folder = path};
    assert_int_equal(job_new(&job, file, "test", 1, 64, &o, &err), 0);
    enter(job, "making", "flat", "{\"title\":\"flat\",\"weight\":0.7}");
    enter(job, "part", "flat.lath.1",
          "{\"making\":\"flat\",\"kind\":\"lath\",\"x\":10,\"length\":200}");
    enter(job, "part", "flat.lath.2",
          "{\"making\":\"flat\",\"kind\":\"lath\",\"x\":80,\"length\":200}");
    enter(job, "step", "flat.push",
          "{\"making\":\"flat\",\"number\":1,\"parts\":[\"flat.lath.1\",\"flat.lath.2\"]}");
    json_t *before, *after;
    assert_int_equal(job_steps(&before, job, &err), 0);

    json_t *body =
        json_loads("{\"of\":\"flat\",\"title\":\"moved\",\"difference\":\"lath 1 +5 mm\","
                   "\"without\":[\"flat.lath.2\"],"
                   "\"changes\":{\"flat.lath.1\":{\"x\":15}}}",
                   0, NULL);
    struct arena *arena = arena_new();
    const char *id;
    assert_int_equal(what_if_keep(&id, job, body, arena, &err), 0);
    assert_string_equal(id, "what-if-1");
    assert_int_equal(entries(job, "making"), 2);
    assert_int_equal(entries(job, "part"), 3);
    assert_int_equal(entries(job, "step"), 2);

    struct record_entry e;
    assert_int_equal(record_get(&e, job_record(job), "making", id, arena, &err), 0);
    assert_null(strstr(e.body, "weight")); /* nothing rests on it */
    assert_int_equal(record_get(&e, job_record(job), "part", "what-if-1.lath.1", arena, &err), 0);
    json_t *part = json_loads(e.body, 0, NULL);
    assert_true(json_number_value(json_object_get(part, "x")) == 15);
    assert_string_equal(json_string_value(json_object_get(part, "making")), "what-if-1");
    json_decref(part);
    assert_int_equal(record_get(&e, job_record(job), "step", "what-if-1.push", arena, &err), 0);
    assert_non_null(strstr(e.body, "what-if-1.lath.1"));
    assert_null(strstr(e.body, "lath.2"));

    assert_int_equal(job_steps(&after, job, &err), 0); /* no step falls into doubt */
    assert_true(json_equal(before, after));
    assert_int_equal(job_undo(job, 0, "test", &err), 0); /* one change */
    assert_int_equal(entries(job, "making"), 1);
    assert_int_equal(entries(job, "part"), 2);

    json_object_set_new(body, "of", json_string("nothing"));
    assert_int_equal(what_if_keep(&id, job, body, arena, &err), ERR_MISSING);
    json_decref(body);
    json_decref(before);
    json_decref(after);
    arena_free(arena);
    job_close(job);
    unlink(file);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_as_it_stands), cmocka_unit_test(test_without_a_lath),
        cmocka_unit_test(test_refused),      cmocka_unit_test(test_form),
        cmocka_unit_test(test_keep),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
