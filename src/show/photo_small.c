#include "show/photo_small.h"

#include "show/drawing.h"

#include <cairo.h>
#include <math.h>
#include <setjmp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jpeglib.h>

enum { QUALITY = 85 };
static const double most_pixels = 1e8;

struct trap {
    struct jpeg_error_mgr base;
    jmp_buf back;
};

static void jump(j_common_ptr info) {
    longjmp(((struct trap *)info->err)->back, 1);
}

/* What libjpeg would print about a damaged picture is nobody's business here. */
static void quiet(j_common_ptr info) {
    (void)info;
}

/* ---- reading -------------------------------------------------------------------------------- */

/* How the picture has to be turned to stand upright: EXIF 2.32, 4.6.4 A, tag 0x0112, values 1 to 8
 * (of which cameras use 1, 3, 6 and 8). 1 when nothing is said. */
static unsigned orientation(const unsigned char *p, size_t n) {
    for (size_t at = 2; at + 4 <= n && p[at] == 0xFF && p[at + 1] != 0xDA;) {
        size_t length = (size_t)p[at + 2] << 8 | p[at + 3];
        const unsigned char *t = p + at + 10;
        if (length < 2 || at + 2 + length > n) break;
        if (p[at + 1] == 0xE1 && length > 24 && !memcmp(p + at + 4, "Exif\0\0", 6)) {
            size_t room = length - 8;
            bool high = t[0] == 'M';
#define SHORT(i) (high ? (unsigned)t[i] << 8 | t[(i) + 1] : (unsigned)t[(i) + 1] << 8 | t[i])
            size_t first = high ? SHORT(6) : SHORT(4); /* a directory in the first 64 kB */
            if (first + 2 > room) return 1;
            unsigned entries = SHORT(first);
            for (size_t i = 0; i < entries && first + 14 + 12 * i <= room; i++)
                if (SHORT(first + 2 + 12 * i) == 0x0112) return SHORT(first + 10 + 12 * i);
#undef SHORT
        }
        at += 2 + length;
    }
    return 1;
}

/* libjpeg halves while it decodes; what is left to scale is done by cairo. */
static cairo_surface_t *read_jpeg(const void *bytes, size_t n, int longest) {
    struct jpeg_decompress_struct info;
    struct trap trap;
    cairo_surface_t *volatile surface = NULL;
    info.err = jpeg_std_error(&trap.base);
    trap.base.error_exit = jump;
    trap.base.output_message = quiet;
    if (setjmp(trap.back)) {
        if (surface) cairo_surface_destroy(surface);
        jpeg_destroy_decompress(&info);
        return NULL;
    }
    jpeg_create_decompress(&info);
    jpeg_mem_src(&info, bytes, n);
    jpeg_read_header(&info, TRUE);
    if ((double)info.image_width * info.image_height > most_pixels) jump((j_common_ptr)&info);
    unsigned long_side =
        info.image_width > info.image_height ? info.image_width : info.image_height;
    info.scale_num = 1;
    info.scale_denom = 1;
    while (info.scale_denom < 8 && long_side / (2 * info.scale_denom) >= (unsigned)longest)
        info.scale_denom *= 2;
    info.out_color_space = JCS_EXT_BGRX; /* the byte order of RGB24 on this machine */
    jpeg_start_decompress(&info);
    surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)info.output_width,
                                         (int)info.output_height);
    unsigned char *data = cairo_image_surface_get_data(surface);
    if (!data) jump((j_common_ptr)&info);
    size_t stride = (size_t)cairo_image_surface_get_stride(surface);
    while (info.output_scanline < info.output_height) {
        JSAMPROW row = data + stride * info.output_scanline;
        jpeg_read_scanlines(&info, &row, 1);
    }
    jpeg_finish_decompress(&info);
    jpeg_destroy_decompress(&info);
    cairo_surface_mark_dirty(surface);
    return surface;
}

struct bytes {
    const char *at;
    size_t left;
};

static cairo_status_t give(void *from, unsigned char *to, unsigned n) {
    struct bytes *b = from;
    if (n > b->left) return CAIRO_STATUS_READ_ERROR;
    memcpy(to, b->at, n);
    b->at += n;
    b->left -= n;
    return CAIRO_STATUS_SUCCESS;
}

static cairo_surface_t *read_png(const char *bytes, size_t n) {
    const unsigned char *h = (const unsigned char *)bytes + 16; /* ISO/IEC 15948, 11.2.2 */
    double size[2];
    for (int i = 0; i < 2; i++, h += 4)
        size[i] = ((h[0] * 256.0 + h[1]) * 256 + h[2]) * 256 + h[3];
    if (size[0] * size[1] > most_pixels) return NULL;
    struct bytes from = {bytes, n};
    cairo_surface_t *image = cairo_image_surface_create_from_png_stream(give, &from);
    if (cairo_surface_status(image) == CAIRO_STATUS_SUCCESS) return image;
    cairo_surface_destroy(image);
    return NULL;
}

/* ---- scaling, turning, writing -------------------------------------------------------------- */

/* On white, since a JPEG has no clear parts. */
static cairo_surface_t *upright(cairo_surface_t *from, unsigned turn, int longest) {
    double w = cairo_image_surface_get_width(from), h = cairo_image_surface_get_height(from),
           scale = fmin(1, longest / fmax(w, h));
    bool lying = turn == 6 || turn == 8;
    int ow = (int)fmax(1, round(scale * (lying ? h : w))),
        oh = (int)fmax(1, round(scale * (lying ? w : h)));
    cairo_surface_t *to = cairo_image_surface_create(CAIRO_FORMAT_RGB24, ow, oh);
    cairo_t *cr = cairo_create(to);
    cairo_set_source_rgb(cr, 1, 1, 1);
    cairo_paint(cr);
    cairo_translate(cr, ow / 2.0, oh / 2.0);
    cairo_rotate(cr, turn == 6 ? M_PI / 2 : turn == 8 ? -M_PI / 2 : turn == 3 ? M_PI : 0);
    cairo_scale(cr, scale, scale);
    cairo_set_source_surface(cr, from, -w / 2, -h / 2);
    cairo_pattern_set_filter(cairo_get_source(cr), CAIRO_FILTER_GOOD);
    cairo_paint(cr);
    bool done = cairo_status(cr) == CAIRO_STATUS_SUCCESS;
    cairo_destroy(cr);
    if (done) return to;
    cairo_surface_destroy(to);
    return NULL;
}

static int write_jpeg(struct show_out *out, cairo_surface_t *image, struct error *err) {
    struct jpeg_compress_struct info;
    struct trap trap;
    unsigned char *volatile made = NULL;
    unsigned char *bytes = NULL;
    unsigned long n = 0;
    info.err = jpeg_std_error(&trap.base);
    trap.base.error_exit = jump;
    trap.base.output_message = quiet;
    if (setjmp(trap.back)) {
        jpeg_destroy_compress(&info);
        free(made);
        return fail_memory(err);
    }
    jpeg_create_compress(&info);
    jpeg_mem_dest(&info, &bytes, &n);
    info.image_width = (JDIMENSION)cairo_image_surface_get_width(image);
    info.image_height = (JDIMENSION)cairo_image_surface_get_height(image);
    info.input_components = 4;
    info.in_color_space = JCS_EXT_BGRX;
    jpeg_set_defaults(&info);
    jpeg_set_quality(&info, QUALITY, TRUE);
    jpeg_start_compress(&info, TRUE);
    cairo_surface_flush(image);
    size_t stride = (size_t)cairo_image_surface_get_stride(image);
    while (info.next_scanline < info.image_height) {
        JSAMPROW row = cairo_image_surface_get_data(image) + stride * info.next_scanline;
        jpeg_write_scanlines(&info, &row, 1);
    }
    jpeg_finish_compress(&info);
    made = bytes;
    jpeg_destroy_compress(&info);
    show_out_bytes(out, (const char *)bytes, n);
    free(bytes);
    return show_out_status(out, err);
}

int show_photo_small(struct show_out *out, const void *bytes, size_t n, int longest,
                     struct error *err) {
    const unsigned char *p = bytes;
    bool png = show_is_png(bytes, n), jpeg = n > 4 && p[0] == 0xFF && p[1] == 0xD8;
    cairo_surface_t *read = png ? read_png(bytes, n) : jpeg ? read_jpeg(bytes, n, longest) : NULL;
    if (!read)
        return fail(err, ERR_INPUT, "Save it again as JPEG or PNG, of at most 100 million pixels.",
                    "The photograph cannot be read.");
    cairo_surface_t *small = upright(read, jpeg ? orientation(p, n) : 1, longest);
    cairo_surface_destroy(read);
    if (!small) return fail_memory(err);
    int rc = write_jpeg(out, small, err);
    cairo_surface_destroy(small);
    return rc;
}
