/* ical: whole-day events as a calendar file that any calendar program reads (RFC 5545).
 *
 * Lines end in CR LF, are folded at 75 octets without cutting a letter in two, texts are escaped;
 * dates are days without a time or zone. No clock: the stamp comes from the caller. Pure.
 */
#ifndef RELICT_GATHER_ICAL_H
#define RELICT_GATHER_ICAL_H

#include "base/arena.h"
#include "base/error.h"

#include <stddef.h>

struct ical_event {
    const char *uid;     /* unique in the world; the same on every export, so that it replaces */
    const char *summary; /* one line */
    const char *text;    /* may be NULL; line breaks allowed */
    const char *first, *last; /* whole days, both included, "2026-05-01" */
    const char *category;     /* may be NULL: "season", "step", "task" */
    long alarm_days;          /* show an alarm so many days before; 0: none */
};

/* Writes the calendar. `name` is its title, `stamp` the day it was made ("2026-05-01"). The text
 * lives in the arena. Errors: ERR_INPUT for a date, ERR_RANGE when last is before first,
 * ERR_MISSING without uid or summary. */
int gather_ical_write(char **out, const char *name, const char *stamp,
                      const struct ical_event *event, size_t n, struct arena *arena,
                      struct error *err);

#endif
