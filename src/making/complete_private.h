/* complete_private: what the files that complete a making share. */
#ifndef RELICT_MAKING_COMPLETE_PRIVATE_H
#define RELICT_MAKING_COMPLETE_PRIVATE_H

#include "making/complete.h"

enum { MOST_STEPS = 32 };

struct builder {
    const struct making_basis *basis;
    struct makings *out;
    const char *making; /* id of the one being built */
    bool cone;          /* its coiled part is a cone, not a flat ring */
    struct arena *arena;
    struct error *err;
    int rc; /* sticky: the first trouble */
    double length, width, perimeter;
    struct part nowhere; /* takes what is filled in after trouble; never read */
};

/* Appends a copy of a text; NULL is nothing. */
void builder_text(struct builder *b, struct texts *list, const char *text);

/* One rule that was used, as a statement. */
void builder_say(struct builder *b, const char *id, const char *sentence, const char *unit,
                 double value, long footing, const char *rule, const char *rival,
                 const char *rests_on);

/* The order of work of the parts built so far (order_of_work.c). */
void builder_steps(struct builder *b);

#endif
