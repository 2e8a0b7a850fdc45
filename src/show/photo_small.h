/* photo_small: a copy of a photograph small enough to travel inside a page.
 *
 * Decodes a JPEG or PNG, turns it upright as its EXIF block asks, scales it down and writes it as a
 * JPEG of pixels alone: whatever else the file held (place, camera, thumbnail) stays behind. The
 * kept file itself is not touched. Thread-safe.
 */
#ifndef RELICT_SHOW_PHOTO_SMALL_H
#define RELICT_SHOW_PHOTO_SMALL_H

#include "show/out.h"

#include <stddef.h>

/* Appends the copy, at most `longest` pixels on its longer side. ERR_INPUT when the bytes are no
 * picture that can be read, or one of more than 100 million pixels. */
int show_photo_small(struct show_out *out, const void *bytes, size_t n, int longest,
                     struct error *err);

#endif
