#include "job/methods.h"

#include "body/body_methods.h"
#include "gather/gather_methods.h"
#include "num/num_methods.h"
#include "plane/plane_methods.h"
#include "remains/remains_methods.h"
#include "shape/shape_methods.h"
#include "stuff/stuff_methods.h"
#include "trial/trial_methods.h"

#include <stdio.h>
#include <string.h>

/* One room a line, so that rooms can be added side by side. */
// clang-format off
// clang-format on

/* One room a line, so that rooms can be added side by side. */
// clang-format off
// clang-format on

/* One room a line, so that rooms can be added side by side. */
// clang-format off
// clang-format on

/* One room a line, so that rooms can be added side by side. */
// clang-format off
// clang-format on

/* One room a line, so that rooms can be added side by side. */
// clang-format off
// clang-format on

/* One room a line, so that rooms can be added side by side. */
// clang-format off
// clang-format on

/* One room a line, so that rooms can be added side by side. */
// clang-format off
// clang-format on

/* One room a line, so that rooms can be added side by side. */
// clang-format off
// clang-format on

/* One room a line, so that rooms can be added side by side. */
// clang-format off
// clang-format on

/* One room a line, so that rooms can be added side by side. */
// clang-format off
static const struct method_list *const rooms[] = {
    &num_methods,
    &plane_methods,
    &stuff_methods,
    &remains_methods,
    &shape_methods,
    &body_methods,
    &gather_methods,
    &trial_methods,
    NULL,
};
// clang-format on

const struct method *job_method_at(size_t i) {
    for (size_t r = 0; rooms[r]; r++) {
        if (i < rooms[r]->n) return rooms[r]->v[i];
        i -= rooms[r]->n;
    }
    return NULL;
}

const struct method *job_method_find(const char *name, struct error *err) {
    const char *names[256];
    size_t n = 0;
    for (const struct method *m; n < 256 && (m = job_method_at(n)); n++) {
        if (strcmp(m->name, name) == 0) return m;
        names[n] = m->name;
    }
    const char *near = field_nearest(name, names, n);
    char remedy[160];
    if (near)
        snprintf(remedy, sizeof remedy, "Did you mean \"%s\"?", near);
    else
        snprintf(remedy, sizeof remedy, "`relict calc` lists the methods.");
    fail(err, ERR_USAGE, remedy, "There is no method \"%.60s\".", name);
    return NULL;
}
