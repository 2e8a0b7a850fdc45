/* day: civil dates as whole days, so that dates can be added and compared.
 *
 * A day is a Julian day number less 2,440,588: day 0 is 1970-01-01 of the Gregorian calendar. No
 * clock, no time zone: "today" always comes from the caller. Thread-safe.
 */
#ifndef RELICT_GATHER_DAY_H
#define RELICT_GATHER_DAY_H

#include "base/error.h"

enum { DAY_TEXT = 16 };

/* Day number of a Gregorian date. Fliegel & Van Flandern, Comm. ACM 11, 1968, 657. Years 1583 to
 * 9999; the caller checks that month and day exist. */
long gather_day(long year, long month, long day);

/* The date of a day number; the inverse of gather_day, same source. */
void gather_day_date(long number, long *year, long *month, long *day);

/* Reads "2026-05-01". A month or a year alone is refused: a plan needs the day. */
int gather_day_read(long *out, const char *text, struct error *err);

/* Writes "2026-05-01". */
void gather_day_write(long number, char text[DAY_TEXT]);

/* A window of the year: from the first to the last day, both included. It may run over New Year
 * (1 November to 28 February). */
struct day_window {
    long from_month, from_day; /* 0 = any time of the year */
    long to_month, to_day;
    long later; /* days by which both ends are moved (spring comes later in the north) */
};

/* The first and the last day of the window that opens in `year`. */
void gather_window_days(const struct day_window *w, long year, long *first, long *last);

/* Whether the day lies inside; an "any time" window holds every day. */
int gather_window_holds(const struct day_window *w, long day);

/* The first day >= `day` inside the window, and the last day <= `day` inside it. */
long gather_window_next(const struct day_window *w, long day);
long gather_window_last(const struct day_window *w, long day);

#endif
