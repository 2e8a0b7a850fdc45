/* plan_dxf: the plan as DXF R12 (AutoCAD Release 12 reference, "DXF files"): HEADER, TABLES with
 * the two layers, ENTITIES as POLYLINE / VERTEX / SEQEND, CIRCLE and LINE. No splines, no blocks.
 */
#include "show/plan.h"

#include <math.h>

static void pair(struct show_out *o, int group, const char *value) {
    show_out_format(o, "%3d\r\n%s\r\n", group, value);
}

static void real(struct show_out *o, int group, double v) {
    char text[40];
    pair(o, group, show_real(text, v, 4));
}

static void whole(struct show_out *o, int group, int v) {
    show_out_format(o, "%3d\r\n%6d\r\n", group, v);
}

static void point(struct show_out *o, double x, double y) {
    real(o, 10, x);
    real(o, 20, y);
    real(o, 30, 0);
}

static void corner(struct show_out *o, const char *name, double x, double y) {
    pair(o, 9, name);
    point(o, x, y);
}

static void header(struct show_out *o, const struct show_plan *plan) {
    double box[4];
    plan_box(box, plan);
    pair(o, 0, "SECTION");
    pair(o, 2, "HEADER");
    pair(o, 9, "$ACADVER");
    pair(o, 1, "AC1009");
    corner(o, "$EXTMIN", fmin(box[0], box[0]), box[1] - 20);
    corner(o, "$EXTMAX", fmax(box[2], box[0] + 100), box[3]);
    pair(o, 0, "ENDSEC");
}

static void layer(struct show_out *o, const char *name) {
    pair(o, 0, "LAYER");
    pair(o, 2, name);
    whole(o, 70, 0);
    whole(o, 62, 7);
    pair(o, 6, "CONTINUOUS");
}

static void tables(struct show_out *o) {
    pair(o, 0, "SECTION");
    pair(o, 2, "TABLES");
    pair(o, 0, "TABLE");
    pair(o, 2, "LTYPE");
    whole(o, 70, 1);
    pair(o, 0, "LTYPE");
    pair(o, 2, "CONTINUOUS");
    whole(o, 70, 0);
    pair(o, 3, "Solid line");
    whole(o, 72, 65);
    whole(o, 73, 0);
    real(o, 40, 0);
    pair(o, 0, "ENDTAB");
    pair(o, 0, "TABLE");
    pair(o, 2, "LAYER");
    whole(o, 70, 3);
    layer(o, "0");
    layer(o, "KNIFE");
    layer(o, "AWL");
    pair(o, 0, "ENDTAB");
    pair(o, 0, "ENDSEC");
}

static void polyline(struct show_out *o, const char *on, size_t n, const double *xy, bool closed) {
    if (n < 2) return;
    pair(o, 0, "POLYLINE");
    pair(o, 8, on);
    whole(o, 66, 1);
    point(o, 0, 0);
    whole(o, 70, closed ? 1 : 0);
    for (size_t i = 0; i < n; i++) {
        pair(o, 0, "VERTEX");
        pair(o, 8, on);
        point(o, xy[2 * i], xy[2 * i + 1]);
    }
    pair(o, 0, "SEQEND");
    pair(o, 8, on);
}

static void line(struct show_out *o, const char *on, double x1, double y1, double x2, double y2) {
    pair(o, 0, "LINE");
    pair(o, 8, on);
    point(o, x1, y1);
    real(o, 11, x2);
    real(o, 21, y2);
    real(o, 31, 0);
}

static void circle(struct show_out *o, const char *on, double x, double y, double r) {
    pair(o, 0, "CIRCLE");
    pair(o, 8, on);
    point(o, x, y);
    real(o, 40, r);
}

int plan_dxf(struct show_out *o, const struct show_plan *plan, struct error *err) {
    double box[4];
    plan_box(box, plan);
    if (!(box[2] > box[0] && box[3] > box[1]))
        return fail(err, ERR_MISSING, "Settle the outline or enter a part first.",
                    "There is nothing to draw on the plan.");
    header(o, plan);
    tables(o);
    pair(o, 0, "SECTION");
    pair(o, 2, "ENTITIES");
    polyline(o, "KNIFE", plan->n_fresh, plan->fresh, true);
    polyline(o, plan->n_fresh ? "AWL" : "KNIFE", plan->n_dry, plan->dry, true);
    for (size_t i = 0; i < plan->n_slits; i++) {
        const struct plan_slit *s = &plan->slits[i];
        line(o, "KNIFE", s->x1, s->y1, s->x2, s->y2);
    }
    for (size_t i = 0; i < plan->n_holes; i++) {
        const struct plan_hole *h = &plan->holes[i];
        circle(o, "AWL", h->x, h->y, h->diameter / 2);
    }
    for (size_t i = 0; i < plan->n_parts; i++)
        polyline(o, "AWL", plan->parts[i].n, plan->parts[i].xy, plan->parts[i].closed);
    line(o, "AWL", box[0], box[1] - 20, box[0] + 100, box[1] - 20);
    pair(o, 0, "ENDSEC");
    pair(o, 0, "EOF");
    return show_out_status(o, err);
}
