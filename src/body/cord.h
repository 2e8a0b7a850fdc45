/* cord: ties and lashings, and what a knock on the rim needs.
 *
 * A tie is a cord wrapped so many times round rim and sheet and knotted. It fails in the cord, at
 * the knot, by slipping, or by cutting into what it holds. A knock on the rim is shared by the ties
 * (and pegs) beside it, as a bar on springs. Lengths mm, forces N, energies N mm, masses g.
 */
#ifndef RELICT_BODY_CORD_H
#define RELICT_BODY_CORD_H

#include "body/weakest.h"
#include "stuff/bast.h"

/* Grip of a cord laid round a rod by `angle` (rad): pull at one end over hold at the other,
 * exp(mu angle) (Euler, Eytelwein). */
double cord_capstan(double friction, double angle);

/* Pressure of a cord of this diameter under tension over an edge of this radius: T/(d r), MPa. */
double cord_pressure(double tension, double diameter, double radius);

/* Pull in each leg of a tie that holds a line load (N/mm) at a spacing: load x spacing / (legs x
 * cos(angle)), angle between leg and load. */
double cord_tension(double line_load, double spacing, double legs, double angle);

struct cord_case {
    struct stuff_cord cord;
    double turns;       /* times it goes round; each turn has two legs */
    double slack;       /* mm, before it takes up load */
    double loop;        /* length of one turn, mm */
    const char *around; /* material of what it goes round, for friction and bearing */
    double radius;      /* of the edge it bears on, mm */
    double wrap;        /* rad, of the tail held by friction; 0: the knot alone */
    double load;        /* N on the tie; NAN */
};
struct cord_result {
    struct body_failure failure; /* N on one tie */
    double stiffness;            /* N/mm of one tie, middle */
    double holds;
    long standing;
};
int cord_tie(struct cord_result *out, const struct stuff_shelf *shelf, const struct cord_case *c,
             struct arena *arena, struct error *err);

/* ---- a bar on springs ----------------------------------------------------------------------- */

/* Bar (bending stiffness ei, N mm2) on an even bed of springs (bed, N/mm per mm) under a single
 * push: lambda = (bed / 4 ei)^(1/4); sinking under the push P lambda / (2 bed), moment P / (4
 * lambda) (Hetenyi 1946). */
struct bed_bar {
    double lambda;    /* 1/mm */
    double stiffness; /* N/mm of the pushed point: 8 ei lambda^3 */
    double moment;    /* N mm per N, under the push: 1/(4 lambda) */
    double nearest;   /* share of the push in a spring right beside it, springs at `spacing` */
};
struct bed_bar cord_bed(double ei, double spring, double spacing);

struct knock_case {
    const char *rim; /* material of the rim */
    long class;
    double width, height; /* of the rim's section, height in the direction of the knock, mm */
    int round;            /* a round rod of diameter height */
    int wet;
    struct cord_case tie;
    double tie_spacing;
    double peg_load, peg_load_p05,
        peg_load_p95;     /* N one peg bears (relict calc peg); NAN: no pegs */
    double peg_stiffness; /* N/mm; NAN: taken as 300, a guess */
    double peg_spacing;
    double sheet;      /* N/mm, stiffness of the sheet under the push (relict calc shell); NAN:
                          unyielding */
    double mass, drop; /* g and mm of the knock, to compare with; NAN */
};
struct knock_result {
    struct body_failure energy;   /* N mm that the first failure needs */
    struct body_failure push;     /* N, pushed slowly */
    double drop;                  /* mm the mass may fall, middle; NAN without mass */
    double survives;              /* probability, of the knock asked for */
    double energy_without, ratio; /* N mm with ties alone (middle), and with pegs over without */
    struct bed_bar bed;
    long standing;
};
int cord_knock(struct knock_result *out, const struct stuff_shelf *shelf,
               const struct knock_case *c, struct arena *arena, struct error *err);

#endif
