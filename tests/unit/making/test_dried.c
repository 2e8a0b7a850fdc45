/* A making new and dry from the sizes it is cut to. */
#include "making/dried.h"

#include "check.h"

static const struct making_left left = {0.99, 0.95, 0.88, 0.94};

static struct part part_of(long kind) {
    struct part p;
    field_unknown(&part_kind_kind, &p);
    p.id = "p";
    p.making = "m";
    p.kind = kind;
    p.length = 300, p.width = 20, p.thickness = 4, p.x = 100, p.y = -40;
    return p;
}

static void sheet_and_wood(void **state) {
    (void)state;
    struct arena *arena = arena_new();
    struct part sheet = part_of(PART_SHEET), lath = part_of(PART_LATH);
    double edge[6] = {0, 0, 300, 0, 300, 20}, read[3] = {10, 10, 4};
    sheet.points = (struct tuples){3, 2, edge};
    sheet.thickness_at = (struct tuples){1, 3, read};
    assert_int_equal(part_dry(&sheet, &left, arena), 0);
    check_rel(sheet.length, 300 * 0.99, 1e-12);
    check_rel(sheet.width, 20 * 0.95, 1e-12);
    check_rel(sheet.thickness, 4 * 0.88, 1e-12);
    check_rel(sheet.points.v[4], 300 * 0.99, 1e-12);
    check_rel(sheet.points.v[5], 20 * 0.95, 1e-12);
    check_rel(sheet.thickness_at.v[2], 4 * 0.88, 1e-12);
    check_rel(edge[2], 300, 0); /* what it was made from stays */
    assert_int_equal(part_dry(&lath, &left, arena), 0);
    check_rel(lath.length, 300, 1e-12); /* wood keeps its length */
    check_rel(lath.width, 20 * 0.94, 1e-12);
    check_rel(lath.thickness, 4 * 0.94, 1e-12);
    check_rel(lath.x, 99, 1e-12);
    check_rel(lath.y, -38, 1e-12);
    assert_true(isnan(lath.diameter));
    arena_free(arena);
}

/* Twice dried is dried once; sizes that were dry from the start stay. */
static void dry_stays(void **state) {
    (void)state;
    struct arena *arena = arena_new();
    struct part tie = part_of(PART_TIE), again;
    tie.pitch = 18;
    assert_int_equal(part_dry(&tie, &left, arena), 0);
    check_rel(tie.pitch, 18 * sqrt(0.99 * 0.95), 1e-12);
    check_rel(tie.width, 20, 1e-12); /* of the cord: it is not of wood */
    again = tie;
    assert_int_equal(part_dry(&again, &left, arena), 0);
    check_rel(again.pitch, tie.pitch, 0);
    arena_free(arena);
}

static void a_list(void **state) {
    (void)state;
    struct error err = {0};
    struct arena *arena = arena_new();
    struct part parts[2] = {part_of(PART_SHEET), part_of(PART_GRIP)};
    parts[1].state = STATE_NEW_AND_DRY;
    struct making making = {.id = "m", .weight = 1};
    const struct makings all = {
        .makings = &making, .making_count = 1, .parts = parts, .part_count = 2};
    struct makings dry;
    check_ok(makings_dry(&dry, &all, &left, arena, &err), &err);
    assert_int_equal(dry.part_count, 2);
    check_rel(dry.parts[0].thickness, 4 * 0.88, 1e-12);
    check_rel(dry.parts[1].thickness, 4, 0);
    check_rel(parts[0].thickness, 4, 0);
    assert_ptr_equal(makings_leading(&dry), &making);
    arena_free(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(sheet_and_wood),
                                       cmocka_unit_test(dry_stays), cmocka_unit_test(a_list)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
