#include "show/photo_small.h"

#include "show/drawing.h"
#include "show/photo_code.h"

#include <math.h>
#include <string.h>

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

int show_photo_small(struct show_out *out, const void *bytes, size_t n, int longest,
                     struct error *err) {
    /* what libjpeg did not halve away is scaled by cairo */
    cairo_surface_t *read = show_photo_read(bytes, n, longest, true);
    if (!read)
        return fail(err, ERR_INPUT, "Save it again as JPEG or PNG, of at most 100 million pixels.",
                    "The photograph cannot be read.");
    cairo_surface_t *small =
        upright(read, show_is_png(bytes, n) ? 1 : orientation(bytes, n), longest);
    cairo_surface_destroy(read);
    if (!small) return fail_memory(err);
    int rc = show_photo_write(out, small, err);
    cairo_surface_destroy(small);
    return rc;
}
