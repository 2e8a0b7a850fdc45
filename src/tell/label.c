/* label: what visitors read. Sentences are put together from what is entered; the count of words is
 * kept between 30 and 50 and no sentence has 25 or more (story 7). */
#include "tell/dossier.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

enum { LEAST_WORDS = 30, MOST_WORDS = 50, LONGEST_SENTENCE = 24 };

static size_t count_words(const char *text) {
    size_t n = 0;
    bool in = false;
    for (; *text; text++) {
        bool letter = !isspace((unsigned char)*text);
        n += letter && !in;
        in = letter;
    }
    return n;
}

/* "a, b" with a capital and a full stop. */
static char *sentence(struct arena *arena, const char *before, const char *text) {
    if (!text || !*text) return NULL;
    size_t n = strlen(text);
    while (n && (text[n - 1] == '.' || text[n - 1] == ' '))
        n--;
    char *s = arena_printf(arena, "%s%.*s.", before, (int)n, text);
    if (s && *s >= 'a' && *s <= 'z') *s = (char)(*s - 'a' + 'A');
    return s;
}

static char *effort(const struct tell_dossier *d, struct arena *arena) {
    const struct handover *h = d->handover;
    char mass[40], hours[40];
    if (!h) return NULL;
    bool heavy = isfinite(h->mass) && h->mass > 0, long_work = isfinite(h->hours) && h->hours > 0;
    bool trees = h->trees > 0;
    if (!heavy && !long_work && !trees) return NULL;
    struct show_out o = {0};
    show_out_text(&o, "The copy");
    if (heavy) show_out_format(&o, " weighs %s grams", show_real(mass, h->mass, 0));
    if (heavy && (long_work || trees)) show_out_text(&o, " and");
    if (long_work || trees) show_out_text(&o, " took");
    if (trees) show_out_format(&o, " %ld tree%s", h->trees, h->trees == 1 ? "" : "s");
    if (trees && long_work) show_out_text(&o, " and");
    if (long_work) show_out_format(&o, " %s hours", show_real(hours, h->hours, 0));
    show_out_text(&o, ".");
    char *text = o.failed ? NULL : arena_strdup(arena, o.bytes);
    show_out_deinit(&o);
    return text;
}

char *tell_label_text(const struct tell_dossier *d, size_t *words, size_t *longest,
                      struct arena *arena) {
    const struct handover *h = d->handover;
    const char *s[6] = {0};
    size_t n = 0;
    s[n++] = "Beside the crushed pieces lies a copy, as it may have been.";
    if (h) s[n++] = sentence(arena, "It was for ", h->used_for);
    s[n++] = effort(d, arena);
    if (h) s[n++] = sentence(arena, "What failed: ", h->failed);
    if (h) s[n++] = sentence(arena, "Not known: ", h->unknown);
    s[n++] = "Every part of the copy says why it is there.";
    /* First what must not be missing, then what still fits; the order of reading stays. */
    static const int first[] = {1, 4, 2, 3, 0, 5};
    bool taken[6] = {false};
    size_t total = 0;
    for (int k = 0; k < 6; k++) {
        int i = first[k];
        if ((size_t)i >= n || !s[i]) continue;
        size_t w = count_words(s[i]);
        if (total + w > MOST_WORDS || w > LONGEST_SENTENCE) continue;
        if (i == 5 && total >= LEAST_WORDS) continue;
        taken[i] = true;
        total += w;
    }
    struct show_out o = {0};
    *words = total;
    *longest = 0;
    for (size_t i = 0; i < n; i++) {
        if (!taken[i]) continue;
        show_out_format(&o, "%s%s", o.n ? " " : "", s[i]);
        size_t w = count_words(s[i]);
        if (w > *longest) *longest = w;
    }
    char *text = o.failed ? NULL : arena_strdup(arena, o.bytes ? o.bytes : "");
    show_out_deinit(&o);
    return text;
}

int tell_label(struct tell_doc **out, const struct tell_dossier *d, bool large, struct error *err) {
    *out = NULL;
    struct arena *own = arena_new();
    struct tell_check *list;
    size_t n;
    if (!own || tell_checklist(&list, &n, d, own, err)) {
        arena_free(own);
        return fail_memory(err);
    }
    const char *draft =
        tell_draft_reason(list, n, own) ? "the argument behind it is not complete yet." : NULL;
    struct tell_doc_options o = tell_options(d, "Label for visitors", draft);
    o.large = large;
    struct tell_doc *doc = tell_doc_new(&o);
    struct arena *arena = tell_doc_arena(doc);
    arena_free(own);
    if (!arena) return fail_memory(err);
    size_t words, longest;
    char *text = tell_label_text(d, &words, &longest, arena);
    if (text) tell_answer(doc, "%s", text);
    struct show_drawing *pair =
        tell_pair(d, true, large ? 168 : 165, large ? SHOW_PT(18) : 0, arena);
    if (pair) tell_picture(doc, pair);
    const struct handover *h = d->handover;
    if (large) { /* for visitors alone: what the setter has to know stands with the other one */
        if (h && h->invented == 1) tell_p(doc, "The object is invented.");
        *out = doc;
        return tell_doc_status(doc, err);
    }
    tell_h1(doc, "notes", "For whoever sets the label", 8);
    tell_p(doc,
           "%zu words, the longest sentence has %zu. Thirty to fifty, and under twenty-five, read "
           "well standing up.",
           words, longest);
    if (words < LEAST_WORDS)
        tell_care(doc,
                  "the draft is short: enter what it was for, what failed and what is not known "
                  "(handover) in shorter sentences.");
    const char *const names[] = {"What it was for", "What failed", "What is not known"};
    const char *texts[] = {h ? h->used_for : NULL, h ? h->failed : NULL, h ? h->unknown : NULL};
    for (int i = 0; i < 3; i++)
        tell_item(doc, "%s: %s", names[i], texts[i] ? texts[i] : "not entered");
    tell_item(doc, "Marked for good as a copy: %s", h && h->mark ? h->mark : "not entered");
    if (h && h->invented == 1) tell_p(doc, "The object is invented.");
    int code = tell_doc_status(doc, err);
    if (code)
        tell_doc_free(doc);
    else
        *out = doc;
    return code;
}
