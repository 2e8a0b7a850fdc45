/* Drawings: hostile texts stay texts, ids and layers stand, numbers are locale-free, missing signs
 * are found, a failed allocation leaves nothing behind. */
#include "base/mem.h"
#include "show/look.h"
#include "show/paper.h"
#include "show/svg.h"

#include "check.h"

static struct show_drawing *hostile(const char *text) {
    struct show_drawing *d = show_drawing_new(60, 40);
    show_drawing_name(d, text, text);
    show_group_begin(d, &(struct show_group){
                            .id = "a\"><script>", .title = text, .alt = text, .layer = SHOW_CUT});
    show_text(d, NULL, 5, 10, LOOK_RUNNING, text);
    show_group_end(d);
    return d;
}

static const char *const texts[] = {
    "<script>alert(1)</script>",
    "]]> & &amp; \" ' < >",
    "שלום עולם",
    "مرحبا بالعالم 318 مم",
    "Łąka, Ødegård, größe, ℃ ± ½",
    "control\001char\x7f and tab\tand\nline",
    "broken \xff\xc3( utf-8 \xed\xa0\x80",
    "𝔘𝔫𝔦 \xF0\x9F\x8C\xB3",
};

static void markup(void **unused) {
    (void)unused;
    struct error err = {0};
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        struct show_out o = {0};
        struct show_drawing *d = hostile(texts[i]);
        check_ok(show_svg_write(&o, d, NULL, &err), &err);
        assert_null(strstr(o.bytes, "<script"));
        assert_non_null(strstr(o.bytes, "class=\"cut\""));
        /* every < opens one of our own elements, every & an entity we write */
        for (const char *p = o.bytes; (p = strchr(p, '&')); p++)
            assert_true(!strncmp(p, "&amp;", 5) || !strncmp(p, "&lt;", 4) ||
                        !strncmp(p, "&gt;", 4) || !strncmp(p, "&quot;", 6) ||
                        !strncmp(p, "&#39;", 5));
        for (const unsigned char *p = (unsigned char *)o.bytes; *p; p++)
            assert_true(*p >= 0x20 || *p == '\n' || *p == '\t');
        show_out_deinit(&o);
        show_drawing_free(d);
    }
}

/* Right-to-left text keeps its place: the anchor is turned round with the direction. */
static void right_to_left(void **unused) {
    (void)unused;
    struct error err = {0};
    struct show_out o = {0};
    struct show_drawing *d = hostile("שלום");
    check_ok(show_svg_write(&o, d, NULL, &err), &err);
    assert_non_null(strstr(o.bytes, "text-anchor=\"end\" direction=\"rtl\""));
    show_out_deinit(&o);
    show_drawing_free(d);
    assert_true(show_text_is_rtl("12 שלום abc"));
    assert_false(show_text_is_rtl("12 abc שלום"));
    assert_false(show_text_is_rtl("± 3"));
}

static void reals(void **unused) {
    (void)unused;
    char t[40];
    assert_string_equal(show_real(t, 1.5, 3), "1.5");
    assert_string_equal(show_real(t, -0.0001, 3), "0");
    assert_string_equal(show_real(t, -12.3456, 3), "-12.346");
    assert_string_equal(show_real(t, 100, 3), "100");
    assert_string_equal(show_real(t, 0.999999, 3), "1");
    assert_string_equal(show_real(t, 1e15, 3), "1000000000000000");
}

/* RFC 4648, section 10, test vectors. */
static void base64(void **unused) {
    (void)unused;
    static const char *const v[][2] = {{"", ""},
                                       {"f", "Zg=="},
                                       {"fo", "Zm8="},
                                       {"foo", "Zm9v"},
                                       {"foob", "Zm9vYg=="},
                                       {"fooba", "Zm9vYmE="},
                                       {"foobar", "Zm9vYmFy"}};
    for (size_t i = 0; i < sizeof v / sizeof *v; i++) {
        struct show_out o = {0};
        show_out_base64(&o, v[i][0], strlen(v[i][0]));
        assert_string_equal(o.bytes ? o.bytes : "", v[i][1]);
        show_out_deinit(&o);
    }
}

static void frames(void **unused) {
    (void)unused;
    struct show_drawing *d = show_drawing_new(100, 100);
    show_frame_push(d, 10, 20, 2, M_PI / 2);
    show_frame_push(d, 1, 0, 0.5, -M_PI / 2);
    double x = 4, y = 6;
    show_frame_point(d, &x, &y); /* turned back, true size, at (10, 20) + 2 * (0, 1) */
    check_near(x, 14, 1e-12);
    check_near(y, 28, 1e-12);
    check_near(show_frame_scale(d), 1, 1e-12);
    show_frame_pop(d);
    check_near(show_frame_turn(d), M_PI / 2, 1e-12);
    show_frame_pop(d);
    show_drawing_free(d);
}

static void missing_signs(void **unused) {
    (void)unused;
    struct show_shaper *s = show_shaper_new();
    struct arena *a = arena_new();
    /* U+13000, an Egyptian hieroglyph, is in none of the fonts the program asks for; a private
     * code point is in no font at all. */
    struct show_drawing *d = hostile("ok \xEE\x9F\xBF ok");
    assert_string_equal(show_drawing_missing(s, d, a), "\xEE\x9F\xBF");
    show_drawing_free(d);
    d = hostile("Łąka ± 318 mm");
    assert_string_equal(show_drawing_missing(s, d, a), "");
    show_drawing_free(d);
    arena_free(a);
    show_shaper_free(s);
}

/* Text is laid out in fractions of a millimetre: "iiii" is not a whole number of mm wide, and a
 * doubled size doubles the width. */
static void widths(void **unused) {
    (void)unused;
    struct show_shaper *s = show_shaper_new();
    struct show_type t = LOOK_RUNNING;
    double w = show_text_width(s, t, "Wheat, iiii and millimetres");
    t.size *= 2;
    check_rel(show_text_width(s, t, "Wheat, iiii and millimetres"), 2 * w, 2e-3);
    struct arena *a = arena_new();
    char **lines;
    size_t n =
        show_text_break(&lines, s, LOOK_RUNNING, "one two three four five six seven eight", 30, a);
    assert_true(n > 1);
    for (size_t i = 0; i < n; i++)
        assert_true(show_text_width(s, LOOK_RUNNING, lines[i]) <= 30.01);
    arena_free(a);
    show_shaper_free(s);
}

static void font(void **unused) {
    (void)unused;
    struct error err = {0};
    struct show_out o = {0};
    check_ok(show_font_subset(&o, "Andika", "The laths were 318 mm long.", &err), &err);
    assert_true(o.n > 1000 && o.n < 60000); /* LOOK.md: at most 60 kB */
    assert_memory_equal(o.bytes, "\0\1\0\0", 4);
    show_out_deinit(&o);
    assert_int_equal(show_font_subset(&o, "No Such Family 9", "a", &err), ERR_MISSING);
    show_out_deinit(&o);
}

/* The n-th allocation fails, for every n until none does: the status says so, nothing crashes. */
static void out_of_memory(void **unused) {
    (void)unused;
    for (long n = 1; n < 2000; n++) {
        struct error err = {0};
        struct show_out o = {0};
        mem_fail_nth(n);
        struct show_drawing *d = hostile("abc");
        for (int f = 0; f < FOOTING_COUNT; f++)
            look_footing_glyph(d, 5, 5, 6, f);
        int code = show_svg_write(&o, d, NULL, &err);
        mem_fail_nth(0);
        show_drawing_free(d);
        show_out_deinit(&o);
        if (!code) {
            assert_true(n > 5);
            return;
        }
        assert_int_equal(code, ERR_MEMORY);
    }
    fail_msg("never succeeded");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(markup), cmocka_unit_test(right_to_left), cmocka_unit_test(reals),
        cmocka_unit_test(base64), cmocka_unit_test(frames),        cmocka_unit_test(missing_signs),
        cmocka_unit_test(widths), cmocka_unit_test(font),          cmocka_unit_test(out_of_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
