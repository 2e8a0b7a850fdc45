/* Fits to broken lengths and quantiles, beside SciPy and NumPy on the same lists in the same run.
 * Ours includes the intervals by profile likelihood, which the peer's fit does not. Prints a table,
 * judges nothing. */
#include "bench.h"

#include "num/censored.h"
#include "num/random.h"
#include "num/weighted.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct task {
    char name[32];
    size_t n;
    enum num_life family;
    bool quantiles, plain;
    double seconds, result;
};

struct lists {
    double *a, *b; /* sizes and 1 for complete ones; or values and weights */
};

static struct lists make(const struct task *t) {
    struct lists l = {malloc(t->n * sizeof *l.a), malloc(t->n * sizeof *l.b)};
    struct num_random r;
    num_random_begin(&r, 1, num_hash(t->quantiles ? "bench.quantiles" : "bench.lengths"), t->n);
    for (size_t i = 0; i < t->n; i++) {
        double length = 300 * exp(0.1 * num_random_normal(&r)), u = num_random_uniform(&r);
        if (t->quantiles) {
            l.a[i] = length;
            l.b[i] = t->plain ? 1 : u;
        } else {
            /* Every second piece is broken somewhere along its length. */
            bool whole = i % 2 == 0;
            l.a[i] = whole ? length : length * u;
            l.b[i] = whole;
        }
    }
    return l;
}

static double once(const struct task *t, const struct lists *l, const struct num_censored *v) {
    struct error err = {0};
    if (t->quantiles) {
        const double p[] = {0.05, 0.5, 0.95};
        double q[3];
        num_quantiles(l->a, t->plain ? NULL : l->b, t->n, p, 3, q, &err);
        return q[1];
    }
    struct num_life_fit fit;
    const struct num_life_options o = {.family = t->family};
    if (num_life_fit(&fit, v, t->n, &o, &err) != 0) return NAN;
    return fit.median;
}

static void run(struct task *t, const char *folder, FILE *list) {
    struct lists l = make(t);
    struct num_censored *v = calloc(t->n, sizeof *v);
    char path[128]; /* mkdtemp folder and a name */
    snprintf(path, sizeof path, "%.80s/%.31s", folder, t->name);
    FILE *f = fopen(path, "w");
    if (!f || !v) exit(1);
    for (size_t i = 0; i < t->n; i++) {
        v[i] = (struct num_censored){l.a[i], l.b[i] > 0 ? l.a[i] : INFINITY, 0};
        fprintf(f, "%.17g %.17g\n", l.a[i], l.b[i]);
    }
    fclose(f);
    fprintf(list, "%s %s\n", t->name, path);
    double begin = bench_wall(), took;
    size_t n = 0;
    do {
        t->result = once(t, &l, v);
        n++;
    } while ((took = bench_wall() - begin) < 0.5);
    t->seconds = took / (double)n;
    free(v);
    free(l.a);
    free(l.b);
}

static void beside(struct task *tasks, size_t count, const char *list) {
    char command[600], name[32];
    const char *root = getenv("RELICT_SOURCE");
    snprintf(command, sizeof command,
             "/usr/bin/python3 '%s/bench/peer_numbers.py' < '%s' 2>/dev/null", root ? root : ".",
             list);
    FILE *peer = popen(command, "r");
    double seconds, result, before = 0;
    size_t got = 0, i = 0;
    printf("%-22s %9s %12s %12s %8s %9s %s\n", "task", "n", "ours, ms", "SciPy, ms", "ratio",
           "exponent", "answers differ by");
    for (; i < count; i++) {
        struct task *t = &tasks[i];
        bool there = peer && fscanf(peer, "%31s %lf %lf", name, &seconds, &result) == 3;
        got += there;
        bool same = i && tasks[i - 1].n < t->n;
        printf("%-22s %9zu %12.4f ", t->name, t->n, 1e3 * t->seconds);
        if (there)
            printf("%12.4f %8.3f ", 1e3 * seconds, t->seconds / seconds);
        else
            printf("%12s %8s ", "-", "-");
        if (same)
            printf("%9.2f ", log(t->seconds / before) / log((double)t->n / (double)tasks[i - 1].n));
        else
            printf("%9s ", "");
        if (there) printf("%.1e", fabs(t->result / result - 1));
        printf("\n");
        before = t->seconds;
    }
    if (peer) pclose(peer);
    if (!got) printf("(python3-scipy is not installed: nothing to set beside)\n");
}

int main(void) {
    static const char *const families[] = {"lognormal", "weibull"};
    static const size_t sizes[] = {10, 100, 1000, 10000}, crowd[] = {4096, 65536, 1048576};
    struct task tasks[16] = {0};
    size_t count = 0;
    for (int f = 0; f < 2; f++)
        for (size_t i = 0; i < 4; i++) {
            tasks[count] = (struct task){.n = sizes[i], .family = (enum num_life)f};
            snprintf(tasks[count].name, sizeof tasks->name, "%s-%zu", families[f], sizes[i]);
            count++;
        }
    for (int plain = 0; plain < 2; plain++)
        for (size_t i = 0; i < 3; i++) {
            tasks[count] = (struct task){.n = crowd[i], .quantiles = true, .plain = plain};
            snprintf(tasks[count].name, sizeof tasks->name, "%s-%zu", plain ? "plain" : "quantiles",
                     crowd[i]);
            count++;
        }
    char folder[] = "/tmp/relict-bench-XXXXXX", path[64], command[100];
    if (!mkdtemp(folder)) return 1;
    snprintf(path, sizeof path, "%s/list", folder);
    FILE *list = fopen(path, "w");
    if (!list) return 1;
    for (size_t i = 0; i < count; i++)
        run(&tasks[i], folder, list);
    fclose(list);
    printf("Broken lengths (lognormal, Weibull; half of them minimums) and quantiles of lists\n");
    beside(tasks, count, path);
    snprintf(command, sizeof command, "rm -rf %s", folder);
    return system(command) != 0;
}
