#include "gather/day.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>

enum { DAY_ZERO = 2440588 }; /* Julian day number of 1970-01-01 (noon) */

long gather_day(long year, long month, long day) {
    /* Whole-number division truncates toward zero, as the paper's FORTRAN does. */
    long early = (month - 14) / 12;
    return day - 32075 + 1461 * (year + 4800 + early) / 4 + 367 * (month - 2 - early * 12) / 12 -
           3 * ((year + 4900 + early) / 100) / 4 - DAY_ZERO;
}

void gather_day_date(long number, long *year, long *month, long *day) {
    long l = number + DAY_ZERO + 68569, n = 4 * l / 146097;
    l -= (146097 * n + 3) / 4;
    long i = 4000 * (l + 1) / 1461001;
    l = l - 1461 * i / 4 + 31;
    long j = 80 * l / 2447;
    *day = l - 2447 * j / 80;
    l = j / 11;
    *month = j + 2 - 12 * l;
    *year = 100 * (n - 49) + i + l;
}

int gather_day_read(long *out, const char *text, struct error *err) {
    static const char remedy[] = "Write it as year-month-day, for example 2026-05-01.";
    int y, m, d, used = 0;
    if (!text || !*text) return fail(err, ERR_MISSING, remedy, "A date is missing.");
    bool shape = strlen(text) == 10 && text[4] == '-' && text[7] == '-' &&
                 strspn(text, "0123456789-") == 10 &&
                 sscanf(text, "%4d-%2d-%2d%n", &y, &m, &d, &used) == 3 && used == 10;
    if (!shape) return fail(err, ERR_INPUT, remedy, "\"%.40s\" is not a whole date.", text);
    if (y < 1583)
        return fail(err, ERR_RANGE, remedy, "Year %d is before the Gregorian calendar.", y);
    long number = gather_day(y, m, d), yy, mm, dd;
    gather_day_date(number, &yy, &mm, &dd);
    if (yy != y || mm != m || dd != d)
        return fail(err, ERR_RANGE, remedy, "There is no such day as %s.", text);
    *out = number;
    return 0;
}

void gather_day_write(long number, char text[DAY_TEXT]) {
    long y, m, d;
    gather_day_date(number, &y, &m, &d);
    snprintf(text, DAY_TEXT, "%04d-%02d-%02d", (int)(y % 10000), (int)(m % 100), (int)(d % 100));
}

void gather_window_days(const struct day_window *w, long year, long *first, long *last) {
    bool over =
        w->to_month < w->from_month || (w->to_month == w->from_month && w->to_day < w->from_day);
    *first = gather_day(year, w->from_month, w->from_day) + w->later;
    *last = gather_day(year + over, w->to_month, w->to_day) + w->later;
}

/* Years whose windows can touch the day: one before (over New Year), the year, one after. */
static long year_of(long day) {
    long y, m, d;
    gather_day_date(day, &y, &m, &d);
    return y;
}

int gather_window_holds(const struct day_window *w, long day) {
    return w->from_month == 0 || gather_window_next(w, day) == day;
}

long gather_window_next(const struct day_window *w, long day) {
    if (w->from_month == 0) return day;
    for (long y = year_of(day) - 2;; y++) {
        long first, last;
        gather_window_days(w, y, &first, &last);
        if (day <= last) return day < first ? first : day;
    }
}

long gather_window_last(const struct day_window *w, long day) {
    if (w->from_month == 0) return day;
    for (long y = year_of(day) + 2;; y--) {
        long first, last;
        gather_window_days(w, y, &first, &last);
        if (day >= first) return day > last ? last : day;
    }
}
