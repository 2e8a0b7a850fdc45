/* photo_place: takes the place where a photograph was made out of its EXIF block.
 *
 * JPEG segments as in ITU-T T.81 annex B; EXIF 2.32 section 4.6: the block "Exif\0\0" holds a TIFF
 * whose first directory points to the GPS directory by tag 0x8825. That entry is turned into an
 * unused one and the directory's values are overwritten with zeros, so that no offset moves. */
#include "tell/linked.h"

#include <stdint.h>
#include <string.h>

struct tiff {
    unsigned char *p;
    size_t n;
    bool high_first;
};

static bool get(const struct tiff *t, size_t at, int bytes, uint32_t *out) {
    if (at + (size_t)bytes > t->n || at + (size_t)bytes < at) return false;
    *out = 0;
    for (int i = 0; i < bytes; i++)
        *out |= (uint32_t)t->p[at + (size_t)(t->high_first ? i : bytes - 1 - i)]
                << (8 * (bytes - 1 - i));
    return true;
}

/* Zeros the values and entries of the directory at `at`; returns how many entries it had. */
static size_t wipe_directory(struct tiff *t, size_t at) {
    static const unsigned sizes[] = {0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8};
    uint32_t count;
    if (!get(t, at, 2, &count)) return 0;
    size_t wiped = 0;
    for (uint32_t i = 0; i < count; i++, wiped++) {
        size_t entry = at + 2 + 12 * (size_t)i;
        uint32_t type, values, offset;
        if (!get(t, entry + 2, 2, &type) || !get(t, entry + 4, 4, &values) ||
            !get(t, entry + 8, 4, &offset))
            break;
        uint64_t size = type < 13 ? (uint64_t)sizes[type] * values : 0;
        if (size > 4 && offset + size <= t->n) memset(t->p + offset, 0, (size_t)size);
        memset(t->p + entry, 0, 12);
    }
    memset(t->p + at, 0, 2);
    return wiped;
}

static size_t wipe_gps(unsigned char *exif, size_t n) {
    struct tiff t = {exif, n, false};
    uint32_t mark, first, count;
    if (n < 8) return 0;
    t.high_first = exif[0] == 'M';
    if (!get(&t, 2, 2, &mark) || mark != 42 || !get(&t, 4, 4, &first) || !get(&t, first, 2, &count))
        return 0;
    size_t wiped = 0;
    for (uint32_t i = 0; i < count; i++) {
        size_t entry = first + 2 + 12 * (size_t)i;
        uint32_t tag, offset;
        if (!get(&t, entry, 2, &tag) || !get(&t, entry + 8, 4, &offset)) break;
        if (tag != 0x8825) continue;
        wiped += wipe_directory(&t, offset);
        memset(t.p + entry + 8, 0, 4);
        /* 0xFFFE is no tag of EXIF; type and count stay, the value is 0. */
        t.p[entry] = t.high_first ? 0xFF : 0xFE;
        t.p[entry + 1] = t.high_first ? 0xFE : 0xFF;
    }
    return wiped;
}

int tell_jpeg_without_place(struct show_out *out, const void *bytes, size_t n, size_t *gps,
                            struct error *err) {
    const unsigned char *p = bytes;
    *gps = 0;
    if (n < 4 || p[0] != 0xFF || p[1] != 0xD8)
        return fail(err, ERR_INPUT, "Hand over photographs as JPEG.",
                    "The file is no JPEG: it does not begin as one.");
    size_t start = out->n;
    show_out_bytes(out, bytes, n);
    if (show_out_status(out, err)) return ERR_MEMORY;
    unsigned char *q = (unsigned char *)out->bytes + start;
    for (size_t at = 2; at + 4 <= n && q[at] == 0xFF;) {
        unsigned marker = q[at + 1];
        if (marker == 0xDA) return 0; /* the picture itself begins */
        size_t length = (size_t)q[at + 2] << 8 | q[at + 3];
        if (length < 2 || at + 2 + length > n)
            return fail(err, ERR_INPUT, "Save the photograph again.",
                        "The JPEG is cut short: a block of %zu bytes does not fit.", length);
        if (marker == 0xE1 && length > 8 && !memcmp(q + at + 4, "Exif\0\0", 6))
            *gps += wipe_gps(q + at + 10, length - 8);
        /* XMP can repeat the place as text: the whole block is blanked. */
        if (marker == 0xE1 && length > 30 && !memcmp(q + at + 4, "http://ns.adobe.com/xap/", 24)) {
            memset(q + at + 4, ' ', length - 2);
            ++*gps;
        }
        at += 2 + length;
    }
    return 0;
}
