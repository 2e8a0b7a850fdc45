/* font: cuts a font of the machine down to the signs a page uses, to travel inside the page. */
#include "show/paper.h"

#include <fontconfig/fontconfig.h>
#include <harfbuzz/hb-subset.h>
#include <string.h>
#include <strings.h>

/* Path of the family's regular face; false when the nearest match is another family. */
static bool find_file(char *path, size_t size, const char *family) {
    FcPattern *want = FcPatternCreate();
    FcPatternAddString(want, FC_FAMILY, (const FcChar8 *)family);
    FcPatternAddInteger(want, FC_WEIGHT, FC_WEIGHT_REGULAR);
    FcPatternAddInteger(want, FC_SLANT, FC_SLANT_ROMAN);
    FcConfigSubstitute(NULL, want, FcMatchPattern);
    FcDefaultSubstitute(want);
    FcResult result;
    FcPattern *match = FcFontMatch(NULL, want, &result);
    FcChar8 *file = NULL, *name = NULL;
    bool found = match && FcPatternGetString(match, FC_FILE, 0, &file) == FcResultMatch &&
                 FcPatternGetString(match, FC_FAMILY, 0, &name) == FcResultMatch &&
                 !strcasecmp((const char *)name, family) && strlen((const char *)file) < size;
    if (found) strcpy(path, (const char *)file);
    if (match) FcPatternDestroy(match);
    FcPatternDestroy(want);
    return found;
}

static hb_face_t *cut(hb_face_t *face, const char *text) {
    hb_subset_input_t *input = hb_subset_input_create_or_fail();
    if (!input) return NULL;
    hb_set_t *signs = hb_subset_input_unicode_set(input);
    hb_set_add_range(signs, ' ', '~'); /* what a page may come to show when it computes */
    unsigned c;
    for (size_t step; (step = show_utf8_next(text, &c)); text += step)
        hb_set_add(signs, c);
    hb_subset_input_set_flags(input, HB_SUBSET_FLAGS_NO_HINTING);
    hb_face_t *small = hb_subset_or_fail(face, input);
    hb_subset_input_destroy(input);
    return small;
}

int show_font_subset(struct show_out *out, const char *family, const char *text,
                     struct error *err) {
    char path[1024];
    if (!find_file(path, sizeof path, family))
        return fail(
            err, ERR_MISSING,
            "Install the font; until then the page is set in what the reader's machine has.",
            "The font \"%s\" is not on this machine.", family);
    hb_blob_t *file = hb_blob_create_from_file_or_fail(path);
    hb_face_t *face = file ? hb_face_create(file, 0) : NULL;
    hb_face_t *small = face ? cut(face, text) : NULL;
    if (small) {
        hb_blob_t *bytes = hb_face_reference_blob(small);
        unsigned n;
        const char *data = hb_blob_get_data(bytes, &n);
        show_out_bytes(out, data, n);
        hb_blob_destroy(bytes);
    }
    hb_face_destroy(small);
    hb_face_destroy(face);
    hb_blob_destroy(file);
    if (!small)
        return fail(err, ERR_FILE, "Install the font again.",
                    "The font file of \"%s\" cannot be read.", family);
    return show_out_status(out, err);
}
