/* picture_size: how many pixels a picture says it has, read off its head without unpacking it, so
 * that one which would unpack to more than a browser can hold is refused at the door. */
#include "record/import_private.h"

#include <string.h>

static unsigned big(const unsigned char *p, int n) {
    unsigned v = 0;
    while (n--)
        v = v << 8 | *p++;
    return v;
}
static unsigned little(const unsigned char *p, int n) {
    unsigned v = 0;
    while (n--)
        v = v << 8 | p[n];
    return v;
}

/* ITU-T T.81, B.2.2: the frame header is in the segment SOF0 to SOF15, but for DHT, JPG and DAC. */
static double of_jpeg(const unsigned char *p, size_t n) {
    for (size_t at = 2; at + 9 <= n && p[at] == 0xff;) {
        unsigned mark = p[at + 1];
        if (mark == 0xff) { /* fill */
            at++;
            continue;
        }
        if (mark >= 0xc0 && mark <= 0xcf && mark != 0xc4 && mark != 0xc8 && mark != 0xcc)
            return (double)big(p + at + 5, 2) * big(p + at + 7, 2);
        at += 2 + big(p + at + 2, 2);
    }
    return 0;
}

/* RFC 6386, 9.1 (lossy) and RFC 9649, 2.7 and 3.4 (extended, lossless). */
static double of_webp(const unsigned char *p, size_t n) {
    if (n < 30) return 0;
    if (memcmp(p + 12, "VP8X", 4) == 0)
        return (1.0 + little(p + 24, 3)) * (1.0 + little(p + 27, 3));
    if (memcmp(p + 12, "VP8L", 4) == 0) {
        unsigned bits = little(p + 21, 4);
        return (1.0 + (bits & 0x3fff)) * (1.0 + (bits >> 14 & 0x3fff));
    }
    return (double)(little(p + 26, 2) & 0x3fff) * (little(p + 28, 2) & 0x3fff);
}

double import_pixels(const void *bytes, size_t n) {
    const unsigned char *p = bytes;
    if (n >= 24 && memcmp(p, "\x89PNG", 4) == 0) /* PNG (W3C, third edition), 11.2.1: IHDR */
        return (double)big(p + 16, 4) * big(p + 20, 4);
    if (n >= 12 && p[0] == 0xff && p[1] == 0xd8) return of_jpeg(p, n);
    if (n >= 16 && memcmp(p, "RIFF", 4) == 0 && memcmp(p + 8, "WEBP", 4) == 0) return of_webp(p, n);
    return 0;
}
