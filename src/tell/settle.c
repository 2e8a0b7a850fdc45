/* settle: what would settle a guess. Looks, readings and trials that speak to each kind of guess
 * the steps make; common practice, no source. */
#include "tell/settle.h"

#include <string.h>

/* `*` stands for any letters; the first row that fits holds. */
static const struct {
    const char *id, *text;
} looks[] = {
    {"*.shopping", "the making, further on, says it part by part; else a matching end or a join"},
    {"squash.*", "a thin section: cells still round, or crushed flat"},
    {"grip.length.fresh", "where the wear lies along it, or the other half"},
    {"making.grip.length", "where the wear lies along it, or the other half"},
    {"outline.heap", "a join across the object, or a longer piece of its edge"},
    {"curve.grip.half", "the other half, or wear that shows where its middle lay"},
    {"curve.grip.*", "wear or a dent on its underside: it lay on the sheet, or stood free of it"},
    {"curve.bend", "a second lath with its bend, traced splits, a scan of the find as lifted"},
    {"curve.set.keep", "a trial lath bent green, dried in its place, freed and soaked"},
    {"making.sheet.grain", "how fibres and lenticels run beside an edge that survives"},
    {"making.centre.place", "stitch holes or a shadow on the sheet that fit it"},
    {"making.lath.spacing", "two shadows or dents of laths on one piece"},
    {"making.*.length", "an original end, or two pieces that join"},
    {"making.paint.*", "traces between the patches under raking, ultraviolet or infrared light"},
    {"making.dots.*", "traces between the dots under raking, ultraviolet or infrared light"},
    {"making.order", "a crossing of two parts: which lies over which"},
    {"strength.stem", "the curl of a sheet off a trunk of known girth, as a trial"},
    {"strength.sheet.thickness", "thickness read at several places along one piece"},
    {"strength.sheet.cork", "the outer face under a lens: cork whole, scraped or gone"},
    {"strength.sheet.fissures", "the outer face under a lens: fissured or smooth"},
    {"strength.pockets", "the width of an open slit, or of a lath's shadow, beside its lath"},
    {"strength.flattening", "the curl of a sheet off a trunk of known girth, as a trial"},
    {"strength.balance", "the finished trial hung from its grip"},
    {"strength.rubbing", "the pull that draws a lath out of the pocket of a trial, dry"},
    {"strength.binding", "a binding tied wet on a spare rod and measured again dry"},
};

static bool fits(const char *pattern, const char *id) {
    if (!*pattern) return !*id;
    if (*pattern != '*') return *pattern == *id && fits(pattern + 1, id + 1);
    for (;; id++) {
        if (fits(pattern + 1, id)) return true;
        if (!*id) return false;
    }
}

const char *tell_settle(const struct statement *s) {
    static const char marker[] = "what would decide: ";
    if (s->caution && !strncmp(s->caution, marker, sizeof marker - 1))
        return s->caution + sizeof marker - 1;
    if (s->caution && strstr(s->caution, "would")) return s->caution;
    for (size_t i = 0; i < sizeof looks / sizeof looks[0]; i++)
        if (fits(looks[i].id, s->id)) return looks[i].text;
    return NULL;
}
