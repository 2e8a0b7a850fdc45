/* record/import: finds lists as people have them. */
#include "base/file.h"
#include "base/mem.h"
#include "check.h"
#include "record/control.h"
#include "record/import_private.h"

#include <sys/stat.h>
#include <unistd.h>

static char folder[] = "/tmp/relict-import-XXXXXX";
static char path[100];
static const struct kind *const kinds[] = {&piece_kind,         &measure_kind, &mark_kind_kind,
                                           &piece_outline_kind, &source_kind,  &handling_kind};
static const struct record_options options = {.kinds = kinds, .n_kinds = 6};
static const char when[] = "2026-05-01T10:00:00Z";
static struct record *r;
static struct arena *a;

static int begin(void **context) {
    (void)context;
    strcpy(folder + strlen(folder) - 6, "XXXXXX");
    if (!mkdtemp(folder)) return -1;
    snprintf(path, sizeof path, "%s/p.relict", folder);
    struct record_start start = {.title = "T", .who = "recorder", .when = when};
    a = arena_new();
    return record_new(&r, path, &start, &options, NULL);
}

static int end(void **context) {
    (void)context;
    record_close(r, NULL);
    arena_free(a);
    char command[200];
    snprintf(command, sizeof command, "rm -rf %s", folder);
    return system(command);
}

static int bring(struct import_report *out, const char *text, struct error *err) {
    struct import_list list = {
        .name = "list.csv", .bytes = text, .n = strlen(text), .who = "recorder", .when = when};
    return import_finds(out, r, &list, a, err);
}

static struct find load(void) {
    struct find f = {0};
    struct records list;
    struct error err = {0};
    check_ok(record_load(&list, NULL, r, &piece_kind, 0, a, &err), &err);
    f.pieces = list.v, f.piece_count = list.n;
    check_ok(record_load(&list, NULL, r, &measure_kind, 0, a, &err), &err);
    f.measures = list.v, f.measure_count = list.n;
    check_ok(record_load(&list, NULL, r, &mark_kind_kind, 0, a, &err), &err);
    f.marks = list.v, f.mark_count = list.n;
    return f;
}

static const struct measure *get(const struct find *f, const char *id) {
    const struct measure *m = find_measure(f, id);
    if (!m) fail_msg("no measure %s", id);
    return m;
}

/* ---- cells ---------------------------------------------------------------------------------- */

static void numbers_in_cells(void **context) {
    (void)context;
    struct cell_number n;
    assert_int_equal(cell_number_read(&n, " 12.5 ", false), CELL_FINE);
    check_near(n.value, 12.5, 0);
    assert_int_equal(cell_number_read(&n, "13.2 cm", false), CELL_FINE);
    assert_string_equal(n.unit, "cm");
    assert_int_equal(cell_number_read(&n, "12 \xC2\xB1 0.5 mm", false), CELL_FINE);
    check_near(n.tolerance, 0.5, 0);
    assert_int_equal(cell_number_read(&n, "<0.5", false), CELL_FINE);
    assert_int_equal(n.bound, BOUND_AT_MOST);
    assert_int_equal(cell_number_read(&n, "> 140", false), CELL_FINE);
    assert_int_equal(n.bound, BOUND_AT_LEAST);
    assert_int_equal(cell_number_read(&n, "1e2", false), CELL_FINE);
    check_near(n.value, 100, 0);
    assert_int_equal(cell_number_read(&n, "13,2", false), CELL_COMMA);
    assert_int_equal(cell_number_read(&n, "13,2", true), CELL_FINE);
    check_near(n.value, 13.2, 0);
    assert_int_equal(cell_number_read(&n, "NaN", false), CELL_NOT_FINITE);
    assert_int_equal(cell_number_read(&n, "-inf", false), CELL_NOT_FINITE);
    assert_int_equal(cell_number_read(&n, "1e999", false), CELL_NOT_FINITE);
    static const char *const bad[] = {"", "c. 12", "12?", "12-13", "a", "+", "12 13", "10/7"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_int_equal(cell_number_read(&n, bad[i], false), CELL_NOT_NUMBER);
    assert_int_equal(cell_number_read(&n, "12 furlongs", false), CELL_UNIT);
    double v[2];
    char word[64];
    assert_non_null(cell_phrase("Double row: rows 9 mm apart", "rows % mm apart", v, word));
    check_near(v[0], 9, 0);
    assert_non_null(cell_phrase("chamfered 12.5 mm at 35 deg", "chamfered % mm at % deg", v, word));
    check_near(v[1], 35, 0);
    assert_non_null(cell_phrase("joins A06.", "joins &", v, word));
    assert_string_equal(word, "A06");
    assert_null(cell_phrase("arrows 9 mm apart", "rows % mm apart", v, word));
    assert_null(cell_phrase("knotted", "knot", v, word));
}

/* ---- the demo lists of trade.md, section 9 -----------------------------------------------------
 */

static void the_tray_loads_whole(void **context) {
    (void)context;
    struct error err = {0};
    struct import_report out;
    const char *bytes;
    size_t n;
    check_ok(file_read(&bytes, &n, check_source_path("demo/tray/finds.csv"), 0, a, &err), &err);
    check_ok(bring(&out, bytes, &err), &err);
    /* Story 1: 42 rows load, 0 lost. */
    assert_int_equal(out.rows, 42);
    assert_int_equal(out.held, 0);
    assert_int_equal(out.pieces, 42);
    struct find f = load();
    const struct piece *p = find_piece(&f, "A05");
    assert_int_equal(p->substance, SUBSTANCE_SPLIT_WOOD);
    assert_string_equal(p->taxon, "Corylus avellana");
    assert_int_equal(p->joins.n, 1);
    assert_string_equal(p->joins.v[0], "A06");
    p = find_piece(&f, "A12");
    assert_int_equal(p->substance, SUBSTANCE_BARK);
    assert_string_equal(p->taxon, "Tilia");
    assert_string_equal(p->other_taxon, "Ulmus");
    assert_int_equal(p->confidence, CONFIDENCE_DOUBTFUL);
    assert_int_equal(find_piece(&f, "A30")->substance, SUBSTANCE_COIL);
    assert_int_equal(find_piece(&f, "A26")->substance, SUBSTANCE_BAST);
    assert_int_equal(find_piece(&f, "A36")->substance, SUBSTANCE_COLOUR);
    assert_int_equal(find_piece(&f, "A40")->substance, SUBSTANCE_MIXED);
    assert_int_equal(find_piece(&f, "A41")->substance, SUBSTANCE_TRACE);
    assert_int_equal(find_piece(&f, "A20")->substance, SUBSTANCE_SPLIT_WOOD);
    assert_int_equal(find_piece(&f, "A42")->shape_only, 1);
    assert_int_equal(find_piece(&f, "A01")->shape_only, 0);
    /* every size has value, unit (mm), tolerance, state */
    const struct measure *m = get(&f, "A01.length");
    check_near(m->value, 139.5, 0);
    check_near(m->tolerance, 0.5, 0);
    assert_int_equal(m->state, STATE_TREATED);
    assert_int_equal(m->direction, DIRECTION_ALONG);
    assert_string_equal(m->method, "calliper");
    assert_int_equal(m->ends.n, 2);
    assert_false(measure_is_complete(m));
    assert_true(measure_is_complete(get(&f, "A04.length")));
    assert_true(measure_is_complete(get(&f, "A01.thickness")));
    assert_false(measure_is_complete(get(&f, "A12.width")));
    assert_int_equal(get(&f, "A12.length")->direction, FIELD_UNKNOWN);
    assert_int_equal(get(&f, "A12.thickness")->direction, DIRECTION_THROUGH);
    assert_int_equal(get(&f, "A05.width")->state, STATE_DRIED);
    assert_int_equal(get(&f, "A40.length")->state, STATE_IN_GROUND);
    /* what hides in ends and notes */
    check_near(get(&f, "A34.chamfer_length")->value, 12, 0);
    check_near(get(&f, "A34.chamfer_angle")->value, 35, 0);
    check_near(get(&f, "A21.scarf_length")->value, 41, 0);
    check_near(get(&f, "A25.scarf_length")->value, 38, 0);
    m = get(&f, "A22.rise");
    check_near(m->value, 0.5, 0);
    assert_int_equal(m->bound, BOUND_AT_MOST);
    check_near(get(&f, "A30.rounds")->value, 6, 0);
    check_near(get(&f, "A30.round_pitch")->value, 6.3, 0);
    check_near(get(&f, "A30.stitches_in_10_mm")->value, 5, 0);
    check_near(get(&f, "A12.lath_shadow.pitch")->value, 69, 0);
    check_near(get(&f, "A13.rim_shadow.width")->value, 15, 0);
    check_near(get(&f, "A14.patch.length")->value, 22, 0);
    check_near(get(&f, "A34.dent.place_from_end")->value, 17, 0);
    check_near(get(&f, "A38.edge_distance")->value, 27, 0);
    assert_non_null(get(&f, "A41.pitch")->flag); /* film not corrected */
    assert_non_null(get(&f, "A42.length")->flag);
    long dents = FIELD_UNKNOWN, holes = FIELD_UNKNOWN, tear = FIELD_UNKNOWN;
    for (size_t i = 0; i < f.mark_count; i++) {
        if (strcmp(f.marks[i].id, "A20.row") == 0) dents = f.marks[i].kind;
        if (strcmp(f.marks[i].id, "A12.row") == 0) holes = f.marks[i].kind;
        if (strcmp(f.marks[i].id, "A16.tear") == 0) tear = f.marks[i].kind;
    }
    assert_int_equal(dents, MARK_DENT_ROW);
    assert_int_equal(holes, MARK_HOLE_ROW);
    assert_int_equal(tear, MARK_TEAR);
    assert_string_equal(get(&f, "A12.pitch")->mark, "A12.row");
    /* 1,595 mm of lath is reckoned over both states; the import keeps them apart */
    const struct import_total *t = out.totals.v;
    double lath = 0;
    for (size_t i = 0; i < out.totals.n; i++)
        if (strcmp(t[i].part, "cross lath") == 0) lath += t[i].length;
    check_near(lath, 1595, 0.01);
    /* the file is kept byte for byte */
    const char *kept;
    size_t kept_n;
    check_ok(record_file_get(&kept, &kept_n, r, out.file, a, &err), &err);
    assert_int_equal(kept_n, n);
    assert_memory_equal(kept, bytes, n);
    /* the same list again is refused */
    struct import_report again;
    assert_int_equal(bring(&again, bytes, &err), ERR_CONFLICT);
    /* and undo takes all of it back */
    error_clear(&err);
    check_ok(record_undo(r, out.change, "recorder", when, "wrong project", NULL, &err), &err);
    assert_int_equal(load().piece_count, 0);
}

static void the_cradle_loads_whole(void **context) {
    (void)context;
    struct error err = {0};
    struct import_report out;
    const char *bytes;
    size_t n;
    check_ok(file_read(&bytes, &n, check_source_path("demo/cradle/finds.csv"), 0, a, &err), &err);
    check_ok(bring(&out, bytes, &err), &err);
    assert_int_equal(out.rows, 38);
    assert_int_equal(out.held, 0);
    struct find f = load();
    assert_string_equal(get(&f, "B01.length")->treatment, "freeze-drying");
    assert_string_equal(find_piece(&f, "B37")->same_as, "B04");
    assert_null(find_piece(&f, "B04")->same_as);
    assert_string_equal(find_piece(&f, "B05")->joins.v[0], "B06");
    assert_int_equal(find_piece(&f, "B08")->substance, SUBSTANCE_ROUND_WOOD);
    assert_int_equal(find_piece(&f, "B29")->substance, SUBSTANCE_SPLIT_WOOD);
    assert_int_equal(find_piece(&f, "B23")->substance, SUBSTANCE_HIDE);
    assert_null(find_piece(&f, "B23")->taxon);
    assert_string_equal(find_piece(&f, "B30")->taxon, "Cornus");
    assert_string_equal(find_piece(&f, "B30")->other_taxon, "Euonymus");
    assert_string_equal(find_piece(&f, "B26")->taxon, "Salix");
    check_near(get(&f, "B15.row_distance")->value, 9, 0);
    check_near(get(&f, "B15.edge_distance")->value, 8, 0);
    check_near(get(&f, "B14.tongue_length")->value, 38, 0);
    check_near(get(&f, "B29.peg_hole.peg_hole_diameter")->value, 7, 0);
    check_near(get(&f, "B29.peg_hole.place_from_end")->value, 21, 0);
    check_near(get(&f, "B04.chamfer_length.2")->value, 10, 0);
    check_near(get(&f, "B04.width")->tolerance, 0.1, 0);
    /* Story 10: 163.0 if the bar is 50 mm, 165.6 if 2 inch; no size without a scale. */
    check_near(get(&f, "B35.length")->value, 163, 0);
    const struct measure *m = get(&f, "B35.length.2");
    check_near(m->value, 165.6, 0.05);
    assert_string_equal(m->rival_of, "B35.length");
    assert_non_null(m->flag);
    assert_int_equal(find_piece(&f, "B35")->shape_only, 0);
    assert_int_equal(find_piece(&f, "B36")->shape_only, 1);
    assert_non_null(get(&f, "B13.rise")->flag);
}

/* ---- story 8: bad data -------------------------------------------------------------------------
 */

static const char heading[] =
    "id,part,material,id_conf,zone,state,length_mm,width_mm,thick_mm,end_1,end_2,chord_mm,"
    "sagitta_mm,tol_mm,note\n";

/* 48 rows, six of them wrong in the six ways of story 8. */
static char *bad_list(void) {
    char *text = arena_alloc(a, 48, 200), *p = text;
    p += sprintf(p, "%s", heading);
    for (int i = 1; i <= 48; i++) {
        char id[8], length[16], width[16], thick[16], state[32] = "after treatment", arc[16] = ",";
        sprintf(id, "K%02d", i == 7 ? 6 : i);
        sprintf(length, "%.1f", 130 + i % 9 * 0.5);
        if (i == 13) strcpy(length, "13.2");
        if (i == 22) strcpy(length, "\"131,5\"");
        sprintf(width, "%d", i == 17 ? 4 : 26);
        sprintf(thick, "%d", i == 17 ? 26 : 4);
        if (i == 31) *state = 0;
        if (i == 40) strcpy(arc, "60,41");
        p += sprintf(p, "%s,cross lath,hazel,A,W,%s,%s,%s,%s,cut,cut,%s,0.5,\n", id, state, length,
                     width, thick, arc);
    }
    return text;
}

static void bad_rows_are_set_aside(void **context) {
    (void)context;
    struct error err = {0};
    struct import_report out;
    check_ok(bring(&out, bad_list(), &err), &err);
    assert_int_equal(out.rows, 48);
    assert_int_equal(out.accepted, 42);
    assert_int_equal(out.held, 6);
    static const struct {
        long row;
        const char *column, *value, *word, *suggestion;
        int doubt;
    } want[6] = {{8, "id", "K06", "already in row 7", "number of its own", 0},
                 {14, "length_mm", "13.2", "perhaps in cm", "132", 1},
                 {18, "thick_mm", "26", "swapped", "width 26, thickness 4", 1},
                 {23, "length_mm", "131,5", "comma", "131.5", 0},
                 {32, "state", "", "empty", "in ground", 0},
                 {41, "sagitta_mm", "41", "half", "decimal point", 1}};
    const struct set_aside *held = out.held_rows.v;
    for (size_t i = 0; i < 6; i++) {
        const struct import_problem *p = held[i].problems.v;
        assert_int_equal(held[i].row, want[i].row);
        assert_int_equal(held[i].problems.n, 1);
        assert_string_equal(p->column, want[i].column);
        assert_string_equal(p->value, want[i].value);
        assert_int_equal(p->doubt, want[i].doubt);
        if (!strstr(p->reason, want[i].word)) fail_msg("%s: %s", want[i].word, p->reason);
        if (!strstr(p->suggestion, want[i].suggestion)) fail_msg("%s", p->suggestion);
    }
    /* totals with and without */
    const struct import_total *t = out.totals.v;
    long rows = 0, rows_with = 0;
    for (size_t i = 0; i < out.totals.n; i++) {
        rows += t[i].rows;
        rows_with += t[i].rows_with;
        assert_true(t[i].length <= t[i].length_with);
    }
    assert_int_equal(rows, 42);
    assert_int_equal(rows_with, 48);
    /* mending one releases only that one */
    struct import_report one;
    json_t *nothing = json_object(), *cell = json_pack("{s:s}", "length_mm", "132");
    assert_int_equal(
        import_release(&one, r, held[3].id, nothing, false, "recorder", when, NULL, a, &err),
        ERR_INPUT);
    assert_int_equal(load().piece_count, 42);
    check_ok(import_release(&one, r, held[1].id, cell, false, "recorder", when, "was cm", a, &err),
             &err);
    struct find f = load();
    assert_int_equal(f.piece_count, 43);
    check_near(get(&f, "K13.length")->value, 132, 0);
    struct records left;
    check_ok(record_load(&left, NULL, r, &set_aside_kind, 0, a, &err), &err);
    assert_int_equal(left.n, 5);
    /* what is merely unlikely may be taken as it is; what is wrong may not */
    check_ok(import_release(&one, r, held[5].id, nothing, true, "recorder", when, NULL, a, &err),
             &err);
    struct import_report none;
    assert_int_not_equal(
        import_release(&none, r, held[0].id, nothing, true, "recorder", when, NULL, a, &err), 0);
    assert_int_equal(load().piece_count, 44);
    /* the mending is on record, and can be undone */
    check_ok(record_undo(r, one.change, "recorder", when, "", NULL, &err), &err);
    assert_int_equal(load().piece_count, 43);
    json_decref(nothing);
    json_decref(cell);
}

static void every_kind_of_bad_cell_is_told(void **context) {
    (void)context;
    static const struct {
        const char *row, *column, *word;
    } bad[] = {
        {"K1,x,hazel,A,W,after treatment,100,26,-4,,,,,,", "thick_mm", "above 0"},
        {"K1,x,hazel,A,W,after treatment,100,0,4,,,,,,", "width_mm", "above 0"},
        {"K1,x,hazel,A,W,afer treatment,100,26,4,,,,,,", "state", "not known"},
        {"K1,x,hazel,A,W,cooked,100,26,4,,,,,,", "state", "not known"},
        {"K1,x,hazel,A,W,after treatment,NaN,26,4,,,,,,", "length_mm", "not a number"},
        {"K1,x,hazel,A,W,after treatment,1e999,26,4,,,,,,", "length_mm", "not a number"},
        {"K1,x,hazel,A,W,after treatment,ca 100,26,4,,,,,,", "length_mm", "not a number"},
        {"K1,x,hazel,Q,W,after treatment,100,26,4,,,,,,", "id_conf", "not known"},
        {",x,hazel,A,W,after treatment,100,26,4,,,,,,", "id", "missing"},
        {"K1,x,hazel,A,W,after treatment,100,26,4,,,110,3,,", "chord_mm", "longer"},
        {"K1,x,hazel,A,W,after treatment,100,26,4,,,,,-1,", "tol_mm", "below 0"},
        {"K1,x,hazel,A,W,after treatment,131,5,26,4,,,,,,,", "", "cells"},
        {"K1,x,hazel,A,W,after treatment,9e5,26,4,,,,,,", "length_mm", "larger"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct error err = {0};
        struct import_report out;
        check_ok(bring(&out, arena_printf(a, "%s%s\n", heading, bad[i].row), &err), &err);
        if (out.held != 1) fail_msg("taken: %s", bad[i].row);
        const struct import_problem *p = ((struct set_aside *)out.held_rows.v)->problems.v;
        assert_string_equal(p->column, bad[i].column);
        if (!strstr(p->reason, bad[i].word)) fail_msg("%s: %s", bad[i].word, p->reason);
        assert_int_equal(load().piece_count, 0);
    }
}

static void bad_files_are_told(void **context) {
    (void)context;
    static const struct {
        const char *text, *word;
        int code;
    } bad[] = {
        {"", "empty", ERR_INPUT},
        {"id,length\n", "no rows", ERR_INPUT},
        {"a,b\n1,2\n", "number of the piece", ERR_MISSING},
        {"id;length\n1;2\n", "semicolons", ERR_INPUT},
        {"id,length\n1,\"2\n", "", ERR_INPUT},
        {"id,note\nA,\xE4\n", "UTF-8", ERR_INPUT},
        {"ply\nformat ascii 1.0\n", "model/ply", ERR_INPUT},
        {"\xFF\xD8\xFF\xE0 JFIF", "image/jpeg", ERR_INPUT},
        {"{\"a\": 1}", "", ERR_INPUT},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct error err = {0};
        struct import_report out;
        assert_int_equal(bring(&out, bad[i].text, &err), bad[i].code);
        if (!strstr(err.message, bad[i].word)) fail_msg("%s: %s", bad[i].word, err.message);
        assert_true(*err.remedy != 0);
    }
    assert_int_equal(load().piece_count, 0);
}

static void a_gigabyte_is_refused_before_it_is_read(void **context) {
    (void)context;
    struct error err = {0};
    const char *bytes, *name = arena_printf(a, "%s/big.csv", folder);
    size_t n;
    FILE *f = fopen(name, "w");
    assert_non_null(f);
    assert_int_equal(ftruncate(fileno(f), 1000000000), 0); /* holes: takes no room */
    fclose(f);
    assert_int_equal(file_read(&bytes, &n, name, 0, a, &err), ERR_RANGE);
    assert_non_null(strstr(err.message, "1000.0 MB"));
    assert_true(*err.remedy != 0);
    assert_int_equal(file_read(&bytes, &n, "/no/such.csv", 0, a, &err), ERR_MISSING);
    assert_int_equal(file_read(&bytes, &n, folder, 0, a, &err), ERR_FILE);
}

static void semicolons_and_decimal_commas_by_switch(void **context) {
    (void)context;
    static const char text[] = "id;Breite;state;Length [cm]\nA;2,5;wet in lab;13,2\n";
    struct import_list list = {.name = "l.csv",
                               .bytes = text,
                               .n = sizeof text - 1,
                               .who = "recorder",
                               .when = when,
                               .separator = ";",
                               .decimal_comma = true};
    struct error err = {0};
    struct import_report out;
    check_ok(import_finds(&out, r, &list, a, &err), &err);
    assert_int_equal(out.held, 0);
    struct find f = load();
    const struct measure *m = get(&f, "A.length");
    check_near(m->value, 132, 1e-9); /* the unit of the heading is written, not guessed */
    assert_non_null(strstr(m->note, "13,2 cm"));
}

static void the_map_can_be_corrected(void **context) {
    (void)context;
    static const char text[] = "Nr,was,Stadium,lang,dick\nA,lath,nass,132,4.5\n";
    struct error err = {0};
    struct csv_table table;
    struct import_map map;
    check_ok(import_table(&table, "l.csv", text, sizeof text - 1, NULL, a, &err), &err);
    assert_int_equal(import_propose(&map, &table, NULL, false, a, &err), ERR_MISSING);
    error_clear(&err);
    json_t *j = json_loads(
        "{\"columns\": [{\"heading\": \"Nr\", \"as\": \"id\"}, {\"heading\": \"was\", \"as\": "
        "\"part\"}, {\"heading\": \"Stadium\", \"as\": \"state\"}, {\"heading\": \"lang\", \"as\": "
        "\"size\", \"quantity\": \"length\", \"unit\": \"mm\", \"tolerance\": 1}, {\"heading\": "
        "\"dick\", \"as\": \"size\", \"quantity\": \"thickness\", \"unit\": \"mm\", \"tolerance\": "
        "0.1}], \"words\": [{\"of\": \"state\", \"from\": \"nass\", \"to\": \"wet in lab\"}]}",
        0, NULL);
    check_ok(field_decode(&import_map_kind, j, &map, a, &err), &err);
    struct import_list list = {.name = "l.csv",
                               .bytes = text,
                               .n = sizeof text - 1,
                               .map = &map,
                               .who = "recorder",
                               .when = when};
    struct import_report out;
    check_ok(import_finds(&out, r, &list, a, &err), &err);
    struct find f = load();
    assert_int_equal(get(&f, "A.length")->state, STATE_WET);
    check_near(get(&f, "A.length")->tolerance, 1, 0);
    check_near(get(&f, "A.thickness")->tolerance, 0.1, 0);
    json_decref(j);
}

/* ---- other evidence ---------------------------------------------------------------------------
 */

static struct import_more more_of(const char *name, const char *text) {
    return (struct import_more){
        .name = name, .bytes = text, .n = strlen(text), .who = "recorder", .when = when};
}

static void bring_two_pieces(void) {
    struct error err = {0};
    struct import_report out;
    check_ok(bring(&out,
                   arena_printf(a,
                                "%sA1,lath,hazel,A,W,wet in lab,100,26,4,,,,,,\nB2,bark,birch "
                                "bark,A,W,wet in lab,100,26,4,,,,,,\n",
                                heading),
                   &err),
             &err);
}

static void tables_and_json_of_one_kind(void **context) {
    (void)context;
    bring_two_pieces();
    struct error err = {0};
    long n;
    struct import_more m = more_of(
        "handling.csv", "Piece,may be touched,reason,who,date\nA1,yes,,conservator,2026-04\n"
                        "B2,no,\"flaking, weak\",conservator,2026-04-02\n");
    check_ok(import_entries(&n, r, "handling", &m, a, &err), &err);
    assert_int_equal(n, 2);
    struct records list;
    check_ok(record_load(&list, NULL, r, &handling_kind, 0, a, &err), &err);
    assert_int_equal(((struct handling *)list.v)[1].allowed, 0);
    assert_string_equal(((struct handling *)list.v)[1].reason, "flaking, weak");
    /* a person's reply, as JSON; several pieces */
    m = more_of("reply.json", "[{\"id\": \"R1\", \"kind\": \"reply\", \"who\": \"maker\", "
                              "\"text\": \"I would bend it hot.\", \"about\": [\"A1\", \"B2\"]}]");
    check_ok(import_entries(&n, r, "source", &m, a, &err), &err);
    m = more_of("s.csv", "id,kind,title,about\nS1,record,Day book,A1; B2\n");
    check_ok(import_entries(&n, r, "source", &m, a, &err), &err);
    check_ok(record_load(&list, NULL, r, &source_kind, 0, a, &err), &err);
    assert_int_equal(list.n, 2);
    assert_int_equal(((struct source *)list.v)[0].about.n, 2);
    assert_string_equal(((struct source *)list.v)[1].about.v[1], "B2");
    /* a wrong row: nothing is taken, and the place is told */
    long revision = record_revision(r);
    m = more_of("s.csv", "id,kind,date\nS2,record,2026-01-01\nS3,record,yesterday\n");
    assert_int_equal(import_entries(&n, r, "source", &m, a, &err), ERR_INPUT);
    assert_int_equal(err.row, 3);
    assert_string_equal(err.column, "date");
    assert_int_equal(record_revision(r), revision);
}

static void photos_find_their_pieces(void **context) {
    (void)context;
    bring_two_pieces();
    struct error err = {0};
    const char *id;
    struct texts about;
    struct import_more m = more_of("IMG_0042 a1-B2.jpg", "\xFF\xD8\xFF\xE0 rest");
    check_ok(import_photo(&id, &about, r, &m, NULL, 50, a, &err), &err);
    assert_int_equal(about.n, 2);
    assert_string_equal(about.v[0], "A1");
    m = more_of("x.jpg", "\xFF\xD8\xFF\xE0 other");
    check_ok(import_photo(&id, &about, r, &m, "B2, foot end", NAN, a, &err), &err);
    assert_int_equal(about.n, 1);
    m = more_of("finds.jpg", "ply\n");
    assert_int_equal(import_photo(&id, &about, r, &m, NULL, NAN, a, &err), ERR_INPUT);
}

/* Heads by the standards' own layouts: PNG 11.2.1; T.81 B.2.2 behind an APP0 segment; RFC 9649, 3.4
 * (lossless) and 2.7 (extended); RFC 6386, 9.1. Each says 12000 x 10000 pixels; 100 million are
 * taken. */
static void pictures_too_large_are_refused(void **context) {
    (void)context;
    bring_two_pieces();
    struct error err = {0};
    const char *id;
    struct texts about;
    static const struct {
        const char *name;
        size_t n;
        const char *head;
    } large[] = {
        {"a.png", 24, "\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR\0\0\x2e\xe0\0\0\x27\x10"},
        {"a.jpg", 18, "\xff\xd8\xff\xe0\0\x04\0\0\xff\xff\xc2\0\x11\x08\x27\x10\x2e\xe0"},
        {"l.webp", 30, "RIFF\0\0\0\0WEBPVP8L\0\0\0\0\x2f\xdf\xee\xc3\x09\0\0\0\0\0"},
        {"x.webp", 30, "RIFF\0\0\0\0WEBPVP8X\x0a\0\0\0\0\0\0\0\xdf\x2e\0\x0f\x27\0"},
        {"y.webp", 30, "RIFF\0\0\0\0WEBPVP8 \0\0\0\0\0\0\0\x9d\x01\x2a\xe0\x2e\x10\x27"},
    };
    long before = record_revision(r);
    for (size_t i = 0; i < sizeof large / sizeof large[0]; i++) {
        struct import_more m = {.bytes = large[i].head, .n = large[i].n, .name = large[i].name};
        assert_true(import_pixels(m.bytes, m.n) == 12000.0 * 10000.0);
        assert_int_equal(import_photo(&id, &about, r, &m, NULL, NAN, a, &err), ERR_INPUT);
        assert_non_null(strstr(err.message, "120 million pixels"));
        for (size_t n = 0; n < m.n; n++) { /* cut short it is no picture, or says nothing */
            char *cut = test_malloc(n + 1);
            memcpy(cut, m.bytes, n);
            assert_true(import_pixels(cut, n) == 0);
            test_free(cut);
        }
    }
    enum { MORE = (40 << 20) + 1 };
    char *many = test_calloc(1, MORE);
    memcpy(many, "\xff\xd8\xff\xe0", 4);
    struct import_more m = {.bytes = many, .n = MORE, .name = "b.jpg"};
    assert_int_equal(import_photo(&id, &about, r, &m, NULL, NAN, a, &err), ERR_INPUT);
    assert_non_null(strstr(err.remedy, "40 MB"));
    test_free(many);
    assert_int_equal(record_revision(r), before);
}

static void films_are_stretched_back(void **context) {
    (void)context;
    /* A film that shrank by 2 % along x and 0.5 % along y, turned by 30 degrees, moved. */
    struct control_point p[9];
    double c = cos(M_PI / 6), s = sin(M_PI / 6);
    for (int i = 0; i < 9; i++) {
        double x = i % 3 * 200, y = i / 3 * 150;
        p[i] = (struct control_point){x * 0.98, y * 0.995, c * x - s * y + 50, s * x + c * y - 20};
    }
    struct control control = {p, 9, CONTROL_AFFINE};
    struct control_map map;
    struct control_fit fit;
    struct error err = {0};
    check_ok(control_fit(&map, &fit, &control, a, &err), &err);
    check_near(fit.stretch_x, 1 / 0.98, 1e-9);
    check_near(fit.stretch_y, 1 / 0.995, 1e-9);
    check_near(fit.residual, 0, 1e-9);
    check_near(fit.left_out, 0, 1e-9);
    double x = 98, y = 99.5;
    control_apply(&map, &x, &y);
    check_near(x, c * 100 - s * 100 + 50, 1e-9);
    /* A film pulled unevenly: the spline goes through every point, and does better in between. */
    for (int i = 0; i < 9; i++)
        p[i].true_x += 1e-4 * p[i].x * p[i].y / 10;
    check_ok(control_fit(&map, &fit, &control, a, &err), &err);
    double affine = fit.left_out;
    assert_true(fit.residual > 0.1);
    control.method = CONTROL_SPLINE;
    check_ok(control_fit(&map, &fit, &control, a, &err), &err);
    check_near(fit.residual, 0, 1e-6);
    assert_true(fit.left_out < affine);
    /* On one line, or too few: refused. */
    for (int i = 0; i < 9; i++)
        p[i].y = 2 * p[i].x;
    assert_int_equal(control_fit(&map, &fit, &control, a, &err), ERR_INPUT);
    control.n = 2;
    assert_int_equal(control_fit(&map, &fit, &control, a, &err), ERR_MISSING);
}

static void outlines_come_in_mm_and_turn_one_way(void **context) {
    (void)context;
    bring_two_pieces();
    struct error err = {0};
    long n;
    static const char text[] =
        "{\"type\": \"FeatureCollection\", \"relict:frame\": {\"unit\": \"cm\"}, \"features\": "
        "[{\"type\": \"Feature\", \"properties\": {\"piece\": \"a1\", \"surviving\": [1,0,0,1], "
        "\"state\": \"in ground\"}, \"geometry\": {\"type\": \"Polygon\", \"coordinates\": "
        "[[[0,0],[0,2],[10,2],[10,0],[0,0]], [[1,1],[2,1],[2,1.5],[1,1]]]}}]}";
    struct import_more m = more_of("plan.geojson", text);
    check_ok(import_outlines(&n, NULL, r, &m, NULL, a, &err), &err);
    struct records list;
    check_ok(record_load(&list, NULL, r, &piece_outline_kind, 0, a, &err), &err);
    assert_int_equal(list.n, 1);
    const struct piece_outline *o = list.v;
    assert_string_equal(o->piece, "A1");
    assert_int_equal(o->points.n, 4);
    /* clockwise in the file: turned, sides with it: 10,0 → 10,2 → 0,2 → 0,0 in cm */
    check_near(o->points.v[0], 100, 0);
    check_near(o->points.v[3], 20, 0);
    static const long sides[] = {0, 0, 1, 1};
    for (size_t i = 0; i < 4; i++)
        assert_int_equal(o->surviving.v[i], sides[i]);
    assert_int_equal(load().mark_count, 1);
    static const char *const bad[] = {
        "{\"type\": \"FeatureCollection\", \"features\": [{}]}", "[1,", "[]",
        "{\"type\": \"FeatureCollection\", \"relict:frame\": {\"unit\": \"mm\"}, \"features\": "
        "[{\"properties\": {\"piece\": \"Z\"}}]}"};
    for (size_t i = 0; i < 4; i++) {
        m = more_of("bad.geojson", bad[i]);
        assert_int_not_equal(import_outlines(&n, NULL, r, &m, NULL, a, &err), 0);
        assert_true(*err.remedy != 0);
    }
}

static void a_failed_allocation_loses_nothing(void **context) {
    (void)context;
    const char *text = arena_printf(
        a,
        "%sK1,lath,hazel (split),A,W,after treatment,100,26,4,chamfered 9 mm,cut,,,0.5,"
        "joins K2; rows 9 mm apart\nK2,lath,hazel,A,W,cooked,100,26,4,,,,,,\n",
        heading);
    long last = record_revision(r);
    int rc = 1, tries = 0;
    for (long n = 1; rc; n += n < 200 ? 1 : 17, tries++) {
        struct error err = {0};
        struct import_report out;
        mem_fail_nth(n);
        rc = bring(&out, text, &err);
        mem_fail_nth(0);
        if (!rc) break;
        assert_int_equal(rc, ERR_MEMORY);
        assert_false(record_in_change(r));
        assert_int_equal(record_revision(r), last);
    }
    assert_true(tries > 20);
    assert_int_equal(load().piece_count, 1);
    struct record_checked c;
    check_ok(record_verify(&c, r, NULL, NULL, NULL), &(struct error){0});
    assert_int_equal(c.faults, 0);
}

int main(void) {
#define CASE(f) cmocka_unit_test_setup_teardown(f, begin, end)
    const struct CMUnitTest tests[] = {
        CASE(numbers_in_cells),
        CASE(the_tray_loads_whole),
        CASE(the_cradle_loads_whole),
        CASE(bad_rows_are_set_aside),
        CASE(every_kind_of_bad_cell_is_told),
        CASE(bad_files_are_told),
        CASE(a_gigabyte_is_refused_before_it_is_read),
        CASE(semicolons_and_decimal_commas_by_switch),
        CASE(the_map_can_be_corrected),
        CASE(tables_and_json_of_one_kind),
        CASE(photos_find_their_pieces),
        CASE(pictures_too_large_are_refused),
        CASE(films_are_stretched_back),
        CASE(outlines_come_in_mm_and_turn_one_way),
        CASE(a_failed_allocation_loses_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
