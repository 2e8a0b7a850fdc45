/* without: what a figure would be without a parallel is what a project says in which nobody ever
 * entered it, to the last digit shown; a parallel that nothing cites moves nothing. */
#include "job/without.h"

#include "project_in_folder.h"

static const char finds[] =
    "id,part,material,id_conf,zone,state,length_mm,width_mm,thick_mm,end_1,end_2,chord_mm,"
    "sagitta_mm,holes_n,pitch_mm,hole_d_mm,method,tol_mm,note\n"
    "B26,coiled head guard,Salix foundation,B,head,after freeze-drying,120,52,4.5,torn,torn,110,24,"
    "9,5.5,,calliper,0.5,\n"
    "B28,coiled head guard,Salix foundation,B,head,after freeze-drying,90,24,4.4,torn,torn,82,20,"
    "4,5.4,,calliper,0.5,\n";

static void enter(struct job *job, const char *kind, const char *id, const char *body) {
    struct error err = {0};
    json_t *j = json_loads(body, 0, NULL);
    assert_non_null(j);
    check_ok(job_enter(job, kind, id, j, -1, "test", NULL, &err), &err);
    json_decref(j);
}

/* 512 possible originals, as many as are used without a parallel. */
static struct job *project(const char *name, bool parallel) {
    struct error err = {0};
    json_t *report = NULL;
    struct job *job = empty_project(name, 512);
    bring_list(job, "finds.csv", finds, sizeof finds - 1);
    enter(job, "source", "idle", "{\"kind\":\"parallel\",\"title\":\"cited for nothing\"}");
    if (parallel) {
        enter(job, "source", "basket", "{\"kind\":\"parallel\",\"title\":\"another basket\"}");
        enter(job, "alteration", "coil",
              "{\"substance\":\"coiled work\",\"from\":\"fresh\",\"to\":\"after treatment\","
              "\"direction\":\"across\",\"p05\":10,\"p50\":15,\"p95\":20,\"source\":\"basket\"}");
    }
    check_ok(job_compute(&report, job, "making", NULL, NULL, &err), &err);
    json_decref(report);
    return job;
}

static const char *thickness(struct job *job, struct arena *a) {
    struct statement_set *said;
    struct error err = {0};
    check_ok(job_statements(&said, job, a, &err), &err);
    const struct statement *s = statement_find(said, "guard.thickness.fresh");
    assert_non_null(s);
    return statement_number(s, a);
}

static const char *cell(const json_t *table, const char *figure, const char *column) {
    size_t i, c;
    const json_t *row, *head;
    json_array_foreach(json_object_get(table, "rows"), i, row) {
        if (strcmp(json_string_value(json_array_get(row, 0)), figure)) continue;
        json_array_foreach(json_object_get(table, "columns"), c, head) {
            if (!strcmp(json_string_value(head), column))
                return json_string_value(json_array_get(row, c));
        }
    }
    return "no such cell";
}

static void as_if_never_entered(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct error err = {0};
    struct job *with = project("with", true), *never = project("never", false);
    struct snapshot now;
    struct statement_set *said;
    check_ok(job_snapshot(&now, with, a, &err), &err);
    check_ok(job_statements(&said, with, a, &err), &err);
    struct stage_run run = {.now = &now, .said = said, .arena = a, .result = json_object()};
    check_ok(without_tables(&run, &err), &err);
    const json_t *tables = json_object_get(run.result, "tables"),
                 *table = json_object_get(tables, "without"),
                 *left = json_object_get(tables, "parallels");
    static const char figure[] = "thickness of the coiled guard";
    const char *all = thickness(with, a), *bare = thickness(never, a);
    assert_string_not_equal(all, bare);
    assert_string_equal(cell(table, figure, "with all"), all);
    assert_string_equal(cell(table, figure, "without the trials"), "the same");
    assert_string_equal(cell(table, figure, "without idle"), "the same");
    assert_string_equal(cell(table, figure, "without basket"),
                        arena_printf(a, "%s, for %s", bare, all));
    assert_string_equal(cell(left, "basket", "left out with it"), "coil");
    assert_string_equal(cell(left, "basket", "what came of it"), "figures moved");
    assert_string_equal(cell(left, "idle", "what came of it"), "no figure moved");
    json_decref(run.result);
    job_close(with);
    job_close(never);
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(as_if_never_entered)};
    return cmocka_run_group_tests(tests, folder_begin, folder_end);
}
