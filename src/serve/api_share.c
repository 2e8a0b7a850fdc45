/* Handing out keys and taking them back. */
#include "serve/api_rows.h"

int api_get_keys(struct api_call *c, struct error *err) {
    return api_done(c, server_keys(c->server), err);
}

int api_post_share(struct api_call *c, struct error *err) {
    int rc = server_share(&c->out, c->server, json_is_true(json_object_get(c->body, "write")),
                          c->arena, err);
    if (rc != ERR_MISSING) return rc;
    return api_done(c, json_pack("{s:s,s:s}", "missing", err->message, "remedy", err->remedy), err);
}

int api_post_revoke(struct api_call *c, struct error *err) {
    const json_t *id = json_object_get(c->body, "key");
    if (!server_revoke(c->server, (long)json_integer_value(id)))
        return fail(err, ERR_MISSING, "Look at the list again.", "There is no such key.");
    return api_done(c, json_object(), err);
}
