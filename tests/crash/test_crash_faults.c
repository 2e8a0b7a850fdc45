/* The n-th allocation, write, sync, name or step of SQL fails, and the current goes at the n-th
 * write, on saving, importing, computing, exporting and bringing an older file up to date, for the
 * smallest project. What was acknowledged is there afterwards, everything that is there fits its
 * hashes, and a failure is told with words.
 *
 * Every n up to RELICT_FAULTS (3 in the fast suite), then sampled, until nothing fails any more.
 */
#include "base/file.h"
#include "job/bring.h"
#include "job/job.h"
#include "job/kinds.h"
#include "record/folder.h"

#include "disk.h"

static char folder[80], path[110], out_folder[110];
static struct job_options who = {
    .who = "tester", .when = "2026-06-01T00:00:00Z", .state_folder = NULL};
static const char *old_form, *now_form; /* bytes of the two sample projects */
static size_t old_n, now_n;
static long every = 3;

/* ---- the works ------------------------------------------------------------------------------ */

static int save(struct job *job, struct error *err) {
    json_t *j = json_pack("{s:s,s:s,s:s}", "id", "K9", "part", "lath", "note", "words");
    int rc = j ? job_enter(job, "piece", "K9", j, -1, "why", NULL, err) : fail_memory(err);
    json_decref(j);
    return rc;
}

static int import(struct job *job, struct error *err) {
    static const char list[] = "id,part,material,state,length_mm,end_1,note\n"
                               "M1,lath,hazel,wet in lab,100,chamfered 9 mm,joins K2\n"
                               "M2,lath,hazel,cooked,9,,\n";
    json_t *report = NULL;
    const struct bring_options o = {.separator = ",", .bar_length = NAN};
    int rc = job_bring(&report, job, "m.csv", list, sizeof list - 1, &o, err);
    json_decref(report);
    return rc;
}

static int compute(struct job *job, struct error *err) {
    json_t *report = NULL;
    int rc = job_compute(&report, job, NULL, NULL, NULL, err);
    json_decref(report);
    return rc;
}

static int export(struct job *job, struct error *err) {
    struct record_folder_made made;
    return record_folder_write(&made, job_record(job), out_folder, true, who.when, err);
}

static int nothing(struct job *job, struct error *err) {
    (void)job, (void)err;
    return 0;
}

enum work_kind { SAVE, IMPORT, COMPUTE, EXPORT, MIGRATE, WORKS };
static const struct {
    const char *word;
    int (*run)(struct job *job, struct error *err);
} works[] = {{"save", save},
             {"import", import},
             {"compute", compute},
             {"export", export},
             {"migrate", nothing}};

/* ---- before and after ----------------------------------------------------------------------- */

static void lay(enum work_kind work) {
    char command[400];
    snprintf(command, sizeof command, "rm -rf %s %s-* %s.*", out_folder, path, path);
    if (access(out_folder, F_OK) == 0 || work == MIGRATE || work == COMPUTE)
        assert_int_equal(system(command), 0);
    else { /* the usual case without a shell */
        char journal[130];
        snprintf(journal, sizeof journal, "%s-journal", path);
        unlink(journal);
    }
    struct error err = {0};
    check_ok(file_write(path, work == MIGRATE ? old_form : now_form,
                        work == MIGRATE ? old_n : now_n, true, &err),
             &err);
}

static int tell(const struct record_fault *f, void *context, struct error *err) {
    (void)context, (void)err;
    check_note("%s %s %s: %s", f->what, f->kind, f->id, f->detail);
    return 0;
}

struct seen {
    long revision;
    size_t results;
};

/* Opens the file as a stranger's, for reading first (a broken-off change must not stop that), and
 * looks at every hash. */
static struct seen inspect(enum work_kind work) {
    struct job *job;
    struct error err = {0};
    struct job_options reading = who;
    reading.read_only = work != MIGRATE;
    check_ok(job_open(&job, path, &reading, &err), &err);
    struct record_checked c;
    check_ok(record_verify(&c, job_record(job), tell, NULL, &err), &err);
    assert_int_equal(c.faults, 0);
    struct seen s = {record_revision(job_record(job)), c.results};
    job_close(job);
    return s;
}

static void inspect_folder(void) {
    char again[130];
    snprintf(again, sizeof again, "%s/again.relict", folder);
    unlink(again);
    struct record *one, *two;
    struct record_folder_taken taken;
    struct error err = {0};
    const struct record_start start = {.title = "T", .who = "tester", .when = who.when};
    const struct record_options o = {.kinds = job_kinds, .n_kinds = job_kind_count()};
    check_ok(record_folder_read(&two, &taken, out_folder, again, &start, &o, &err), &err);
    check_ok(record_open(&one, path, &o, &err), &err);
    char a[65], b[65];
    check_ok(record_digest(a, one, &err), &err);
    check_ok(record_digest(b, two, &err), &err);
    assert_string_equal(a, b);
    record_close(one, NULL);
    record_close(two, NULL);
    unlink(again);
}

/* ---- the faults ----------------------------------------------------------------------------- */

struct tally {
    long tried, refused, went_on, there, said;
};

/* One try: returns whether the fault struck. */
static int once(struct tally *t, enum work_kind work, enum disk_fault fault, long nth,
                struct seen before, struct seen after) {
    struct job *job = NULL;
    struct error err = {0};
    lay(work);
    /* migrating is opening; everything else begins with the project open */
    int rc = 0;
    if (work == MIGRATE) disk_arm(fault, nth);
    rc = job_open(&job, path, &who, &err);
    if (work != MIGRATE) {
        check_ok(rc, &err);
        disk_arm(fault, nth);
    }
    if (!rc) rc = works[work].run(job, &err);
    if (fault == FAULT_MEMORY) disk.reached = mem_count() - disk.asked >= nth;
    mem_fail_nth(0);
    job_close(job); /* still broken: closing must not make it worse */
    int reached = disk.reached;
    disk_arm(FAULT_NONE, 0);
    if (rc && !*err.message)
        fail_msg("%s, %s %ld: no words", works[work].word, disk_words[fault], nth);
    struct seen now = inspect(work);
    bool is_before = now.revision == before.revision, is_after = now.revision == after.revision;
    if (!is_before && !is_after)
        fail_msg("%s, %s %ld: revision %ld", works[work].word, disk_words[fault], nth,
                 now.revision);
    if (!rc && !is_after)
        fail_msg("%s, %s %ld: acknowledged and lost", works[work].word, disk_words[fault], nth);
    if (!rc && work == COMPUTE && now.results < after.results && fault != FAULT_MEMORY)
        fail_msg("%s, %s %ld: acknowledged, %zu of %zu results there", works[work].word,
                 disk_words[fault], nth, now.results, after.results);
    if (!rc && work == EXPORT && fault < FAULT_POWER) inspect_folder();
    t->tried++;
    t->refused += rc != 0;
    t->went_on += rc == 0 && reached;
    bool there = rc != 0 && is_after && after.revision != before.revision;
    bool said = there && strstr(err.message, "was stored whole");
    /* without power nobody is told anything; with it, the words must be true */
    if (there && !said && fault == FAULT_MEMORY)
        fail_msg("%s, %s %ld: stored, yet told as failed: %s", works[work].word, disk_words[fault],
                 nth, err.message);
    t->there += there && !said;
    t->said += said;
    return reached;
}

static void all_faults(void **state) {
    (void)state;
    check_note("%-8s %-10s %7s %8s %8s %16s %16s", "work", "fails", "tried", "refused", "went on",
               "stored and told", "failed yet there");
    const char *only = getenv("RELICT_FAULT_WORK"); /* to look at one closely */
    for (int work = 0; work < WORKS; work++) {
        if (only && strcmp(only, works[work].word) != 0) continue;
        lay((enum work_kind)work);
        struct seen before = inspect((enum work_kind)work), after;
        struct job *job;
        struct error err = {0};
        check_ok(job_open(&job, path, &who, &err), &err);
        check_ok(works[work].run(job, &err), &err);
        job_close(job);
        after = inspect((enum work_kind)work);
        for (int fault = FAULT_MEMORY; fault < FAULT_COUNT; fault++) {
            struct tally t = {0};
            const char *fault_only = getenv("RELICT_FAULT");
            if (fault_only && strcmp(fault_only, disk_words[fault]) != 0) continue;
            const char *from = getenv("RELICT_FAULT_FROM");
            for (long n = from ? strtol(from, NULL, 10) : 1;
                 once(&t, (enum work_kind)work, (enum disk_fault)fault, n, before, after);)
                n = n < every ? n + 1 : n + 1 + n / (every < 100 ? 1 : 16);
            check_note("%-8s %-10s %7ld %8ld %8ld %16ld %16ld", works[work].word, disk_words[fault],
                       t.tried, t.refused, t.went_on, t.said, t.there);
        }
    }
}

static int begin(void **state) {
    (void)state;
    const char *asked = getenv("RELICT_FAULTS"), *shm = "/dev/shm";
    if (asked) every = strtol(asked, NULL, 10);
    snprintf(folder, sizeof folder, "%s/relict-faults-XXXXXX", access(shm, W_OK) ? "/tmp" : shm);
    if (!mkdtemp(folder)) return -1;
    snprintf(path, sizeof path, "%s/p.relict", folder);
    snprintf(out_folder, sizeof out_folder, "%s/open", folder);
    who.state_folder = folder;
    static struct arena *a;
    a = arena_new();
    struct error err = {0};
    *state = a;
    return file_read(&old_form, &old_n, check_source_path("tests/unit/record/forms/form1.bin"), 0,
                     a, &err) ||
           file_read(&now_form, &now_n, check_source_path("tests/unit/record/forms/form2.bin"), 0,
                     a, &err);
}

static int end(void **state) {
    arena_free(*state);
    char command[120];
    snprintf(command, sizeof command, "rm -rf %s", folder);
    return system(command);
}

int main(void) {
    disk_begin();
    mem_fail_pieces(1);
    const struct CMUnitTest tests[] = {cmocka_unit_test(all_faults)};
    return cmocka_run_group_tests(tests, begin, end);
}
