#include "trial/scan.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A place in the bytes; never runs past the end. */
struct reader {
    const char *at, *end;
    long line;
    double unit;
    struct scan *out;
    struct arena *arena;
    struct error *err;
};

static int damaged(struct reader *r, const char *what) {
    int rc = fail(r->err, ERR_DAMAGED, "Export the scan again, as PLY, STL or OBJ.", "The scan %s.",
                  what);
    if (r->line) error_place(r->err, NULL, r->line, NULL, NULL);
    return rc;
}

static int make_room(struct reader *r, size_t points, size_t triangles) {
    if (points > SCAN_POINTS || triangles > SCAN_TRIANGLES)
        return fail(r->err, ERR_RANGE, "Thin the scan out before bringing it in.",
                    "The scan announces %zu points and %zu triangles; at most %d and %d are read.",
                    points, triangles, SCAN_POINTS, SCAN_TRIANGLES);
    r->out->xyz = ARENA_NEW(r->arena, double, 3 * points);
    r->out->corner = ARENA_NEW(r->arena, uint32_t, 3 * triangles);
    return r->out->xyz && r->out->corner ? 0 : fail_memory(r->err);
}

static int put_point(struct reader *r, const double p[3]) {
    for (int c = 0; c < 3; c++) {
        double v = p[c] * r->unit;
        if (!(fabs(v) < 1e7)) return damaged(r, "has a point that is not a place within 10 km");
        r->out->xyz[3 * r->out->n + (size_t)c] = v;
    }
    r->out->n++;
    return 0;
}

/* Next line without its end; NULL at the end. Lines are cut at 400 signs by the caller's copy. */
static const char *next_line(struct reader *r, size_t *n) {
    if (r->at >= r->end) return NULL;
    const char *start = r->at, *stop = memchr(start, '\n', (size_t)(r->end - start));
    r->at = stop ? stop + 1 : r->end;
    if (!stop) stop = r->end;
    if (stop > start && stop[-1] == '\r') stop--;
    r->line++;
    *n = (size_t)(stop - start);
    return start;
}

/* Copies a line so that strtod has its 0; too long a line is damage. */
static int line_text(struct reader *r, char text[512], bool *some) {
    size_t n;
    const char *p = next_line(r, &n);
    *some = p != NULL;
    if (!p) return 0;
    if (n >= 512) return damaged(r, "has a line over 511 signs");
    memcpy(text, p, n);
    text[n] = 0;
    return 0;
}

static bool number(const char **at, double *v) {
    char *end;
    *v = strtod(*at, &end);
    if (end == *at) return false;
    *at = end;
    return true;
}

/* ---- PLY --------------------------------------------------------------------------------------
 */

enum { PLY_PROPERTIES = 64 };

struct ply_property {
    int size;       /* bytes */
    char kind;      /* 'i' signed, 'u' unsigned, 'f' floating */
    int count_size; /* of a list, else 0 */
    char count_kind;
    char name[32];
};

struct ply_element {
    char name[32];
    size_t n, properties;
    struct ply_property property[PLY_PROPERTIES];
};

struct ply {
    int order; /* 0 ascii, 1 little, 2 big */
    size_t elements;
    struct ply_element element[8];
};

static bool ply_type(const char *word, int *size, char *kind) {
    static const struct {
        const char *a, *b;
        int size;
        char kind;
    } types[] = {{"char", "int8", 1, 'i'},     {"uchar", "uint8", 1, 'u'},
                 {"short", "int16", 2, 'i'},   {"ushort", "uint16", 2, 'u'},
                 {"int", "int32", 4, 'i'},     {"uint", "uint32", 4, 'u'},
                 {"float", "float32", 4, 'f'}, {"double", "float64", 8, 'f'}};
    for (size_t i = 0; i < sizeof types / sizeof types[0]; i++)
        if (strcmp(word, types[i].a) == 0 || strcmp(word, types[i].b) == 0) {
            *size = types[i].size;
            *kind = types[i].kind;
            return true;
        }
    return false;
}

static int ply_header_line(struct reader *r, struct ply *ply, const char *text, bool *end) {
    char word[5][32] = {{0}};
    int n = sscanf(text, "%31s %31s %31s %31s %31s", word[0], word[1], word[2], word[3], word[4]);
    struct ply_element *e = ply->elements ? &ply->element[ply->elements - 1] : NULL;
    if (n < 1 || strcmp(word[0], "comment") == 0 || strcmp(word[0], "obj_info") == 0) return 0;
    if (strcmp(word[0], "end_header") == 0) {
        *end = true;
        return 0;
    }
    if (strcmp(word[0], "format") == 0 && n >= 2) {
        ply->order = strcmp(word[1], "ascii") == 0                  ? 0
                     : strcmp(word[1], "binary_little_endian") == 0 ? 1
                     : strcmp(word[1], "binary_big_endian") == 0    ? 2
                                                                    : -1;
        return ply->order < 0 ? damaged(r, "names a PLY format nobody knows") : 0;
    }
    if (strcmp(word[0], "element") == 0 && n >= 3) {
        if (ply->elements == 8) return damaged(r, "has over 8 kinds of element");
        e = &ply->element[ply->elements++];
        strcpy(e->name, word[1]);
        char *stop;
        unsigned long long count = strtoull(word[2], &stop, 10);
        if (*stop || word[2][0] == '-') return damaged(r, "has a count that is no number");
        if (count > SCAN_TRIANGLES) return make_room(r, (size_t)SCAN_POINTS + 1, (size_t)count);
        e->n = (size_t)count;
        return 0;
    }
    if (strcmp(word[0], "property") == 0 && e && e->properties < PLY_PROPERTIES) {
        struct ply_property *p = &e->property[e->properties++];
        bool list = strcmp(word[1], "list") == 0;
        if (list && n >= 5 && ply_type(word[2], &p->count_size, &p->count_kind) &&
            ply_type(word[3], &p->size, &p->kind)) {
            strcpy(p->name, word[4]);
            return p->count_kind == 'f' ? damaged(r, "counts with fractions") : 0;
        }
        if (!list && n >= 3 && ply_type(word[1], &p->size, &p->kind)) {
            strcpy(p->name, word[2]);
            return 0;
        }
    }
    return damaged(r, "has a header line that PLY does not have");
}

/* One number, binary or ascii. */
static bool ply_number(struct reader *r, int order, int size, char kind, double *v) {
    if (order == 0) {
        while (r->at < r->end && isspace((unsigned char)*r->at))
            r->at++;
        char text[64];
        size_t n = 0;
        while (r->at < r->end && !isspace((unsigned char)*r->at) && n + 1 < sizeof text)
            text[n++] = *r->at++;
        text[n] = 0;
        const char *p = text;
        return n > 0 && number(&p, v) && *p == 0;
    }
    if (r->end - r->at < size) return false;
    unsigned char b[8];
    for (int i = 0; i < size; i++)
        b[i] = (unsigned char)r->at[order == 1 ? i : size - 1 - i];
    r->at += size;
    uint64_t bits = 0;
    for (int i = size; i-- > 0;)
        bits = bits << 8 | b[i];
    if (kind == 'f' && size == 4) {
        uint32_t w = (uint32_t)bits;
        float f;
        memcpy(&f, &w, sizeof f);
        *v = f;
    } else if (kind == 'f')
        memcpy(v, &bits, sizeof *v);
    else if (kind == 'i' && size < 8 && bits >> (8 * size - 1))
        *v = (double)bits - ldexp(1, 8 * size);
    else
        *v = (double)bits;
    return true;
}

static int put_fan(struct reader *r, const uint32_t *corner, size_t n, size_t most) {
    for (size_t i = 2; i < n; i++) {
        if (r->out->triangles == most) return damaged(r, "has more triangles than it announced");
        uint32_t *t = r->out->corner + 3 * r->out->triangles++;
        t[0] = corner[0];
        t[1] = corner[i - 1];
        t[2] = corner[i];
    }
    return 0;
}

static int ply_row(struct reader *r, const struct ply *ply, const struct ply_element *e,
                   bool is_vertex, bool is_face, size_t most) {
    double p[3] = {NAN, NAN, NAN}, v;
    for (size_t k = 0; k < e->properties; k++) {
        const struct ply_property *q = &e->property[k];
        double count = 1;
        if (q->count_size && !ply_number(r, ply->order, q->count_size, q->count_kind, &count))
            return damaged(r, "ends before its numbers do");
        if (!(count >= 0 && count <= 4096)) /* an ASCII file may say nan */
            return damaged(r, "has a face of no corners that can be counted, or of over 4,096");
        uint32_t corner[4096];
        bool corners = is_face && q->count_size && strncmp(q->name, "vertex_ind", 10) == 0;
        for (size_t i = 0; i < (size_t)count; i++) {
            if (!ply_number(r, ply->order, q->size, q->kind, &v))
                return damaged(r, "ends before its numbers do");
            if (corners) corner[i] = v >= 0 && v < SCAN_POINTS ? (uint32_t)v : UINT32_MAX;
            if (is_vertex && q->name[0] >= 'x' && q->name[0] <= 'z' && !q->name[1])
                p[q->name[0] - 'x'] = v;
        }
        if (corners) {
            int rc = put_fan(r, corner, (size_t)count, most);
            if (rc) return rc;
        }
    }
    return is_vertex ? put_point(r, p) : 0;
}

/* Least bytes a row can take, so that a count can be checked before room is made. */
static size_t ply_least(const struct ply *ply, const struct ply_element *e) {
    size_t n = 0;
    for (size_t k = 0; k < e->properties; k++) {
        const struct ply_property *q = &e->property[k];
        n += ply->order == 0 ? 2 : (size_t)(q->count_size ? q->count_size : q->size);
    }
    return n ? n : 1;
}

static int read_ply(struct reader *r) {
    struct ply ply = {.order = -1};
    char text[512];
    bool some = true, end = false;
    int rc = line_text(r, text, &some);
    while (!rc && !end) {
        rc = line_text(r, text, &some);
        if (!rc && !some) return damaged(r, "has no end of its header");
        if (!rc) rc = ply_header_line(r, &ply, text, &end);
    }
    if (rc) return rc;
    if (ply.order < 0) return damaged(r, "does not say its PLY format");
    size_t points = 0, faces = 0, least = 0, corners = 0;
    for (size_t i = 0; i < ply.elements; i++) {
        const struct ply_element *e = &ply.element[i];
        least += e->n * ply_least(&ply, e);
        if (strcmp(e->name, "vertex") == 0) points = e->n;
        if (strcmp(e->name, "face") == 0) faces = e->n;
    }
    if (least > (size_t)(r->end - r->at) + 1) return damaged(r, "announces more than it holds");
    /* A polygon of n corners gives n - 2 triangles: bounded by the numbers left to read. */
    corners = faces + (size_t)(r->end - r->at) / 8;
    size_t most = faces * 4 < corners ? faces * 4 : corners;
    r->line = 0;
    if ((rc = make_room(r, points, most < SCAN_TRIANGLES ? most : SCAN_TRIANGLES))) return rc;
    for (size_t i = 0; i < ply.elements; i++) {
        const struct ply_element *e = &ply.element[i];
        bool vertex = strcmp(e->name, "vertex") == 0, face = strcmp(e->name, "face") == 0;
        for (size_t k = 0; k < e->n; k++)
            if ((rc = ply_row(r, &ply, e, vertex && r->out->n < points, face, most))) return rc;
    }
    return 0;
}

/* ---- STL --------------------------------------------------------------------------------------
 */

/* Corners of neighbouring STL triangles are repeated; equal ones become one point. */
static int merge_points(struct reader *r) {
    struct scan *s = r->out;
    size_t room = 16;
    while (room < 2 * s->n)
        room *= 2;
    uint32_t *slot = ARENA_NEW(r->arena, uint32_t, room),
             *map = ARENA_NEW(r->arena, uint32_t, s->n);
    if (!slot || !map) return fail_memory(r->err);
    size_t kept = 0;
    for (size_t i = 0; i < s->n; i++) {
        uint64_t h = 1469598103934665603u, bits; /* FNV-1a of the three numbers */
        for (int c = 0; c < 3; c++) {
            memcpy(&bits, &s->xyz[3 * i + (size_t)c], sizeof bits);
            h = (h ^ bits) * 1099511628211u;
            h ^= h >> 29;
        }
        size_t at = (size_t)h & (room - 1);
        while (slot[at] &&
               memcmp(s->xyz + 3 * (slot[at] - 1), s->xyz + 3 * i, 3 * sizeof(double)) != 0)
            at = (at + 1) & (room - 1);
        if (!slot[at]) {
            memmove(s->xyz + 3 * kept, s->xyz + 3 * i, 3 * sizeof(double));
            slot[at] = (uint32_t)++kept;
        }
        map[i] = slot[at] - 1;
    }
    for (size_t k = 0; k < 3 * s->triangles; k++)
        s->corner[k] = map[s->corner[k]];
    s->n = kept;
    return 0;
}

static int stl_corner(struct reader *r, const double p[3]) {
    int rc = put_point(r, p);
    if (!rc) r->out->corner[r->out->n - 1] = (uint32_t)(r->out->n - 1);
    return rc;
}

static int read_stl_binary(struct reader *r, uint32_t triangles) {
    int rc = make_room(r, 3 * (size_t)triangles, triangles);
    r->at += 84;
    for (uint32_t t = 0; t < triangles && !rc; t++, r->at += 50) {
        for (int v = 0; v < 3 && !rc; v++) {
            float f[3];
            memcpy(f, r->at + 12 + 12 * v, sizeof f); /* little-endian, as this machine */
            double p[3] = {f[0], f[1], f[2]};
            rc = stl_corner(r, p);
        }
        r->out->triangles++;
    }
    return rc ? rc : merge_points(r);
}

static int read_stl_ascii(struct reader *r) {
    size_t corners = 0;
    for (const char *p = r->at; p + 7 < r->end; p++) /* count before making room */
        corners += p[0] == 'v' && memcmp(p, "vertex ", 7) == 0;
    int rc = corners % 3 ? damaged(r, "has a triangle without three corners")
                         : make_room(r, corners, corners / 3);
    char text[512];
    for (bool some = true; some && !rc;) {
        rc = line_text(r, text, &some);
        const char *p = rc || !some ? NULL : strstr(text, "vertex ");
        if (!p) continue;
        double v[3];
        p += 7;
        if (!number(&p, &v[0]) || !number(&p, &v[1]) || !number(&p, &v[2]))
            rc = damaged(r, "has a corner without three numbers");
        else if (r->out->n == corners)
            rc = damaged(r, "has a line with two corners");
        else
            rc = stl_corner(r, v);
    }
    r->out->triangles = r->out->n / 3;
    return rc ? rc : merge_points(r);
}

/* ---- OBJ --------------------------------------------------------------------------------------
 */

static int obj_face(struct reader *r, const char *p, size_t most) {
    uint32_t corner[128];
    size_t n = 0;
    while (*p) {
        while (*p == ' ' || *p == '\t')
            p++;
        if (!*p) break;
        char *end;
        long v = strtol(p, &end, 10);
        if (end == p || v == 0 || n == 128) return damaged(r, "has a face that cannot be read");
        /* negative numbers count back from the last point so far */
        long index = v > 0 ? v - 1 : (long)r->out->n + v;
        corner[n++] = index >= 0 && index < SCAN_POINTS ? (uint32_t)index : UINT32_MAX;
        for (p = end; *p && *p != ' ' && *p != '\t'; p++)
            ; /* texture and normal numbers after a slash are not needed */
    }
    return put_fan(r, corner, n, most);
}

static int read_obj(struct reader *r) {
    size_t points = 0, triangles = 0, n;
    const char *start = r->at, *l;
    while ((l = next_line(r, &n))) {
        points += n > 1 && l[0] == 'v' && (l[1] == ' ' || l[1] == '\t');
        if (n > 1 && l[0] == 'f' && (l[1] == ' ' || l[1] == '\t')) {
            size_t words = 0;
            for (size_t i = 1; i + 1 < n; i++)
                words += (l[i] == ' ' || l[i] == '\t') && l[i + 1] != ' ' && l[i + 1] != '\t';
            triangles += words > 2 ? words - 2 : 0;
        }
    }
    r->at = start;
    r->line = 0;
    int rc = make_room(r, points, triangles);
    char text[512];
    for (bool some = true; some && !rc;) {
        rc = line_text(r, text, &some);
        if (rc || !some || (text[1] != ' ' && text[1] != '\t')) continue;
        if (text[0] == 'v') {
            const char *p = text + 1;
            double v[3];
            if (!number(&p, &v[0]) || !number(&p, &v[1]) || !number(&p, &v[2]))
                rc = damaged(r, "has a point without three numbers");
            else
                rc = put_point(r, v);
        } else if (text[0] == 'f')
            rc = obj_face(r, text + 1, triangles);
    }
    return rc;
}

int scan_read(struct scan *out, const char *bytes, size_t size, double unit, struct arena *arena,
              struct error *err) {
    *out = (struct scan){0};
    struct reader r = {bytes, bytes + size, 0, unit, out, arena, err};
    if (!(unit > 0 && unit <= 1e6))
        return fail(err, ERR_RANGE,
                    "Give how many mm one unit of the file is: 1, 10, 1000 or 25.4.",
                    "A unit of %g mm.", unit);
    uint32_t triangles = 0;
    if (size >= 84) memcpy(&triangles, bytes + 80, 4);
    int rc;
    if (size >= 4 && memcmp(bytes, "ply", 3) == 0 && (bytes[3] == '\n' || bytes[3] == '\r'))
        rc = read_ply(&r);
    else if (size >= 84 && size == 84 + 50 * (size_t)triangles)
        rc = read_stl_binary(&r, triangles);
    else if (size >= 6 && memcmp(bytes, "solid ", 6) == 0)
        rc = read_stl_ascii(&r);
    else
        rc = read_obj(&r);
    if (rc) return rc;
    for (size_t k = 0; k < 3 * out->triangles; k++)
        if (out->corner[k] >= out->n)
            return damaged(&r, "has a triangle with a corner that is not there");
    if (out->n == 0)
        return damaged(&r, "has no points: it is neither PLY, STL nor OBJ, or it is empty");
    return 0;
}
