/* assemble_photo: the photographs of the sources, two and two, each with what it shows, who made it
 * and the bar that gives its scale. A photograph is drawn as it is kept, but without its place. */
#include "tell/assemble_more.h"

#include "record/project.h"
#include "record/record_kinds.h"
#include "show/photo_small.h"
#include "tell/keep_back.h"
#include "tell/linked.h"

#include <math.h>
#include <string.h>

/* What is heavier would make the argument too heavy to send: a smaller copy is drawn, 80 mm wide at
 * some 500 points to the inch; the file as it came stays in files/. */
enum { MOST_BYTES = 1500000, LONGEST = 1600, MOST_PHOTOS = 80 };

struct photo {
    const struct source *source;
    const char *bytes;
    size_t n;
    double ratio; /* height over width */
};

static unsigned number(const unsigned char *p, int bytes) {
    unsigned v = 0;
    for (int i = 0; i < bytes; i++)
        v = v << 8 | p[i];
    return v;
}

/* Height over width: PNG by its heading (ISO/IEC 15948, 11.2.2), JPEG by its frame (ITU-T T.81,
 * B.2.2). 0 when it is neither. */
static double ratio_of(const char *bytes, size_t n) {
    const unsigned char *p = (const unsigned char *)bytes;
    double w = 0, h = 0;
    if (show_is_png(bytes, n)) {
        w = number(p + 16, 4), h = number(p + 20, 4);
    } else if (n > 4 && p[0] == 0xFF && p[1] == 0xD8) {
        for (size_t at = 2; at + 9 < n && p[at] == 0xFF && !(w > 0);) {
            unsigned marker = p[at + 1];
            bool frame = marker >= 0xC0 && marker <= 0xCF && marker != 0xC4 && marker != 0xC8 &&
                         marker != 0xCC;
            if (frame) h = number(p + at + 5, 2), w = number(p + at + 7, 2);
            at += 2 + number(p + at + 2, 2);
        }
    }
    return w > 0 && h > 0 && h < 20 * w && w < 20 * h ? h / w : 0;
}

struct search {
    const char *name;
    struct job *job;
    struct arena *arena;
    const char *bytes;
    size_t n;
    bool is_private;
};

static int look_for(const struct record_entry *e, void *context, struct error *err) {
    struct search *s = context;
    struct record_file f;
    json_t *body = json_loads(e->body, 0, NULL);
    int rc = field_decode(&record_file_kind, body, &f, s->arena, err);
    json_decref(body);
    if (rc || !f.name || strcmp(f.name, s->name)) return rc;
    s->is_private |= f.is_private == 1;
    return record_file_get(&s->bytes, &s->n, job_record(s->job), arena_strdup(s->arena, e->id),
                           s->arena, err);
}

/* A heavy photograph by its smaller copy; one that cannot be read is left out. */
static int take_small(struct photo *out, const struct search *find, struct arena *arena,
                      struct error *err) {
    struct show_out small = {0};
    struct error none = {0};
    int rc = show_photo_small(&small, find->bytes, find->n, LONGEST, &none);
    if (!rc) {
        out->bytes = arena_copy(arena, small.bytes, small.n);
        out->n = small.n;
        out->ratio = ratio_of(small.bytes, small.n);
    }
    show_out_deinit(&small);
    return (!rc && !out->bytes) || rc == ERR_MEMORY ? fail_memory(err) : 0;
}

/* Finds the kept file of a photograph; without its place. Leaves ratio 0 when there is none that
 * can be shown. */
static int take(struct photo *out, const struct source *s, struct job *job,
                const struct keep_back *private, struct arena *arena, struct error *err) {
    struct search find = {.name = s->file, .job = job, .arena = arena};
    *out = (struct photo){.source = s};
    if (!s->file || !*s->file || (private && keep_back_names(private, s->file))) return 0;
    int rc = record_each(job_record(job), record_file_kind.name, 0, look_for, &find, err);
    if (rc || !find.bytes || find.is_private) return rc;
    if (find.n > MOST_BYTES) return take_small(out, &find, arena, err);
    out->ratio = ratio_of(find.bytes, find.n);
    out->bytes = find.bytes;
    out->n = find.n;
    if (!(out->ratio > 0) || show_is_png(find.bytes, find.n)) return 0;
    struct show_out clean = {0};
    size_t gps;
    struct error none = {0};
    if (tell_jpeg_without_place(&clean, find.bytes, find.n, &gps, &none))
        out->ratio = 0;
    else
        out->bytes = arena_copy(arena, clean.bytes, clean.n);
    show_out_deinit(&clean);
    return out->bytes ? 0 : fail_memory(err);
}

static const char *caption(const struct photo *p, struct arena *arena) {
    const struct source *s = p->source;
    char bar[40];
    return arena_printf(arena, "%s%s%s%s%s", s->title ? s->title : s->id, s->who ? ", " : "",
                        s->who ? s->who : "", isfinite(s->bar_length) ? "; bar " : "; no scale",
                        isfinite(s->bar_length)
                            ? arena_printf(arena, "%s mm", show_real(bar, s->bar_length, 1))
                            : "");
}

/* One or two photographs beside each other, each with its caption under it. */
static struct show_drawing *row_of(const struct photo *p, size_t n, struct arena *arena) {
    const double each = 80, gap = 5, most = 90;
    double height = 0, w[2], h[2];
    for (size_t i = 0; i < n; i++) {
        w[i] = p[i].ratio * each > most ? most / p[i].ratio : each;
        h[i] = w[i] * p[i].ratio;
        height = fmax(height, h[i]);
    }
    struct show_drawing *d = show_drawing_new(165, height + 6);
    struct show_out title = {0}, alt = {0};
    for (size_t i = 0; i < n; i++) {
        const struct source *s = p[i].source;
        const char *text = caption(&p[i], arena);
        double x = (each + gap) * (double)i;
        show_group_begin(d, &(struct show_group){.title = s->title, .alt = s->text});
        show_photo(d, NULL, x, height - h[i] + 6, w[i], h[i], p[i].bytes, p[i].n);
        show_group_end(d);
        show_text(d, NULL, x, height - h[i] + 2, LOOK_SECOND, text ? text : "");
        show_out_format(&title, "%s%s", i ? "; " : "", s->title ? s->title : s->id);
        show_out_format(&alt, "%s%s%s", i ? " " : "", s->text ? s->text : "",
                        s->date ? arena_printf(arena, " (%s)", s->date) : "");
    }
    show_drawing_name(d, title.bytes, alt.bytes);
    show_out_deinit(&title);
    show_out_deinit(&alt);
    return d;
}

int tell_assemble_photos(struct tell_dossier *out, struct job *job, struct arena *arena,
                         struct error *err) {
    struct photo two[2];
    size_t n = 0, shown = 0;
    int rc = 0;
    for (size_t i = 0; i < out->find->source_count && !rc && shown < MOST_PHOTOS; i++) {
        const struct source *s = &out->find->sources[i];
        if (s->kind != SOURCE_PHOTO || s->hidden == 1) continue;
        rc = take(&two[n], s, job, out->private, arena, err);
        n += !rc && two[n].ratio > 0;
        if (n < 2 || rc) continue;
        rc = tell_add_drawing(out, "photo", arena_printf(arena, "photos-%zu", shown / 2 + 1),
                              TELL_IN_ARGUMENT, row_of(two, 2, arena), err);
        shown += 2;
        n = 0;
    }
    if (n && !rc)
        rc = tell_add_drawing(out, "photo", arena_printf(arena, "photos-%zu", shown / 2 + 1),
                              TELL_IN_ARGUMENT, row_of(two, 1, arena), err);
    return rc;
}
