/* import_cells: numbers and phrases in the cells of a list. */
#include "record/import_private.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

/* ---- units ---------------------------------------------------------------------------------- */

static const struct {
    const char *word;
    double factor;
} units[] = {
    {"", 1},          {"mm", 1},    {"cm", 10}, {"m", 1000},    {"in", 25.4},  {"inch", 25.4},
    {"inches", 25.4}, {"\"", 25.4}, {"deg", 1}, {"degrees", 1}, {"degree", 1}, {"\xC2\xB0", 1},
    {"g", 1},         {"kg", 1000}, {"%", 1},   {"percent", 1}, {"no", 1},     {"n", 1},
};

double cell_unit_factor(const char *unit) {
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++)
        if (strcasecmp(units[i].word, unit) == 0) return units[i].factor;
    return 0;
}

/* ---- numbers -------------------------------------------------------------------------------- */

static const char *skip(const char *p) {
    while (isspace((unsigned char)*p))
        p++;
    return p;
}

static bool eat(const char **p, const char *word) {
    size_t n = strlen(word);
    if (strncasecmp(*p, word, n) != 0) return false;
    *p = skip(*p + n);
    return true;
}

/* A plain decimal number; NULL when there is none. The comma counts as the point when asked. */
static const char *digits(const char *p, double *out, bool decimal_comma) {
    char plain[64];
    size_t n = 0;
    bool any = false;
    while (n < sizeof plain - 1 &&
           (isdigit((unsigned char)p[n]) || strchr("+-.,eE", p[n]) != NULL) && p[n]) {
        char c = p[n];
        if (c == ',' && !decimal_comma) break;
        if ((c == 'e' || c == 'E') && !any) break;
        if ((c == '+' || c == '-') && n > 0 && plain[n - 1] != 'e' && plain[n - 1] != 'E') break;
        any |= isdigit((unsigned char)c) != 0;
        plain[n++] = c == ',' ? '.' : c;
    }
    plain[n] = 0;
    if (!any) return NULL;
    char *end;
    *out = strtod(plain, &end);
    return end == plain ? NULL : p + (end - plain);
}

static bool is_infinite_word(const char *p) {
    if (*p == '-' || *p == '+') p++;
    return strncasecmp(p, "nan", 3) == 0 || strncasecmp(p, "inf", 3) == 0;
}

enum cell_trouble cell_number_read(struct cell_number *out, const char *text, bool decimal_comma) {
    *out = (struct cell_number){.value = NAN, .tolerance = NAN, .bound = BOUND_VALUE};
    const char *p = skip(text);
    if (eat(&p, "<=") || eat(&p, "<") || eat(&p, "\xE2\x89\xA4"))
        out->bound = BOUND_AT_MOST;
    else if (eat(&p, ">=") || eat(&p, ">") || eat(&p, "\xE2\x89\xA5"))
        out->bound = BOUND_AT_LEAST;
    if (is_infinite_word(p)) return CELL_NOT_FINITE;
    const char *after = digits(p, &out->value, decimal_comma);
    if (!after) return CELL_NOT_NUMBER;
    if (*after == ',' && isdigit((unsigned char)after[1])) return CELL_COMMA;
    if (!isfinite(out->value)) return CELL_NOT_FINITE;
    p = skip(after);
    if (eat(&p, "\xC2\xB1") || eat(&p, "+/-") || eat(&p, "+-")) {
        after = digits(p, &out->tolerance, decimal_comma);
        if (!after || !(out->tolerance >= 0)) return CELL_NOT_NUMBER;
        p = skip(after);
    }
    if (!*p) return CELL_FINE;
    static const char *const known[] = {"mm",  "cm",       "m",  "inches", "inch", "in", "degrees",
                                        "deg", "\xC2\xB0", "kg", "g",      "%",    "\""};
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        size_t n = strlen(known[i]);
        if (strncasecmp(p, known[i], n) == 0 && !*skip(p + n)) {
            out->unit = known[i];
            return CELL_FINE;
        }
    }
    return isalpha((unsigned char)*p) ? CELL_UNIT : CELL_NOT_NUMBER;
}

/* ---- phrases -------------------------------------------------------------------------------- */

static bool word_sign(char c) {
    return isalnum((unsigned char)c) || c == '_' || (unsigned char)c >= 0x80;
}

/* Matches the phrase at one place. */
static bool match_here(const char *text, const char *phrase, double numbers[2], char word[64]) {
    size_t k = 0;
    for (; *phrase; phrase++) {
        if (*phrase == '%') {
            double v;
            const char *after = digits(text, &v, false);
            if (!after || k == 2 || v < 0) return false;
            numbers[k++] = v;
            text = after;
        } else if (*phrase == '&') {
            size_t n = 0;
            while ((word_sign(text[n]) || text[n] == '.' || text[n] == '-') && n < 63)
                n++;
            while (n && (text[n - 1] == '.' || text[n - 1] == '-'))
                n--;
            if (n == 0) return false;
            memcpy(word, text, n);
            word[n] = 0;
            text += n;
        } else if (*phrase == ' ') {
            if (!isspace((unsigned char)*text)) return false;
            text = skip(text);
        } else if (tolower((unsigned char)*text) == *phrase)
            text++;
        else
            return false;
    }
    char last = phrase[-1];
    return last == '%' || last == '&' || !word_sign(last) || !word_sign(*text);
}

/* The library looks for a letter faster than a loop does, and in most texts there is none. */
const char *cell_phrase(const char *text, const char *phrase, double numbers[2], char word[64]) {
    bool letter = *phrase != '%' && *phrase != '&';
    const char first[] = {*phrase, (char)toupper((unsigned char)*phrase), 0};
    for (const char *at = text; *at; at++) {
        if (letter && !(at = strpbrk(at, first))) return NULL;
        bool begins = at == text || !word_sign(at[-1]);
        if (begins && match_here(at, phrase, numbers, word)) return at;
    }
    return NULL;
}

char *cell_trim(const char *text, struct arena *arena) {
    text = skip(text);
    size_t n = strlen(text);
    while (n && isspace((unsigned char)text[n - 1]))
        n--;
    return arena_copy(arena, text, n);
}

static bool filler(char c) {
    return isspace((unsigned char)c) || c == '_' || c == '-' || c == '.' || c == ':';
}

bool cell_same(const char *a, const char *b) {
    if (((*a ^ *b) & 0x1f) && isalpha((unsigned char)*a) && isalpha((unsigned char)*b))
        return false; /* other letters to begin with: most of the time */
    for (;;) {
        while (filler(*a))
            a++;
        while (filler(*b))
            b++;
        if (!*a || !*b) return !*a && !*b;
        if (tolower((unsigned char)*a) != tolower((unsigned char)*b)) return false;
        a++;
        b++;
    }
}
