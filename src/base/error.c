#include "base/error.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static void copy(char *to, size_t size, const char *from) {
    if (size) snprintf(to, size, "%s", from);
}

int fail(struct error *err, enum error_code code, const char *remedy, const char *format, ...) {
    if (!err) return (int)code;
    va_list args;
    va_start(args, format);
    vsnprintf(err->message, sizeof err->message, format, args);
    va_end(args);
    /* words put before an earlier message keep its remedy: it stands there already */
    if (remedy != err->remedy) copy(err->remedy, sizeof err->remedy, remedy ? remedy : "");
    err->code = code;
    return (int)code;
}

int fail_memory(struct error *err) {
    return fail(err, ERR_MEMORY, "Close other programs, or work on a smaller part, and try again.",
                "Memory is used up.");
}

void error_place(struct error *err, const char *file, long row, const char *column,
                 const char *id) {
    if (!err) return;
    if (file) copy(err->file, sizeof err->file, file);
    if (row > 0) err->row = row;
    if (column) copy(err->column, sizeof err->column, column);
    if (id) copy(err->id, sizeof err->id, id);
}

void error_clear(struct error *err) {
    if (err) memset(err, 0, sizeof *err);
}

void error_text(const struct error *err, char *text, size_t size) {
    char place[360] = "";
    size_t n = 0;
    struct {
        const char *word, *value;
    } parts[3] = {{"", err->file}, {"column ", err->column}, {"", err->id}};
    for (int i = 0; i < 3; i++) {
        if (i == 1 && err->row > 0)
            n +=
                (size_t)snprintf(place + n, sizeof place - n, "%srow %ld", n ? ", " : "", err->row);
        if (*parts[i].value && n < sizeof place)
            n += (size_t)snprintf(place + n, sizeof place - n, "%s%s%s", n ? ", " : "",
                                  parts[i].word, parts[i].value);
    }
    snprintf(text, size, "%s%s%s%s%s", place, n ? ": " : "", err->message, *err->remedy ? " " : "",
             err->remedy);
}

static const struct {
    int status;
    const char *name;
} codes[] = {
#define ERROR_ROW(code, status, name) [code] = {status, name},
    ERROR_CODE_LIST(ERROR_ROW)
#undef ERROR_ROW
};

int error_status(enum error_code code) {
    return codes[code].status;
}
const char *error_name(enum error_code code) {
    return codes[code].name;
}
