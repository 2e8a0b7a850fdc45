#include "show/photo_code.h"

#include "show/drawing.h"

#include <setjmp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jpeglib.h> /* wants stdio.h before it */

static const double most_pixels = 1e8;
enum { QUALITY = 85 };

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

static void take_rows(struct jpeg_decompress_struct *info, cairo_surface_t *surface) {
    unsigned char *data = cairo_image_surface_get_data(surface);
    if (!data) jump((j_common_ptr)info);
    size_t stride = (size_t)cairo_image_surface_get_stride(surface);
    while (info->output_scanline < info->output_height) {
        JSAMPROW row = data + stride * info->output_scanline;
        jpeg_read_scanlines(info, &row, 1);
    }
    jpeg_finish_decompress(info);
    cairo_surface_mark_dirty(surface);
}

/* libjpeg reports errors only by a jump: it lands here. */
static cairo_surface_t *read_jpeg(const void *bytes, size_t n, int longest, bool pixels) {
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
    unsigned side = info.image_width > info.image_height ? info.image_width : info.image_height;
    info.scale_num = info.scale_denom = 1;
    while (longest > 0 && info.scale_denom < 8 &&
           side / (2 * info.scale_denom) >= (unsigned)longest)
        info.scale_denom *= 2;
    info.out_color_space = JCS_EXT_BGRX; /* the byte order of RGB24 on this machine */
    if (pixels)
        jpeg_start_decompress(&info);
    else
        jpeg_calc_output_dimensions(&info);
    surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)info.output_width,
                                         (int)info.output_height);
    if (pixels) take_rows(&info, surface);
    jpeg_destroy_decompress(&info);
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

/* The heading gives width and height: ISO/IEC 15948, 11.2.2. */
static cairo_surface_t *read_png(const char *bytes, size_t n) {
    const unsigned char *h = (const unsigned char *)bytes + 16;
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

cairo_surface_t *show_photo_read(const void *bytes, size_t n, int longest, bool pixels) {
    const unsigned char *p = bytes;
    if (show_is_png(bytes, n)) return read_png(bytes, n);
    return n > 4 && p[0] == 0xFF && p[1] == 0xD8 ? read_jpeg(bytes, n, longest, pixels) : NULL;
}

int show_photo_write(struct show_out *out, cairo_surface_t *image, struct error *err) {
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
