/* columns: a table for people to read, no wider than what it is read on. */
#include "command/command.h"

#include <math.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

enum {
    MOST_COLUMNS = 16,
    GAP = 2,           /* before each column */
    NO_TERMINAL = 120, /* signs a line where nobody says how many there is room for */
    NARROWEST = 40
};

static const char *cell(const json_t *v, char *buffer, size_t size) {
    if (json_is_string(v)) return json_string_value(v);
    if (json_is_boolean(v)) return json_is_true(v) ? "yes" : "no";
    if (!json_is_number(v)) return "";
    double x = json_number_value(v);
    if (x != 0 && fabs(x) < 1e-4)
        snprintf(buffer, size, "under 0.0001");
    else
        snprintf(buffer, size, fabs(x) >= 1000 ? "%.0f" : "%.4g", x);
    return buffer;
}

/* ---- how wide ------------------------------------------------------------------------------- */

static int line_width(FILE *out) {
    struct winsize size = {0};
    int columns = NO_TERMINAL, file = fileno(out);
    if (file >= 0 && isatty(file) && ioctl(file, TIOCGWINSZ, &size) == 0 && size.ws_col)
        columns = size.ws_col;
    return columns < NARROWEST ? NARROWEST : columns;
}

static int longest_word(const char *s) {
    int longest = 0;
    while (*s) {
        size_t n = strcspn(s, " ");
        int signs = command_signs(s, n);
        if (signs > longest) longest = signs;
        s += n + strspn(s + n, " ");
    }
    return longest;
}

struct columns {
    size_t n;
    int width[MOST_COLUMNS], least[MOST_COLUMNS]; /* signs: what it has; its longest word */
};

static void measure(struct columns *c, const json_t *row) {
    char buffer[32];
    for (size_t k = 0; k < c->n; k++) {
        const char *s = cell(json_array_get(row, k), buffer, sizeof buffer);
        int width = command_signs(s, strlen(s)), least = longest_word(s);
        if (width > c->width[k]) c->width[k] = width;
        if (least > c->least[k]) c->least[k] = least;
    }
}

/* Takes, sign by sign, from the column whose longest cell then stands on the fewest lines; of
 * several from the widest. Words are not broken. */
static void fit(struct columns *c, int line) {
    int total = 0, whole[MOST_COLUMNS];
    for (size_t k = 0; k < c->n; k++) {
        whole[k] = c->width[k];
        total += GAP + c->width[k];
    }
    while (total > line) {
        int best = -1;
        double fewest = 0;
        for (size_t k = 0; k < c->n; k++) {
            if (c->width[k] <= c->least[k] || c->width[k] < 2) continue;
            double lines = (double)whole[k] / (c->width[k] - 1);
            bool better = best < 0 || lines < fewest - 1e-9 ||
                          (lines < fewest + 1e-9 && c->width[k] > c->width[best]);
            if (better) best = (int)k, fewest = lines;
        }
        if (best < 0) return; /* nothing but words: let the line be long */
        c->width[best]--;
        total--;
    }
}

/* ---- printing ------------------------------------------------------------------------------- */

/* Bytes of s that go on a line of so many signs, whole words if they can; *next: the line after. */
static size_t take_line(const char *s, int width, const char **next) {
    size_t taken = 0;
    int at = 0;
    while (s[taken]) {
        size_t gap = strspn(s + taken, " "), word = strcspn(s + taken + gap, " ");
        int signs = command_signs(s + taken, gap + word);
        if (taken && at + signs > width) break;
        taken += gap + word;
        at += signs;
    }
    *next = s + taken + strspn(s + taken, " ");
    return taken;
}

/* Words that stood in the row above as well are not said again. */
static const char *unless_above(const char *text, const json_t *above) {
    enum { WORTH = 16 };
    const char *before = json_string_value(above);
    return before && strlen(text) > WORTH && !strcmp(text, before) ? "as above" : text;
}

static void print_row(const json_t *row, const json_t *above, const struct columns *c, FILE *out) {
    char buffers[MOST_COLUMNS][32];
    const char *left[MOST_COLUMNS];
    for (size_t k = 0; k < c->n; k++)
        left[k] = unless_above(cell(json_array_get(row, k), buffers[k], sizeof buffers[k]),
                               json_array_get(above, k));
    for (bool more = true; more;) {
        int owed = 0; /* blanks, printed only when something follows */
        more = false;
        for (size_t k = 0; k < c->n; k++) {
            const char *next, *line = left[k];
            size_t n = take_line(line, c->width[k], &next);
            int signs = command_signs(line, n);
            if (n) fprintf(out, "%*s%.*s", owed + GAP, "", (int)n, line);
            owed = n ? c->width[k] - signs : owed + GAP + c->width[k];
            left[k] = next;
            more |= *next != 0;
        }
        fputc('\n', out);
    }
}

void command_print_table(const json_t *table, FILE *out) {
    const json_t *heads = json_object_get(table, "columns"), *rows = json_object_get(table, "rows");
    const char *title = json_string_value(json_object_get(table, "title"));
    struct columns c = {.n = json_array_size(heads)};
    if (c.n > MOST_COLUMNS) c.n = MOST_COLUMNS;
    /* a last column of this name ties rows to the file of results; it is no word for people */
    const char *last = c.n ? json_string_value(json_array_get(heads, c.n - 1)) : NULL;
    if (last && strcmp(last, "column") == 0) c.n--;
    size_t i;
    const json_t *row;
    measure(&c, heads);
    json_array_foreach(rows, i, row) measure(&c, row);
    fit(&c, line_width(out));
    fprintf(out, "\n%s\n", title ? title : "");
    print_row(heads, NULL, &c, out);
    json_array_foreach(rows, i, row)
        print_row(row, i ? json_array_get(rows, i - 1) : NULL, &c, out);
}
