#include "gather/ical.h"

#include "gather/day.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { FOLD = 75 }; /* octets a line without its CR LF, RFC 5545 3.1 */

struct sink {
    char *text;
    size_t n, room;
    struct arena *arena;
    bool full;
};

static void put(struct sink *s, const char *bytes, size_t n) {
    if (s->full) return;
    if (s->n + n + 1 > s->room) {
        size_t room = 2 * (s->n + n + 1) + 4096;
        char *grown = arena_alloc(s->arena, room, 1);
        if (!grown) {
            s->full = true;
            return;
        }
        if (s->n) memcpy(grown, s->text, s->n);
        s->text = grown;
        s->room = room;
    }
    memcpy(s->text + s->n, bytes, n);
    s->n += n;
    s->text[s->n] = 0;
}

static bool is_inside_letter(char c) {
    return ((unsigned char)c & 0xC0) == 0x80;
}

/* One content line, folded: a following line begins with a space, which counts. */
static void put_line(struct sink *s, const char *line) {
    size_t n = strlen(line), at = 0, most = FOLD;
    while (n - at > most) {
        size_t cut = most;
        while (cut > 1 && is_inside_letter(line[at + cut]))
            cut--;
        put(s, line + at, cut);
        put(s, "\r\n ", 3);
        at += cut;
        most = FOLD - 1;
    }
    put(s, line + at, n - at);
    put(s, "\r\n", 2);
}

/* NAME:value with the value escaped (3.3.11); other control signs are left out (3.1: CONTROL). */
static void put_text(struct sink *s, const char *name, const char *value) {
    size_t n = strlen(value), k = 0, head = strlen(name);
    char *line = arena_alloc(s->arena, head + 2 * n + 2, 1);
    if (!line) {
        s->full = true;
        return;
    }
    memcpy(line, name, head);
    k = head;
    line[k++] = ':';
    for (size_t i = 0; i < n; i++) {
        unsigned char c = (unsigned char)value[i];
        if (c == '\\' || c == ';' || c == ',') line[k++] = '\\';
        if (c == '\n') {
            line[k++] = '\\';
            line[k++] = 'n';
        } else if (c >= 0x20 || c == '\t')
            line[k++] = (char)c;
    }
    line[k] = 0;
    put_line(s, line);
}

static void put_day(struct sink *s, const char *name, long day) {
    long y, m, d;
    char line[64];
    gather_day_date(day, &y, &m, &d);
    snprintf(line, sizeof line, "%s%04ld%02ld%02ld", name, y, m, d);
    put_line(s, line);
}

static int put_event(struct sink *s, const struct ical_event *e, long stamp, struct error *err) {
    long first, last;
    if (!e->uid || !*e->uid || !e->summary || !*e->summary)
        return fail(err, ERR_MISSING, NULL, "A calendar event has no id or no title.");
    int rc = gather_day_read(&first, e->first, err);
    if (!rc) rc = gather_day_read(&last, e->last, err);
    if (rc) return rc;
    if (last < first)
        return fail(err, ERR_RANGE, "Put the earlier day first.",
                    "\"%s\" ends (%s) before it begins (%s).", e->summary, e->last, e->first);
    put_line(s, "BEGIN:VEVENT");
    put_text(s, "UID", e->uid);
    long y, m, d;
    char line[80];
    gather_day_date(stamp, &y, &m, &d);
    snprintf(line, sizeof line, "DTSTAMP:%04ld%02ld%02ldT000000Z", y, m, d);
    put_line(s, line);
    put_day(s, "DTSTART;VALUE=DATE:", first);
    put_day(s, "DTEND;VALUE=DATE:", last + 1); /* 3.6.1: the end is not included */
    put_text(s, "SUMMARY", e->summary);
    if (e->text && *e->text) put_text(s, "DESCRIPTION", e->text);
    if (e->category && *e->category) put_text(s, "CATEGORIES", e->category);
    put_line(s, "TRANSP:TRANSPARENT"); /* a season does not make anybody busy */
    if (e->alarm_days > 0) {
        put_line(s, "BEGIN:VALARM");
        put_line(s, "ACTION:DISPLAY");
        put_text(s, "DESCRIPTION", e->summary);
        snprintf(line, sizeof line, "TRIGGER:-P%ldD", e->alarm_days);
        put_line(s, line);
        put_line(s, "END:VALARM");
    }
    put_line(s, "END:VEVENT");
    return 0;
}

int gather_ical_write(char **out, const char *name, const char *stamp,
                      const struct ical_event *event, size_t n, struct arena *arena,
                      struct error *err) {
    *out = NULL;
    struct sink s = {.arena = arena};
    long day;
    int rc = gather_day_read(&day, stamp, err);
    if (rc) return rc;
    put_line(&s, "BEGIN:VCALENDAR");
    put_line(&s, "VERSION:2.0");
    put_line(&s, "PRODID:-//relict//material and season//EN");
    put_line(&s, "CALSCALE:GREGORIAN");
    if (name && *name) put_text(&s, "X-WR-CALNAME", name);
    for (size_t i = 0; i < n && !rc; i++)
        rc = put_event(&s, &event[i], day, err);
    put_line(&s, "END:VCALENDAR");
    if (rc) return rc;
    if (s.full) return fail_memory(err);
    *out = s.text;
    return 0;
}
