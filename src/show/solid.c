#include "show/solid.h"

#include "base/mem.h"
#include "statement/statement.h"

#include <math.h>
#include <string.h>

_Static_assert(__BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__, "writers count bytes from the lowest");

int solid_check(const struct solid *s, struct error *err) {
    size_t triangles = 0;
    for (size_t p = 0; p < s->n_parts; p++) {
        const struct solid_part *part = &s->parts[p];
        triangles += part->n_triangles;
        for (size_t i = 0; i < 3 * part->n_points; i++)
            if (!isfinite(part->points[i]))
                return fail(err, ERR_RANGE, "Compute the shape again.",
                            "Part %s: point %zu has no place (not a number).", part->id, i / 3);
        for (size_t i = 0; i < 3 * part->n_triangles; i++)
            if (part->triangles[i] >= part->n_points)
                return fail(err, ERR_RANGE, "Compute the shape again.",
                            "Part %s: triangle %zu names a point that is not there.", part->id,
                            i / 3);
    }
    if (!triangles)
        return fail(err, ERR_MISSING, "Compute the step \"strength\" first.",
                    "There is no shape to write.");
    return 0;
}

static void put32(struct show_out *o, uint32_t v) {
    show_out_bytes(o, &v, 4);
}

static void put_float(struct show_out *o, double v) {
    float f = (float)v;
    show_out_bytes(o, &f, 4);
}

static void normal(double n[3], const struct solid_part *p, size_t t) {
    const double *a = p->points + 3 * p->triangles[3 * t],
                 *b = p->points + 3 * p->triangles[3 * t + 1],
                 *c = p->points + 3 * p->triangles[3 * t + 2];
    double u[3], v[3];
    for (int k = 0; k < 3; k++)
        u[k] = b[k] - a[k], v[k] = c[k] - a[k];
    for (int k = 0; k < 3; k++)
        n[k] = u[(k + 1) % 3] * v[(k + 2) % 3] - u[(k + 2) % 3] * v[(k + 1) % 3];
}

/* Normals at the points: the triangles' normals by area, of unit length; [n_points][3]. */
static double *normals(const struct solid_part *p) {
    double *out = MEM_NEW(double, 3 * p->n_points + 3);
    if (!out) return NULL;
    for (size_t t = 0; t < p->n_triangles; t++) {
        double n[3];
        normal(n, p, t);
        for (int c = 0; c < 3; c++)
            for (int k = 0; k < 3; k++)
                out[3 * p->triangles[3 * t + c] + (size_t)k] += n[k];
    }
    for (size_t i = 0; i < p->n_points; i++) {
        double *n = out + 3 * i, l = sqrt(n[0] * n[0] + n[1] * n[1] + n[2] * n[2]);
        if (l > 0)
            n[0] /= l, n[1] /= l, n[2] /= l;
        else
            n[0] = n[1] = 0, n[2] = 1; /* a point of no triangle */
    }
    return out;
}

/* ---- GLB: glTF 2.0, section 4 (binary container) ---- */

/* A point of the solid as glTF has it. */
static void y_up(float out[3], const double in[3], double scale) {
    out[0] = (float)(in[0] * scale);
    out[1] = (float)(in[2] * scale);
    out[2] = (float)(-in[1] * scale);
}

/* Appends the part's points, normals and triangles; finds the box as floats. */
static bool binary_part(struct show_out *bin, const struct solid_part *p, float low[3],
                        float high[3]) {
    double *n = normals(p);
    if (!n) return false;
    for (size_t i = 0; i < p->n_points; i++) {
        float v[3];
        y_up(v, p->points + 3 * i, 0.001);
        for (int k = 0; k < 3; k++) {
            low[k] = i ? fminf(low[k], v[k]) : v[k];
            high[k] = i ? fmaxf(high[k], v[k]) : v[k];
        }
        show_out_bytes(bin, v, sizeof v);
    }
    for (size_t i = 0; i < p->n_points; i++) {
        float v[3];
        y_up(v, n + 3 * i, 1);
        show_out_bytes(bin, v, sizeof v);
    }
    mem_free(n);
    show_out_bytes(bin, p->triangles, 12 * p->n_triangles);
    return true;
}

static void vector(struct show_out *j, const char *key, const float v[3]) {
    /* %.9g tells every float apart; the decimal point does not depend on the locale here because
     * the program never sets one. */
    show_out_format(j, ",\"%s\":[%.9g,%.9g,%.9g]", key, (double)v[0], (double)v[1], (double)v[2]);
}

struct pieces { /* the lists of the JSON chunk, built side by side */
    struct show_out nodes, meshes, accessors, views, bin;
};

static void view(struct show_out *o, size_t offset, size_t length, int target) {
    show_out_format(o, "%s{\"buffer\":0,\"byteOffset\":%zu,\"byteLength\":%zu,\"target\":%d}",
                    o->n ? "," : "", offset, length, target);
}

static bool json_part(struct pieces *q, const struct solid_part *p, size_t index) {
    float low[3] = {0}, high[3] = {0};
    size_t at = q->bin.n, vectors = 12 * p->n_points;
    if (!binary_part(&q->bin, p, low, high)) return false;
    view(&q->views, at, vectors, 34962);
    view(&q->views, at + vectors, vectors, 34962);
    view(&q->views, at + 2 * vectors, 12 * p->n_triangles, 34963);
    show_out_format(&q->accessors,
                    "%s{\"bufferView\":%zu,\"componentType\":5126,\"count\":%zu,\"type\":\"VEC3\"",
                    index ? "," : "", 3 * index, p->n_points);
    vector(&q->accessors, "min", low);
    vector(&q->accessors, "max", high);
    show_out_format(&q->accessors,
                    "},{\"bufferView\":%zu,\"componentType\":5126,\"count\":%zu,\"type\":\"VEC3\"},"
                    "{\"bufferView\":%zu,\"componentType\":5125,\"count\":%zu,\"type\":\"SCALAR\"}",
                    3 * index + 1, p->n_points, 3 * index + 2, 3 * p->n_triangles);
    show_out_format(&q->meshes,
                    "%s{\"primitives\":[{\"attributes\":{\"POSITION\":%zu,\"NORMAL\":%zu},"
                    "\"indices\":%zu,\"material\":0,\"mode\":4}],\"name\":",
                    index ? "," : "", 3 * index, 3 * index + 1, 3 * index + 2);
    show_out_json(&q->meshes, p->name ? p->name : p->id);
    show_out_text(&q->meshes, "}");
    show_out_format(&q->nodes, "%s{\"mesh\":%zu,\"name\":", index ? "," : "", index);
    const char *footing = p->footing >= 0 && p->footing < FOOTING_COUNT ? footing_words[p->footing]
                                                                        : "no footing yet";
    struct show_out name = {0};
    show_out_format(&name, "%s, %s", p->name ? p->name : p->id, footing);
    show_out_json(&q->nodes, name.bytes);
    show_out_deinit(&name);
    show_out_text(&q->nodes, ",\"extras\":{\"id\":");
    show_out_json(&q->nodes, p->id);
    show_out_text(&q->nodes, ",\"footing\":");
    show_out_json(&q->nodes, footing);
    if (p->said) {
        show_out_text(&q->nodes, ",\"statement\":");
        show_out_json(&q->nodes, p->said);
    }
    show_out_text(&q->nodes, "}}");
    return true;
}

static void json_whole(struct show_out *j, const struct pieces *q, const struct solid *s,
                       size_t parts) {
    show_out_text(j, "{\"asset\":{\"version\":\"2.0\",\"generator\":\"relict " RELICT_VERSION
                     "\",\"extras\":{\"note\":");
    show_out_json(j, s->note ? s->note : "");
    show_out_text(j, ",\"unit\":\"metre\"}},\"scene\":0,\"scenes\":[{\"name\":");
    show_out_json(j, s->title ? s->title : "");
    show_out_text(j, ",\"nodes\":[");
    for (size_t i = 0; i < parts; i++)
        show_out_format(j, "%s%zu", i ? "," : "", i);
    show_out_format(j,
                    "]}],\"nodes\":[%s],\"meshes\":[%s],\"accessors\":[%s],\"bufferViews\":[%s],"
                    "\"buffers\":[{\"byteLength\":%zu}],\"materials\":[{\"name\":\"bark, matte\","
                    "\"doubleSided\":true,\"pbrMetallicRoughness\":{\"baseColorFactor\":"
                    "[0.902,0.855,0.761,1],\"metallicFactor\":0,\"roughnessFactor\":1}}]}",
                    q->nodes.bytes, q->meshes.bytes, q->accessors.bytes, q->views.bytes, q->bin.n);
    while (j->n % 4 && !j->failed)
        show_out_text(j, " ");
}

int solid_glb(struct show_out *out, const struct solid *s, struct error *err) {
    int code = solid_check(s, err);
    if (code) return code;
    struct pieces q = {{0}, {0}, {0}, {0}, {0}};
    struct show_out json = {0};
    size_t parts = 0;
    for (size_t i = 0; i < s->n_parts; i++) {
        if (!s->parts[i].n_triangles) continue;
        if (!json_part(&q, &s->parts[i], parts++)) code = fail_memory(err);
    }
    struct show_out *all[] = {&q.nodes, &q.meshes, &q.accessors, &q.views, &q.bin, &json};
    for (int i = 0; i < 5 && !code; i++)
        code = show_out_status(all[i], err);
    if (!code) {
        json_whole(&json, &q, s, parts);
        put32(out, 0x46546C67); /* "glTF" */
        put32(out, 2);
        put32(out, (uint32_t)(12 + 8 + json.n + 8 + q.bin.n));
        put32(out, (uint32_t)json.n);
        put32(out, 0x4E4F534A); /* "JSON" */
        show_out_bytes(out, json.bytes, json.n);
        put32(out, (uint32_t)q.bin.n); /* all records are of four bytes: no padding is needed */
        put32(out, 0x004E4942);        /* "BIN" */
        show_out_bytes(out, q.bin.bytes, q.bin.n);
        code = show_out_status(&json, err);
    }
    for (int i = 0; i < 6; i++)
        show_out_deinit(all[i]);
    return code ? code : show_out_status(out, err);
}

/* ---- PLY 1.0, binary ---- */

int solid_ply(struct show_out *out, const struct solid *s, struct error *err) {
    int code = solid_check(s, err);
    if (code) return code;
    size_t points = 0, triangles = 0;
    for (size_t i = 0; i < s->n_parts; i++) {
        points += s->parts[i].n_points;
        triangles += s->parts[i].n_triangles;
    }
    show_out_text(out, "ply\nformat binary_little_endian 1.0\ncomment unit mm\n");
    for (size_t i = 0; i < s->n_parts; i++) {
        const struct solid_part *p = &s->parts[i];
        /* ids are plain words; a line break in one would break the heading */
        show_out_format(out, "comment part %zu ", i);
        for (const char *c = p->id; *c; c++)
            show_out_bytes(out, (unsigned char)*c < 0x20 ? " " : c, 1);
        show_out_format(out, ", %s\n",
                        p->footing >= 0 && p->footing < FOOTING_COUNT ? footing_words[p->footing]
                                                                      : "no footing yet");
    }
    show_out_format(
        out,
        "element vertex %zu\nproperty float x\nproperty float y\nproperty float z\n"
        "element face %zu\nproperty list uchar uint vertex_indices\nproperty uint part\n"
        "end_header\n",
        points, triangles);
    for (size_t i = 0; i < s->n_parts; i++)
        for (size_t k = 0; k < 3 * s->parts[i].n_points; k++)
            put_float(out, s->parts[i].points[k]);
    uint32_t first = 0;
    for (size_t i = 0; i < s->n_parts; i++) {
        const struct solid_part *p = &s->parts[i];
        for (size_t t = 0; t < p->n_triangles; t++) {
            show_out_bytes(out, "\3", 1);
            for (int k = 0; k < 3; k++)
                put32(out, first + p->triangles[3 * t + (size_t)k]);
            put32(out, (uint32_t)i);
        }
        first += (uint32_t)p->n_points;
    }
    return show_out_status(out, err);
}

/* ---- STL, binary ---- */

int solid_stl(struct show_out *out, const struct solid *s, struct error *err) {
    int code = solid_check(s, err);
    if (code) return code;
    char head[80] = "relict, unit mm";
    show_out_bytes(out, head, sizeof head);
    size_t triangles = 0;
    for (size_t i = 0; i < s->n_parts; i++)
        triangles += s->parts[i].n_triangles;
    put32(out, (uint32_t)triangles);
    for (size_t i = 0; i < s->n_parts; i++) {
        const struct solid_part *p = &s->parts[i];
        for (size_t t = 0; t < p->n_triangles; t++) {
            double n[3], l;
            normal(n, p, t);
            l = sqrt(n[0] * n[0] + n[1] * n[1] + n[2] * n[2]);
            for (int k = 0; k < 3; k++)
                put_float(out, l > 0 ? n[k] / l : 0);
            for (int c = 0; c < 3; c++)
                for (int k = 0; k < 3; k++)
                    put_float(out, p->points[3 * p->triangles[3 * t + (size_t)c] + (size_t)k]);
            show_out_bytes(out, "\0\0", 2);
        }
    }
    return show_out_status(out, err);
}
