#include "body/body_methods.h"

extern const struct method body_method_bending;  /* calc_bend.c */
extern const struct method body_method_cord;     /* calc_ties.c */
extern const struct method body_method_curl;     /* calc_bend.c */
extern const struct method body_method_girth;    /* calc_strip.c */
extern const struct method body_method_hand;     /* calc_hand.c */
extern const struct method body_method_hole_row; /* calc_holes.c */
extern const struct method body_method_knock;    /* calc_ties.c */
extern const struct method body_method_mass;     /* calc_hand.c */
extern const struct method body_method_mesh;     /* mesh_method.c */
extern const struct method body_method_peg;      /* calc_ties.c */
extern const struct method body_method_release;  /* calc_bend.c */
extern const struct method body_method_shell;    /* shell_method.c */
extern const struct method body_method_slit;     /* calc_holes.c */
extern const struct method body_method_strip;    /* calc_strip.c */

/* One entry a line. */
static const struct method *const list[] = {
    &body_method_bending, &body_method_cord,     &body_method_curl,    &body_method_girth,
    &body_method_hand,    &body_method_hole_row, &body_method_knock,   &body_method_mass,
    &body_method_mesh,    &body_method_peg,      &body_method_release, &body_method_shell,
    &body_method_slit,    &body_method_strip,
};

const struct method_list body_methods = METHODS(list);
