/* classify: what a piece and a measure are taken for: the words that make ids and columns, the
 * direction against the grain, and whether a size is whole. Pure; thread-safe.
 */
#ifndef RELICT_REMAINS_CLASSIFY_H
#define RELICT_REMAINS_CLASSIFY_H

#include "base/arena.h"
#include "remains/find.h"

/* A direction with the two that nobody notes but everybody needs. */
enum axis {
    AXIS_ALONG,
    AXIS_AROUND,
    AXIS_THROUGH,
    AXIS_ACROSS, /* wood: around or through, nobody knows which */
    AXIS_PLANE,  /* sheet: along or around, nobody knows which */
    AXIS_COUNT
};
extern const char *const axis_words[];

/* The part in one word, for ids: "cross lath" -> "lath", "rim rod (half-round)" -> "rim", "bark
 * panel" -> "sheet". `out` gets a word of letters, digits and _. */
void remains_part_word(const struct piece *p, char *out, size_t size);

/* What the piece is made of, in one word for ids: genus for wood ("corylus"), else "bark", "bast",
 * "hide", "coil"; "" when nothing can be undone for it (colour, trace, mixed, unknown). A bark of
 * another genus than most barks of the find is "bark_<genus>". */
void remains_material_word(const struct find *find, const struct piece *p, char *out, size_t size);

/* Zone, state, treatment as one word each for ids: "W", "dried", "freeze_drying". */
void remains_zone_word(const struct piece *p, char *out, size_t size);
void remains_state_word(const struct measure *m, char *out, size_t size);

/* Direction of a measure against the grain: the noted one, else what its quantity makes certain
 * (length of a rod: along), else across or plane. */
enum axis remains_axis_of(const struct piece *p, const struct measure *m);

/* True when the size runs from one original edge to another. Width of a torn sheet does not,
 * unless its edges were described as whole. */
bool remains_is_complete(const struct piece *p, const struct measure *m);

/* Half-round and round rods: 0.5 and 1, thickness per width when new; NAN for the others. */
double remains_roundness(const struct piece *p);

bool remains_is_wood(const struct piece *p);

/* A quantity in one word, for ids: "thickness", "round_pitch". */
void remains_quantity_word(long quantity, char *out, size_t size);

#endif
