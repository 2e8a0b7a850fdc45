/* Answers: JSON, errors, screens and bytes, with the headers that stand on each. */
#include "base/asset.h"
#include "base/mem.h"
#include "serve/api.h"
#include "serve/server_private.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

enum { WORTH_PACKING = 1000 }; /* bytes: less fits one packet as it is */

/* On every answer (W3C CSP 3; Fetch standard; Referrer Policy). */
static const char *const safe_headers[][2] = {
    {"Content-Security-Policy",
     "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
     "connect-src 'self'; font-src 'self'; worker-src 'self'; object-src 'none'; base-uri 'none'; "
     "frame-ancestors 'none'; form-action 'self'"},
    {"X-Content-Type-Options", "nosniff"},
    {"Referrer-Policy", "no-referrer"},
    {"Cross-Origin-Resource-Policy", "same-origin"},
    {"Cross-Origin-Opener-Policy", "same-origin"},
};

static const char page_rules[] =
    "sandbox allow-scripts allow-downloads allow-modals; default-src 'none'; "
    "script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data:; font-src data:; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'self'";

enum MHD_Result server_queue(struct MHD_Connection *c, unsigned status, struct MHD_Response *r) {
    if (!r) return MHD_NO;
    for (size_t i = 0; i < sizeof safe_headers / sizeof safe_headers[0]; i++)
        if (!MHD_get_response_header(r, safe_headers[i][0]))
            MHD_add_response_header(r, safe_headers[i][0], safe_headers[i][1]);
    enum MHD_Result done = MHD_queue_response(c, status, r);
    MHD_destroy_response(r);
    return done;
}

/* Whether the browser takes gzip (RFC 9110, 12.5.3); one that gives it a weight is spared it. */
static bool takes_packed(struct MHD_Connection *c) {
    const char *list = MHD_lookup_connection_value(c, MHD_HEADER_KIND, "Accept-Encoding"),
               *at = list ? strstr(list, "gzip") : NULL;
    return at && strncmp(at + 4, ";q", 2) != 0;
}

static bool is_text(const char *type) {
    return strncmp(type, "text/", 5) == 0 || strncmp(type, "application/json", 16) == 0 ||
           strcmp(type, "image/svg+xml") == 0;
}

/* gzip (RFC 1952), from mem_alloc; NULL where it cannot be had or saves nothing. */
static unsigned char *pack(const void *bytes, size_t n, size_t *packed) {
    z_stream z = {.next_in = (Bytef *)bytes, .avail_in = (uInt)n};
    if (n > UINT32_MAX ||
        deflateInit2(&z, Z_DEFAULT_COMPRESSION, Z_DEFLATED, 15 + 16, 8, Z_DEFAULT_STRATEGY) != Z_OK)
        return NULL;
    unsigned char *out = mem_alloc(n, 1);
    z.next_out = out;
    z.avail_out = (uInt)n;
    bool done = out && deflate(&z, Z_FINISH) == Z_STREAM_END;
    *packed = n - z.avail_out;
    deflateEnd(&z);
    if (done) return out;
    mem_free(out);
    return NULL;
}

/* An answer of these bytes, packed where that helps: a phone's line is slow. */
static struct MHD_Response *respond(struct MHD_Connection *c, const void *bytes, size_t n,
                                    const char *type, enum MHD_ResponseMemoryMode memory) {
    bool text = n >= WORTH_PACKING && is_text(type);
    size_t m = 0;
    unsigned char *packed = text && takes_packed(c) ? pack(bytes, n, &m) : NULL;
    struct MHD_Response *r = packed
                                 ? MHD_create_response_from_buffer(m, packed, MHD_RESPMEM_MUST_COPY)
                                 : MHD_create_response_from_buffer(n, (void *)bytes, memory);
    if (packed && memory == MHD_RESPMEM_MUST_FREE) free((void *)bytes);
    if (r) {
        MHD_add_response_header(r, "Content-Type", type);
        if (text) MHD_add_response_header(r, "Vary", "Accept-Encoding");
        if (packed) MHD_add_response_header(r, "Content-Encoding", "gzip");
    }
    mem_free(packed);
    return r;
}

enum MHD_Result server_answer_json(struct MHD_Connection *c, int status, json_t *o,
                                   const char *cookie) {
    char *text = o ? json_dumps(o, JSON_COMPACT | JSON_ENCODE_ANY | JSON_REAL_PRECISION(15)) : NULL;
    json_decref(o);
    if (!text) return MHD_NO;
    struct MHD_Response *r =
        respond(c, text, strlen(text), "application/json; charset=utf-8", MHD_RESPMEM_MUST_FREE);
    if (r) {
        MHD_add_response_header(r, "Cache-Control", "no-store");
        if (cookie) MHD_add_response_header(r, "Set-Cookie", cookie);
    }
    return server_queue(c, (unsigned)status, r);
}

enum MHD_Result server_answer_refusal(struct MHD_Connection *c, int status, const char *reason) {
    return server_answer_json(
        c, status, json_pack("{s:{s:s,s:s}}", "error", "message", reason, "remedy", ""), NULL);
}

/* `present` (may be NULL, taken over): what stands there instead, when two changed one thing. */
enum MHD_Result server_answer_error(struct MHD_Connection *c, const struct error *err,
                                    json_t *present) {
    json_t *o =
        json_pack("{s:{s:s,s:s,s:s,s:s,s:s}}", "error", "code", error_name(err->code), "message",
                  err->message, "remedy", err->remedy, "column", err->column, "id", err->id);
    if (present) json_object_set_new(json_object_get(o, "error"), "present", present);
    return server_answer_json(c, api_status((int)err->code), o, NULL);
}

static const char *media_of(const char *name) {
    static const char *const types[][2] = {{".html", "text/html; charset=utf-8"},
                                           {".js", "text/javascript; charset=utf-8"},
                                           {".css", "text/css; charset=utf-8"},
                                           {".svg", "image/svg+xml"},
                                           {".json", "application/json"},
                                           {".woff", "font/woff"},
                                           {".ttf", "font/ttf"},
                                           {".png", "image/png"},
                                           {".webmanifest", "application/manifest+json"}};
    const char *dot = strrchr(name, '.');
    for (size_t i = 0; dot && i < sizeof types / sizeof types[0]; i++)
        if (strcmp(dot, types[i][0]) == 0) return types[i][1];
    return "application/octet-stream";
}

/* Screens: names in the table of embedded files under web/, nothing else. */
enum MHD_Result server_answer_screen(struct MHD_Connection *c, const char *path) {
    char name[420];
    size_t n;
    /* browsers ask for the icon by this name where a page names none */
    if (strcmp(path, "/favicon.ico") == 0) path = "/mark.svg";
    snprintf(name, sizeof name, "web%s", strcmp(path, "/") ? path : "/index.html");
    const char *bytes = asset_find(name, &n);
    if (!bytes) return server_answer_refusal(c, 404, "There is no such page.");
    struct MHD_Response *r = respond(c, bytes, n, media_of(name), MHD_RESPMEM_PERSISTENT);
    if (r) MHD_add_response_header(r, "Cache-Control", "no-cache");
    return server_queue(c, 200, r);
}

/* Bytes of the project. A page of ours that computes (the wood page, a book) stands in a sandbox:
 * its scripts run with no origin, so they cannot ask us anything, and it cannot reach out. */
enum MHD_Result server_answer_bytes(struct MHD_Connection *c, const struct api_call *call) {
    struct MHD_Response *r = respond(c, call->bytes, call->size, call->type, MHD_RESPMEM_MUST_COPY);
    if (!r) return MHD_NO;
    MHD_add_response_header(r, "Cache-Control", "no-store");
    if (call->attachment) {
        char text[200] = "attachment";
        if (call->name) snprintf(text, sizeof text, "attachment; filename=\"%s\"", call->name);
        MHD_add_response_header(r, "Content-Disposition", text);
    }
    if (call->page) MHD_add_response_header(r, "Content-Security-Policy", page_rules);
    return server_queue(c, 200, r);
}
