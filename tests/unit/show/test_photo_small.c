/* Smaller copies of photographs: the size asked for, upright as EXIF asks (EXIF 2.32, 4.6.4 A, tag
 * 0x0112), and nothing of the file but its pixels. The pictures are written and read by libjpeg. */
#include "show/photo_small.h"

#include "check.h"

#include <stdlib.h>
#include <string.h>

#include <jpeglib.h>

enum { WIDE = 2400, HIGH = 1500 };

/* Dark but for its upper left quarter; with an EXIF block that says `turn` and names a place. */
static unsigned char *picture(unsigned long *n, unsigned turn) {
    struct jpeg_compress_struct info;
    struct jpeg_error_mgr trap;
    unsigned char *bytes = NULL;
    unsigned char exif[] =
        "Exif\0\0II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0?\0\0\0\0\0\0\0Undlebeck";
    exif[24] = (unsigned char)turn;
    info.err = jpeg_std_error(&trap);
    jpeg_create_compress(&info);
    jpeg_mem_dest(&info, &bytes, n);
    info.image_width = WIDE;
    info.image_height = HIGH;
    info.input_components = 1;
    info.in_color_space = JCS_GRAYSCALE;
    jpeg_set_defaults(&info);
    jpeg_start_compress(&info, TRUE);
    jpeg_write_marker(&info, JPEG_APP0 + 1, exif, sizeof exif - 1);
    static unsigned char row[WIDE];
    while (info.next_scanline < HIGH) {
        memset(row, 30, WIDE);
        if (info.next_scanline < HIGH / 2) memset(row, 220, WIDE / 2);
        JSAMPROW r = row;
        jpeg_write_scanlines(&info, &r, 1);
    }
    jpeg_finish_compress(&info);
    jpeg_destroy_compress(&info);
    return bytes;
}

struct seen {
    int wide, high;
    int corner[2][2]; /* [below][right] brightness in the middle of each quarter */
};

static struct seen look(const void *bytes, size_t n) {
    struct jpeg_decompress_struct info;
    struct jpeg_error_mgr trap;
    struct seen s;
    info.err = jpeg_std_error(&trap);
    jpeg_create_decompress(&info);
    jpeg_mem_src(&info, bytes, n);
    jpeg_read_header(&info, TRUE);
    info.out_color_space = JCS_GRAYSCALE;
    jpeg_start_decompress(&info);
    s.wide = (int)info.output_width;
    s.high = (int)info.output_height;
    unsigned char *row = malloc(info.output_width);
    for (int y = 0; y < s.high; y++) {
        JSAMPROW r = row;
        jpeg_read_scanlines(&info, &r, 1);
        for (int k = 0; k < 2; k++)
            if (y == s.high * (1 + 2 * k) / 4)
                for (int j = 0; j < 2; j++)
                    s.corner[k][j] = row[s.wide * (1 + 2 * j) / 4];
    }
    jpeg_finish_decompress(&info);
    jpeg_destroy_decompress(&info);
    free(row);
    return s;
}

static bool says(const struct show_out *o, const char *word) {
    return memmem(o->bytes, o->n, word, strlen(word)) != NULL;
}

/* Where the light quarter lies once the picture stands upright: [below][right]. */
static void one(unsigned turn, int below, int right, bool lying) {
    unsigned long n = 0;
    struct show_out out = {0};
    struct error err = {0};
    unsigned char *bytes = picture(&n, turn);
    assert_int_equal(show_photo_small(&out, bytes, n, 800, &err), 0);
    struct seen s = look(out.bytes, out.n);
    assert_int_equal(s.wide, lying ? 500 : 800);
    assert_int_equal(s.high, lying ? 800 : 500);
    for (int k = 0; k < 2; k++)
        for (int j = 0; j < 2; j++)
            assert_int_equal(s.corner[k][j] > 125, k == below && j == right);
    assert_false(says(&out, "Exif"));
    assert_false(says(&out, "Undlebeck"));
    show_out_deinit(&out);
    free(bytes);
}

static void test_upright(void **state) {
    (void)state;
    one(1, 0, 0, false);
    one(3, 1, 1, false); /* turned by half */
    one(6, 0, 1, true);  /* its first row is the right side */
    one(8, 1, 0, true);  /* its first row is the left side, read upward */
}

static void test_no_picture(void **state) {
    (void)state;
    struct show_out out = {0};
    struct error err = {0};
    assert_int_equal(show_photo_small(&out, "\xFF\xD8 no picture", 13, 800, &err), ERR_INPUT);
    assert_int_equal(show_photo_small(&out, "", 0, 800, &err), ERR_INPUT);
    unsigned long n = 0;
    unsigned char *bytes = picture(&n, 1);
    assert_int_equal(show_photo_small(&out, bytes, 40, 800, &err), ERR_INPUT); /* cut short */
    free(bytes);
    show_out_deinit(&out);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_upright),
                                       cmocka_unit_test(test_no_picture)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
