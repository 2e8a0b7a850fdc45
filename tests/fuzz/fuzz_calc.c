/* Any bytes as a question to an open computation: "NAME {json}". Only what answers at once is
 * asked: the shell, layouts and simulations take seconds on honest input. */
#include "job/methods.h"

#include <jansson.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

static bool is_quick(const char *name) {
    static const char *const slow[] = {"shell",        "mesh",     "nesting",     "outline",
                                       "strip",        "power",    "information", "mixed",
                                       "mixed-drying", "evidence", "propagate",   "unit",
                                       "trial-plan",   "schedule", "cutting",     "sensitivity"};
    for (size_t i = 0; i < sizeof slow / sizeof *slow; i++)
        if (strcmp(name, slow[i]) == 0) return false;
    return true;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n) {
    const uint8_t *space = memchr(bytes, ' ', n);
    if (!space || (size_t)(space - bytes) > 60) return 0;
    char name[64];
    memcpy(name, bytes, (size_t)(space - bytes));
    name[space - bytes] = 0;
    struct error err = {0};
    const struct method *m = job_method_find(name, &err);
    if (!m || !is_quick(m->name)) return 0;
    json_t *in = json_loadb((const char *)space + 1, n - (size_t)(space + 1 - bytes),
                            JSON_REJECT_DUPLICATES, NULL),
           *out = NULL;
    error_clear(&err);
    if (in && method_run(&out, m, in, &err) && !*err.message) abort();
    json_decref(out);
    json_decref(in);
    return 0;
}
