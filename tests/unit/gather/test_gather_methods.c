/* every method of gather/ runs its own example. */
#include "gather/gather_methods.h"

#include "examples.h"

static void examples_run(void **state) {
    (void)state;
    examples_of(&gather_methods);
}

static json_t *answer(const char *name, const char *text, struct error *err) {
    json_t *in = json_loads(text, 0, NULL), *out = NULL;
    assert_non_null(in);
    for (size_t i = 0; i < gather_methods.n; i++)
        if (!strcmp(gather_methods.v[i]->name, name))
            method_run(&out, gather_methods.v[i], in, err);
    json_decref(in);
    return out;
}

#define LATH                                                                                       \
    "{\"what\": \"lath\", \"species\": \"Corylus avellana\", \"number\": %s, \"length\": 300, "    \
    "\"width\": 26.7, \"thickness\": 3.75}"
#define POLE                                                                                       \
    "{\"id\": \"H1\", \"species\": \"%s\", \"kind\": \"%s\", %s \"taper\": 0, "                    \
    "\"bark_thickness\": 2, "                                                                      \
    "\"consent\": \"%s\"}"

static json_t *poles(const char *number, const char *species, const char *kind, const char *sizes,
                     const char *consent, struct error *err) {
    char text[1000];
    snprintf(text, sizeof text, "{\"sticks\": [" LATH "], \"poles\": [" POLE "]}", number, species,
             kind, sizes, consent);
    return answer("poles", text, err);
}

static const char *say_of(const json_t *out) {
    const char *text = json_string_value(json_object_get(out, "say"));
    return text ? text : "";
}

/* 54 mm over bark, a metre long: six blanks a bolt of 300 mm (test_poles, by hand), three bolts of
 * 4.02 usable ones. */
static void poles_by_hand_and_what_is_refused(void **state) {
    (void)state;
    static const char size[] = "\"girth\": 169.646, \"clear_length\": 1000,";
    struct error err = {0};
    json_t *o = poles("14", "Corylus sp.", "coppice pole", size, "given", &err);
    if (!o) fail_msg("%s", err.message);
    assert_int_equal(json_array_size(json_object_get(o, "bolts")), 3);
    const json_t *bolt = json_array_get(json_object_get(o, "bolts"), 1),
                 *missing = json_array_get(json_object_get(o, "missing"), 0);
    assert_int_equal(json_integer_value(json_object_get(bolt, "blanks")), 6);
    check_near(json_number_value(json_object_get(bolt, "from")), 303, 1e-9);
    check_near(json_number_value(json_object_get(bolt, "usable")), 4.02, 1e-9);
    assert_int_equal(json_integer_value(json_object_get(missing, "number")), 2); /* 14 - 12.06 */
    assert_non_null(strstr(say_of(o), "Still wanted"));
    json_decref(o);
    o = poles("1", "Corylus sp.", "coppice pole", size, "asked", &err);
    assert_int_equal(json_array_size(json_object_get(o, "bolts")), 0);
    assert_non_null(strstr(say_of(o), "consent is not on record"));
    json_decref(o);
    o = poles("1", "Tilia cordata", "coppice pole", size, "given", &err);
    assert_int_equal(json_array_size(json_object_get(o, "missing")), 1);
    json_decref(o);
    assert_null(poles("1", "Corylus sp.", "living tree", size, "given", &err));
    assert_int_equal(err.code, ERR_REFUSED);
    error_clear(&err);
    assert_null(
        poles("1", "Corylus sp.", "coppice pole", "\"clear_length\": 1000,", "given", &err));
    assert_non_null(strstr(err.message, "Pole H1 has no girth"));
    error_clear(&err);
    assert_null(poles("1", "Corylus sp.", "coppice pole", "\"girth\": 150,", "given", &err));
    assert_non_null(strstr(err.message, "no clean length"));
    error_clear(&err);
    assert_null(poles("-1", "Corylus sp.", "coppice pole", size, "given", &err));
    error_clear(&err);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(examples_run),
                                       cmocka_unit_test(poles_by_hand_and_what_is_refused)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
