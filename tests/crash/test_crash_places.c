/* Every place that asks for memory, refused once: in each step of a whole project and in each open
 * computation.
 *
 * A place is what stands on the stack (the twelve innermost calls), so the same helper called from
 * two lines is two places. The work is done once; wherever it comes to a place for the first time
 * the process divides: the child is told that memory is gone and must end with those words, the
 * parent goes on. So each place costs a fork and not a run, and those deep in the longest step are
 * reached like the first. A child that takes longer than a second for that is let go.
 *
 * Memory of JSON is refused too. After each refusal as many blocks of memory must be in use as
 * before the work, to the block (not in a build with the address sanitizer, which has its own
 * memory), and the project file must be what it was to the byte. For that all is done once before,
 * undisturbed: what is read once and kept is there then.
 *
 * The project is worked out by the conductor as the program does it, from few possible originals
 * and, as in the comparison of parallels, with few shell runs on coarse nets.
 *
 * RELICT_PLACES: one place in so many is tried. Without it (the fast suite) one in 12, of one
 * computation in eight and of the steps up to the sizes.
 * RELICT_PLACES_PROJECT: tray or cradle (the invented ones), found (random) or none.
 * RELICT_PLACES_FIRST, RELICT_PLACES_LAST: the first step that is watched and the last that is run.
 */
#include "base/file.h"
#include "base/mem.h"
#include "base/parallel.h"
#include "job/bring.h"
#include "job/job.h"
#include "job/methods.h"

#include "../stress/random_find.h"
#include "../unit/body/shell_cases.h"
#include "sqlite_memory.h"

#include <dlfcn.h>
#include <errno.h>
#include <execinfo.h>
#include <fcntl.h>
#include <jansson.h>
#include <signal.h>
#include <sqlite3.h>
#include <sys/mman.h>
#include <sys/time.h>
#include <sys/wait.h>
#include <unistd.h>

enum { DEPTH = 12, SLOTS = 1 << 16, TOLD = 9 };

/* Seen by all processes. */
static struct tally { long asked, places, tried, refused, let_go, faults; } * t;

static uint64_t seen[SLOTS]; /* hashes of places, open addressing; 0: free */
static long seen_n, one_in = 12;
static size_t computations = 8; /* one computation in so many */
static bool watching, child, watch_steps;
static uint64_t file_before;
static uint64_t hash_of_file(void);
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

/* ---- blocks of memory in use ---------------------------------------------------------------- */

#ifndef __SANITIZE_ADDRESS__
/* The C library's own under their second names; ours count. One thread, so no lock. */
void *__libc_malloc(size_t n);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *old, size_t n);
void *__libc_memalign(size_t align, size_t n);
void __libc_free(void *p);

static long blocks;

static void *counted(void *p) {
    blocks += p != NULL;
    return p;
}
void *malloc(size_t n) {
    return counted(__libc_malloc(n));
}
void *calloc(size_t count, size_t size) {
    return counted(__libc_calloc(count, size));
}
void *realloc(void *old, size_t n) {
    void *p = __libc_realloc(old, n);
    if (!old) return counted(p);
    blocks -= n == 0 && !p;
    return p;
}
void *memalign(size_t align, size_t n) {
    return counted(__libc_memalign(align, n));
}
void *aligned_alloc(size_t align, size_t n) {
    return counted(__libc_memalign(align, n));
}
int posix_memalign(void **out, size_t align, size_t n) {
    *out = counted(__libc_memalign(align, n));
    return *out ? 0 : ENOMEM;
}
void free(void *p) {
    blocks -= p != NULL;
    __libc_free(p);
}

static long blocks_now(void) {
    return blocks;
}

/* SQLite keeps pages and statements as long as the file is open: its memory is not counted. */
static void *sq_malloc(int n) {
    size_t *p = __libc_malloc((size_t)n + 16);
    if (p) *p = (size_t)n;
    return p ? p + 2 : NULL;
}
static void sq_free(void *p) {
    if (p) __libc_free((size_t *)p - 2);
}
static void *sq_realloc(void *old, int n) {
    size_t *p = __libc_realloc(old ? (size_t *)old - 2 : NULL, (size_t)n + 16);
    if (p) *p = (size_t)n;
    return p ? p + 2 : NULL;
}
static void begin_blocks(void) {
    sq_memory_from(sq_malloc, sq_free, sq_realloc);
}
#else
static long blocks_now(void) {
    return 0;
}
static void begin_blocks(void) {}
#endif

static long blocks_before; /* the work */

/* ---- refusing ------------------------------------------------------------------------------- */

/* The counters of a build that measures coverage, written before a child is let go. */
extern void __gcov_dump(void) __attribute__((weak));

/* At once: what the parent still holds is not the child's to free. */
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
            if (watch_steps) file_before = hash_of_file();
            no = 1;
        } else if (pid > 0)
            parent_waits(pid);
    }
    watching = true;
    return no;
}

/* What a child has come to: rc of the work, with all it made freed. Ends it. */
static void child_ends(int rc, const struct error *err) {
    long faults = t->faults, more = blocks_now() - blocks_before;
    if (more > 0) fault("%ld blocks of memory are left", more);
    t->refused += rc != 0;
    if (rc == 0)
        fault("it goes on with something missing");
    else if (!(*err->message && *err->remedy && err->code == (enum error_code)rc))
        fault("refused without words");
    else if (rc != ERR_MEMORY)
        fault("memory was gone, and it says: %s", err->message);
    fflush(stdout);
    leave(t->faults > faults ? TOLD : 0);
}

static void tell(const char *of, const struct tally *before) {
    check_note("%-22s asked %8ld times at %5ld places; %5ld tried: %5ld refused, %4ld let go", of,
               t->asked - before->asked, t->places - before->places, t->tried - before->tried,
               t->refused - before->refused, t->let_go - before->let_go);
}

/* ---- open computations ---------------------------------------------------------------------- */

static int undisturbed(const struct method *m, const json_t *in, struct error *err) {
    json_t *out = NULL;
    int rc = method_run(&out, m, in, err);
    json_decref(out);
    return rc;
}

static void ask(const struct method *m, json_t *in) {
    struct error err = {0};
    json_t *out = NULL;
    undisturbed(m, in, &err);
    error_clear(&err);
    snprintf(doing, sizeof doing, "calc %s", m->name);
    blocks_before = blocks_now();
    watching = true;
    int rc = method_run(&out, m, in, &err);
    watching = false;
    json_decref(out);
    if (!child && blocks_now() != blocks_before) fault("it keeps memory each time");
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

static char path[100];
static size_t first_watched;

/* The file and its journal, at the moment a child was refused something and at its end. */
static uint64_t hash_of_file(void) {
    uint64_t hash = 1469598103934665603u; /* FNV-1a, 64 bit, of eight bytes at once */
    static uint64_t buffer[1 << 15];
    char journal[120];
    int file = open(path, O_RDONLY);
    if (file < 0) return 0;
    for (ssize_t n; memset(buffer, 0, sizeof buffer), (n = read(file, buffer, sizeof buffer)) > 0;)
        for (size_t i = 0; i < (size_t)n / 8 + 1 && i < sizeof buffer / 8; i++)
            hash = (hash ^ buffer[i]) * 1099511628211u;
    close(file);
    snprintf(journal, sizeof journal, "%s-journal", path);
    return access(journal, F_OK) ? hash : 1;
}

/* Taken over by name, between the conductor and the step: only the step is watched, while the file
 * is at rest; and it works as for a first rough answer. */
int stage_work(const struct stage *stage, struct stage_run *run, struct error *err) {
    struct tally before = *t;
    int (*real)(const struct stage *, struct stage_run *, struct error *) =
        (int (*)(const struct stage *, struct stage_run *, struct error *))dlsym(RTLD_NEXT,
                                                                                 "stage_work");
    run->rough = true;
    snprintf(doing, sizeof doing, "step %s", stage->name);
    watching = watch_steps && stage_index(stage->name, NULL) >= first_watched;
    bool watched = watching;
    int rc = real(stage, run, err);
    watching = false;
    if (watched && !child) tell(stage->name, &before);
    if (watched && !child && rc) check_note("%s is blocked: %s", stage->name, err->message);
    return rc;
}

static void lay(const char *named, struct arena *a) {
    const struct job_options who = {
        .who = "tester", .when = "2026-06-01T00:00:00Z", .state_folder = folder};
    struct error err = {0};
    struct job *job;
    unlink(path);
    check_ok(job_new(&job, path, "places", 1, 128, &who, &err), &err);
    if (named && strcmp(named, "found") != 0)
        bring_demo(job, named, a);
    else
        bring_random(job);
    job_close(job);
}

static void work(const char *named, const char *last, struct arena *a) {
    const struct job_options who = {
        .who = "tester", .when = "2026-06-01T00:00:00Z", .state_folder = folder};
    struct error err = {0};
    struct job *job;
    json_t *report = NULL;
    lay(named, a);
    check_ok(job_open(&job, path, &who, &err), &err);
    blocks_before = blocks_now();
    int rc = job_compute(&report, job, last, NULL, NULL, &err);
    json_decref(report);
    if (child && hash_of_file() != file_before) fault("the file is another");
    if (child) child_ends(rc, &err);
    check_ok(rc, &err);
    if (watch_steps && blocks_now() != blocks_before) fault("it keeps memory each time");
    job_close(job);
}

static void every_step(void **state) {
    (void)state;
    const char *named = getenv("RELICT_PLACES_PROJECT"), *last = getenv("RELICT_PLACES_LAST"),
               *first = getenv("RELICT_PLACES_FIRST");
    struct arena *a = arena_new();
    char command[120];
    if (named && strcmp(named, "none") == 0) return arena_free(a);
    if (!last) last = computations > 1 ? "sizes" : "making";
    if (first) first_watched = stage_index(first, NULL);
    assert_non_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/p.relict", folder);
    work(named, last, a);
    watch_steps = true;
    work(named, last, a);
    watch_steps = false;
    snprintf(command, sizeof command, "rm -rf %s", folder);
    assert_int_equal(system(command), 0);
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
    begin_blocks();
    json_set_alloc_funcs(mem_bytes, mem_free);
    place_of_stack();        /* reads what it needs for that once */
    parallel_set_threads(1); /* a child has only the thread that asked */
    mem_fail_pieces(1);
    mem_ask_first(refuse);
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_computation),
                                       cmocka_unit_test(every_part_of_a_sheet),
                                       cmocka_unit_test(every_step)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
