/* material: what is known beforehand about a material, as a distribution with standing and source.
 *
 * The one place other rooms ask. A value the person's own team measured stands before any table;
 * then come the tables, with what stands in for a missing row lowered in standing and widened. What
 * is a guess says so. A material is never given the figures of another class: wood's figures are
 * not offered for bark, bast or hide, and the layers of bark are kept apart.
 * All texts in a prior are borrowed from the shelf or lie in the struct. Thread-safe.
 *
 *     struct stuff_ask ask = stuff_ask("Corylus avellana (split rod)", STUFF_SHRINKAGE);
 *     ask.direction = STUFF_AROUND; ask.state = STUFF_DRY;
 *     struct stuff_prior p;
 *     if (stuff_material_prior(&p, shelf, &ask, err)) ...
 *     p.dist, standing_words[p.standing], p.source, p.basis
 */
#ifndef RELICT_STUFF_MATERIAL_H
#define RELICT_STUFF_MATERIAL_H

#include "num/dist.h"
#include "stuff/table.h"
#include "stuff/wood.h"

enum stuff_class {
    STUFF_WOOD,
    STUFF_BARK,       /* whole bark sheet: bast inside, outer bark (cork, dead phloem) outside */
    STUFF_OUTER_BARK, /* the peelable outer sheet of birch: cork only */
    STUFF_BAST,       /* strips and cord of inner bark or plant fibre */
    STUFF_HIDE,
    STUFF_SINEW,
    STUFF_CLASS_COUNT
};
extern const char *const stuff_class_words[];

/* Name and house unit of each property. */
#define STUFF_PROPERTY_LIST(X)                                                                     \
    X(STUFF_SHRINKAGE, "shrinkage", "fraction") /* fresh to the asked state, of fresh size */      \
    X(STUFF_E, "E", "MPa")                      /* stiffness in a direction */                     \
    X(STUFF_G, "G", "MPa")                      /* shear, along with the asked direction */        \
    X(STUFF_POISSON, "poisson", "")             /* shrink sideways under pull along */             \
    X(STUFF_TENSION, "strength_tension", "MPa")                                                    \
    X(STUFF_COMPRESSION, "strength_compression", "MPa")                                            \
    X(STUFF_SHEAR, "strength_shear", "MPa")               /* along the grain: splitting */         \
    X(STUFF_BENDING, "strength_bending", "MPa")           /* rupture modulus */                    \
    X(STUFF_BEARING, "bearing_strength", "MPa")           /* of a cord or peg in a hole */         \
    X(STUFF_BEND_STRAIN, "bend_strain_limit", "fraction") /* at mid thickness, at first crack */   \
    X(STUFF_DENSITY_BASIC, "density_basic", "g/mm3")      /* ovendry mass, fresh volume */         \
    X(STUFF_DENSITY, "density", "g/mm3") /* with the water in it, in the asked state */            \
    X(STUFF_MOISTURE_GREEN, "moisture_green", "fraction")                                          \
    X(STUFF_SATURATION, "fibre_saturation", "fraction")                                            \
    X(STUFF_EMC_FACTOR, "emc_factor", "") /* resting moisture against wood's */                    \
    X(STUFF_DIFFUSION, "diffusion_coefficient", "mm2/s")                                           \
    X(STUFF_SURFACE, "surface_coefficient", "mm/s")                                                \
    X(STUFF_RELAXED_SHARE, "relaxed_share", "fraction")                                            \
    X(STUFF_RELAXATION_TIME, "relaxation_time", "s")                                               \
    X(STUFF_SET_SHARE, "set_share", "fraction") /* of a forced curvature, kept when dried */       \
    X(STUFF_GROWTH_STRAIN, "growth_strain", "fraction") /* outer minus inner face, at release */   \
    X(STUFF_OUTER_SHARE, "outer_share", "fraction")     /* of the thickness of whole bark */       \
    X(STUFF_FRICTION, "friction", "")                                                              \
    X(STUFF_STRETCH, "stretch_at_break", "fraction")                                               \
    X(STUFF_WET_TO_DRY, "strength_wet_to_dry", "") /* ratio of strengths along */

#define STUFF_PROPERTY_ENUM(id, name, unit) id,
enum stuff_property { STUFF_PROPERTY_LIST(STUFF_PROPERTY_ENUM) STUFF_PROPERTY_COUNT };
#undef STUFF_PROPERTY_ENUM
extern const char *const stuff_property_words[], *const stuff_property_units[];

/* In the order of the words a person uses for a measure. Across: nobody knows which of around
 * (tangential, girth) and through (radial); then the answer is wide. */
enum stuff_direction { STUFF_ALONG, STUFF_AROUND, STUFF_THROUGH, STUFF_ACROSS };
extern const char *const stuff_direction_words[];

enum stuff_state { STUFF_FRESH, STUFF_SOAKED, STUFF_STEAMED, STUFF_DRY, STUFF_OVENDRY };
extern const char *const stuff_state_words[];

/* Layer of bark: whole sheet, inner bark, dead outer bark. */
enum stuff_layer { STUFF_WHOLE, STUFF_BAST_LAYER, STUFF_OUTER_LAYER };
extern const char *const stuff_layer_words[];

struct stuff_ask {
    const char *material; /* as in a finds list: "Tilia sp.? / Ulmus sp.? bark" */
    long class;           /* enum stuff_class; FIELD_UNKNOWN: read from the text */
    long layer;           /* enum stuff_layer; FIELD_UNKNOWN stands for whole */
    long property;        /* enum stuff_property */
    long direction;       /* enum stuff_direction; FIELD_UNKNOWN stands for across (or none) */
    long state;           /* enum stuff_state; FIELD_UNKNOWN stands for dry */
};

struct stuff_prior {
    struct num_dist dist; /* in `unit` */
    double median, p05, p95;
    const char *unit;
    long standing;     /* enum standing */
    long class;        /* enum stuff_class it was asked for */
    const char *table; /* the row it rests on: "data/bark_defaults.csv" */
    long line;
    const char *source, *note;
    char basis[240]; /* what was done to get here: "average of the genus Salix; ..." */
};

enum { STUFF_ALTERNATIVES = 4 };

/* What a material's name was taken for. */
struct stuff_material {
    long class; /* enum stuff_class; FIELD_UNKNOWN when the text does not say */
    bool young; /* a rod or withy of one or two years */
    size_t n;   /* alternatives: "Tilia / Ulmus" has two; at least one */
    struct stuff_taxon taxon[STUFF_ALTERNATIVES];
};

/* An ask with everything but material and property unknown. */
struct stuff_ask stuff_ask(const char *material, enum stuff_property property);

/* Reads a material's name. Never fails: what it does not recognise stays unknown. */
struct stuff_material stuff_material_read(const struct stuff_shelf *shelf, const char *text);

/* Gives the prior. ERR_MISSING when class or value is unknown (says what to measure), ERR_REFUSED
 * for a property that has no meaning there. */
int stuff_material_prior(struct stuff_prior *out, const struct stuff_shelf *shelf,
                         const struct stuff_ask *ask, struct error *err);

/* Makes a prior of three points; standing, source and note must be set by the caller. */
int stuff_prior_points(struct stuff_prior *out, enum num_family family, double median, double p05,
                       double p95, struct error *err);

/* Pools n priors of which one is right but nobody knows which: as wide as all together, standing
 * of the weakest. */
int stuff_prior_pool(struct stuff_prior *out, const struct stuff_prior *of, size_t n,
                     struct error *err);

/* Scales a prior by a factor (1 for none). */
void stuff_prior_scale(struct stuff_prior *p, double factor);

#endif
