/* Every method of stuff/ and body's small ones, fed absurd numbers: each answers or says what is
 * wrong and what to do; no crash, no hang. One number at a time is replaced in the printed example,
 * and one key at a time is left out. */
#include "body/body_methods.h"
#include "stuff/stuff_methods.h"

#include "check.h"

static const double absurd[] = {0, -1, 1e-12, 1e12, -1e12, 1e300, 0.5};

struct tally {
    const struct method *m;
    json_t *root;
    size_t runs, refused;
};

static void run(struct tally *t) {
    json_t *out = NULL;
    struct error err = {0};
    int rc = method_run(&out, t->m, t->root, &err);
    t->runs++;
    if (rc) {
        t->refused++;
        if (!*err.message || !*err.remedy)
            fail_msg("%s: refused without reason or remedy: \"%s\"", t->m->name, err.message);
        char *text = json_dumps(t->root, JSON_COMPACT);
        bool ours = err.code != ERR_SOLVE && err.code != ERR_DAMAGED;
        if (!ours) fail_msg("%s %s: %s", t->m->name, text, err.message);
        free(text);
    }
    json_decref(out);
}

static void spoil(struct tally *t, json_t *at);

static void spoil_member(struct tally *t, json_t *value) {
    if (!json_is_number(value)) {
        spoil(t, value);
        return;
    }
    double was = json_number_value(value);
    bool whole = json_is_integer(value);
    for (size_t k = 0; k < sizeof absurd / sizeof absurd[0]; k++) {
        if (whole && absurd[k] == floor(absurd[k]) && fabs(absurd[k]) < 1e15)
            json_integer_set(value, (json_int_t)absurd[k]);
        else if (!whole)
            json_real_set(value, absurd[k]);
        else
            continue;
        run(t);
    }
    if (whole)
        json_integer_set(value, (json_int_t)was);
    else
        json_real_set(value, was);
}

static void spoil(struct tally *t, json_t *at) {
    if (json_is_array(at)) {
        for (size_t i = 0; i < json_array_size(at); i++)
            spoil_member(t, json_array_get(at, i));
        return;
    }
    if (!json_is_object(at)) return;
    /* names first: taking a key out and putting it back moves it in the object's order */
    char names[64][64];
    size_t n = 0;
    const char *key;
    json_t *value;
    json_object_foreach(at, key, value) if (n < 64) snprintf(names[n++], 64, "%s", key);
    for (size_t i = 0; i < n; i++) {
        value = json_object_get(at, names[i]);
        spoil_member(t, value);
        json_t *kept = json_incref(value);
        json_object_del(at, names[i]);
        run(t);
        json_object_set_new(at, names[i], kept);
    }
}

static void all_of(const struct method_list *list, const char *const *skip) {
    for (size_t i = 0; i < list->n; i++) {
        struct tally t = {.m = list->v[i]};
        bool other = false;
        for (size_t k = 0; skip[k]; k++)
            other |= !strcmp(skip[k], t.m->name);
        if (other) continue;
        t.root = json_loads(t.m->example, 0, NULL);
        assert_non_null(t.root);
        spoil(&t, t.root);
        if (t.runs < 3) fail_msg("%s: only %zu tries", t.m->name, t.runs);
        json_decref(t.root);
    }
}

static void absurd_numbers_are_told(void **state) {
    (void)state;
    static const char *const none[] = {NULL};
    /* the shell and the mesher have their own tests; strip is slow and is tried below */
    static const char *const theirs[] = {"shell", "mesh", "strip", NULL};
    all_of(&stuff_methods, none);
    all_of(&body_methods, theirs);
}

extern const struct method body_method_strip;

static void absurd_strips_are_told(void **state) {
    (void)state;
    struct tally t = {.m = &body_method_strip};
    t.root =
        json_loads("{\"material\": \"birch bark\", \"thickness\": 2, \"width\": 60, \"stem\": 160, "
                   "\"air\": [{\"humidity\": 60}], \"days\": 1}",
                   0, NULL);
    spoil(&t, t.root);
    assert_true(t.refused > 8);
    json_decref(t.root);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(absurd_numbers_are_told),
        cmocka_unit_test(absurd_strips_are_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
