/* Philox 4x32-10 against the known-answer vectors of the Random123 distribution (tests/kat_vectors;
 * Salmon et al. 2011). */
#include "num/random.h"

#include "check.h"

static void test_vectors(void **state) {
    (void)state;
    static const uint32_t kat[3][10] = {
        {0, 0, 0, 0, 0, 0, 0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8},
        {0xffffffff, 0xffffffff, 0xffffffff, 0xffffffff, 0xffffffff, 0xffffffff, 0x408f276d,
         0x41c83b0e, 0xa20bc7c6, 0x6d5451fd},
        {0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344, 0xa4093822, 0x299f31d0, 0xd16cfe09,
         0x94fdcceb, 0x5001e420, 0x24126ea1}};
    for (int i = 0; i < 3; i++) {
        uint32_t out[4];
        num_philox(kat[i], kat[i] + 4, out);
        check_from(CHECK_MEMORY,
                   "Salmon et al. 2011, known-answer vectors of Random123 (Philox 4x32-10)");
        for (int k = 0; k < 4; k++)
            check_near(out[k], kat[i][6 + k], 0);
        assert_memory_equal(out, kat[i] + 6, sizeof out);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_vectors)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
