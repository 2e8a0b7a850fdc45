/* Every place that asks for memory, refused once: in each step of a whole project and in each open
 * computation.
 *
 * A place is what stands on the stack (the twelve innermost calls), so the same helper called from
 * two lines is two places. The work is done once; wherever it comes to a place for the first time
 * the process divides: the child is told that memory is gone and must end with those words, the
 * parent goes on. So each place costs a fork and not a run, and those deep in the longest step are
 * reached like the first. A step that goes on in spite of it is refused at its end (stage_work); a
 * child that takes longer than a second for that is let go.
 *
 * RELICT_PLACES: one place in so many is tried. Without it (the fast suite) one in 12, of one
 * computation in eight and of the steps up to the sizes.
 * RELICT_PLACES_PROJECT: tray or cradle (the invented ones), found (random) or none.
 * RELICT_PLACES_LAST: the last step that is run.
 * RELICT_PLACES_STRENGTH: the dear step of the shell too; it is left out otherwise.
 */
#include "base/file.h"
#include "base/mem.h"
#include "base/parallel.h"
#include "job/bring.h"
#include "job/job.h"
#include "job/methods.h"

#include "../stress/random_find.h"
#include "../unit/body/shell_cases.h"

#include <execinfo.h>
#include <signal.h>
#include <sys/mman.h>
#include <sys/time.h>
#include <sys/wait.h>
#include <unistd.h>

enum { DEPTH = 12, SLOTS = 1 << 16, TOLD = 9 };

/* Seen by all processes. */
static struct tally { long asked, places, tried, refused, went_on, let_go, faults; } * t;

static uint64_t seen[SLOTS]; /* hashes of places, open addressing; 0: free */
static long seen_n, one_in = 12;
static size_t computations = 8; /* one computation in so many */
static bool watching, child;
static char doing[120];

static void fault(const char *format, ...) __attribute__((format(printf, 1, 2)));
static void fault(const char *format, ...) {
    char text[600];
    va_list a;
    va_start(a, format);
    vsnprintf(text, sizeof text, format, a);
    va_end(a);
    t->faults++;
    check_note("FAULT %s: %s", doing, text);
    fflush(stdout);
}

/* The counters of a build that measures coverage, written before a child is let go. */
extern void __gcov_dump(void) __attribute__((weak));

/* At once, so that what the parent still holds is not taken for lost: leaks after a refusal are
 * looked for by crash_calc, in a process of its own. */
static void leave(int code) {
    if (__gcov_dump) __gcov_dump();
    _exit(code);
}

static void let_go(int signal) {
    (void)signal;
    t->let_go++;
    leave(0);
}

static bool is_new(uint64_t hash) {
    size_t i = hash % SLOTS;
    while (seen[i] && seen[i] != hash)
        i = (i + 1) % SLOTS;
    if (seen[i] || seen_n > SLOTS / 2) return false;
    seen[i] = hash;
    seen_n++;
    return true;
}

static uint64_t place_of_stack(void) {
    void *at[DEPTH];
    uint64_t hash = 1469598103934665603u; /* FNV-1a, 64 bit */
    int n = backtrace(at, DEPTH);
    for (int i = 2; i < n; i++)
        hash = (hash ^ (uint64_t)(uintptr_t)at[i]) * 1099511628211u;
    return hash | 1;
}

static void parent_waits(pid_t pid) {
    int status = 0;
    waitpid(pid, &status, 0);
    if (!WIFSIGNALED(status) && WEXITSTATUS(status) == 0) return;
    void *at[40];
    if (WIFSIGNALED(status))
        fault("killed by signal %d", WTERMSIG(status));
    else if (WEXITSTATUS(status) != TOLD)
        fault("ended with %d", WEXITSTATUS(status));
    check_note("where memory was gone:");
    fflush(stdout);
    backtrace_symbols_fd(at, backtrace(at, 40), STDOUT_FILENO);
}

/* Asked before each allocation and each piece of an arena: must it fail? */
static int refuse(void) {
    if (!watching || child) return 0;
    watching = false; /* nothing done here counts */
    t->asked++;
    int no = 0;
    if (is_new(place_of_stack()) && t->places++ % one_in == 0) {
        t->tried++;
        fflush(stdout);
        pid_t pid = fork();
        if (pid < 0) fault("no further process");
        if (pid == 0) {
            const struct itimerval most = {.it_value = {.tv_sec = 1}};
            child = true;
            signal(SIGPROF, let_go);
            signal(SIGSEGV, SIG_DFL); /* cmocka would go on after them */
            signal(SIGABRT, SIG_DFL);
            signal(SIGFPE, SIG_DFL);
            setitimer(ITIMER_PROF, &most, NULL);
            no = 1;
        } else if (pid > 0)
            parent_waits(pid);
    }
    watching = true;
    return no;
}

/* What a child has come to: rc of the work. Ends it. */
static void child_ends(int rc, const struct error *err) {
    long faults = t->faults;
    t->refused += rc != 0;
    t->went_on += rc == 0;
    if (rc && !(*err->message && *err->remedy && err->code == (enum error_code)rc))
        fault("refused without words");
    else if (rc && rc != ERR_MEMORY)
        fault("memory was gone, and it says: %s", err->message);
    fflush(stdout);
    leave(t->faults > faults ? TOLD : 0);
}

static void tell(const char *of, const struct tally *before) {
    check_note("%-22s asked %8ld times at %5ld places; %5ld tried: %5ld refused, %4ld went on, "
               "%4ld let go",
               of, t->asked - before->asked, t->places - before->places, t->tried - before->tried,
               t->refused - before->refused, t->went_on - before->went_on,
               t->let_go - before->let_go);
}

/* ---- open computations ---------------------------------------------------------------------- */

static void ask(const struct method *m, json_t *in) {
    struct error err = {0};
    json_t *out = NULL;
    snprintf(doing, sizeof doing, "calc %s", m->name);
    watching = true;
    int rc = method_run(&out, m, in, &err);
    watching = false;
    json_decref(out);
    json_decref(in);
    if (child) child_ends(rc, &err);
    if (rc) fault("%s", err.message);
}

static void every_computation(void **state) {
    (void)state;
    struct tally before = *t;
    for (size_t i = 0; job_method_at(i); i += computations)
        ask(job_method_at(i), json_loads(job_method_at(i)->example, 0, NULL));
    tell("open computations", &before);
    assert_int_equal(t->faults, 0);
}

/* The open method `shell` with every kind of part, support, load and question. */
static void every_part_of_a_sheet(void **state) {
    (void)state;
    struct tally before = *t;
    json_t *all = shell_cases_read(), *row;
    size_t i;
    json_array_foreach(json_object_get(all, "rows"), i, row) {
        bool refused = json_object_get(row, "refused");
        if (computations == 1 && !refused) ask(shell_method(), shell_case_of(all, row));
    }
    json_decref(all);
    tell("parts of a sheet", &before);
    assert_int_equal(t->faults, 0);
}

/* ---- a whole project ------------------------------------------------------------------------ */

static char folder[] = "/tmp/relict-places-XXXXXX";

static void bring(struct job *job, const char *name, const char *as, const char *bytes, size_t n) {
    json_t *report = NULL;
    struct error err = {0};
    const struct bring_options o = {.as = as, .separator = ",", .bar_length = NAN};
    check_ok(job_bring(&report, job, name, bytes, n, &o, &err), &err);
    json_decref(report);
}

static void bring_random(struct job *job) {
    static struct random_find find;
    random_find_make(&find, 1, 1, 0);
    bring(job, "finds.csv", "finds", find.csv, find.csv_n);
    bring(job, "o.geojson", "outlines", find.geojson, find.geojson_n);
    bring(job, "stem.csv", "stem", find.stems, find.stems_n);
}

/* The lists of an invented project, pieces first. */
static void bring_demo(struct job *job, const char *name, struct arena *a) {
    static const char *const lists[] = {"finds.csv",         "source.csv",       "handling.csv",
                                        "choice.csv",        "mark.csv",         "stem.csv",
                                        "handover.csv",      "outlines.geojson", "stem_fault.csv",
                                        "test_peel.csv",     "stem_visit.csv",   "stock_item.csv",
                                        "weighing.csv",      "trial.csv",        "trial_piece.csv",
                                        "trial_reading.csv", "candidate.csv",    "season_plan.csv",
                                        "as_made.csv",       "alteration.csv",   "measure.csv"};
    for (size_t i = 0; i < sizeof lists / sizeof *lists; i++) {
        const char *bytes;
        size_t n;
        struct error err = {0};
        char path[200];
        snprintf(path, sizeof path, "demo/%s/%s", name, lists[i]);
        if (file_read(&bytes, &n, check_source_path(path), 0, a, &err) == 0)
            bring(job, lists[i], NULL, bytes, n);
    }
}

/* The steps as the conductor runs them, without a record. */
static void run_steps(const struct snapshot *now, const char *last, struct arena *a) {
    struct error err = {0};
    struct num_rows *rows;
    check_ok(num_rows_new(&rows, (size_t)now->draws, 1, &err), &err);
    struct stage_run run = {.now = now,
                            .rows = rows,
                            .said = statement_set_new(a),
                            .arena = a,
                            .results = json_object()};
    for (size_t i = 0; i <= stage_index(last, &err); i++) {
        struct tally before = *t;
        struct error trouble = {0};
        if (strcmp(stage_list[i]->name, "strength") == 0 && !getenv("RELICT_PLACES_STRENGTH"))
            continue;
        snprintf(doing, sizeof doing, "step %s", stage_list[i]->name);
        run.result = json_object();
        watching = true;
        int rc = stage_work(stage_list[i], &run, &trouble);
        watching = false;
        json_object_set(run.results, stage_list[i]->name, run.result);
        json_decref(run.result);
        if (child || i == stage_index(last, NULL)) {
            json_decref(run.results);
            shape_outline_model_free(run.made.outline_model);
            num_rows_free(rows);
        }
        if (child) {
            arena_free(a);
            child_ends(rc, &trouble);
        }
        tell(stage_list[i]->name, &before);
        if (rc) check_note("%s is blocked: %s", stage_list[i]->name, trouble.message);
    }
}

static void every_step(void **state) {
    (void)state;
    const char *named = getenv("RELICT_PLACES_PROJECT"), *last = getenv("RELICT_PLACES_LAST");
    const struct job_options who = {
        .who = "tester", .when = "2026-06-01T00:00:00Z", .state_folder = folder};
    struct arena *a = arena_new(), *inside = arena_new();
    struct snapshot now;
    struct error err = {0};
    struct job *job;
    char path[100];
    if (named && strcmp(named, "none") == 0) return;
    assert_non_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/p.relict", folder);
    check_ok(job_new(&job, path, "places", 1, 64, &who, &err), &err);
    if (named && strcmp(named, "found") != 0)
        bring_demo(job, named, a);
    else
        bring_random(job);
    check_ok(job_snapshot(&now, job, a, &err), &err);
    job_close(job);
    snprintf(path, sizeof path, "rm -rf %s", folder);
    assert_int_equal(system(path), 0);
    run_steps(&now, last ? last : computations > 1 ? "sizes" : "making", inside);
    arena_free(inside);
    arena_free(a);
    assert_int_equal(t->faults, 0);
}

int main(void) {
    const char *asked = getenv("RELICT_PLACES");
    if (asked) {
        long n = strtol(asked, NULL, 10);
        one_in = n > 0 ? n : 1;
        computations = 1;
    }
    t = mmap(NULL, sizeof *t, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    if (t == MAP_FAILED) return 2;
    parallel_set_threads(1); /* a child has only the thread that asked */
    mem_fail_pieces(1);
    mem_ask_first(refuse);
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_computation),
                                       cmocka_unit_test(every_part_of_a_sheet),
                                       cmocka_unit_test(every_step)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
