/* record_kinds: the few kinds of entry the record itself needs, whatever the project is about. */
#ifndef RELICT_RECORD_RECORD_KINDS_H
#define RELICT_RECORD_RECORD_KINDS_H

#include "base/field.h"

/* kind "project", one entry of that id: see struct record_meta. */
extern const struct kind record_meta_kind;

/* kind "file": see struct record_file. */
extern const struct kind record_file_kind;

/* kind "clash": one thing changed differently in two copies; both values are kept until a person
 * chooses. */
struct record_clash {
    const char *of_kind, *of_id;
    const char *base;          /* body before either change; NULL: new in both */
    const char *ours, *theirs; /* bodies; NULL: withdrawn there */
    const char *ours_who, *ours_when, *ours_why;
    const char *theirs_who, *theirs_when, *theirs_why;
    long open;          /* flag: 1 until somebody has chosen */
    const char *chosen; /* "ours", "theirs", "other"; NULL while open */
};
extern const struct kind record_clash_kind;

/* All of them, NULL-terminated. */
extern const struct kind *const record_kinds[];

#endif
