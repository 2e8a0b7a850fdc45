#include "num/formula.h"

#include "base/field.h"

#include <ctype.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

enum op {
    OP_NUMBER,
    OP_VARIABLE,
    OP_NEGATE,
    OP_ADD,
    OP_SUBTRACT,
    OP_MULTIPLY,
    OP_DIVIDE,
    OP_POWER,
    OP_EXP,
    OP_LOG,
    OP_LOG10,
    OP_SQRT,
    OP_ABS,
    OP_SIN,
    OP_COS,
    OP_TAN,
    OP_ASIN,
    OP_ACOS,
    OP_ATAN,
    OP_SINH,
    OP_COSH,
    OP_TANH,
    OP_ERF,
    OP_MIN,
    OP_MAX,
    OP_HYPOT
};

static const struct {
    const char *name;
    enum op op;
    int arguments;
} functions[] = {
    {"exp", OP_EXP, 1},   {"log", OP_LOG, 1},     {"log10", OP_LOG10, 1}, {"sqrt", OP_SQRT, 1},
    {"abs", OP_ABS, 1},   {"sin", OP_SIN, 1},     {"cos", OP_COS, 1},     {"tan", OP_TAN, 1},
    {"asin", OP_ASIN, 1}, {"acos", OP_ACOS, 1},   {"atan", OP_ATAN, 1},   {"sinh", OP_SINH, 1},
    {"cosh", OP_COSH, 1}, {"tanh", OP_TANH, 1},   {"erf", OP_ERF, 1},     {"min", OP_MIN, 2},
    {"max", OP_MAX, 2},   {"hypot", OP_HYPOT, 2},
};
enum { FUNCTIONS = sizeof functions / sizeof functions[0] };

/* Postfix: operands first, so one stack does it. */
struct step {
    enum op op;
    double number;
    size_t variable;
};

struct num_formula {
    struct step *steps;
    size_t n, n_names;
};

/* ---- reading: one function a level of precedence -------------------------------------------- */

struct reader {
    const char *text, *at;
    const char *const *names;
    size_t n_names;
    struct num_formula *f;
    size_t deep;    /* brackets and signs inside one another */
    size_t waiting; /* values on the stack after the steps so far */
    struct error *err;
};

static int trouble(struct reader *r, const char *what) {
    return fail(r->err, ERR_INPUT, "Look at the help for what a formula may hold.",
                "Formula, letter %zu (\"%.12s\"): %s.", (size_t)(r->at - r->text) + 1,
                *r->at ? r->at : "end", what);
}

static int emit(struct reader *r, enum op op, double number, size_t variable, int takes) {
    r->waiting = r->waiting + 1 - (size_t)takes;
    if (r->waiting > NUM_FORMULA_DEPTH) return trouble(r, "too many values wait for one another");
    r->f->steps[r->f->n++] = (struct step){op, number, variable};
    return 0;
}

static void skip(struct reader *r) {
    while (isspace((unsigned char)*r->at))
        r->at++;
}
static bool next_is(struct reader *r, char c) {
    skip(r);
    if (*r->at != c) return false;
    r->at++;
    return true;
}

static int read_sum(struct reader *r);

static int read_call(struct reader *r, size_t which) {
    for (int k = 0; k < functions[which].arguments; k++) {
        int rc = k && !next_is(r, ',') ? trouble(r, "a comma was expected") : read_sum(r);
        if (rc) return rc;
    }
    if (!next_is(r, ')')) return trouble(r, "a closing bracket was expected");
    return emit(r, functions[which].op, 0, 0, functions[which].arguments);
}

static int unknown_name(struct reader *r, const char *word) {
    const char *all[FUNCTIONS + 64];
    size_t n = 0;
    for (size_t i = 0; i < r->n_names && n < 64; i++)
        all[n++] = r->names[i];
    for (size_t i = 0; i < FUNCTIONS; i++)
        all[n++] = functions[i].name;
    const char *near = field_nearest(word, all, n);
    char remedy[200] = "Add it to the variables.";
    if (near) snprintf(remedy, sizeof remedy, "Did you mean \"%.60s\"?", near);
    return fail(r->err, ERR_INPUT, remedy, "Formula: \"%.60s\" is not a variable or function.",
                word);
}

static int read_name(struct reader *r) {
    char word[64];
    size_t n = 0;
    while ((isalnum((unsigned char)*r->at) || *r->at == '_') && n + 1 < sizeof word)
        word[n++] = *r->at++;
    word[n] = 0;
    for (size_t i = 0; i < r->n_names; i++)
        if (strcmp(word, r->names[i]) == 0) return emit(r, OP_VARIABLE, 0, i, 0);
    if (strcmp(word, "pi") == 0) return emit(r, OP_NUMBER, M_PI, 0, 0);
    for (size_t i = 0; i < FUNCTIONS; i++)
        if (strcmp(word, functions[i].name) == 0)
            return next_is(r, '(') ? read_call(r, i)
                                   : trouble(r, "an opening bracket was expected");
    return unknown_name(r, word);
}

static int read_atom(struct reader *r) {
    skip(r);
    if (next_is(r, '(')) {
        int rc = read_sum(r);
        if (rc) return rc;
        return next_is(r, ')') ? 0 : trouble(r, "a closing bracket was expected");
    }
    if (isdigit((unsigned char)*r->at) || *r->at == '.') {
        char *end;
        double v = strtod(r->at, &end);
        if (end == r->at || r->at[1] == 'x' || r->at[1] == 'X')
            return trouble(r, "this is not a number");
        r->at = end;
        return emit(r, OP_NUMBER, v, 0, 0);
    }
    if (isalpha((unsigned char)*r->at) || *r->at == '_') return read_name(r);
    return trouble(r, "a number, a name or a bracket was expected");
}

static int read_signed(struct reader *r);

static int read_power(struct reader *r) {
    int rc = read_atom(r);
    if (rc || !next_is(r, '^')) return rc;
    if ((rc = read_signed(r))) return rc;
    return emit(r, OP_POWER, 0, 0, 2);
}

static int read_signed(struct reader *r) {
    if (++r->deep > NUM_FORMULA_DEPTH) return trouble(r, "brackets or signs nest too deeply");
    int rc;
    if (next_is(r, '-')) {
        rc = read_signed(r);
        if (!rc) rc = emit(r, OP_NEGATE, 0, 0, 1);
    } else if (next_is(r, '+'))
        rc = read_signed(r);
    else
        rc = read_power(r);
    r->deep--;
    return rc;
}

static int read_product(struct reader *r) {
    int rc = read_signed(r);
    while (!rc) {
        enum op op;
        if (next_is(r, '*'))
            op = OP_MULTIPLY;
        else if (next_is(r, '/'))
            op = OP_DIVIDE;
        else
            return 0;
        if (!(rc = read_signed(r))) rc = emit(r, op, 0, 0, 2);
    }
    return rc;
}

static int read_sum(struct reader *r) {
    int rc = read_product(r);
    while (!rc) {
        enum op op;
        if (next_is(r, '+'))
            op = OP_ADD;
        else if (next_is(r, '-'))
            op = OP_SUBTRACT;
        else
            return 0;
        if (!(rc = read_product(r))) rc = emit(r, op, 0, 0, 2);
    }
    return rc;
}

int num_formula_read(struct num_formula **out, const char *text, const char *const *names, size_t n,
                     struct arena *arena, struct error *err) {
    *out = NULL;
    size_t length = strlen(text);
    if (length > NUM_FORMULA_LENGTH)
        return fail(err, ERR_RANGE, "Split it.", "A formula of %zu letters; %d are allowed.",
                    length, NUM_FORMULA_LENGTH);
    struct num_formula *f = ARENA_NEW(arena, struct num_formula, 1);
    struct step *steps = ARENA_NEW(arena, struct step, length + 1); /* a letter or more each */
    if (!f || !steps) return fail_memory(err);
    f->steps = steps;
    f->n_names = n;
    struct reader r = {text, text, names, n, f, 0, 0, err};
    int rc = read_sum(&r);
    skip(&r);
    if (!rc && *r.at) rc = trouble(&r, "the formula should end here");
    if (!rc) *out = f;
    return rc;
}

/* ---- working out ---------------------------------------------------------------------------- */

static double apply(enum op op, double a, double b) {
    switch (op) {
    case OP_NEGATE:
        return -a;
    case OP_ADD:
        return a + b;
    case OP_SUBTRACT:
        return a - b;
    case OP_MULTIPLY:
        return a * b;
    case OP_DIVIDE:
        return a / b;
    case OP_POWER:
        return b == 2 ? a * a : b == 3 ? a * a * a : pow(a, b);
    case OP_EXP:
        return exp(a);
    case OP_LOG:
        return log(a);
    case OP_LOG10:
        return log10(a);
    case OP_SQRT:
        return sqrt(a);
    case OP_ABS:
        return fabs(a);
    case OP_SIN:
        return sin(a);
    case OP_COS:
        return cos(a);
    case OP_TAN:
        return tan(a);
    case OP_ASIN:
        return asin(a);
    case OP_ACOS:
        return acos(a);
    case OP_ATAN:
        return atan(a);
    case OP_SINH:
        return sinh(a);
    case OP_COSH:
        return cosh(a);
    case OP_TANH:
        return tanh(a);
    case OP_ERF:
        return erf(a);
    case OP_MIN:
        return a < b ? a : b;
    case OP_MAX:
        return a > b ? a : b;
    case OP_HYPOT:
        return hypot(a, b);
    default:
        return NAN;
    }
}

/* Slopes of the result v by its one or two operands. */
static void partials(enum op op, double a, double b, double v, double *by_a, double *by_b) {
    *by_b = 0;
    switch (op) {
    case OP_NEGATE:
        *by_a = -1;
        return;
    case OP_ADD:
        *by_a = *by_b = 1;
        return;
    case OP_SUBTRACT:
        *by_a = 1;
        *by_b = -1;
        return;
    case OP_MULTIPLY:
        *by_a = b;
        *by_b = a;
        return;
    case OP_DIVIDE:
        *by_a = 1 / b;
        *by_b = -v / b;
        return;
    case OP_POWER:
        *by_a = b == 0 ? 0 : b * pow(a, b - 1);
        *by_b = a > 0 ? v * log(a) : 0; /* of a constant exponent it is not used */
        return;
    case OP_EXP:
        *by_a = v;
        return;
    case OP_LOG:
        *by_a = 1 / a;
        return;
    case OP_LOG10:
        *by_a = M_LOG10E / a;
        return;
    case OP_SQRT:
        *by_a = 0.5 / v;
        return;
    case OP_ABS:
        *by_a = a < 0 ? -1 : 1;
        return;
    case OP_SIN:
        *by_a = cos(a);
        return;
    case OP_COS:
        *by_a = -sin(a);
        return;
    case OP_TAN:
        *by_a = 1 + v * v;
        return;
    case OP_ASIN:
        *by_a = 1 / sqrt(1 - a * a);
        return;
    case OP_ACOS:
        *by_a = -1 / sqrt(1 - a * a);
        return;
    case OP_ATAN:
        *by_a = 1 / (1 + a * a);
        return;
    case OP_SINH:
        *by_a = cosh(a);
        return;
    case OP_COSH:
        *by_a = sinh(a);
        return;
    case OP_TANH:
        *by_a = 1 - v * v;
        return;
    case OP_ERF:
        *by_a = M_2_SQRTPI * exp(-a * a);
        return;
    case OP_MIN:
        *by_a = a < b;
        *by_b = !(a < b);
        return;
    case OP_MAX:
        *by_a = a > b;
        *by_b = !(a > b);
        return;
    case OP_HYPOT:
        *by_a = a / v;
        *by_b = b / v;
        return;
    default:
        *by_a = NAN;
    }
}

static bool takes_two(enum op op) {
    return (op >= OP_ADD && op <= OP_POWER) || op >= OP_MIN;
}

double num_formula_value(const struct num_formula *f, const double *x) {
    double stack[NUM_FORMULA_DEPTH + 1];
    size_t top = 0;
    for (size_t i = 0; i < f->n; i++) {
        const struct step *s = &f->steps[i];
        if (s->op == OP_NUMBER)
            stack[top++] = s->number;
        else if (s->op == OP_VARIABLE)
            stack[top++] = x[s->variable];
        else if (takes_two(s->op)) {
            top--;
            stack[top - 1] = apply(s->op, stack[top - 1], stack[top]);
        } else
            stack[top - 1] = apply(s->op, stack[top - 1], 0);
    }
    return stack[0];
}

double num_formula_slopes(const struct num_formula *f, const double *x, const size_t *by,
                          size_t n_by, double *slope) {
    double stack[NUM_FORMULA_DEPTH + 1];
    double d[NUM_FORMULA_DEPTH + 1][NUM_FORMULA_SLOPES];
    size_t top = 0;
    if (n_by > NUM_FORMULA_SLOPES) n_by = NUM_FORMULA_SLOPES;
    for (size_t i = 0; i < f->n; i++) {
        const struct step *s = &f->steps[i];
        if (s->op == OP_NUMBER || s->op == OP_VARIABLE) {
            stack[top] = s->op == OP_NUMBER ? s->number : x[s->variable];
            for (size_t k = 0; k < n_by; k++)
                d[top][k] = s->op == OP_VARIABLE && by[k] == s->variable;
            top++;
            continue;
        }
        bool two = takes_two(s->op);
        if (two) top--;
        double a = stack[top - 1], b = two ? stack[top] : 0, da, db;
        double v = apply(s->op, a, b);
        partials(s->op, a, b, v, &da, &db);
        for (size_t k = 0; k < n_by; k++) {
            /* An operand that does not depend on it adds nothing, even where its slope is infinite.
             */
            double sum = d[top - 1][k] != 0 ? da * d[top - 1][k] : 0;
            if (two && d[top][k] != 0) sum += db * d[top][k];
            d[top - 1][k] = sum;
        }
        stack[top - 1] = v;
    }
    for (size_t k = 0; k < n_by; k++)
        slope[k] = d[0][k];
    return stack[0];
}
