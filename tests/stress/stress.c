/* Numbers under stress: stress WHAT COUNT [FIRST]
 *
 *   projects   random plausible projects through the whole job, 256 possible originals
 *   sizes      random finds through the sizes
 *   absurd     finds with nonsense in them through import and sizes; open computations with
 *              nonsense in each number of their examples
 *   threads    the same project on 1, 2 and 8 threads: identical bits
 *   twice      twice the size, and mirrored: within Monte Carlo error
 *
 * Looked for: numbers that are not numbers, ranges out of order, refusals without words, and
 * anything that takes longer than it may. */
#include "base/parallel.h"
#include "job/bring.h"
#include "job/job.h"
#include "job/methods.h"
#include "job/snapshot.h"
#include "remains/sizes.h"
#include "shape/outline.h"

#include "random_find.h"

#include <signal.h>
#include <sys/time.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static char folder[80], path[110];
static struct job_options who = {.who = "tester", .when = "2026-06-01T00:00:00Z"};
static struct random_find find;
static long faults;
static double slowest; /* processor seconds */
static char now_doing[200];

static double now_seconds(void) {
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static void fault(const char *format, ...) __attribute__((format(printf, 1, 2)));
static void fault(const char *format, ...) {
    va_list a;
    va_start(a, format);
    printf("FAULT %s: ", now_doing);
    vprintf(format, a);
    printf("\n");
    va_end(a);
    fflush(stdout);
    faults++;
}

static void too_long(int signal) {
    (void)signal;
    printf("FAULT %s: does not end\n", now_doing);
    fflush(stdout);
    _exit(3);
}

/* Seconds of processor time until it counts as not ending; 0: no limit. */
static void limit(long seconds) {
    struct itimerval t = {.it_value = {.tv_sec = seconds}};
    setitimer(ITIMER_PROF, &t, NULL);
}

/* ---- looking at what came out ---------------------------------------------------------------- */

/* JSON has no word for NaN; the program writes unknown numbers as null. A text with "nan" or "inf"
 * standing alone in it is a number that got into a sentence. */
static void look_text(const char *where, const char *text) {
    static const char *const bad[] = {"nan", "inf", "-nan", "-inf"};
    for (const char *p = text; *p; p += strcspn(p, " ,;:()±%"), p += strspn(p, " ,;:()±%"))
        for (int k = 0; k < 4; k++) {
            size_t n = strlen(bad[k]);
            if (strncmp(p, bad[k], n) == 0 && (!p[n] || strchr(" ,;:().%", p[n])))
                fault("%s says \"%.80s\"", where, text);
        }
}

static void look(const char *where, const json_t *j) {
    const char *key;
    size_t i;
    json_t *v;
    if (json_is_string(j))
        look_text(where, json_string_value(j));
    else if (json_is_real(j) && !isfinite(json_real_value(j)))
        fault("%s is not a number", where);
    else if (json_is_array(j))
        json_array_foreach(j, i, v) look(where, v);
    else if (json_is_object(j))
        json_object_foreach((json_t *)j, key, v) look(key, v);
}

static void look_spread(const char *id, const struct spread *s) {
    const double q[] = {s->p005, s->p05, s->p25, s->p50, s->p75, s->p95, s->p995};
    double last = -INFINITY; /* some are not known: counts have 5, 50 and 95 % only */
    for (int k = 0; k < 7; last = isnan(q[k]) ? last : q[k], k++)
        if (isinf(q[k]) || (k && q[k] < last - 1e-9 * fabs(q[k])))
            return fault("%s: %g %g %g %g %g %g %g", id, q[0], q[1], q[2], q[3], q[4], q[5], q[6]);
}

static void look_said(const struct statement_set *said, struct arena *a) {
    struct error err = {0};
    struct texts wrong;
    for (size_t i = 0; i < statement_count(said); i++) {
        const struct statement *s = statement_at(said, i);
        look_spread(s->id, &s->value);
        if (!isnan(s->probability) && !(s->probability >= 0 && s->probability <= 1 + 1e-12))
            fault("%s: probability %g", s->id, s->probability);
    }
    if (statement_faults(&wrong, said, a, &err) == 0)
        for (size_t i = 0; i < wrong.n; i++)
            fault("%s", wrong.v[i]);
}

/* ---- whole projects -------------------------------------------------------------------------- */

static int bring(struct job *job, const char *name, const char *as, const char *bytes, size_t n) {
    json_t *report = NULL;
    struct error err = {0};
    const struct bring_options o = {.as = as, .separator = ",", .bar_length = NAN};
    int rc = job_bring(&report, job, name, bytes, n, &o, &err);
    json_decref(report);
    if (rc && !(*err.message && *err.remedy)) fault("%s refused without words", name);
    return rc;
}

static struct job *project(uint64_t seed, long draws) {
    struct job *job;
    struct error err = {0};
    char command[250];
    snprintf(command, sizeof command, "rm -f %s*", path);
    if (system(command) != 0 || job_new(&job, path, "stress", (long)seed, draws, &who, &err)) {
        fault("no project: %s", err.message);
        exit(2);
    }
    return job;
}

static struct job *random_project(uint64_t seed, long draws) {
    struct job *job = project(seed, draws);
    random_find_make(&find, seed, 1, 0);
    if (bring(job, "finds.csv", "finds", find.csv, find.csv_n)) fault("finds refused");
    if (strstr(find.geojson, "\"Feature\""))
        /* refused with words when a piece they name was set aside */
        bring(job, "o.geojson", "outlines", find.geojson, find.geojson_n);
    if (strstr(find.stems, "L0")) bring(job, "stem.csv", "stem", find.stems, find.stems_n);
    return job;
}

static void look_project(struct job *job, const json_t *report) {
    struct arena *a = arena_new();
    struct statement_set *said = NULL;
    struct error err = {0};
    size_t i;
    json_t *row;
    look("report", report);
    json_array_foreach(report, i, row) {
        const json_t *b = json_object_get(row, "blocked");
        const char *m = json_string_value(json_object_get(b, "message")),
                   *r = json_string_value(json_object_get(b, "remedy"));
        if (b && !(m && *m && r && *r))
            fault("%s blocked without words", json_string_value(json_object_get(row, "step")));
        json_t *result = NULL;
        const char *step = json_string_value(json_object_get(row, "step"));
        if (job_result(&result, job, step, &err) == 0) look(step, result);
        json_decref(result);
        error_clear(&err);
    }
    if (job_statements(&said, job, a, &err))
        fault("no statements: %s", err.message);
    else
        look_said(said, a);
    arena_free(a);
}

/* Which step the time goes to. */
static struct clocks {
    double spent[16], from;
    size_t now;
} clocks;

static int at_step(const char *step, double share, const char *what, void *context) {
    (void)share, (void)what, (void)context;
    clocks.spent[clocks.now] += now_seconds() - clocks.from;
    clocks.from = now_seconds();
    for (size_t i = 0; i < stage_count && i < 16; i++)
        if (strcmp(stage_list[i]->name, step) == 0) clocks.now = i;
    return 0;
}

static void projects(long count, long first) {
    long steps[16] = {0}, done = 0;
    for (long k = first; k < first + count; k++) {
        snprintf(now_doing, sizeof now_doing, "project %ld", k);
        limit(900);
        double begin = now_seconds();
        struct job *job = random_project((uint64_t)k, 256);
        json_t *report = NULL, *row;
        struct error err = {0};
        size_t i;
        clocks.from = now_seconds();
        clocks.now = 0;
        if (job_compute(&report, job, NULL, at_step, NULL, &err))
            fault("compute: %s", err.message);
        else {
            at_step("", 1, "", NULL);
            look_project(job, report);
            json_array_foreach(report, i, row) if (i < 16) steps[i] +=
                !json_object_get(row, "blocked");
            done++;
        }
        json_decref(report);
        job_close(job);
        slowest = fmax(slowest, now_seconds() - begin);
    }
    printf("%ld projects through the whole job; steps that held (processor, s):", done);
    for (size_t i = 0; i < stage_count && i < 16; i++)
        printf(" %s %ld (%.1f)", stage_list[i]->name, steps[i], clocks.spent[i]);
    printf("; slowest %.0f s\n", slowest);
}

/* ---- sizes ------------------------------------------------------------------------------------
 */

static void free_find(struct job *job, struct arena *a) {
    job_close(job);
    arena_free(a);
}

static int sizes_of(struct snapshot *now, struct sizes *out, struct num_rows **rows, size_t n,
                    struct statement_set **said, struct arena *a, struct error *err) {
    int rc = num_rows_new(rows, n, 1, err);
    *said = statement_set_new(a);
    return rc ? rc : remains_sizes(out, &now->find, *rows, *said, a, err);
}

/* One list is read in by the program; the variants alter its measures. */
static void sizes(long count, long first, bool absurd) {
    /* what the fields of a measure let in: 0 to 100,000, ± to 10,000 */
    static const double odd[] = {0,   1e-300, 1e5,  9999, 1e-9, 1e-3, 2e-3,
                                 NAN, 0.05,   5000, 100,  0.5,  3,    1};
    long refused = 0;
    struct num_random dice;
    for (long k = first; k < first + count;) {
        struct job *job = random_project((uint64_t)k, 64);
        struct arena *a = arena_new();
        struct snapshot now;
        struct error err = {0};
        if (job_snapshot(&now, job, a, &err)) fault("snapshot: %s", err.message);
        struct measure *own = ARENA_NEW(a, struct measure, now.find.measure_count + 1);
        memcpy(own, now.find.measures, now.find.measure_count * sizeof *own);
        for (int variant = 0; variant < 25 && k < first + count; variant++, k++) {
            struct arena *b = arena_new();
            struct num_rows *rows = NULL;
            struct statement_set *said;
            struct sizes out;
            snprintf(now_doing, sizeof now_doing, "%s %ld", absurd ? "absurd find" : "sizes", k);
            limit(60);
            num_random_begin(&dice, 3, num_hash("variant"), (uint64_t)k);
            memcpy(now.find.measures, own, now.find.measure_count * sizeof *own);
            for (size_t i = 0; i < now.find.measure_count; i++) {
                struct measure *m = &now.find.measures[i];
                if (absurd && num_random_below(&dice, 4) == 0)
                    m->value = odd[num_random_below(&dice, 14)];
                else
                    m->value *= exp(0.1 * num_random_normal(&dice));
                if (absurd && num_random_below(&dice, 6) == 0)
                    m->tolerance = odd[num_random_below(&dice, 14)];
                if (absurd && num_random_below(&dice, 8) == 0)
                    m->state = (long)num_random_below(&dice, 9) - 2;
                if (absurd && num_random_below(&dice, 12) == 0)
                    m->quantity = (long)num_random_below(&dice, 30) - 2;
            }
            double begin = now_seconds();
            error_clear(&err);
            if (sizes_of(&now, &out, &rows, absurd ? 64 : 16, &said, b, &err)) {
                refused++;
                if (!*err.message) fault("refused without words");
                if (!absurd) fault("refused: %s", err.message);
            } else
                look_said(said, b);
            slowest = fmax(slowest, now_seconds() - begin);
            num_rows_free(rows);
            arena_free(b);
        }
        free_find(job, a);
    }
    printf("%ld %sfinds through the sizes, %ld refused with words; slowest %.2f s\n", count,
           absurd ? "absurd " : "", refused, slowest);
}

/* Cells of the list itself turned into nonsense: import must set aside or refuse. */
static void absurd_lists(long count, long first) {
    static const char *const odd[] = {
        "0",         "-5",  "1e999", "nan",      "inf",    "\"\"\"",     "12,5",   "<>",
        "12 cubits", "A01", "=1+1",  "\xff\xfe", "1e-320", "9999999999", "broken", "none"};
    long refused = 0;
    struct num_random dice;
    static char text[80000];
    for (long k = first; k < first + count; k++) {
        snprintf(now_doing, sizeof now_doing, "absurd list %ld", k);
        limit(60);
        random_find_make(&find, (uint64_t)k, 1, 0);
        num_random_begin(&dice, 5, num_hash("cells"), (uint64_t)k);
        size_t n = 0;
        int column = 0;
        for (const char *p = find.csv; *p && n < sizeof text - 100;) {
            size_t cell = strcspn(p, ",\n");
            bool heading = p < strchr(find.csv, '\n');
            if (p[-(p > find.csv)] == '\n' || p == find.csv) column = 0;
            if (!heading && column++ > 1 && num_random_below(&dice, 20) == 0) {
                /* "nan" is as good a word as any where words stand */
                uint64_t k_odd = num_random_below(&dice, 16);
                n += (size_t)sprintf(text + n, "%s",
                                     odd[column < 7 && (k_odd == 3 || k_odd == 4) ? 0 : k_odd]);
            } else {
                memcpy(text + n, p, cell);
                n += cell;
            }
            p += cell;
            if (*p) text[n++] = *p++;
        }
        struct job *job = project((uint64_t)k, 64);
        double begin = now_seconds();
        if (bring(job, "finds.csv", "finds", text, n))
            refused++;
        else {
            json_t *report = NULL;
            struct error err = {0};
            if (job_compute(&report, job, "sizes", NULL, NULL, &err))
                fault("sizes: %s", err.message);
            else
                look_project(job, report);
            json_decref(report);
        }
        job_close(job);
        slowest = fmax(slowest, now_seconds() - begin);
    }
    printf("%ld lists with nonsense in their cells, %ld refused as a whole; slowest %.2f s\n",
           count, refused, slowest);
}

/* ---- open computations ------------------------------------------------------------------------
 */

/* Sets the n-th number anywhere in j; false when there are fewer. */
static bool set_nth(json_t *j, size_t *n, json_t *value) {
    const char *key;
    size_t i;
    json_t *v;
    if (json_is_object(j)) {
        json_object_foreach(j, key, v) {
            if (json_is_number(v) && (*n)-- == 0) return json_object_set(j, key, value) == 0;
            if (!json_is_number(v) && set_nth(v, n, value)) return true;
        }
    } else if (json_is_array(j))
        json_array_foreach(j, i, v) {
            if (json_is_number(v) && (*n)-- == 0) return json_array_set(j, i, value) == 0;
            if (!json_is_number(v) && set_nth(v, n, value)) return true;
        }
    return false;
}

/* Something else in the place of the n-th thing anywhere in j, lists and objects too; NULL takes it
 * away. false when there are fewer things. */
static bool put_nth(json_t *j, size_t *n, json_t *value) {
    const char *key;
    size_t i;
    json_t *v;
    void *next;
    if (json_is_object(j)) json_object_foreach_safe(j, next, key, v) {
            if ((*n)-- == 0)
                return (value ? json_object_set(j, key, value) : json_object_del(j, key)) == 0;
            if (put_nth(v, n, value)) return true;
        }
    else
        json_array_foreach(j, i, v) {
            if ((*n)-- == 0)
                return (value ? json_array_set(j, i, value) : json_array_remove(j, i)) == 0;
            if (put_nth(v, n, value)) return true;
        }
    return false;
}

/* What stands there instead: first numbers for numbers, then anything for anything. */
enum { NUMBERS = 8, THINGS = 8 };
static const char *const instead[NUMBERS + THINGS] = {
    "0",  "-1",   "1e-300",           "1e300", "-1e300", "1e9", "1e-9", "0.5",
    NULL, "null", "\"no such word\"", "[]",    "{}",     "-3",  "true", "[[1, \"2\"], null]"};

static json_t *question(const struct method *m, size_t nth, int k, bool *there) {
    json_t *in = json_loads(m->example, 0, NULL),
           *value = instead[k] ? json_loads(instead[k], JSON_DECODE_ANY, NULL) : NULL;
    *there = k < NUMBERS ? set_nth(in, &nth, value) : put_nth(in, &nth, value);
    json_decref(value);
    return in;
}

/* One question with one thing replaced; in a process of its own, so that one that does not end is
 * told and the others go on. */
static int ask_one(const struct method *m, const json_t *in) {
    json_t *out = NULL;
    struct error err = {0};
    limit(20);
    int refused = method_run(&out, m, in, &err) != 0;
    if (refused && !(*err.message && err.code)) fault("refused without words");
    if (!refused) look(m->name, out);
    json_decref(out);
    return refused;
}

/* Where counters measure coverage each child would write hundreds of files: asked here instead. */
extern void __gcov_dump(void) __attribute__((weak));

static void ask_apart(const struct method *m, const json_t *in, long *refused) {
    if (__gcov_dump) {
        *refused += ask_one(m, in) == 1;
        return;
    }
    fflush(stdout);
    double begin = now_seconds();
    pid_t child = fork();
    if (child == 0) {
        faults = 0;
        int no = ask_one(m, in);
        fflush(stdout);
        exit(faults ? 4 : no);
    }
    int status = 0;
    waitpid(child, &status, 0);
    if (WIFSIGNALED(status))
        fault("killed by signal %d", WTERMSIG(status));
    else if (WEXITSTATUS(status) > 1)
        faults++;
    *refused += WIFEXITED(status) && WEXITSTATUS(status) == 1;
    slowest = fmax(slowest, now_seconds() - begin);
}

static void absurd_questions(long most) {
    limit(0);
    size_t things = most < 4000 ? 12 : 60; /* of long lists in examples a few are enough */
    long asked[2] = {0}, refused[2] = {0};
    const struct method *m;
    for (size_t i = 0; (m = job_method_at(i)); i++)
        for (int k = 0; k < NUMBERS + THINGS; k++) {
            bool there = true;
            for (size_t nth = 0; nth < things * (k < NUMBERS ? 1 : 2) && there; nth++) {
                json_t *in = question(m, nth, k, &there);
                snprintf(now_doing, sizeof now_doing, "calc %s, %s %zu = %s", m->name,
                         k < NUMBERS ? "number" : "thing", nth, instead[k] ? instead[k] : "gone");
                /* a share of them in check, a smaller one where counters make all slow */
                size_t one_in = most >= 4000 ? 1 : __gcov_dump ? 16 : 4;
                if (there && (nth + (size_t)k + i) % one_in == 0) {
                    asked[k >= NUMBERS]++;
                    ask_apart(m, in, &refused[k >= NUMBERS]);
                }
                json_decref(in);
            }
        }
    printf("%ld absurd numbers in open computations, %ld refused with words; %ld things gone or "
           "other things, %ld refused with words\n",
           asked[0], refused[0], asked[1], refused[1]);
}

/* ---- threads ----------------------------------------------------------------------------------
 */

static char *results_of(unsigned threads, const char *last) {
    parallel_set_threads(threads);
    struct job *job = random_project(1, 256); /* every step of it holds */
    json_t *report = NULL, *all = json_array(), *row;
    struct error err = {0};
    size_t i;
    if (job_compute(&report, job, last, NULL, NULL, &err)) fault("compute: %s", err.message);
    json_array_foreach(report, i, row) {
        json_t *r = NULL;
        const char *step = json_string_value(json_object_get(row, "step"));
        if (job_result(&r, job, step, &err) == 0) json_array_append_new(all, r);
    }
    char *text = json_dumps(all, JSON_REAL_PRECISION(17) | JSON_SORT_KEYS);
    json_decref(all);
    json_decref(report);
    job_close(job);
    parallel_set_threads(0);
    return text;
}

static void threads(const char *last) {
    static const unsigned many[] = {1, 2, 8};
    char *first = NULL;
    for (int k = 0; k < 3; k++) {
        snprintf(now_doing, sizeof now_doing, "%u threads up to %s", many[k],
                 last ? last : "report");
        limit(1200);
        char *text = results_of(many[k], last);
        size_t at = 0;
        while (first && text[at] && text[at] == first[at])
            at++;
        if (first && strcmp(text, first) != 0)
            fault("other bits than on one thread: ...%.60s... and ...%.60s...",
                  first + (at > 30 ? at - 30 : 0), text + (at > 30 ? at - 30 : 0));
        if (first)
            free(text);
        else
            first = text;
    }
    printf("1, 2 and 8 threads up to %s: %zu bytes of results compared\n", last ? last : "report",
           strlen(first));
    free(first);
}

/* ---- twice the size, and mirrored --------------------------------------------------------------
 */

struct pair {
    long compared, outside;
    double worst;
};

/* Two medians from independent draws of the same distribution, of n effective rows each, differ by
 * a standard error of sqrt(2) x 1.25 sd / sqrt(n) (asymptotic variance of a median of normal draws,
 * pi/2 sd^2/n); six of them are allowed, as hundreds are compared. */
static void compare(struct pair *p, const char *id, const struct spread *one,
                    const struct spread *two, double scale, double n) {
    if (isnan(one->p50) != isnan(two->p50)) return fault("%s is known only once", id);
    if (isnan(one->p50)) return;
    double sd = (one->p95 - one->p05) / 3.29;
    double most = 6 * 1.7725 * sd / sqrt(n) + 1e-9 * fabs(one->p50),
           d = fabs(two->p50 / scale - one->p50);
    p->compared++;
    p->worst = fmax(p->worst, sd > 0 ? d / sd : 0);
    if (d > most) {
        p->outside++;
        fault("%s: %.6g, and %.6g / %g", id, one->p50, two->p50, scale);
    }
}

static void twice_sizes(long count) {
    struct pair p = {0};
    for (long k = 1; k <= count; k++) {
        struct spread fresh[2][40];
        const char *names[2][40];
        size_t n[2] = {0, 0};
        struct arena *a = arena_new();
        struct job *job = random_project((uint64_t)k, 64);
        struct error err = {0};
        snprintf(now_doing, sizeof now_doing, "twice the size, find %ld", k);
        for (int twice = 0; twice < 2; twice++) {
            struct snapshot now;
            struct sizes out;
            struct num_rows *rows;
            struct statement_set *said;
            if (job_snapshot(&now, job, a, &err)) fault("snapshot: %s", err.message);
            for (size_t i = 0; twice && i < now.find.measure_count; i++) {
                struct measure *m = &now.find.measures[i];
                if (m->quantity == QUANTITY_HOLES || m->quantity == QUANTITY_ROUNDS ||
                    m->quantity == QUANTITY_CHAMFER_ANGLE)
                    continue;
                m->value *= 2;
                m->tolerance *= 2;
            }
            if (sizes_of(&now, &out, &rows, 1024, &said, a, &err)) fault("%s", err.message);
            for (size_t i = 0; i < out.part_count && n[twice] < 40; i++) {
                names[twice][n[twice]] =
                    arena_printf(a, "%s %s", out.parts[i].part, out.parts[i].quantity);
                fresh[twice][n[twice]++] = out.parts[i].fresh;
            }
            num_rows_free(rows);
        }
        if (n[0] != n[1]) fault("%zu sizes, and %zu", n[0], n[1]);
        for (size_t i = 0; i < n[0] && n[0] == n[1]; i++)
            compare(&p, names[0][i], &fresh[0][i], &fresh[1][i], 2, 1024);
        free_find(job, a);
    }
    printf("twice all lengths: %ld sizes of %ld finds, %ld outside; medians differ by %.3f sd at "
           "most\n",
           p.compared, count, p.outside, p.worst);
}

/* Three arcs of a random oval; mm priors scaled with it. */
static int outline_of(struct shape_outline *out, uint64_t seed, double scale, int mirrored,
                      struct arena *a, struct error *err) {
    enum { N = 12 };
    struct num_random r;
    num_random_begin(&r, 11, num_hash("oval"), seed);
    double half = 180 + 120 * num_random_uniform(&r),
           other = half * (0.55 + 0.35 * num_random_uniform(&r)), at = 6 * num_random_uniform(&r),
           xy[3][2 * N];
    struct shape_evidence e[3];
    static const char *const names[] = {"arc 1", "arc 2", "arc 3"};
    for (int k = 0; k < 3; k++) {
        double from = at + 2.1 * k, wave = 1.5 * num_random_normal(&r);
        for (int i = 0; i < N; i++) {
            double t = from + 0.09 * i;
            wave = 0.85 * wave + 0.8 * num_random_normal(&r);
            xy[k][2 * i] = (mirrored ? -1 : 1) * scale * (half + wave) * cos(t);
            xy[k][2 * i + 1] = scale * (other + wave) * sin(t);
        }
        e[k] = (struct shape_evidence){.id = names[k],
                                       .what = SHAPE_EDGE,
                                       .value = NAN,
                                       .chord = NAN,
                                       .u = 0.7 * scale,
                                       .offset = NAN,
                                       .angle = NAN,
                                       .pieces = NAN,
                                       .grain = NAN,
                                       .points = {N, 2, xy[k]}};
    }
    struct shape_outline_options o = shape_outline_options_default();
    o.centre_sd *= scale;
    o.half_length *= scale;
    o.wave *= scale;
    o.wave_length *= scale;
    o.row_wave *= scale;
    struct shape_outline_model *model = NULL;
    struct num_rows *rows = NULL;
    struct num_report report;
    int rc = shape_outline_model_new(&model, e, 3, &o, err);
    if (!rc)
        rc = num_rows_new(&rows, 2048, 1 + seed + 1000 * (uint64_t)(mirrored + 2 * (scale > 1)),
                          err);
    if (!rc) rc = shape_outline_condition(model, rows, &report, err);
    if (!rc) rc = shape_outline_read(out, model, rows, a, err);
    num_rows_free(rows);
    shape_outline_model_free(model);
    return rc;
}

static void twice_outlines(long count) {
    struct pair p = {0}, q = {0};
    for (long k = 1; k <= count; k++) {
        struct arena *a = arena_new();
        struct shape_outline as_is, twice, turned;
        struct error err = {0};
        snprintf(now_doing, sizeof now_doing, "outline %ld, twice and mirrored", k);
        limit(600);
        if (outline_of(&as_is, (uint64_t)k, 1, 0, a, &err) ||
            outline_of(&twice, (uint64_t)k, 2, 0, a, &err) ||
            outline_of(&turned, (uint64_t)k, 1, 1, a, &err)) {
            fault("%s", err.message);
            arena_free(a);
            continue;
        }
        /* seeds differ; rows that a tempered run keeps apart are fewer than there are: a quarter */
        double n = fmax(50, 0.25 * fmin(as_is.effective, fmin(twice.effective, turned.effective)));
        compare(&p, "length", &as_is.length, &twice.length, 2, n);
        compare(&p, "width", &as_is.width, &twice.width, 2, n);
        compare(&q, "length", &as_is.length, &turned.length, 1, n);
        compare(&q, "width", &as_is.width, &turned.width, 1, n);
        arena_free(a);
    }
    printf("outlines twice the size, mm priors scaled: %ld compared, %ld outside, medians within "
           "%.3f sd\n",
           p.compared, p.outside, p.worst);
    printf("outlines mirrored: %ld compared, %ld outside, medians within %.3f sd\n", q.compared,
           q.outside, q.worst);
}

/* The curled sheet of tests/against/body/cases/14 in other sizes: without gravity all angles stay,
 * so curvatures fall as 1/scale and heights grow with it; mirrored, all stays. */
static void scale_case(json_t *c, double scale) {
    static const char *const lengths[] = {"width", "height", "thickness", "points", "from", "to"};
    static const char *const bends[] = {"curvature"};
    const char *key;
    size_t i;
    json_t *v;
    if (json_is_array(c)) {
        json_array_foreach(c, i, v) {
            if (json_is_number(v))
                json_array_set_new(c, i, json_real(json_number_value(v) * scale));
            else
                scale_case(v, scale);
        }
        return;
    }
    json_object_foreach(c, key, v) {
        bool length = false, bend = strcmp(key, bends[0]) == 0;
        for (int k = 0; k < 6; k++)
            length |= strcmp(key, lengths[k]) == 0;
        if (json_is_number(v) && (length || bend))
            json_object_set_new(c, key,
                                json_real(json_number_value(v) * (bend ? 1 / scale : scale)));
        else if (json_is_array(v) && json_is_number(json_array_get(v, 0)) && (length || bend))
            scale_case(v, bend ? 1 / scale : scale);
        else if (!json_is_number(v))
            scale_case(v, scale);
    }
}

static void mirror_case(json_t *c) {
    const char *key;
    size_t i;
    json_t *v;
    if (json_is_array(c))
        json_array_foreach(c, i, v) mirror_case(v);
    else if (json_is_object(c))
        json_object_foreach(c, key, v) {
            if (strcmp(key, "from") == 0 || strcmp(key, "to") == 0)
                json_array_set_new(v, 0, json_real(-json_number_value(json_array_get(v, 0))));
            else if (!json_is_number(v))
                mirror_case(v);
        }
}

static double answer(const json_t *out, const char *name, size_t index) {
    const json_t *list =
        json_object_get(json_array_get(json_object_get(out, "steps"), 0), "answers");
    size_t i;
    json_t *a;
    json_array_foreach(
        list, i,
        a) if (!strcmp(json_string_value(json_object_get(a, "name")),
                       name)) return json_number_value(json_array_get(json_object_get(a, "values"),
                                                                      index));
    return NAN;
}

static void twice_shell(void) {
    struct error err = {0};
    const struct method *shell = job_method_find("shell", &err);
    json_t *all = json_load_file(
        check_source_path("tests/against/body/cases/14_tray_laths_5mm.json"), 0, NULL);
    json_t *out[3];
    snprintf(now_doing, sizeof now_doing, "shell twice the size and mirrored");
    limit(120);
    for (int k = 0; k < 3; k++) {
        json_t *c = json_deep_copy(json_object_get(all, "case"));
        json_object_set_new(json_object_get(c, "geometry"), "triangles", json_integer(600));
        json_object_del(json_object_get(c, "geometry"), "points");
        /* one lath is left out, so that the mirrored sheet differs from the sheet */
        json_array_remove(json_object_get(c, "laths"), 4);
        json_t *ask = json_object_get(c, "ask");
        for (size_t i = json_array_size(ask); i-- > 0;) {
            const char *name = json_string_value(json_object_get(json_array_get(ask, i), "name"));
            if (strcmp(name, "k") && strcmp(name, "chord")) json_array_remove(ask, i);
        }
        if (k == 1) {
            json_t *places = json_deep_copy(ask);
            scale_case(c, 2);
            json_object_set_new(c, "ask", places);
            json_t *at = json_object_get(json_array_get(places, 1), "at");
            scale_case(at, 2);
            scale_case(json_object_get(json_array_get(places, 1), "other"), 2);
        }
        if (k == 2) mirror_case(c);
        if (method_run(&out[k], shell, c, &err)) {
            fault("%s", err.message);
            return;
        }
        json_decref(c);
    }
    double k1 = answer(out[0], "k", 1), k2 = answer(out[1], "k", 1), k3 = answer(out[2], "k", 1);
    double c1 = answer(out[0], "chord", 0), c2 = answer(out[1], "chord", 0),
           c3 = answer(out[2], "chord", 0);
    printf("shell: curvature %.8g, twice the size %.8g / 2, mirrored %.8g; chord %.6f, %.6f / 2, "
           "%.6f\n",
           k1, 2 * k2, k3, c1, c2, c3);
    if (!(fabs(2 * k2 / k1 - 1) < 1e-6 && fabs(c2 / c1 / 2 - 1) < 1e-6))
        fault("twice the size is not twice the shape");
    /* the mirrored mesh is another mesh: within its own error */
    if (!(fabs(k3 / k1 - 1) < 5e-3 && fabs(c3 / c1 - 1) < 1e-3)) fault("mirrored is not the same");
    for (int k = 0; k < 3; k++)
        json_decref(out[k]);
    json_decref(all);
}

int main(int argc, char **argv) {
    const char *what = argc > 1 ? argv[1] : "", *shm = "/dev/shm";
    long count = argc > 2 ? strtol(argv[2], NULL, 10) : 1,
         first = argc > 3 ? strtol(argv[3], NULL, 10) : 1;
    snprintf(folder, sizeof folder, "%s/relict-stress-XXXXXX", access(shm, W_OK) ? "/tmp" : shm);
    if (!mkdtemp(folder)) return 2;
    snprintf(path, sizeof path, "%s/p.relict", folder);
    who.state_folder = folder;
    signal(SIGPROF, too_long);
    if (!strcmp(what, "projects"))
        projects(count, first);
    else if (!strcmp(what, "sizes"))
        sizes(count, first, false);
    else if (!strcmp(what, "absurd")) {
        sizes(count, first, true);
        slowest = 0;
        absurd_lists(count / 4, first);
        slowest = 0;
        absurd_questions(count);
    } else if (!strcmp(what, "threads"))
        threads(count > 1 ? NULL : "making");
    else if (!strcmp(what, "twice")) {
        twice_sizes(count);
        twice_outlines(count / 4 ? count / 4 : 1);
        twice_shell();
    } else
        return 2;
    char command[120];
    snprintf(command, sizeof command, "rm -rf %s", folder);
    if (system(command) != 0) return 2;
    printf("%s: %ld faults\n", what, faults);
    return faults ? 1 : 0;
}
