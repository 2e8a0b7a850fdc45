/* every method of trial/ runs its own example. */
#include "trial/trial_methods.h"

#include "examples.h"

static void examples_run(void **state) {
    (void)state;
    examples_of(&trial_methods);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(examples_run)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
