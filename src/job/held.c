#include "job/held.h"

#include <ctype.h>
#include <stdbool.h>
#include <stddef.h>
#include <string.h>

enum { WORD = 16 }; /* letters looked at; no word of the lists is longer */

/* ---- lists of words, each with a blank before and after ------------------------------------- */

static const char denying[] = " no not never nor cannot without avoid instead unless "
                              "until till so before after once when will would shall later ",
                  freeing[] = " remove removes removed removing lift lifts lifted untie untied "
                              "release released loosen loosened unload unloaded ",
                  taking[] = " take takes taken taking pull pulled draw drawn come comes bring ",
                  away[] = " off out away from ",
                  flattening[] = " flatten flattens flattening press presses pressing ",
                  flattened[] = " flattened pressed ", naming[] = " the a an this that each ",
                  elsewhere[] = " into through home out together ",
                  keeping[] = " keep keeps kept keeping ",
                  tying[] = " hold holds held holding tie ties tied tying bind binds bound binding "
                            "clamp clamps clamped clamping pin pins pinned pinning strap straps "
                            "strapped lash lashes lashed nail nailed tack tacked fasten fastens "
                            "fastened peg pegs pegged stretch stretches stretched ",
                  flat_thing[] = " side sides face faces edge edges end ends board boards plank "
                                 "table surface stone stones slab floor ground tray place top "
                                 "plate rod rods lath laths knife iron ",
                  below[] = " under beneath below underneath between ",
                  onto[] = " to onto on against over round ",
                  board[] = " board boards plank planks plate plates slab slabs ",
                  heavy[] = " stone stones load loads sandbag sandbags brick bricks book books ",
                  putting[] = " put puts lay lays laid set sets add adds place places pile piles "
                              "load with more apply ",
                  weigh[] = " weigh weighs weighed weighing weight weights ",
                  edge[] = " edge edges ";

static bool is(const char *word, const char *list) {
    char padded[WORD + 3] = " ";
    strcat(padded, word);
    return strstr(list, strcat(padded, " ")) != NULL;
}

/* ---- a clause, word by word ----------------------------------------------------------------- */

struct clause {
    bool denied, takes, away;            /* what comes after holds nothing */
    bool keeps, ties, below, onto, puts; /* what stands before */
    bool weighs;                         /* "weigh", which wants its "down" */
    bool flat;                          /* "flat", of which the next word may make a thing's name */
    bool presses, holds, weights, edge; /* found */
    char last[WORD + 1];
};

static void hear(struct clause *c, const char *w) {
    if (c->flat && !is(w, flat_thing)) c->holds = true;
    c->flat = false;
    if (is(w, " but then ")) c->denied = c->away = false;
    if (is(w, " and ")) c->away = false;
    size_t n = strlen(w);
    c->denied |= is(w, denying) || (n > 3 && strcmp(w + n - 3, "n't") == 0);
    c->takes |= is(w, taking);
    c->away |= is(w, freeing) || (c->takes && is(w, away));
    if (is(w, elsewhere)) c->presses = false; /* "press the laths into their pockets" */
    if (c->takes && is(w, away)) c->presses = c->holds = c->weights = false;
    c->ties |= is(w, tying);
    c->keeps |= c->ties || is(w, keeping);
    c->below |= is(w, below);
    c->onto |= c->ties && is(w, onto);
    c->puts |= is(w, putting);
    c->edge |= is(w, edge);
    if (!c->denied && !c->away) {
        c->presses |= is(w, flattening) || (is(w, flattened) && !is(c->last, naming));
        c->flat = c->keeps && is(w, " flat ");
        c->holds |= (c->below || c->onto) && is(w, board);
        c->weights |= is(w, " weights weighted weighting ") || (c->below && is(w, heavy)) ||
                      (is(w, " weight ") && (c->below || c->puts || !c->last[0])) ||
                      (c->weighs && is(w, " down "));
        c->weighs |= is(w, weigh);
    }
    strcpy(c->last, w);
}

static enum held end_of(struct clause *c) {
    enum held held = c->presses || c->holds || c->flat ? HELD_FLAT
                     : !c->weights                     ? HELD_NOT
                     : c->edge                         ? HELD_EDGES
                                                       : HELD_FLAT;
    *c = (struct clause){0};
    return held;
}

/* Copies the next word in small letters, cut to WORD of them; what comes after it. */
static const char *next_word(char out[WORD + 1], const char *at) {
    size_t n = 0;
    for (; isalpha((unsigned char)*at) || *at == '\'' || (unsigned char)*at > 127; at++)
        if (n < WORD) out[n++] = (char)tolower((unsigned char)*at);
    out[n] = 0;
    return at;
}

enum held held_by_words(const char *what) {
    struct clause c = {0};
    enum held most = HELD_NOT;
    for (const char *at = what; at && *at;) {
        char word[WORD + 1];
        const char *next = next_word(word, at);
        if (next > at) {
            hear(&c, word);
            at = next;
            continue;
        }
        if (strchr(".,;:!?()\n", *at)) {
            enum held held = end_of(&c);
            most = held > most ? held : most;
        }
        at++;
    }
    enum held held = end_of(&c);
    return held > most ? held : most;
}
