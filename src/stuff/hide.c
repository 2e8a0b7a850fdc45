#include "stuff/hide.h"

#include <math.h>

double stuff_hide_dry_mass(double green_mass, double dry_share, double moisture) {
    return green_mass * dry_share * (1 + moisture);
}

static int ask_of(struct stuff_prior *p, const struct stuff_shelf *shelf, const char *material,
                  enum stuff_property property, long state, struct error *err) {
    struct stuff_ask ask = stuff_ask(material, property);
    ask.direction = STUFF_ALONG;
    ask.state = state;
    return stuff_material_prior(p, shelf, &ask, err);
}

/* Of a stress that builds up while the material is still soft and wet most is relaxed: leather
 * dried under strain keeps its set (J. Mater. Sci. 35, 2000, in kind). A guess, and wide. */
#define KEPT 0.3
#define KEPT_LOG_SD 0.5

int stuff_hide_tightening(struct stuff_tightening *out, const struct stuff_shelf *shelf,
                          const char *material, double wet_section, struct error *err) {
    struct stuff_prior s, through, wet, dry, strength;
    if (!(wet_section > 0 && wet_section < 1e4))
        return fail(err, ERR_RANGE, "Give width times thickness of the wet lacing in mm2.",
                    "A lacing of %g mm2", wet_section);
    int rc = ask_of(&s, shelf, material, STUFF_SHRINKAGE, STUFF_DRY, err);
    if (!rc) rc = ask_of(&wet, shelf, material, STUFF_E, STUFF_FRESH, err);
    if (!rc) rc = ask_of(&dry, shelf, material, STUFF_E, STUFF_DRY, err);
    if (!rc) rc = ask_of(&strength, shelf, material, STUFF_TENSION, STUFF_DRY, err);
    if (rc) return rc;
    struct stuff_ask a = stuff_ask(material, STUFF_SHRINKAGE);
    a.direction = STUFF_THROUGH;
    a.state = STUFF_DRY;
    rc = stuff_material_prior(&through, shelf, &a, NULL);
    double dry_section = wet_section * (1 - s.median) * (1 - (rc ? 0.4 : through.median));
    double e = (dry.median - wet.median) / log(dry.median / wet.median);
    out->free_shortening = s.median;
    out->breaks_at = strength.median * dry_section;
    double pull = KEPT * e * s.median * dry_section;
    double z95 = 1.6448536269514722;
    double log_sd =
        hypot(hypot(log(s.p95 / s.median) / z95, log(dry.p95 / dry.median) / z95), KEPT_LOG_SD);
    out->pull = fmin(pull, out->breaks_at);
    out->pull_p05 = fmin(pull * exp(-z95 * log_sd), out->breaks_at);
    out->pull_p95 = fmin(pull * exp(z95 * log_sd), strength.p95 * dry_section);
    out->standing = STANDING_GUESS;
    return 0;
}
