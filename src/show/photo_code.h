/* photo_code: pixels from a JPEG or PNG, and to a JPEG (inside show only). Thread-safe. */
#ifndef RELICT_SHOW_PHOTO_CODE_H
#define RELICT_SHOW_PHOTO_CODE_H

#include "show/out.h"

#include <cairo.h>
#include <stdbool.h>
#include <stddef.h>

/* NULL when the bytes are no picture that can be read, or one of more than 100 million pixels.
 * `longest` above 0: a JPEG is halved while it is decoded as long as its longer side stays at least
 * so many pixels. Without `pixels` of a JPEG only the size is right. Free with
 * cairo_surface_destroy. */
cairo_surface_t *show_photo_read(const void *bytes, size_t n, int longest, bool pixels);

/* Appends an RGB24 surface as a JPEG of pixels alone. ERR_MEMORY. */
int show_photo_write(struct show_out *out, cairo_surface_t *image, struct error *err);

#endif
