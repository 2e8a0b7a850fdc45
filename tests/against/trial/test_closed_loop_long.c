/* closed loop on synthetic truth, 30 objects. */
#include "closed_loop.h"

static void trials_settle_what_is_open(void **state) {
    (void)state;
    loop_experiment(30, 4096);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(trials_settle_what_is_open)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
