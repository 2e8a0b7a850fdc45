/* names: a set of texts with a number each; for ids of which there may be a hundred thousand. */
#ifndef RELICT_RECORD_NAMES_H
#define RELICT_RECORD_NAMES_H

#include <stdbool.h>
#include <stddef.h>

struct names; /* texts are borrowed and must outlive it */

struct names *names_new(void); /* NULL: memory */
void names_free(struct names *names);
/* Adds the text with a number, unless it is there. *number becomes the one that stands. Returns 1
 * if it was new, 0 if it was there, -1 if memory is gone. */
int names_add(struct names *names, const char *text, size_t *number);
bool names_find(const struct names *names, const char *text, size_t *number);
size_t names_count(const struct names *names);

#endif
