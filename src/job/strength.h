/* strength: inside of the step "strength": what its files share.
 *
 * stage_strength.c finds the inputs and reads answers off the stand-in; strength_sizes.c makes of
 * the sizes as cut those new and dry; strength_runs.c keeps shell runs for the next time;
 * strength_form.c makes the form in space (job/form.h).
 */
#ifndef RELICT_JOB_STRENGTH_H
#define RELICT_JOB_STRENGTH_H

#include "body/controls.h"
#include "job/as_body.h"
#include "job/stage.h"
#include "making/dried.h"

/* What shapes answer to, one column of the possible originals each; sizes new and dry. */
enum strength_input {
    IN_THICKNESS, /* of the sheet, mm */
    IN_E_ALONG,   /* MPa */
    IN_E_AROUND,  /* MPa */
    IN_G,         /* MPa */
    IN_STEM,      /* radius of the stem, mm */
    IN_SET,       /* share of the stem's bend that drying flat takes away */
    IN_LATH,      /* thickness of the laths, mm */
    IN_WOOD_E,    /* of laths, rim and grip, MPa */
    IN_LENGTH,    /* of the outline, mm */
    IN_WIDTH,
    IN_DENSITY,      /* of the sheet, g/mm3 */
    IN_WOOD_DENSITY, /* of laths, rim, grip and coil, g/mm3 */
    INPUTS
};

struct strength_inputs {
    size_t col[INPUTS];
    size_t cut_thickness;                             /* column: of the sheet as it is cut, mm */
    long standing;                                    /* of the weakest figure */
    double low[INPUTS], middle[INPUTS], high[INPUTS]; /* at 1, 50 and 99 % */
    double *all; /* [rows][INPUTS] of all possible originals, within low .. high */
};

/* The binding of the rim between tying, wet, and dry; middles of the tables. */
struct strength_binding {
    bool known, rod_green;
    double rod, sheet; /* thickness of what it goes round, mm */
    double shortens, rod_shrinks, sheet_shrinks;
};

/* One making under work. */
struct strength_work {
    const struct makings *makings; /* with the sizes they have new and dry */
    const struct makings *fresh;   /* the same as they are cut */
    struct making_left left;       /* middles of what took the one to the other */
    const char *making;
    const struct part *sheet; /* dry; has an outline */
    struct as_body_change change;
    double outer_share, outer_ratio; /* see as_body_stuff */
    double lath_shrinkage;
    struct strength_binding binding;
};

/* Begins with the leading making: finds the inputs, makes of the sizes as cut those new and dry
 * (statement "strength.dry") and sees to the details (strength_details). ERR_MISSING without a
 * sheet that has an outline. */
struct stuff_shelf;
int strength_begin(struct strength_work *work, struct strength_inputs *in, struct stage_run *r,
                   const struct stuff_shelf *shelf, struct error *err);

/* Of strength_begin: columns of the four sizes and `left` (work->fresh and the sheet as cut are
 * there); statement "strength.dry" and result "left": [x, y, through, wood]. */
int strength_sizes(struct strength_inputs *in, struct stage_run *r, struct strength_work *work,
                   struct error *err);
int strength_say_dry(struct stage_run *r, const struct strength_work *work, struct error *err);

/* Material and sizes of one row of inputs [INPUTS], for `makings`; the same with the sizes as cut,
 * for `fresh`. */
struct as_body_stuff strength_stuff(const struct strength_work *work, const double *x);
struct as_body_stuff strength_stuff_fresh(const struct strength_work *work, const double *x);

/* Fills the last four of `work` and says what is known of thickness, cork and fissures by place, of
 * the room in pockets and of the binding: statements strength.sheet.*, .pockets, .binding. */
int strength_details(struct strength_work *work, struct stage_run *r,
                     const struct stuff_shelf *shelf, struct error *err);
/* mm by which a round of the binding is tighter (below 0: slacker) at a moisture of the air. */
double strength_binding_tighter(const struct strength_binding *binding, double moisture);

/* What the tables call the sheet, "Tilia bark" (NULL: no memory), and a part of wood, hazel where
 * nobody knows its species. */
const char *strength_bark(const struct strength_work *work, struct arena *arena);
const char *strength_wood(const struct part *part);

/* The k-th step of the making in its order, NULL after the last; whether it names a part of the
 * kind, and as the last to do so. */
const struct step *strength_step(const struct strength_work *work, size_t k);
bool strength_step_names(const struct strength_work *work, const struct step *step, long kind);
bool strength_step_last(const struct strength_work *work, size_t k, long kind);

/* Middles of the inputs over the possible originals [INPUTS]. */
void strength_middle(const struct strength_inputs *in, double *x);

/* An answer as it is told: value outside = scale * inside. */
struct strength_output {
    enum body_controls_output which;
    const char *id, *sentence, *unit, *head;
    double scale;
};
enum { STRENGTH_OUTPUTS = 6 };
extern const struct strength_output strength_outputs[STRENGTH_OUTPUTS];

/* Shell runs at rows of inputs: coarse enough to be quick, and checked on finer ones whose
 * difference is added to the answers. */
enum { STRENGTH_TRIANGLES = 600, STRENGTH_FINE = 2400, STRENGTH_CHECKS = 4 };
/* Triangles of a shell run: a fifth of them for a first rough answer. */
size_t strength_net(const struct stage_run *r, size_t triangles);
struct strength_design {
    const char *name, *inputs; /* of the way of building; which inputs the rows hold */
    const double *x;           /* [n][d] */
    size_t n, d;
    body_controls_make *make;
    void *context;
};
/* Runs of the shell for a stand-in that takes `most` of them where there are originals enough: as
 * many fewer as there are fewer than 1024, since no answer is then surer than its draws. */
size_t strength_run_count(const struct stage_run *r, size_t most);
/* A stand-in, with the runs of the last time where they still serve; keeps its runs in the result.
 */
int strength_controls(struct body_controls **out, struct stage_run *r,
                      const struct strength_design *design, struct error *err);
/* Numbers as text with nine digits ("?" for an unknown one) and back, in the arena; NULL: no such
 * text, or no memory. */
char *strength_numbers_text(const double *v, size_t n, struct arena *arena);
double *strength_numbers_text_read(size_t *n, const char *text, struct arena *arena);
double *strength_numbers_read(size_t *n, const json_t *json, struct arena *arena);

/* A row of the table that says how well a stand-in follows the shell. */
void strength_fit_row(struct stage_run *r, json_t *table, const char *words,
                      const struct body_controls *controls);

/* What controls the shape: laths, ties and stem swept, through one stand-in; tables and result
 * "sweeps": [{id, title, unit, values: [{value, outputs: {rise: [5 %, middle, 95 %], ...}}]}];
 * columns "sweep.lath_thickness.4.rise" ... of rise, edge lift and stiffness. */
int strength_sweeps(struct stage_run *r, const struct strength_work *work,
                    const struct strength_inputs *in, json_t *fit, struct error *err);

/* Rival makings beside the leading one: table "makings", when there are several. */
int strength_makings(struct stage_run *r, const struct strength_work *work,
                     const struct strength_inputs *in, struct error *err);

/* In how many shapes it can stand, with their energies: table "shapes", statement
 * "strength.equilibria". */
int strength_branches(struct stage_run *r, const struct strength_work *work,
                      const struct strength_inputs *in, struct error *err);

/* Only the sheet as it is proposed, dry, from few shell runs: statements "shape.made.*", for a run
 * beside the main one (job/without.h). */
int strength_brief(struct stage_run *r, struct error *err);

/* Laths in pockets sliding, rubbing, held fast: table "laths", statement "strength.rubbing";
 * nothing where no lath lies in a pocket. */
int strength_laths(struct stage_run *r, const struct strength_work *work,
                   const struct strength_inputs *in, const struct stuff_shelf *shelf,
                   struct error *err);

/* In the hand: what is bent and whether it takes that, and the balance on its grip: table "bends",
 * statements "strength.flattening" and "strength.balance". */
int strength_hand(struct stage_run *r, const struct strength_work *work,
                  const struct strength_inputs *in, const struct stuff_shelf *shelf,
                  struct error *err);

/* The form of the leading making with the middle of each input: r->made.form. */
int strength_form(struct stage_run *r, const struct strength_work *work,
                  const struct strength_inputs *in, struct error *err);

/* Rows of holes, ties, pegs and knocks: tables "rows" and "groups", statements "strength.holes.*".
 */
int strength_rows(struct stage_run *r, const struct strength_work *work,
                  const struct strength_inputs *in, const struct stuff_shelf *shelf,
                  struct error *err);

/* The order of work: shape by day. Table "days", result "days": [{day, after, moisture: [5 %,
 * middle, 95 %], rise, edge_lift, bend_across, tie_pull}], columns "day.N.rise" ... of the possible
 * originals, and states "day.N" of the form. */
int strength_days(struct stage_run *r, const struct strength_work *work,
                  const struct strength_inputs *in, const struct stuff_shelf *shelf,
                  struct error *err);

/* One sheet with the inputs x [INPUTS] through the order of work by the shell alone, on a net of so
 * many triangles; its bark as draw number `draw` of the tables has it (the ranges use the first few
 * dozen). out: after each of the *n things done, moisture (fraction), rise and edge lift (mm), bend
 * across (1/mm), pull on the ties (N/mm), binding tighter by (mm). */
enum { STRENGTH_DOINGS = 64, STRENGTH_LOOKS = 6 };
int strength_days_once(double out[STRENGTH_DOINGS][STRENGTH_LOOKS], size_t *n, struct stage_run *r,
                       const struct strength_work *work, const double *x, size_t draw, size_t net,
                       const struct stuff_shelf *shelf, struct error *err);

#endif
