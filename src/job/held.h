/* held: what the words of a step of the work do to the sheet: is it held flat from then on, are its
 * edges, or is it left as it will. A person may have written them, so plain words are looked for,
 * clause by clause:
 *
 *     flatten, press                            flat
 *     under weight, weights, weighed down       flat; its edges when the clause names them
 *     under stones, load, books                 the same
 *     kept, held, tied, pinned ... flat         flat
 *     between or under boards; tied to a board  flat
 *
 * What is denied, of another time, an aim or taken away holds nothing: "do not press it", "after
 * flattening", "so that it lies flat", "the flattened sheet", "take the weights off". */
#ifndef RELICT_JOB_HELD_H
#define RELICT_JOB_HELD_H

enum held { HELD_NOT, HELD_EDGES, HELD_FLAT };

/* NULL: not held. Pure. */
enum held held_by_words(const char *what);

#endif
