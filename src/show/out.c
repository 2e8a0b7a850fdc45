#include "show/out.h"

#include "base/mem.h"

#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

void show_out_deinit(struct show_out *out) {
    mem_free(out->bytes);
    *out = (struct show_out){0};
}

/* Makes room for n more bytes and a closing 0; false when the writer has failed. */
static bool reserve(struct show_out *out, size_t n) {
    if (out->failed) return false;
    if (n > SIZE_MAX / 4 - out->n) return !(out->failed = true);
    if (out->n + n + 1 <= out->room) return true;
    size_t want = out->room ? out->room : 256;
    while (want < out->n + n + 1)
        want *= 2;
    char *bytes = mem_resize(out->bytes, want, 1);
    if (!bytes) return !(out->failed = true);
    out->bytes = bytes;
    out->room = want;
    out->bytes[out->n] = 0;
    return true;
}

void show_out_bytes(struct show_out *out, const void *bytes, size_t n) {
    if (!reserve(out, n)) return;
    if (n) memcpy(out->bytes + out->n, bytes, n);
    out->n += n;
    out->bytes[out->n] = 0;
}

void show_out_text(struct show_out *out, const char *text) {
    if (text) show_out_bytes(out, text, strlen(text));
}

void show_out_format(struct show_out *out, const char *format, ...) {
    va_list args;
    va_start(args, format);
    va_list again;
    va_copy(again, args);
    int n = vsnprintf(NULL, 0, format, args);
    va_end(args);
    if (n >= 0 && reserve(out, (size_t)n)) {
        vsnprintf(out->bytes + out->n, (size_t)n + 1, format, again);
        out->n += (size_t)n;
    }
    va_end(again);
}

char *show_real(char *text, double value, int places) {
    static const double tens[] = {1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9};
    assert(places >= 0 && places <= 9);
    assert(isfinite(value));
    if (!isfinite(value)) value = 0;
    /* Beyond 2^53 of the last place no decimals are left to print. */
    if (fabs(value) * tens[places] > 9e15) places = 0;
    if (fabs(value) > 9e15) {
        snprintf(text, 40, "%.15e", value);
        return text;
    }
    long long scaled = llround(fabs(value) * tens[places]);
    long long whole = scaled / (long long)tens[places], part = scaled % (long long)tens[places];
    const char *sign = value < 0 && scaled ? "-" : "";
    if (!part) {
        snprintf(text, 40, "%s%lld", sign, whole);
        return text;
    }
    int n = snprintf(text, 40, "%s%lld.%0*lld", sign, whole, places, part);
    while (n > 1 && text[n - 1] == '0')
        text[--n] = 0;
    return text;
}

void show_out_real(struct show_out *out, double value, int places) {
    char text[40];
    show_out_text(out, show_real(text, value, places));
}

size_t show_utf8_next(const char *text, unsigned *code) {
    const unsigned char *p = (const unsigned char *)text;
    *code = 0xFFFD;
    if (!p[0]) return *code = 0, 0;
    if (p[0] < 0x80) return *code = p[0], 1;
    int more = p[0] >= 0xF0 && p[0] < 0xF5   ? 3
               : p[0] >= 0xE0 && p[0] < 0xF0 ? 2
               : p[0] >= 0xC2 && p[0] < 0xE0 ? 1
                                             : 0;
    if (!more) return 1;
    unsigned c = p[0] & (0x3Fu >> more);
    for (int i = 1; i <= more; i++) {
        if ((p[i] & 0xC0) != 0x80) return 1;
        c = c << 6 | (p[i] & 0x3F);
    }
    static const unsigned least[] = {0, 0x80, 0x800, 0x10000};
    if (c < least[more] || c > 0x10FFFF || (c >= 0xD800 && c < 0xE000)) return 1;
    *code = c;
    return (size_t)more + 1;
}

static bool is_rtl_letter(unsigned c) {
    return (c >= 0x590 && c < 0x900) || (c >= 0xFB1D && c < 0xFE00) ||
           (c >= 0xFE70 && c < 0xFF00) || (c >= 0x10800 && c < 0x11000) ||
           (c >= 0x1E800 && c < 0x1F000);
}

/* Letters read from left to right, near enough: all above Latin-1's signs but punctuation. */
static bool is_ltr_letter(unsigned c) {
    if ((c | 0x20) >= 'a' && (c | 0x20) <= 'z') return true;
    return c >= 0xC0 && c != 0xD7 && c != 0xF7 && !(c >= 0x2000 && c < 0x2C00) &&
           !(c >= 0x3000 && c < 0x3005) && !(c >= 0x1F000 && c < 0x20000);
}

bool show_text_is_rtl(const char *text) {
    unsigned c;
    for (size_t step; text && (step = show_utf8_next(text, &c)); text += step) {
        if (is_rtl_letter(c)) return true;
        if (is_ltr_letter(c)) return false;
    }
    return false;
}

void show_out_codepoint(struct show_out *out, unsigned c) {
    char b[4];
    if (c < 0x80)
        show_out_bytes(out, (b[0] = (char)c, b), 1);
    else if (c < 0x800)
        show_out_bytes(out, (b[0] = (char)(0xC0 | c >> 6), b[1] = (char)(0x80 | (c & 63)), b), 2);
    else if (c < 0x10000)
        show_out_bytes(out,
                       (b[0] = (char)(0xE0 | c >> 12), b[1] = (char)(0x80 | (c >> 6 & 63)),
                        b[2] = (char)(0x80 | (c & 63)), b),
                       3);
    else
        show_out_bytes(out,
                       (b[0] = (char)(0xF0 | c >> 18), b[1] = (char)(0x80 | (c >> 12 & 63)),
                        b[2] = (char)(0x80 | (c >> 6 & 63)), b[3] = (char)(0x80 | (c & 63)), b),
                       4);
}

/* XML 1.0 (5th edition) section 2.2: characters a document may hold, less DEL and the C1 range,
 * which are allowed but discouraged there. */
static bool xml_char(unsigned c) {
    if (c == '\t' || c == '\n') return true;
    if (c < 0x20 || (c >= 0x7F && c < 0xA0)) return false;
    return c != 0xFFFE && c != 0xFFFF;
}

void show_out_xml(struct show_out *out, const char *text) {
    if (!text) return;
    unsigned c;
    for (size_t step; (step = show_utf8_next(text, &c)); text += step) {
        if (c == '&')
            show_out_text(out, "&amp;");
        else if (c == '<')
            show_out_text(out, "&lt;");
        else if (c == '>')
            show_out_text(out, "&gt;");
        else if (c == '"')
            show_out_text(out, "&quot;");
        else if (c == '\'')
            show_out_text(out, "&#39;");
        else if (xml_char(c))
            show_out_codepoint(out, c);
    }
}

void show_out_json(struct show_out *out, const char *text) {
    show_out_text(out, "\"");
    unsigned c;
    for (size_t step; text && (step = show_utf8_next(text, &c)); text += step) {
        if (c == '"' || c == '\\')
            show_out_format(out, "\\%c", (char)c);
        else if (c == '\n')
            show_out_text(out, "\\n");
        else if (c < 0x20 || c == '<' || c == 0x7F || c == 0x2028 || c == 0x2029)
            show_out_format(out, "\\u%04x", c);
        else
            show_out_codepoint(out, c);
    }
    show_out_text(out, "\"");
}

void show_out_base64(struct show_out *out, const void *bytes, size_t n) {
    static const char sign[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    const unsigned char *p = bytes;
    if (!reserve(out, (n + 2) / 3 * 4)) return;
    for (size_t i = 0; i < n; i += 3) {
        unsigned v = (unsigned)p[i] << 16;
        if (i + 1 < n) v |= (unsigned)p[i + 1] << 8;
        if (i + 2 < n) v |= p[i + 2];
        char four[4] = {sign[v >> 18], sign[v >> 12 & 63], i + 1 < n ? sign[v >> 6 & 63] : '=',
                        i + 2 < n ? sign[v & 63] : '='};
        show_out_bytes(out, four, 4);
    }
}

int show_out_status(const struct show_out *out, struct error *err) {
    return out->failed ? fail_memory(err) : 0;
}

static int file_failed(const char *path, const char *what, struct error *err) {
    int code =
        fail(err, ERR_FILE, "Choose another folder, or make room on the disk, and write it again.",
             "The file could not be %s: %s.", what, strerror(errno));
    error_place(err, path, 0, NULL, NULL);
    return code;
}

static int write_all(int fd, const struct show_out *out) {
    for (size_t done = 0; done < out->n;) {
        ssize_t n = write(fd, out->bytes + done, out->n - done);
        if (n < 0 && errno == EINTR) continue;
        if (n <= 0) return -1;
        done += (size_t)n;
    }
    return fsync(fd);
}

int show_out_save(const struct show_out *out, const char *path, struct error *err) {
    if (out->failed) return fail_memory(err);
    char part[4096];
    if ((size_t)snprintf(part, sizeof part, "%s.part", path) >= sizeof part)
        return fail(err, ERR_FILE, "Choose a shorter path.", "The path %.200s... is too long.",
                    path);
    int fd = open(part, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666);
    if (fd < 0) return file_failed(path, "opened", err);
    if (write_all(fd, out)) {
        file_failed(path, "written", err);
        close(fd);
        unlink(part);
        return ERR_FILE;
    }
    if (close(fd) || rename(part, path)) {
        file_failed(path, "put in place", err);
        unlink(part);
        return ERR_FILE;
    }
    return 0;
}
