/* The method `diffusion`: moisture of a sheet by the hour. */
#include "stuff/diffusion.h"
#include "stuff/moisture.h"
#include "stuff/stuff_methods.h"

#include <math.h>

#define AT(of, member) .name = #member, .offset = offsetof(struct of, member)

static const struct field layer_fields[] = {
    {AT(stuff_moist_layer, thickness), .label = "Thickness", .unit = "mm", .type = FIELD_REAL,
     .required = true, .min = 0, .max = 1000, .above_min = true, .help = "From the inner face out.",
     .example = "4"},
    {AT(stuff_moist_layer, diffusion), .label = "Diffusion coefficient", .unit = "m2/s",
     .type = FIELD_REAL, .required = true, .scale = 1e6, .min = 0, .max = 1e-3, .above_min = true,
     .help = "Through the thickness, at 12 % moisture.", .example = "1.5e-11"},
    {AT(stuff_moist_layer, growth), .label = "Growth with moisture", .type = FIELD_REAL,
     .preset = "0", .min = -50, .max = 50,
     .help = "D = D12 exp(growth (u - 0.12)) up to fibre saturation; 0: constant.", .example = "0"},
    {AT(stuff_moist_layer, free), .label = "Above fibre saturation", .unit = "m2/s",
     .type = FIELD_REAL, .scale = 1e6, .preset = "0", .min = 0, .max = 1e-3,
     .help = "Coefficient while there is free water; 0: as below.", .example = "1e-10"},
    {AT(stuff_moist_layer, saturation), .label = "Fibre saturation",
     .unit = "percent of ovendry mass", .type = FIELD_REAL, .scale = 0.01, .preset = "30",
     .min = 10, .max = 80, .help = "Where the two coefficients meet, as moisture of wood.",
     .example = "27"},
    {AT(stuff_moist_layer, density), .label = "Dry density", .unit = "kg/m3", .type = FIELD_REAL,
     .preset = "500", .scale = 1e-6, .min = 1, .max = 3000,
     .help = "Weighs layers against each other.", .example = "450"},
    {AT(stuff_moist_layer, sorption), .label = "Sorption", .type = FIELD_REAL, .preset = "1",
     .min = 0.01, .max = 10, .help = "Resting moisture over that of wood; cork about 0.5.",
     .example = "1"},
};
static const struct kind layer_kind = {"moist_layer", "A layer", sizeof(struct stuff_moist_layer),
                                       FIELDS(layer_fields), ""};

static const char *const face_words[] = {"both faces", "inner face", "outer face", NULL};

struct diffusion_in {
    struct records layers;
    double from, to, temperature, humidity, surface;
    long open;
    struct reals hours;
};
static const struct field in_fields[] = {
    {AT(diffusion_in, layers), .label = "Layers", .type = FIELD_RECORDS, .sub = &layer_kind,
     .required = true, .help = "From the inner face out; wood has one."},
    {AT(diffusion_in, from), .label = "Moisture at first", .unit = "percent of ovendry mass",
     .type = FIELD_REAL, .scale = 0.01, .min = 0, .max = 400, .preset = "90",
     .help = "Even throughout.", .example = "90"},
    {AT(diffusion_in, to), .label = "Moisture at rest", .unit = "percent of ovendry mass",
     .type = FIELD_REAL, .scale = 0.01, .min = 0, .max = 400,
     .help = "Give this, or temperature and humidity.", .example = "12"},
    {AT(diffusion_in, temperature), .label = "Temperature", .unit = "°C", .type = FIELD_REAL,
     .preset = "20", .min = -10, .max = 100, .help = "Of the air."},
    {AT(diffusion_in, humidity), .label = "Relative humidity", .unit = "percent",
     .type = FIELD_REAL, .scale = 0.01, .min = 0, .max = 99, .help = "Of the air.",
     .example = "60"},
    {AT(diffusion_in, surface), .label = "Surface coefficient", .unit = "m/s", .type = FIELD_REAL,
     .scale = 1e3, .min = 0, .max = 1, .above_min = true,
     .help = "Still to moving air 5e-8 to 5e-7; not given: the face follows the air at once.",
     .example = "1.5e-7"},
    {AT(diffusion_in, open), .label = "Open to the air", .type = FIELD_CHOICE,
     .choices = face_words, .preset = "both faces",
     .help = "The other face is sealed, or lies on something tight."},
    {AT(diffusion_in, hours), .label = "When", .unit = "h", .type = FIELD_REALS, .required = true,
     .help = "Hours after the beginning, rising.", .example = "[1, 6, 24, 72, 168]"},
};
static const struct kind in_kind = {"diffusion_in", "A wet sheet in steady air",
                                    sizeof(struct diffusion_in), FIELDS(in_fields), ""};

struct diffusion_out {
    struct reals hours, mean, inner, middle, outer, series;
    double rest, half, nine_tenths;
    const char *note;
};
#define LIST(member, words, tip)                                                                   \
    {                                                                                              \
        AT(diffusion_out, member), .label = words, .unit = "percent of ovendry mass",              \
                                   .type = FIELD_REALS, .scale = 0.01, .help = tip                 \
    }
static const struct field out_fields[] = {
    {AT(diffusion_out, hours), .label = "When", .unit = "h", .type = FIELD_REALS,
     .help = "As asked."},
    LIST(mean, "Mean moisture", "Of the whole thickness: what weighing shows."),
    LIST(inner, "At the inner face", "Moisture of wood in the same air."),
    LIST(middle, "In the middle", "Moisture of wood in the same air."),
    LIST(outer, "At the outer face", "Moisture of wood in the same air."),
    LIST(series, "Mean moisture by the series", "Only for one layer with a constant D: a check."),
    {AT(diffusion_out, rest), .label = "At rest", .unit = "percent of ovendry mass",
     .type = FIELD_REAL, .scale = 0.01, .help = "Mean moisture in the end."},
    {AT(diffusion_out, half), .label = "Half of the change", .unit = "h", .type = FIELD_REAL,
     .scale = 3600, .help = "One layer with a constant D."},
    {AT(diffusion_out, nine_tenths), .label = "Nine tenths of the change", .unit = "h",
     .type = FIELD_REAL, .scale = 3600, .help = "One layer with a constant D."},
    {AT(diffusion_out, note), .label = "Note", .type = FIELD_TEXT, .help = "What to mind."},
};
static const struct kind out_kind = {"diffusion_out", "Its moisture in time",
                                     sizeof(struct diffusion_out), FIELDS(out_fields), ""};

static int times_check(const struct reals *hours, struct error *err) {
    if (!hours->n || hours->n > 10000)
        return fail(err, ERR_RANGE, "Give 1 to 10000 hours.", "%zu times", hours->n);
    for (size_t i = 0; i < hours->n; i++)
        if (!(hours->v[i] >= (i ? hours->v[i - 1] : 0)) || hours->v[i] > 1e6)
            return fail(err, ERR_RANGE, "Give hours from 0 on, rising.", "Time %zu is %g h", i + 1,
                        hours->v[i]);
    return 0;
}

/* One even layer with constant D: the series, as a check and for the times. */
static void series(const struct diffusion_in *in, struct diffusion_out *out) {
    const struct stuff_moist_layer *l = in->layers.v;
    double length = in->open == 0 ? l->thickness / 2 : l->thickness;
    double biot = isnan(in->surface) ? INFINITY : in->surface * length / l->diffusion;
    double unit = length * length / l->diffusion;
    for (size_t i = 0; i < in->hours.n; i++) {
        double share = stuff_biot_mean(biot, in->hours.v[i] * 3600 / unit);
        out->series.v[i] = l->sorption * (in->from + share * (in->to - in->from));
    }
    out->half = unit * stuff_biot_time(biot, 0.5);
    out->nine_tenths = unit * stuff_biot_time(biot, 0.9);
}

enum { STEPS = 400 }; /* of each stretch between two asked times, growing from small */

static void march(const struct diffusion_in *in, struct diffusion_out *out, struct stuff_moist *m) {
    struct stuff_moist_face shut = {0, 0},
                            air = {isnan(in->surface) ? INFINITY : in->surface, in->to};
    size_t n = stuff_moist_cells(m);
    double now = 0;
    stuff_moist_fill(m, in->from);
    for (size_t i = 0; i < in->hours.n; i++) {
        double then = in->hours.v[i] * 3600;
        if (then > now)
            stuff_moist_run(m, then - now, STEPS, in->open == 2 ? shut : air,
                            in->open == 1 ? shut : air);
        now = then;
        out->mean.v[i] = stuff_moist_mean(m);
        out->inner.v[i] = stuff_moist_at(m, 0);
        out->middle.v[i] = stuff_moist_at(m, n / 2);
        out->outer.v[i] = stuff_moist_at(m, n - 1);
    }
    stuff_moist_fill(m, in->to);
    out->rest = stuff_moist_mean(m);
}

static int lists(struct diffusion_out *out, size_t n, bool with_series, struct arena *arena) {
    struct reals *all[] = {&out->mean, &out->inner, &out->middle, &out->outer, &out->series};
    for (size_t i = 0; i < (with_series ? 5u : 4u); i++) {
        all[i]->v = ARENA_NEW(arena, double, n);
        if (!all[i]->v) return ERR_MEMORY;
        all[i]->n = n;
    }
    return 0;
}

static int run(const void *in_, void *out_, struct arena *arena, struct error *err) {
    struct diffusion_in in = *(const struct diffusion_in *)in_;
    struct diffusion_out *out = out_;
    int rc = times_check(&in.hours, err);
    if (rc) return rc;
    if (isnan(in.to) == isnan(in.humidity))
        return fail(err, ERR_USAGE, "Give `to`, or temperature and humidity.",
                    "Both or neither of moisture at rest and humidity were given");
    if (isnan(in.to)) in.to = stuff_emc(in.temperature, in.humidity);
    const struct stuff_moist_layer *l = in.layers.v;
    bool plain = in.layers.n == 1 && l[0].growth == 0 && l[0].free == 0;
    if (lists(out, in.hours.n, plain, arena)) return fail_memory(err);
    struct stuff_moist *m;
    rc = stuff_moist_new(&m, l, in.layers.n, arena, err);
    if (rc) return rc;
    out->hours = in.hours;
    march(&in, out, m);
    if (plain) series(&in, out);
    out->note =
        "Diffusion coefficients are known within a factor of 3 to 10: weigh a strip each day "
        "and fit D to its curve.";
    return 0;
}

const struct method stuff_method_diffusion = {
    "diffusion",
    "Moisture through the thickness of a sheet by the hour",
    "Crank, The Mathematics of Diffusion, 4.17 to 4.20 and 4.53; finite volumes, implicit Euler",
    "Layers may differ in D, density and sorption. Edges and cut ends dry first and are not in "
    "this: "
    "they matter within about three thicknesses.",
    &in_kind,
    &out_kind,
    run,
    "{\"layers\": [{\"thickness\": 4, \"diffusion\": 1.5e-11, \"density\": 450}, "
    "{\"thickness\": 1.5, \"diffusion\": 2e-12, \"density\": 450, \"sorption\": 0.6}], "
    "\"from\": 90, \"humidity\": 60, \"surface\": 1.5e-7, \"hours\": [1, 6, 24, 72, 168, 336]}"};
