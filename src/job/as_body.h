/* as_body: a making read as a body that mechanics can bend.
 *
 * One place says what each kind of part becomes: sheet, laths in pockets, rim rods with their ties,
 * the grip with its seats. Material comes in as plain numbers, so that one making can be asked with
 * the likely material or with that of any one of the possible originals. Pure; the sheet that comes
 * out lives in the arena. May be called from several threads with an arena each.
 */
#ifndef RELICT_JOB_AS_BODY_H
#define RELICT_JOB_AS_BODY_H

#include "base/arena.h"
#include "body/sheet.h"
#include "making/making.h"

/* What the parts are made of and how the sheet came to be; sizes that are NAN are the making's. */
struct as_body_stuff {
    double e_along, e_around, g; /* of the sheet, MPa */
    double density;              /* of the sheet, g/mm3 */
    double thickness;            /* of the sheet, mm; NAN */
    double stem, set;      /* radius of the stem, mm; share of its bend that drying flat took */
    double wood_e, wood_g; /* of laths, rim and grip, MPa */
    double wood_density;   /* g/mm3 */
    double lath_thickness; /* mm; NAN */
    double length, width;  /* of the outline, mm; NAN */
    double lath_shrinkage; /* through their thickness after they were put in; 0: put in dry */
    double rim_slack;      /* of the rim's ties, mm: they count as softer (as_body_tie); loose ones
                              have so much more way */
    double outer_share, outer_ratio; /* cork's usual share of the thickness and its stiffness over
                                        the bast's; NAN: not known */
    double chamfer; /* the sheet is bent to this at the grip's seats, rad; NAN: the bar lies flat */
};

/* How laths in pockets pass on a pull along them. */
enum as_body_pull { AS_BODY_AS_MADE, AS_BODY_SLIDING, AS_BODY_RUBBING, AS_BODY_HELD };

/* What is left out or changed, for what-ifs; all 0: as the making says. */
struct as_body_change {
    bool no_laths, no_rim, no_grip, no_centre;
    double lath_thickness; /* factor; 0: 1 */
    double lath_length;    /* factor; 0: 1 */
    size_t lath_count; /* so many at even spacing over the same length of sheet; 0: as they are */
    double tie_every;  /* mm; 0: as it is */
    size_t tie_group;  /* ties in groups of so many; 0: as it is */
    bool other_room;   /* pockets have this room, mm */
    double room;
    enum as_body_pull pull; /* laths in pockets slide, rub with `friction`, or are held fast */
    double friction;
};

/* N/mm of a tie that hangs loose by `slack` mm: in series with that way at a pull of 10 N (a guess;
 * the reference of mechanics gives 1 to 50 N/mm for loose lashings). */
double as_body_tie(double slack);

/* Fills `out`. ERR_MISSING when the making has no sheet with an outline and a thickness. */
int as_body_sheet(struct body_sheet *out, const struct makings *makings, const char *making,
                  const struct as_body_stuff *stuff, const struct as_body_change *change,
                  struct arena *arena, struct error *err);

#endif
