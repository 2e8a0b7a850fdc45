/* The methods `emc` and `wood-density`. */
#include "stuff/moisture.h"
#include "stuff/stuff_methods.h"

#include <math.h>

#define AT(of, member) .name = #member, .offset = offsetof(struct of, member)

/* ---- emc ------------------------------------------------------------------------------------ */

struct emc_in {
    double temperature, humidity, moisture;
};
static const struct field emc_in_fields[] = {
    {AT(emc_in, temperature), .label = "Temperature", .unit = "°C", .type = FIELD_REAL,
     .preset = "20", .min = -10, .max = 100, .help = "Of the air.", .example = "21.1"},
    {AT(emc_in, humidity), .label = "Relative humidity", .unit = "percent", .type = FIELD_REAL,
     .scale = 0.01, .min = 0, .max = 99.5, .help = "Give this, or the moisture.", .example = "65"},
    {AT(emc_in, moisture), .label = "Moisture", .unit = "percent of ovendry mass",
     .type = FIELD_REAL, .scale = 0.01, .min = 0, .max = 30,
     .help = "Give this to learn at which humidity wood rests at it.", .example = "12"},
};
static const struct kind emc_in_kind = {"emc_in", "Air, or the moisture wood came to",
                                        sizeof(struct emc_in), FIELDS(emc_in_fields), ""};

struct emc_out {
    double moisture, moisture_f, moisture_other, humidity, cork;
    const char *note;
};
static const struct field emc_out_fields[] = {
    {AT(emc_out, moisture), .label = "Resting moisture", .unit = "percent of ovendry mass",
     .type = FIELD_REAL, .scale = 0.01,
     .help = "Of wood, and of inner bark when it takes up water; Eq 4-5, which this program uses."},
    {AT(emc_out, moisture_f), .label = "With the coefficients for °F",
     .unit = "percent of ovendry mass", .type = FIELD_REAL, .scale = 0.01,
     .help = "The same equation; agrees within 0.02."},
    {AT(emc_out, moisture_other), .label = "By the other published fit",
     .unit = "percent of ovendry mass", .type = FIELD_REAL, .scale = 0.01,
     .help = "Eq 4-6; differs by up to 2 in cold damp air. Never mix the two."},
    {AT(emc_out, humidity), .label = "Relative humidity", .unit = "percent", .type = FIELD_REAL,
     .scale = 0.01, .help = "At which wood rests at the moisture."},
    {AT(emc_out, cork), .label = "Of cork and outer birch bark", .unit = "percent of ovendry mass",
     .type = FIELD_REAL, .scale = 0.01,
     .help =
         "About half of wood's: by analogy with cork of Quercus variabilis, 0.35 to 0.75 of it."},
    {AT(emc_out, note), .label = "Note", .type = FIELD_TEXT, .help = "How good it is."},
};
static const struct kind emc_out_kind = {"emc_out", "Resting moisture", sizeof(struct emc_out),
                                         FIELDS(emc_out_fields), ""};

#define CORK_OF_WOOD 0.5 /* data/material_defaults.csv, emc_factor of outer bark */

static int emc_run(const void *in_, void *out_, struct arena *arena, struct error *err) {
    (void)arena;
    const struct emc_in *in = in_;
    struct emc_out *out = out_;
    double h = in->humidity;
    if (isnan(h) == isnan(in->moisture))
        return fail(err, ERR_USAGE, "Give humidity or moisture, one of them.",
                    "Both or neither of humidity and moisture were given");
    if (isnan(h)) {
        int rc = stuff_humidity(&h, in->temperature, in->moisture, err);
        if (rc) return rc;
    }
    out->humidity = h;
    out->moisture = stuff_emc(in->temperature, h);
    out->moisture_f = stuff_emc_f(in->temperature * 9 / 5 + 32, h);
    out->moisture_other = h > 0 ? stuff_emc_glass(in->temperature, h) : 0;
    out->cork = CORK_OF_WOOD * out->moisture;
    out->note = "Fitted to sorption data within 0.13 on average, never off by more than 0.9; wood "
                "that dries rests 1 to 3 higher than wood that takes up water.";
    return 0;
}

const struct method stuff_method_emc = {
    "emc",
    "Resting moisture of wood in air, and the humidity behind a moisture",
    "Wood Handbook FPL-GTR-282 Eq 4-5, 4-6 (Simpson 1973, 1998; Glass and others 2014)",
    "Thin wood in steady air comes to this moisture; a museum case and a workshop differ by a few "
    "points, and each point is about a quarter of a percent across the grain.",
    &emc_in_kind,
    &emc_out_kind,
    emc_run,
    "{\"temperature\": 21.1, \"humidity\": 65}"};

/* ---- wood-density --------------------------------------------------------------------------- */

struct density_in {
    double basic_gravity, gravity, moisture, waterlogged, cell_wall;
};
static const struct field density_in_fields[] = {
    {AT(density_in, basic_gravity), .label = "Basic gravity", .type = FIELD_REAL, .min = 0.02,
     .max = 1.4, .help = "Ovendry mass over green volume, against water.", .example = "0.5"},
    {AT(density_in, gravity), .label = "Gravity at the moisture", .type = FIELD_REAL, .min = 0.02,
     .max = 1.5, .help = "Ovendry mass over the volume it has at `moisture`.", .example = "0.6"},
    {AT(density_in, moisture), .label = "Moisture", .unit = "percent of ovendry mass",
     .type = FIELD_REAL, .scale = 0.01, .min = 0, .max = 1500, .preset = "12",
     .help = "For the density asked for.", .example = "12"},
    {AT(density_in, waterlogged), .label = "Water content, waterlogged",
     .unit = "percent of ovendry mass", .type = FIELD_REAL, .scale = 0.01, .min = 20, .max = 1500,
     .help = "Of a fully waterlogged piece: gives its basic gravity.", .example = "400"},
    {AT(density_in, cell_wall), .label = "Gravity of the cell wall", .type = FIELD_REAL, .min = 1.2,
     .max = 1.6, .preset = "1.54",
     .help = "1.54 in the handbook's equation, 1.50 in its printed range; decayed walls less.",
     .example = "1.54"},
};
static const struct kind density_in_kind = {"density_in", "What is known of the wood",
                                            sizeof(struct density_in), FIELDS(density_in_fields),
                                            ""};
struct density_out {
    double basic_gravity, gravity, density, moisture_most, moisture_sinks, volume_shrinkage;
};
static const struct field density_out_fields[] = {
    {AT(density_out, basic_gravity), .label = "Basic gravity", .type = FIELD_REAL,
     .help = "Ovendry mass over green volume."},
    {AT(density_out, gravity), .label = "Gravity at the moisture", .type = FIELD_REAL,
     .help = "Eq 4-13."},
    {AT(density_out, density), .label = "Density with its water", .unit = "kg/m3",
     .type = FIELD_REAL, .scale = 1e-6, .help = "Eq 4-14."},
    {AT(density_out, moisture_most), .label = "Most water it can hold",
     .unit = "percent of ovendry mass", .type = FIELD_REAL, .scale = 0.01, .help = "Eq 4-3."},
    {AT(density_out, moisture_sinks), .label = "Moisture above which it sinks",
     .unit = "percent of ovendry mass", .type = FIELD_REAL, .scale = 0.01, .help = "Eq 4-4."},
    {AT(density_out, volume_shrinkage), .label = "Volume shrinkage, green to ovendry",
     .unit = "percent", .type = FIELD_REAL, .scale = 0.01,
     .help = "Eq 4-12: 26.5 per unit of gravity."},
};
static const struct kind density_out_kind = {
    "density_out", "Density and water", sizeof(struct density_out), FIELDS(density_out_fields), ""};

static int density_run(const void *in_, void *out_, struct arena *arena, struct error *err) {
    (void)arena;
    const struct density_in *in = in_;
    struct density_out *out = out_;
    double gb = in->basic_gravity;
    if (!isnan(in->waterlogged)) gb = stuff_gravity_waterlogged(in->waterlogged, in->cell_wall);
    if (isnan(gb) && !isnan(in->gravity)) gb = stuff_gravity_basic(in->gravity, in->moisture);
    if (isnan(gb))
        return fail(err, ERR_MISSING, "Give basic_gravity, gravity or waterlogged.",
                    "Nothing to reckon the density from");
    if (gb >= in->cell_wall)
        return fail(err, ERR_RANGE, "Check the value: wood is lighter than its cell wall.",
                    "A basic gravity of %g", gb);
    out->basic_gravity = gb;
    out->gravity = isnan(in->gravity) ? stuff_gravity_at(gb, in->moisture) : in->gravity;
    out->density = stuff_density(out->gravity, in->moisture);
    out->moisture_most = stuff_moisture_most(gb, in->cell_wall);
    out->moisture_sinks = stuff_moisture_sinks(gb);
    out->volume_shrinkage = 0.265 * gb;
    return 0;
}

const struct method stuff_method_wood_density = {
    "wood-density",
    "Density of wood with its water, the most it can hold, and gravity from waterlogging",
    "Wood Handbook FPL-GTR-282 Eq 4-3, 4-4, 4-12 to 4-14",
    "Water content of waterlogged wood tells how much wood substance is left; the classes used for "
    "oak do not carry over to other species.",
    &density_in_kind,
    &density_out_kind,
    density_run,
    "{\"gravity\": 0.6, \"moisture\": 12}"};
