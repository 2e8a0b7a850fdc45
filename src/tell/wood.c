/* wood: the page one takes to the wood. All numbers on it are worked out here, for a grid of girths
 * and each kind of stem; the page only looks them up and writes down what was measured. */
#include "gather/stem.h"
#include "tell/dossier.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { LEAST_GIRTH = 200, MOST_GIRTH = 3000, GIRTH_STEP = 20, TEXTS = 128 };

/* Texts that repeat are written once. */
struct table {
    const char *texts[TEXTS];
    size_t n;
};

static size_t text_index(struct table *t, const char *text) {
    for (size_t i = 0; i < t->n; i++)
        if (!strcmp(t->texts[i], text)) return i;
    if (t->n == TEXTS) return TEXTS - 1;
    t->texts[t->n] = text;
    return t->n++;
}

/* The sheet wanted: the making's, fresh as it is or brought there by the usual range's middle. */
static bool want_of(struct sheet_want *want, const struct tell_dossier *d) {
    const struct making *m = tell_leading(d);
    const struct part *p = m ? makings_part(d->makings, m->id, PART_SHEET, NULL) : NULL;
    if (!p || !(p->length > 0) || !(p->width > 0)) return false;
    bool fresh = p->state == STATE_FRESH;
    /* Grain along the length unless the making says it runs across. */
    bool across = isfinite(p->grain) && fabs(sin(p->grain)) > 0.7;
    *want =
        (struct sheet_want){.around = across ? p->length : p->width,
                            .along = across ? p->width : p->length,
                            /* trade reference story 5: 6 % across, 0.5 % along, trim 25 and 50 */
                            .shrink_around = fresh ? 0 : 0.06,
                            .shrink_along = fresh ? 0 : 0.005,
                            .trim_around = 25,
                            .trim_along = 50,
                            .thickness = p->thickness > 0 ? p->thickness : 4};
    return true;
}

static int row(struct show_out *o, struct table *t, long kind, double girth,
               const struct sheet_want *want, struct arena *arena, struct error *err) {
    struct stem s;
    struct stem_answer a;
    char number[40];
    field_unknown(&stem_kind_kind, &s);
    s.id = "x", s.kind = kind, s.girth = girth, s.clear_length = 1e4;
    s.consent = CONSENT_GIVEN;
    int code = gather_stem_answer(&a, &s, want, &gather_closing_default, arena, err);
    if (code) return code;
    show_out_format(o, "[%ld,", lround(girth));
    show_out_text(o, show_real(number, fmin(a.share, 9), 3));
    show_out_format(o, ",%ld,%zu,%zu,%zu,", a.fits, text_index(t, a.harm ? a.harm : ""),
                    text_index(t, a.permit ? a.permit : ""),
                    text_index(t, a.conflict ? a.conflict : ""));
    show_out_text(o, show_real(number, a.strain, 4));
    show_out_text(o, ",");
    show_out_text(o, isfinite(a.close_fast) ? show_real(number, a.close_fast, 0) : "null");
    show_out_text(o, ",");
    show_out_text(o, isfinite(a.close_slow) ? show_real(number, a.close_slow, 0) : "null");
    show_out_text(o, "]");
    return 0;
}

static int data(struct show_out *o, const struct tell_dossier *d, const struct sheet_want *want,
                struct arena *arena, struct error *err) {
    struct table t = {.n = 0};
    double around, along;
    int code = gather_sheet_cut(&around, &along, want, err);
    show_out_text(o, "var data={\"object\":");
    show_out_json(o, d->title);
    show_out_format(o, ",\"around\":%ld,\"along\":%ld,\"kinds\":[", lround(around), lround(along));
    for (long k = 0; stem_kind_words[k]; k++) {
        if (k) show_out_text(o, ",");
        show_out_json(o, stem_kind_words[k]);
    }
    show_out_text(o, "],\"rows\":[");
    for (long k = 0; stem_kind_words[k] && !code; k++) {
        show_out_text(o, k ? ",\n[" : "[");
        bool any = false;
        for (long girth = LEAST_GIRTH; girth <= MOST_GIRTH && !code; girth += GIRTH_STEP) {
            struct error slim = {0};
            size_t before = o->n;
            if (any) show_out_text(o, ",");
            /* a stem thinner than its bark is no stem: the row is left out */
            int rc = row(o, &t, k, (double)girth, want, arena, &slim);
            if (rc == ERR_MEMORY) code = fail_memory(err);
            if (rc) o->n = before;
            any |= rc == 0;
        }
        show_out_text(o, "]");
    }
    show_out_text(o, "],\"texts\":[");
    for (size_t i = 0; i < t.n; i++) {
        if (i) show_out_text(o, ",");
        show_out_json(o, t.texts[i]);
    }
    show_out_text(o, "]};\n");
    return code ? code : show_out_status(o, err);
}

/* No text of a person reaches the page but through textContent. */
static const char *const behaviour =
    "var at=function(id){return document.getElementById(id)};\n"
    "var kind=at('kind'),girth=at('girth');\n"
    "data.kinds.forEach(function(k,i){var o=document.createElement('option');o.value=i;"
    "o.textContent=k;kind.appendChild(o)});\n"
    "function number(text){return Number(String(text).replace(',','.'))}\n"
    "function find(){var g=number(girth.value)*10,best=null;"
    "if(!(g>0))return null;"
    "data.rows[kind.value].forEach(function(r){if(r[0]<=g)best=r});return best}\n"
    "function draw(g){var x=20+Math.min(Math.max(g||0,0),300)*2;"
    "at('cut').setAttribute('x1',x);at('cut').setAttribute('x2',x)}\n"
    "function say(){var r=find(),y=at('yields'),h=at('harms');draw(number(girth.value));"
    "if(!r){y.textContent=girth.value?'No sheet from so thin a stem.':"
    "'Type the girth over bark, in cm.';h.textContent='';return}\n"
    "var share=Math.round(r[1]*100);"
    "y.textContent=r[2]?'It yields the sheet: '+data.around+' mm of its girth, '+share+"
    "' in 100, and '+data.along+' mm of clean length.':"
    "'It does not yield the sheet in one piece: that would be '+share+' in 100 of its girth.';\n"
    "var t=data.texts;h.textContent=[t[r[3]],t[r[4]],t[r[5]],"
    "'Flattening stretches it by '+(r[6]*100).toFixed(1)+' %.',"
    "r[7]===null?'':'The wound closes in '+r[7]+' to '+r[8]+' years.']"
    ".filter(function(s){return s}).map(function(s){s=s.charAt(0).toUpperCase()+s.slice(1);"
    "return /[.!?]$/.test(s)?s:s+'.'}).join(' ')}\n"
    "kind.onchange=say;girth.oninput=say;say();\n"
    "at('save').onclick=function(){var id=at('stem').value.trim();"
    "if(!id||!(number(girth.value)>0)){at('told').textContent='Not taken: chalk mark and girth are "
    "needed.';return}\n"
    "var body={id:id,kind:data.kinds[kind.value],girth:number(girth.value)*10};"
    "['species','place','health','note'].forEach(function(k){var "
    "v=at(k).value.trim();if(v)body[k]=v});"
    "var clear=number(at('clear').value);if(clear>0)body.clear_length=clear*10;\n"
    "var a=document.createElement('a');"
    "a.href=URL.createObjectURL(new Blob([JSON.stringify(body,null,1)],{type:'application/json'}));"
    "a.download='stem-'+id.replace(/[^A-Za-z0-9_-]/g,'_')+'.json';document.body.appendChild(a);"
    "a.click();a.remove();"
    "at('told').textContent='Saved. At home: relict enter FILE stem '+id+' '+a.download};\n";

static const char *const form =
    "<label for=\"kind\">What stands there</label><select id=\"kind\"></select>"
    "<label for=\"girth\">Girth over bark, at breast height, in cm</label>"
    "<input id=\"girth\" inputmode=\"decimal\" autocomplete=\"off\">"
    "<svg viewBox=\"0 0 640 60\" role=\"img\" aria-label=\"A tape of 300 cm with a cut at the "
    "girth\" "
    "style=\"width:100%;max-width:640px;display:block;margin:12px 0\">"
    "<rect x=\"20\" y=\"20\" width=\"600\" height=\"16\" fill=\"var(--birch)\" "
    "stroke=\"var(--bark)\"/>"
    "<path d=\"M20 36v10M120 36v10M220 36v10M320 36v10M420 36v10M520 36v10M620 36v10\" "
    "stroke=\"var(--ink)\" stroke-width=\"3\"/>"
    "<line id=\"cut\" x1=\"20\" x2=\"20\" y1=\"8\" y2=\"48\" stroke=\"var(--ink)\" "
    "stroke-width=\"5\"/>"
    "</svg>"
    "<div aria-live=\"polite\"><p id=\"yields\" class=\"answer\"></p><p id=\"harms\"></p></div>"
    "<label for=\"stem\">Mark chalked on it</label><input id=\"stem\" autocomplete=\"off\">"
    "<label for=\"species\">Species</label><input id=\"species\" autocomplete=\"off\">"
    "<label for=\"clear\">Clean length, in cm</label><input id=\"clear\" inputmode=\"decimal\" "
    "autocomplete=\"off\">"
    "<label for=\"place\">Place, coarse: a wood, never a grid point</label><input id=\"place\" "
    "autocomplete=\"off\">"
    "<label for=\"health\">Health</label><input id=\"health\" autocomplete=\"off\">"
    "<label for=\"note\">Note</label><input id=\"note\" autocomplete=\"off\">"
    "<p><button id=\"save\" type=\"button\">Save</button></p><p id=\"told\" "
    "aria-live=\"polite\"></p>";

int tell_wood(struct tell_doc **out, const struct tell_dossier *d, struct error *err) {
    *out = NULL;
    struct sheet_want want;
    if (!want_of(&want, d))
        return fail(err, ERR_MISSING, "Enter a making with a sheet that has a length and a width.",
                    "The page for the wood needs the sheet that is wanted.");
    struct arena *arena = arena_new();
    if (!arena) return fail_memory(err);
    struct show_out script = {0};
    int code = data(&script, d, &want, arena, err);
    show_out_text(&script, behaviour);
    if (!code) code = show_out_status(&script, err);
    if (!code) {
        struct tell_doc_options o = tell_options(d, "In the wood", NULL);
        o.theme = SHOW_SUN;
        o.script = script.bytes;
        struct tell_doc *doc = tell_doc_new(&o);
        tell_h1(doc, "ask", "Does this stem give the sheet?", 6);
        tell_html(doc, form);
        tell_h1(doc, "before", "Before a cut", 6);
        tell_care(doc,
                  "the owner's consent, local law, nesting birds and protected trees come first; "
                  "felling and climbing are for trained people.");
        tell_p(doc,
               "The numbers are starting ranges from practice, reckoned for bark %s mm thick; they "
               "work without a network.",
               show_real((char[40]){0}, want.thickness, 1));
        code = tell_doc_status(doc, err);
        if (code)
            tell_doc_free(doc);
        else
            *out = doc;
    }
    show_out_deinit(&script);
    arena_free(arena);
    return code;
}
