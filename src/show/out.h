/* out: a growing run of bytes into which every writer of this room and of tell/ puts its text.
 *
 * Sticky: the first failure (memory gone) is kept and everything after it is ignored, so the status
 * is asked once at the end. Numbers are written the same way on every machine and in every locale.
 * Not for two threads at once.
 *
 *     struct show_out o = {0};
 *     show_out_text(&o, "<p>");
 *     show_out_xml(&o, words);
 *     int code = show_out_save(&o, path, err);
 *     show_out_deinit(&o);
 */
#ifndef RELICT_SHOW_OUT_H
#define RELICT_SHOW_OUT_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

struct show_out {
    char *bytes; /* followed by a 0 when not NULL */
    size_t n;    /* bytes written */
    size_t room; /* bytes allocated */
    bool failed; /* memory was gone */
};

void show_out_deinit(struct show_out *out);

/* Appends raw bytes; a terminated text; a formatted text (use it for texts and whole numbers only:
 * reals go through show_out_real). */
void show_out_bytes(struct show_out *out, const void *bytes, size_t n);
void show_out_text(struct show_out *out, const char *text);
void show_out_format(struct show_out *out, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Appends a number with at most `places` decimals (0 to 9), point decimal, no trailing zeros, never
 * "-0". Not a number is written as 0 and counted as our own fault (assert). */
void show_out_real(struct show_out *out, double value, int places);

/* Appends text with & < > " ' escaped, control characters (all but tab, LF) dropped and broken
 * UTF-8 replaced by U+FFFD: fit for XML and HTML content and attributes. NULL writes nothing. */
void show_out_xml(struct show_out *out, const char *text);

/* Appends a JSON string with its quotes. `<` is written \u003c, so that it may stand in a page. */
void show_out_json(struct show_out *out, const char *text);

/* Appends bytes in base 64 (RFC 4648 section 4). */
void show_out_base64(struct show_out *out, const void *bytes, size_t n);

/* Appends the UTF-8 form of one code point. */
void show_out_codepoint(struct show_out *out, unsigned code);

/* Reads one code point; broken bytes give U+FFFD and step one byte. Returns bytes used, 0 at the
 * end. */
size_t show_utf8_next(const char *text, unsigned *code);

/* Whether the first letter with a direction is read from right to left (Unicode blocks of Hebrew,
 * Arabic and their neighbours; UAX 9, rules P2 and P3). */
bool show_text_is_rtl(const char *text);

/* 0, or fail_memory. */
int show_out_status(const struct show_out *out, struct error *err);

/* Writes all bytes into the file: a neighbour with ".part" first, synced, then renamed over. */
int show_out_save(const struct show_out *out, const char *path, struct error *err);

/* Formats like show_out_real into a caller's text of at least 40 bytes; returns it. */
char *show_real(char *text, double value, int places);

#endif
