/* Letting others in: keys handed out from the screen, listed and revoked. */
#include "serve/api.h"
#include "serve/server_private.h"

#include <qrencode.h>
#include <string.h>

enum { MOST_KEYS = 32 };

static const char *const right_words[] = {"none", "read", "write", "own"};

json_t *server_keys(struct server *s) {
    struct key_line lines[MOST_KEYS];
    double now = server_seconds();
    size_t n = keyring_list(s->keys, now, lines, MOST_KEYS);
    json_t *list = json_array();
    for (size_t i = 0; i < n; i++)
        json_array_append_new(list,
                              json_pack("{s:i,s:s,s:i,s:i}", "id", (int)lines[i].id, "right",
                                        right_words[lines[i].right], "ends",
                                        (int)(lines[i].ends - now), "pages", lines[i].sessions));
    return list;
}

/* The sign a phone reads (ISO/IEC 18004): rows of 0 and 1. */
static json_t *sign_of(const char *text) {
    QRcode *code = QRcode_encodeString8bit(text, 0, QR_ECLEVEL_M);
    json_t *rows = code ? json_array() : NULL;
    for (int y = 0; code && y < code->width; y++) {
        char row[256] = "";
        for (int x = 0; x < code->width && x < 255; x++)
            row[x] = code->data[y * code->width + x] & 1 ? '1' : '0';
        json_array_append_new(rows, json_string(row));
    }
    QRcode_free(code);
    return rows;
}

int server_share(json_t **out, struct server *s, bool write, struct arena *arena,
                 struct error *err) {
    if (!*s->network)
        return fail(err, ERR_MISSING, "Stop it and begin again: relict serve FILE --share",
                    "This machine alone is served.");
    char *address = server_share_address(s, write, arena);
    if (!address)
        return fail(err, ERR_REFUSED, "Revoke some first.", "Too many keys are handed out.");
    json_t *sign = sign_of(address);
    *out = json_pack("{s:s,s:o,s:i}", "address", address, "sign", sign ? sign : json_array(),
                     "ends", (int)s->share_for);
    return *out ? 0 : fail_memory(err);
}

bool server_revoke(struct server *s, long key) {
    return keyring_revoke_one(s->keys, key);
}
