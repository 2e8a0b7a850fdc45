/* hand_over: every paper and every open file of a dossier, into one folder.
 *
 * What cannot be made (no making yet, no shape computed) is left out and told in the README and in
 * `not_made`; only trouble with memory or the disk stops it.
 */
#ifndef RELICT_TELL_HAND_OVER_H
#define RELICT_TELL_HAND_OVER_H

#include "tell/dossier.h"
#include "tell/folder.h"

/* A file kept in the project, as it came. */
struct hand_file {
    const char *name, *media;
    bool is_private; /* left out, and told */
    bool speaks;     /* of something private: left out, and told by name */
    const void *bytes;
    size_t n;
};

/* Everything of one kind that people entered; rows of what is private are left out already. */
struct hand_table {
    const struct kind *kind;
    const void *records;
    size_t n;
    const char *const *ids; /* [n] of a kind that has no field for them; NULL */
};

/* The stored result of a step, as JSON. */
struct hand_result {
    const char *step, *json;
};

struct hand_options {
    enum plan_paper paper;
    double roll_width, bar_x, bar_y; /* as in plan_options */
    const struct hand_file *files;
    size_t n_files;
    const struct hand_table *tables; /* of all kinds; NULL: those of the dossier */
    size_t n_tables;
    const struct hand_result *results;
    size_t n_results;
    size_t n_private;           /* rows left out of the tables */
    const char *const *changed; /* rows that came out otherwise, and why */
    size_t n_changed;
};

struct hand_missing {
    const char *name, *why, *remedy;
};

/* Writes everything into an open folder. *missing lives in the arena. */
int tell_hand_over(struct tell_folder *folder, const struct tell_dossier *dossier,
                   const struct hand_options *options, struct show_shaper *shaper,
                   struct hand_missing **missing, size_t *n_missing, struct arena *arena,
                   struct error *err);

/* What a folder says of itself, from the dossier. */
struct tell_folder_words tell_words(const struct tell_dossier *dossier);

#endif
