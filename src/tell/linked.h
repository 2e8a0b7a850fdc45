/* linked: the argument as linked data and geometry, for archives and other programs.
 *
 * JSON-LD with an inline context (no network), in terms of ISO 21127 (CIDOC CRM) for pieces,
 * measurements and dimensions, and of its argument extension for statements and their grounds.
 * Values are xsd:decimal strings, so that 412.35 stays 412.35. GeoJSON in the find's own mm frame.
 */
#ifndef RELICT_TELL_LINKED_H
#define RELICT_TELL_LINKED_H

#include "tell/dossier.h"

int tell_jsonld(struct show_out *out, const struct tell_dossier *dossier, struct error *err);

/* Outlines of pieces in one frame ("as found" or "own"). */
int tell_geojson_found(struct show_out *out, const struct tell_dossier *dossier, const char *frame,
                       struct error *err);

/* The plan: outlines, parts, holes, slits. ERR_MISSING without a plan. */
int tell_geojson_plan(struct show_out *out, const struct show_plan *plan, struct error *err);

/* A JPEG without its place: GPS entries of its EXIF are taken out (the rest stays, byte for byte
 * outside that block). Bytes that are no JPEG are refused (ERR_INPUT). *gps: entries removed. */
int tell_jpeg_without_place(struct show_out *out, const void *bytes, size_t n, size_t *gps,
                            struct error *err);

#endif
