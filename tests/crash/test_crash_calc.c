/* Every open computation with the n-th of its allocations failing, for every n (pieces of arenas
 * are allocations too): it is refused with words, or the answer is the one it gives undisturbed;
 * never another answer, and never an end of the program. Afterwards it answers as before.
 *
 * The examples of the manual are the questions. Where every n would take longer than RELICT_SECONDS
 * of the processor for one computation (0.05 in the fast suite), they are taken evenly.
 */
#include "base/mem.h"
#include "base/parallel.h"
#include "job/methods.h"

#include "check.h"

#include <stdarg.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static double seconds(void) {
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* Seen by the child of each computation and by its parent. */
static struct tally { long computations, tried, refused, went_on, sampled, faults, nth; } * t;

static void fault(const char *name, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void fault(const char *name, const char *format, ...) {
    char text[400];
    va_list a;
    va_start(a, format);
    vsnprintf(text, sizeof text, format, a);
    va_end(a);
    t->faults++;
    check_note("FAULT %s, allocation %ld: %s", name, t->nth, text);
}

/* The answer as text, or NULL with err. */
static char *ask(const struct method *m, const json_t *in, long nth, struct error *err) {
    json_t *out = NULL;
    error_clear(err);
    t->nth = nth;
    mem_fail_nth(nth);
    int rc = method_run(&out, m, in, err);
    mem_fail_nth(0);
    char *text = rc ? NULL : json_dumps(out, JSON_REAL_PRECISION(17) | JSON_SORT_KEYS);
    if (rc && !(*err->message && err->code == (enum error_code)rc))
        fault(m->name, "refused without words");
    json_decref(out);
    return text;
}

static void one(const struct method *m, double most) {
    struct error err;
    json_t *in = json_loads(m->example, 0, NULL);
    char *whole = ask(m, in, 0, &err), *text; /* tables that are read once are read now */
    if (!whole) return fault(m->name, "%s", err.message);
    double begin = seconds();
    long before = mem_count();
    free(ask(m, in, 0, &err));
    long count = mem_count() - before;
    double each = seconds() - begin, runs = most / fmax(each, 1e-6);
    long step = runs >= (double)count ? 1 : (long)ceil((double)count / fmax(runs, 3));
    t->sampled += step > 1;
    for (long n = 1; n <= count; n += step) {
        text = ask(m, in, n, &err);
        t->tried++;
        t->refused += !text;
        t->went_on += text != NULL;
        if (text && strcmp(text, whole) != 0) {
            size_t at = 0;
            while (text[at] == whole[at])
                at++;
            fault(m->name, "another answer: %.60s, not %.60s", text + at, whole + at);
        }
        free(text);
    }
    text = ask(m, in, 0, &err);
    if (!text || strcmp(text, whole) != 0) fault(m->name, "another answer afterwards");
    free(text);
    free(whole);
    json_decref(in);
}

/* Each in a process of its own: one that ends badly is told, and the others go on. */
static void every_computation(void **state) {
    (void)state;
    const char *asked = getenv("RELICT_SECONDS"), *only = getenv("RELICT_FAULT_WORK");
    double most = asked ? strtod(asked, NULL) : 0.01;
    for (size_t i = 0; job_method_at(i); i++) {
        const struct method *m = job_method_at(i);
        if (only && strcmp(only, m->name) != 0) continue;
        t->computations++;
        fflush(stdout);
        pid_t child = fork();
        if (child == 0) {
            one(m, most);
            exit(0);
        }
        int status = 0;
        waitpid(child, &status, 0);
        if (WIFSIGNALED(status))
            fault(m->name, "killed by signal %d", WTERMSIG(status));
        else if (WEXITSTATUS(status))
            fault(m->name, "exit status %d", WEXITSTATUS(status));
    }
    check_note(
        "%ld computations, %ld allocations failed once each: %ld refused with words, %ld went "
        "on to the same answer; %ld computations by samples; %ld faults",
        t->computations, t->tried, t->refused, t->went_on, t->sampled, t->faults);
    assert_int_equal(t->faults, 0);
}

int main(void) {
    mem_fail_pieces(1);
    t = mmap(NULL, sizeof *t, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    if (t == MAP_FAILED) return 2;
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_computation)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
