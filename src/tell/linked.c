#include "tell/linked.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Classes and properties: ISO 21127 (CIDOC CRM 7.1.1) E and P numbers, CRMinf I and J numbers. The
 * context says what each short key stands for, so that the names in the file stay readable. */
static const char *const context =
    "{\"@version\":1.1,"
    "\"crm\":\"http://www.cidoc-crm.org/cidoc-crm/\","
    "\"inf\":\"http://www.cidoc-crm.org/extensions/crminf/\","
    "\"xsd\":\"http://www.w3.org/2001/XMLSchema#\","
    "\"rdfs\":\"http://www.w3.org/2000/01/rdf-schema#\","
    "\"relict\":\"urn:relict:terms:\","
    "\"label\":\"rdfs:label\",\"note\":\"crm:P3_has_note\","
    "\"has_type\":{\"@id\":\"crm:P2_has_type\",\"@type\":\"@id\"},"
    "\"part_of\":{\"@id\":\"crm:P46i_forms_part_of\",\"@type\":\"@id\"},"
    "\"measured\":{\"@id\":\"crm:P39_measured\",\"@type\":\"@id\"},"
    "\"observed\":{\"@id\":\"crm:P40_observed_dimension\",\"@type\":\"@id\"},"
    "\"value\":{\"@id\":\"crm:P90_has_value\",\"@type\":\"xsd:decimal\"},"
    "\"low\":{\"@id\":\"crm:P90a_has_lower_value_limit\",\"@type\":\"xsd:decimal\"},"
    "\"high\":{\"@id\":\"crm:P90b_has_upper_value_limit\",\"@type\":\"xsd:decimal\"},"
    "\"unit\":{\"@id\":\"crm:P91_has_unit\",\"@type\":\"@id\"},"
    "\"carried_out_by\":\"relict:carriedOutBy\",\"when\":\"relict:when\",\"state\":\"relict:"
    "state\","
    "\"footing\":\"relict:footing\",\"rival\":\"relict:rival\",\"doubt\":\"relict:doubt\","
    "\"that\":{\"@id\":\"inf:J4_that\",\"@type\":\"@id\"},"
    "\"concluded\":{\"@id\":\"inf:J2_concluded_that\",\"@type\":\"@id\"},"
    "\"premise\":{\"@id\":\"inf:J1_used_as_premise\",\"@type\":\"@id\"},"
    "\"logic\":\"relict:rule\",\"source\":\"relict:publication\","
    "\"E16\":\"crm:E16_Measurement\",\"E22\":\"crm:E22_Human-Made_Object\","
    "\"E54\":\"crm:E54_Dimension\",\"E58\":\"crm:E58_Measurement_Unit\","
    "\"E31\":\"crm:E31_Document\",\"I2\":\"inf:I2_Belief\",\"I4\":\"inf:I4_Proposition_Set\","
    "\"I5\":\"inf:I5_Inference_Making\"}";

struct graph {
    struct show_out *o;
    bool any;
};

/* urn:relict:KIND:ID with everything but letters, digits, point and dash as %XX (RFC 8141). */
static void urn(struct show_out *o, const char *kind, const char *id) {
    show_out_format(o, "\"urn:relict:%s:", kind);
    for (const unsigned char *p = (const unsigned char *)id; *p; p++) {
        bool plain = (*p >= 'a' && *p <= 'z') || (*p >= 'A' && *p <= 'Z') ||
                     (*p >= '0' && *p <= '9') || *p == '.' || *p == '-' || *p == '_';
        show_out_format(o, plain ? "%c" : "%%%02X", *p);
    }
    show_out_text(o, "\"");
}

static void node(struct graph *g, const char *kind, const char *id, const char *type) {
    show_out_text(g->o, g->any ? ",\n{\"@id\":" : "\n{\"@id\":");
    g->any = true;
    urn(g->o, kind, id);
    show_out_format(g->o, ",\"@type\":\"%s\"", type);
}

static void text(struct graph *g, const char *key, const char *value) {
    if (!value || !*value) return;
    show_out_format(g->o, ",\"%s\":", key);
    show_out_json(g->o, value);
}

static void real(struct graph *g, const char *key, double value) {
    if (!isfinite(value)) return;
    char number[40];
    show_out_format(g->o, ",\"%s\":\"%s\"", key, show_real(number, value, 6));
}

static void unit(struct graph *g, const char *name) {
    if (!name || !*name) return;
    show_out_text(g->o, ",\"unit\":");
    urn(g->o, "unit", name);
}

static const char *word(const char *const *words, long i, long count) {
    return i >= 0 && i < count ? words[i] : NULL;
}

static const char *unit_of(const struct measure *m) {
    switch (m->quantity) {
    case QUANTITY_HOLES:
    case QUANTITY_ROUNDS:
    case QUANTITY_STITCHES_PER_10_MM:
        return "one";
    case QUANTITY_CHAMFER_ANGLE:
        return "degree";
    case QUANTITY_MASS:
        return "g";
    case QUANTITY_MOISTURE:
        return "percent";
    default:
        return "mm";
    }
}

static void pieces(struct graph *g, const struct find *f) {
    for (size_t i = 0; i < f->piece_count; i++) {
        const struct piece *p = &f->pieces[i];
        if (p->hidden == 1) continue;
        node(g, "piece", p->id, "E22");
        text(g, "label", p->id);
        text(g, "note", p->part);
        show_out_text(g->o, ",\"part_of\":\"urn:relict:object\"}");
    }
}

static bool is_hidden(const struct find *f, const char *piece) {
    const struct piece *p = piece ? find_piece(f, piece) : NULL;
    return p && p->hidden == 1;
}

static void measures(struct graph *g, const struct find *f) {
    for (size_t i = 0; i < f->measure_count; i++) {
        const struct measure *m = &f->measures[i];
        if (is_hidden(f, m->piece)) continue;
        node(g, "measure", m->id, "E16");
        text(g, "label", word(quantity_words, m->quantity, QUANTITY_COUNT));
        if (m->piece) {
            show_out_text(g->o, ",\"measured\":");
            urn(g->o, "piece", m->piece);
        }
        text(g, "carried_out_by", m->observer);
        text(g, "when", m->date);
        text(g, "state", word(state_words, m->state, STATE_COUNT));
        show_out_text(g->o, ",\"observed\":");
        urn(g->o, "dimension", m->id);
        show_out_text(g->o, "}");
        node(g, "dimension", m->id, "E54");
        real(g, "value", m->value);
        if (isfinite(m->tolerance)) {
            real(g, "low", m->value - m->tolerance);
            real(g, "high", m->value + m->tolerance);
        }
        unit(g, unit_of(m));
        show_out_text(g->o, "}");
    }
}

static void sources(struct graph *g, const struct find *f) {
    for (size_t i = 0; i < f->source_count; i++) {
        const struct source *s = &f->sources[i];
        if (s->hidden == 1) continue;
        node(g, "source", s->id, "E31");
        text(g, "label", s->title);
        text(g, "when", s->date);
        show_out_text(g->o, "}");
    }
}

/* A statement is a belief that something holds, concluded by an inference from its grounds. */
static void statement(struct graph *g, const struct statement *s) {
    node(g, "statement", s->id, "I2");
    text(g, "label", s->id);
    text(g, "footing", word(footing_words, s->footing, FOOTING_COUNT));
    text(g, "rival", s->rival);
    text(g, "doubt", s->doubt);
    show_out_text(g->o, ",\"that\":");
    urn(g->o, "proposition", s->id);
    show_out_text(g->o, "}");
    node(g, "proposition", s->id, "I4");
    text(g, "note", s->sentence);
    text(g, "state", s->state);
    if (isfinite(s->value.p50)) {
        show_out_text(g->o, ",\"observed\":");
        urn(g->o, "stated", s->id);
    }
    show_out_text(g->o, "}");
    if (isfinite(s->value.p50)) {
        node(g, "stated", s->id, "E54");
        real(g, "value", s->value.p50);
        real(g, "low", s->value.p05);
        real(g, "high", s->value.p95);
        unit(g, s->unit);
        show_out_text(g->o, "}");
    }
    node(g, "inference", s->id, "I5");
    show_out_text(g->o, ",\"concluded\":");
    urn(g->o, "statement", s->id);
    text(g, "logic", s->rule);
    text(g, "source", s->source);
    const struct statement_link *links = s->rests_on.v;
    for (size_t i = 0; i < s->rests_on.n; i++) {
        show_out_text(g->o, i ? "," : ",\"premise\":[");
        urn(g->o, links[i].kind, links[i].id);
    }
    show_out_text(g->o, s->rests_on.n ? "]}" : "}");
}

int tell_jsonld(struct show_out *out, const struct tell_dossier *d, struct error *err) {
    struct graph g = {out, false};
    show_out_format(out, "{\"@context\":%s,\n\"@graph\":[", context);
    show_out_text(out, "\n{\"@id\":\"urn:relict:object\",\"@type\":\"E22\"");
    g.any = true;
    text(&g, "label", d->title);
    show_out_text(out, "}");
    if (d->find) {
        pieces(&g, d->find);
        measures(&g, d->find);
        sources(&g, d->find);
    }
    for (size_t i = 0; d->said && i < statement_count(d->said); i++)
        if (!tell_is_private(d, statement_at(d->said, i))) statement(&g, statement_at(d->said, i));
    show_out_text(out, "\n]}\n");
    return show_out_status(out, err);
}

/* ---- GeoJSON: RFC 7946, with a foreign member that states the frame ---- */

static double area2(size_t n, const double *xy) {
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        const double *a = xy + 2 * i, *b = xy + 2 * ((i + 1) % n);
        sum += a[0] * b[1] - b[0] * a[1];
    }
    return sum;
}

static void point(struct show_out *o, const double *xy) {
    show_out_text(o, "[");
    show_out_real(o, xy[0], 4);
    show_out_text(o, ",");
    show_out_real(o, xy[1], 4);
    show_out_text(o, "]");
}

/* A closed outer ring runs counter-clockwise and ends where it began (RFC 7946, 3.1.6). */
static void polygon(struct show_out *o, size_t n, const double *xy) {
    bool turned = area2(n, xy) < 0;
    if (n > 1 && xy[0] == xy[2 * n - 2] && xy[1] == xy[2 * n - 1]) n--;
    show_out_text(o, "{\"type\":\"Polygon\",\"coordinates\":[[");
    for (size_t i = 0; i <= n; i++) {
        size_t k = i % n;
        if (i) show_out_text(o, ",");
        point(o, xy + 2 * (turned ? (n - k) % n : k));
    }
    show_out_text(o, "]]}");
}

static void line(struct show_out *o, size_t n, const double *xy) {
    show_out_text(o, "{\"type\":\"LineString\",\"coordinates\":[");
    for (size_t i = 0; i < n; i++) {
        if (i) show_out_text(o, ",");
        point(o, xy + 2 * i);
    }
    show_out_text(o, "]}");
}

static void collection(struct show_out *o, const char *name, const char *state) {
    show_out_text(
        o, "{\"type\":\"FeatureCollection\",\"relict:frame\":{\"unit\":\"mm\",\"x\":\"right\","
           "\"y\":\"up\",\"seen_from\":\"outer face\",\"name\":");
    show_out_json(o, name);
    if (state) {
        show_out_text(o, ",\"state\":");
        show_out_json(o, state);
    }
    show_out_text(o, "},\"features\":[");
}

static void feature(struct show_out *o, bool *any, const char *id) {
    show_out_text(o, *any ? ",\n{\"type\":\"Feature\",\"id\":" : "\n{\"type\":\"Feature\",\"id\":");
    *any = true;
    show_out_json(o, id);
    show_out_text(o, ",\"geometry\":");
}

static void property(struct show_out *o, bool first, const char *key, const char *value) {
    if (!value) return;
    show_out_format(o, "%s\"%s\":", first ? "" : ",", key);
    show_out_json(o, value);
}

int tell_geojson_found(struct show_out *out, const struct tell_dossier *d, const char *frame,
                       struct error *err) {
    const struct find *f = d->find;
    bool any = false;
    collection(out, frame, NULL);
    for (size_t i = 0; f && i < f->outline_count; i++) {
        const struct piece_outline *p = &f->outlines[i];
        if (!p->frame || strcmp(p->frame, frame) || p->points.n < 3 || p->points.width != 2 ||
            is_hidden(f, p->piece))
            continue;
        feature(out, &any, p->id);
        polygon(out, p->points.n, p->points.v);
        show_out_text(out, ",\"properties\":{\"piece\":");
        show_out_json(out, p->piece);
        property(out, false, "state", word(state_words, p->state, STATE_COUNT));
        property(out, false, "source", p->source);
        if (p->surviving.n) {
            show_out_text(out, ",\"surviving\":[");
            for (size_t k = 0; k < p->surviving.n; k++)
                show_out_format(out, "%s%ld", k ? "," : "", p->surviving.v[k]);
            show_out_text(out, "]");
        }
        show_out_text(out, "}}");
    }
    show_out_text(out, "\n]}\n");
    return show_out_status(out, err);
}

static void plan_part(struct show_out *out, bool *any, const struct plan_part *p) {
    if (!p->n) return;
    feature(out, any, p->id);
    if (p->closed && p->n > 2)
        polygon(out, p->n, p->xy);
    else
        line(out, p->n, p->xy);
    show_out_text(out, ",\"properties\":{");
    property(out, true, "name", p->name ? p->name : p->id);
    property(out, false, "face", word(face_words, p->face, 3));
    property(out, false, "footing", word(footing_words, p->footing, FOOTING_COUNT));
    const char *const keys[] = {"width_mm", "fresh_mm", "dry_mm"};
    const double values[] = {p->width, p->fresh, p->dry};
    for (int k = 0; k < 3; k++) {
        if (!isfinite(values[k])) continue;
        show_out_format(out, ",\"%s\":", keys[k]);
        show_out_real(out, values[k], 3);
    }
    show_out_text(out, "}}");
}

int tell_geojson_plan(struct show_out *out, const struct show_plan *plan, struct error *err) {
    if (!plan || (!plan->n_fresh && !plan->n_dry && !plan->n_parts))
        return fail(err, ERR_MISSING, "Settle the outline or enter a making first.",
                    "There is no plan.");
    bool any = false;
    collection(out, "plan of the making", plan->state);
    const char *const ids[] = {"outline-fresh", "outline-dry"};
    const size_t counts[] = {plan->n_fresh, plan->n_dry};
    const double *rings[] = {plan->fresh, plan->dry};
    for (int k = 0; k < 2; k++) {
        if (counts[k] < 3) continue;
        feature(out, &any, ids[k]);
        polygon(out, counts[k], rings[k]);
        show_out_text(out, ",\"properties\":{");
        property(out, true, "state", k ? "new and dry" : "fresh");
        property(out, false, "footing", word(footing_words, plan->footing, FOOTING_COUNT));
        show_out_text(out, "}}");
    }
    for (size_t i = 0; i < plan->n_parts; i++)
        plan_part(out, &any, &plan->parts[i]);
    for (size_t i = 0; i < plan->n_holes; i++) {
        const struct plan_hole *h = &plan->holes[i];
        char id[40];
        snprintf(id, sizeof id, "hole-%zu", i + 1);
        feature(out, &any, id);
        show_out_text(out, "{\"type\":\"Point\",\"coordinates\":");
        point(out, &h->x);
        show_out_text(out, "},\"properties\":{\"diameter_mm\":");
        show_out_real(out, h->diameter, 3);
        show_out_text(out, "}}");
    }
    for (size_t i = 0; i < plan->n_slits; i++) {
        char id[40];
        snprintf(id, sizeof id, "slit-%zu", i + 1);
        feature(out, &any, id);
        line(out, 2, &plan->slits[i].x1);
        show_out_text(out, ",\"properties\":{}}");
    }
    show_out_text(out, "\n]}\n");
    return show_out_status(out, err);
}
