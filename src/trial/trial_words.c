#include "trial/trial_words.h"

#include <math.h>
#include <string.h>

/* Places behind the point so that `figures` figures of v count; negative: tens, hundreds. */
static int places(double v, int figures) {
    return v == 0 || !isfinite(v) ? figures - 1 : figures - 1 - (int)floor(log10(fabs(v)));
}

static char *to_place(double v, int place, struct arena *arena) {
    if (!isfinite(v)) return arena_strdup(arena, "?");
    if (place > 9) place = 9;
    double step = pow(10, place);
    v = round(v * step) / step;
    return arena_printf(arena, "%.*f", place > 0 ? place : 0, v + 0.0); /* + 0.0: no "-0" */
}

char *trial_number(double value, int figures, struct arena *arena) {
    char *text = to_place(value, places(value, figures), arena);
    if (!text || !strchr(text, '.')) return text;
    size_t n = strlen(text);
    while (text[n - 1] == '0')
        text[--n] = 0;
    if (text[n - 1] == '.') text[n - 1] = 0;
    return text;
}

static const char *space(const char *unit) {
    return unit && *unit ? " " : "";
}

char *trial_plus_minus(double middle, double half, const char *unit, struct arena *arena) {
    int place = places(half, 2);
    char *a = to_place(middle, place, arena), *b = to_place(half, place, arena);
    return a && b ? arena_printf(arena, "%s ± %s%s%s", a, b, space(unit), unit ? unit : "") : NULL;
}

char *trial_range(double low, double high, const char *unit, struct arena *arena) {
    int place = places(high - low, 2);
    char *a = to_place(low, place, arena), *b = to_place(high, place, arena);
    return a && b ? arena_printf(arena, "%s to %s%s%s", a, b, space(unit), unit ? unit : "") : NULL;
}

/* "bark.around" as "bark across the grain". */
static char *of_material(const char *rest, struct arena *arena) {
    static const char *const ways[][2] = {{".around", " across the grain"},
                                          {".across", " across the grain"},
                                          {".along", " along the grain"},
                                          {".through", " in thickness"},
                                          {".plane", " in its own plane"}};
    for (size_t i = 0; i < sizeof ways / sizeof ways[0]; i++) {
        size_t n = strlen(rest), m = strlen(ways[i][0]);
        if (n > m && strcmp(rest + n - m, ways[i][0]) == 0) {
            char *what = arena_copy(arena, rest, n - m);
            return what ? arena_printf(arena, "%s%s", what, ways[i][1]) : NULL;
        }
    }
    return arena_strdup(arena, rest);
}

char *trial_column_words(const char *column, struct arena *arena) {
    static const char *const known[][2] = {
        {"shape.made.rise", "how far the middle of the sheet rises"},
        {"shape.made.weight", "the weight of the whole"},
        {"shape.made.stiffness", "the stiffness of the whole"},
        {"shape.made.edge_lift", "how far the edge lifts"},
        {"shape.made.bend_across", "how far it bends across when dry"},
        {"stem.radius", "the stem the sheet came off"},
        {"bark.set", "how much of its curl bark loses when it is dried flat"},
        {"bark.E.around", "the stiffness of bark across the grain"},
        {"bark.E.along", "the stiffness of bark along the grain"},
        {"bark.G", "the shear stiffness of bark"},
        {"lath.E", "the stiffness of the laths"},
        {"outline.length", "the length of the outline"},
        {"outline.width", "the width of the outline"},
    };
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        if (strcmp(known[i][0], column) == 0) return arena_strdup(arena, known[i][1]);
    static const char *const begins[][2] = {{"dry_factor.", "what drying leaves of "},
                                            {"dry_loss.", "what drying takes of "},
                                            {"alter.", "what time did to "}};
    for (size_t i = 0; i < sizeof begins / sizeof begins[0]; i++) {
        size_t n = strlen(begins[i][0]);
        if (strncmp(begins[i][0], column, n) != 0) continue;
        char *rest = of_material(column + n, arena);
        return rest ? arena_printf(arena, "%s%s", begins[i][1], rest) : NULL;
    }
    return arena_strdup(arena, column);
}
