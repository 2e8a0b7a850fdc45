#include "serve/gate.h"

#include <ctype.h>
#include <stdint.h>
#include <string.h>
#include <strings.h>

static struct gate_verdict refuse(int status, const char *reason) {
    return (struct gate_verdict){.status = status, .reason = reason};
}

/* How often a header stands there; *value is the last. */
static size_t count(const struct gate_request *r, const char *name, const char **value) {
    size_t n = 0;
    *value = NULL;
    for (size_t i = 0; i < r->header_count; i++)
        if (strcasecmp(r->headers[i].name, name) == 0) {
            n++;
            *value = r->headers[i].value ? r->headers[i].value : "";
        }
    return n;
}

/* Plain paths only: letters, digits and - _ . / with no empty, dot or dot-dot part. */
static bool path_is_plain(const char *p) {
    if (p[0] != '/' || strlen(p) > 400) return false;
    for (const char *q = p; *q; q++) {
        if (!isalnum((unsigned char)*q) && !strchr("-_./", *q)) return false;
        if (*q == '/' && (q[1] == '/' || q[1] == '.')) return false;
        if (*q == '.' && q[1] == '.') return false;
    }
    return true;
}

static bool listed(const char *const *list, const char *value) {
    for (; *list; list++)
        if (strcasecmp(*list, value) == 0) return true;
    return false;
}

/* Digits only, no sign, no overflow. */
static bool read_length(const char *text, size_t *out) {
    size_t v = 0;
    if (!*text || strlen(text) > 12) return false;
    for (; *text; text++) {
        if (!isdigit((unsigned char)*text)) return false;
        v = v * 10 + (size_t)(*text - '0');
    }
    *out = v;
    return true;
}

static bool begins(const char *text, const char *with) {
    return strncasecmp(text, with, strlen(with)) == 0;
}

/* Media type without parameters equals `type`. */
static bool is_type(const char *value, const char *type) {
    size_t n = strlen(type);
    return strncasecmp(value, type, n) == 0 &&
           (value[n] == 0 || value[n] == ';' || value[n] == ' ');
}

static struct gate_verdict judge_change(const struct gate_request *r,
                                        const struct gate_rules *rules, const char *host) {
    const char *origin, *site, *type, *length;
    if (count(r, "Origin", &origin) != 1 || !begins(origin, "http://") ||
        strcasecmp(origin + 7, host) != 0)
        return refuse(403, "Changes are taken from this program's own page only.");
    if (count(r, "Sec-Fetch-Site", &site) && strcmp(site, "same-origin") != 0)
        return refuse(403, "Changes are taken from this program's own page only.");
    if (count(r, "Content-Length", &length) != 1)
        return refuse(411, "The length of the body must be told.");
    struct gate_verdict v = {.changes = true};
    if (!read_length(length, &v.length))
        return refuse(400, "The length of the body is not a number.");
    if (count(r, "Content-Type", &type) != 1)
        return refuse(415, "The type of the body must be told.");
    v.raw = is_type(type, "application/octet-stream");
    if (!v.raw && !is_type(type, "application/json"))
        return refuse(415, "Only JSON or plain bytes are taken.");
    if (v.length > (v.raw ? rules->most_raw : rules->most_json))
        return refuse(413, "That is more than can be taken at once.");
    return v;
}

struct gate_verdict gate_judge(const struct gate_request *r, const struct gate_rules *rules) {
    const char *host, *other;
    if (count(r, "Host", &host) != 1) return refuse(400, "Exactly one Host is needed.");
    if (!listed(rules->hosts, host))
        return refuse(421, "This name is not served here. Use the address the program printed.");
    if (count(r, "Transfer-Encoding", &other))
        return refuse(411, "Bodies in pieces are not taken; tell the length.");
    if (count(r, "Content-Length", &other) > 1 || count(r, "Content-Type", &other) > 1 ||
        count(r, "Cookie", &other) > 1 || count(r, "Origin", &other) > 1)
        return refuse(400, "A header stands there twice.");
    if (!path_is_plain(r->path)) return refuse(400, "That is not a path of this program.");
    bool reads = strcmp(r->method, "GET") == 0 || strcmp(r->method, "HEAD") == 0;
    if (!reads && strcmp(r->method, "POST") && strcmp(r->method, "PUT"))
        return refuse(405, "Only GET, POST and PUT are understood.");
    if (!reads) return judge_change(r, rules, host);
    size_t length = 0;
    if (count(r, "Content-Length", &other) && (!read_length(other, &length) || length))
        return refuse(400, "A request to read has no body.");
    /* A page elsewhere may not read our data through the visitor's cookie. */
    if (count(r, "Sec-Fetch-Site", &other) && begins(r->path, "/api/") &&
        strcmp(other, "same-origin") && strcmp(other, "none"))
        return refuse(403, "Data is given to this program's own page only.");
    return (struct gate_verdict){0};
}

bool gate_same(const char *a, const char *b) {
    size_t n = strlen(a), m = strlen(b);
    unsigned differ = n != m;
    for (size_t i = 0; i < n && i < m; i++)
        differ |= (unsigned)((unsigned char)a[i] ^ (unsigned char)b[i]);
    return differ == 0;
}

bool gate_cookie(const char *header, const char *name, char *out, size_t size) {
    size_t n = strlen(name);
    for (const char *p = header; p && *p;) {
        while (*p == ' ' || *p == ';')
            p++;
        size_t len = strcspn(p, ";");
        if (len > n && p[n] == '=' && strncmp(p, name, n) == 0) {
            size_t value = len - n - 1;
            if (value + 1 > size) return false;
            memcpy(out, p + n + 1, value);
            out[value] = 0;
            return true;
        }
        p += len;
    }
    return false;
}
