/* bark: sheets of bark as two layers, and what is known of them beforehand.
 *
 * Whole bark is bast (inner bark, living, wet) under outer bark (dead phloem and cork), each with
 * its own stiffness, shrinkage and diffusion. Figures of the layers come from
 * data/bark_defaults.csv (mostly analogies and guesses: shown as such); those of the whole sheet
 * follow from the layers by their shares of the thickness. The peelable outer sheet of birch is a
 * material of its own. Moduli in MPa, lengths in mm, strains as fractions.
 */
#ifndef RELICT_STUFF_BARK_H
#define RELICT_STUFF_BARK_H

#include "stuff/material.h"

/* One sheet, as layers from the inner face out. */
struct stuff_bark_layer {
    double thickness; /* mm, fresh */
    double e_along, e_around, g;
    double nu; /* strain around under pull along */
};

/* The sheet's fissures, as grooves along the grain in the outer face. */
struct stuff_fissures {
    double depth;   /* mm */
    double spacing; /* mm, centre to centre */
    double width;   /* mm, of the open groove */
};

/* Prior of a bark property; called by stuff_material_prior. Layer whole of E and shrinkage is
 * worked out from the two layers. Unknown species: wide enough for willow, lime, elm and poplar. */
int stuff_bark_prior(struct stuff_prior *out, const struct stuff_shelf *shelf, long class,
                     struct stuff_taxon taxon, const struct stuff_ask *ask, struct error *err);

/* Single thickness of fresh whole bark (or of birch's peelable sheet) on a stem of this diameter
 * over bark, mm: power law through the points at 150, 300 and 500 mm. */
int stuff_bark_thickness(struct stuff_prior *out, const struct stuff_shelf *shelf,
                         const char *material, double diameter, struct error *err);

/* Shrinkage of two bonded layers in one direction: weighted by stiffness times thickness. */
double stuff_bark_shrinkage(double bast_e, double bast_shrinkage, double outer_e,
                            double outer_shrinkage, double outer_share);

/* Stiffness of two bonded layers in the plane of the sheet, by shares of thickness. */
double stuff_bark_stiffness(double bast_e, double outer_e, double outer_share);

/* What is left of a property across fissures: share of the thickness that carries tension around
 * (net thickness at the groove), and of the bending stiffness around (grooves and ridges in
 * series, cubic in thickness). Along the grain the loss is only the missing area. Values 0 to 1;
 * ERR_RANGE when a fissure is deeper than the sheet or wider than its spacing. */
struct stuff_fissured {
    double tension_around, bending_around, tension_along, bending_along;
};
int stuff_bark_fissured(struct stuff_fissured *out, double thickness,
                        const struct stuff_fissures *fissures, struct error *err);

/* Rows of the tables of distributions, for the files of stuff/. */
const struct stuff_fact *stuff_default_row(const struct stuff_shelf *shelf, const char *material,
                                           const char *layer, const char *property, long direction,
                                           long state);
int stuff_default_prior(struct stuff_prior *out, const struct stuff_shelf *shelf,
                        const char *material, const char *layer, const struct stuff_ask *ask,
                        struct error *err);

#endif
