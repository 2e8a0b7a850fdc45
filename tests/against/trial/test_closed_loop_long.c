/* closed loop on synthetic truth, 30 objects; RELICT_OBJECTS: so many. */
#include "closed_loop.h"

static void trials_settle_what_is_open(void **state) {
    (void)state;
    const char *asked = getenv("RELICT_OBJECTS");
    loop_experiment(asked ? atoi(asked) : 30, 4096);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(trials_settle_what_is_open)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
