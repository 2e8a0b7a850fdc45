#include "job/seal_trial.h"

#include "gather/day.h"
#include "trial/trial.h"

#include <math.h>
#include <string.h>

/* The trial as it stands in the record; false when it is new. */
static bool as_it_stands(struct trial *out, struct record *record, const char *id,
                         struct arena *arena) {
    struct record_entry entry;
    struct error ignored = {0};
    if (record_get(&entry, record, "trial", id, arena, &ignored)) return false;
    json_t *body = json_loads(entry.body, 0, NULL);
    bool good = body && field_decode(&trial_kind, body, out, arena, &ignored) == 0;
    json_decref(body);
    return good;
}

static bool made_first(const struct trial *t) {
    long asked, made;
    struct error ignored = {0};
    return t->made_on && t->predicted_on && !gather_day_read(&asked, t->predicted_on, &ignored) &&
           !gather_day_read(&made, t->made_on, &ignored) && asked > made;
}

int job_seal_trial(json_t *body, struct record *record, const char *id, struct arena *arena,
                   struct error *err) {
    struct trial now, before;
    struct error ignored = {0};
    char seal[SHA256_TEXT];
    json_object_del(body, "seal");                                        /* nobody types a seal */
    if (field_decode(&trial_kind, body, &now, arena, &ignored)) return 0; /* told when it is put */
    bool known = as_it_stands(&before, record, id, arena);
    if (made_first(&now) || (known && before.made_before_asked == 1))
        json_object_set_new(body, "made_before_asked", json_true());
    if (known && before.seal && before.made_on) {
        json_object_set_new(body, "seal", json_string(before.seal));
        return 0;
    }
    if (isnan(now.predicted) || isnan(now.half) || !now.predicted_on) return 0;
    now.id = id;
    trial_seal(seal, &now);
    return json_object_set_new(body, "seal", json_string(seal)) ? fail_memory(err) : 0;
}
