#include "making/handover.h"

#include <stddef.h>

const char *const claim_words[] = {"existing state", "restoration on evidence", "hypothesis", NULL};
const char *const copy_words[] = {"pilot", "experiment", "repeat", "display copy", NULL};

#define AT(of, member) .name = #member, .offset = offsetof(struct of, member)
#define TEXT(of, member, words, tip)                                                               \
    { AT(of, member), .label = words, .type = FIELD_TEXT, .help = tip }

static const struct field handover_fields[] = {
    {AT(handover, id), .label = "Id", .type = FIELD_TEXT, .required = true, .help = "report"},
    TEXT(handover, number, "Object number", "The number under which the object is kept."),
    TEXT(handover, version, "Version", "Of the report."),
    {AT(handover, date), .label = "Date", .type = FIELD_DATE, .help = "Of the report."},
    TEXT(handover, authors, "Authors", "Names or roles, divided by semicolons."),
    TEXT(handover, licence, "Licence", "Under which the report may be used."),
    TEXT(handover, identifier, "Identifier", "A persistent identifier, when there is one."),
    {AT(handover, claim), .label = "What it claims to be", .type = FIELD_CHOICE,
     .choices = claim_words, .help = "What a reader may take the picture for."},
    TEXT(handover, purpose, "Purpose", "Why the copy is made."),
    TEXT(handover, audience, "Audience", "For whom the report is written."),
    {AT(handover, copy), .label = "Kind of making", .type = FIELD_CHOICE, .choices = copy_words,
     .help = "Pilot, experiment, repeat or display copy."},
    TEXT(handover, contact, "Contact", "Whom to ask."),
    TEXT(handover, embargo, "Embargo", "Until when what may not be shown; \"none\"."),
    TEXT(handover, deposit, "Place of deposit", "Where the data are kept."),
    TEXT(handover, mark, "Mark as a copy", "The permanent mark and where it is."),
    TEXT(handover, used_for, "What it was for", "As visitors are told."),
    TEXT(handover, failed, "What failed", "What went wrong on the way, as visitors are told."),
    TEXT(handover, unknown, "What is not known", "As visitors are told."),
    TEXT(handover, stock, "Trees and stock", "Numbers of the trees and of the stock used."),
    TEXT(handover, aids, "Modern aids", "What modern things are in or on the copy; \"none\"."),
    {AT(handover, hours), .label = "Hours of work", .unit = "h", .type = FIELD_REAL, .min = 0,
     .max = 1e5, .help = "In the copy."},
    {AT(handover, mass), .label = "Mass", .unit = "g", .type = FIELD_REAL, .min = 0, .max = 1e6,
     .help = "Of the finished copy."},
    {AT(handover, trees), .label = "Trees used", .type = FIELD_INT, .min = 0, .max = 10000,
     .help = "How many trees or stools gave material."},
    {AT(handover, humidity_low), .label = "Workroom humidity, lowest", .unit = "percent",
     .type = FIELD_REAL, .scale = 0.01, .min = 0, .max = 100, .help = "While the copy was made."},
    {AT(handover, humidity_high), .label = "Workroom humidity, highest", .unit = "percent",
     .type = FIELD_REAL, .scale = 0.01, .min = 0, .max = 100, .help = "While the copy was made."},
    TEXT(handover, no_trials, "Why no trial",
         "Why nothing is tried; while no trial is entered, none is missing then."),
    TEXT(handover, no_copy, "Why no copy",
         "Why no copy is made; while nothing is said of one, nothing about it is missing then."),
    {AT(handover, invented), .label = "Invented", .type = FIELD_FLAG,
     .help = "The object and all about it are invented; every page says so."},
};
const struct kind handover_kind = {"handover", "What is said of the report as a whole",
                                   sizeof(struct handover), FIELDS(handover_fields),
                                   "What the program cannot know; one entry of the id \"report\"."};

static const struct field as_made_fields[] = {
    {AT(as_made, id), .label = "Id", .type = FIELD_TEXT, .required = true, .help = "Any."},
    {AT(as_made, part), .label = "Part", .type = FIELD_TEXT, .refers = "part",
     .help = "The part that came out otherwise."},
    TEXT(as_made, planned, "Planned", "With its unit."),
    TEXT(as_made, made, "Made", "With its unit."),
    TEXT(as_made, why, "Why", "Why it differs."),
    TEXT(as_made, who, "Who", "Who saw it."),
    {AT(as_made, date), .label = "Date", .type = FIELD_DATE, .help = "When it was seen."},
    TEXT(as_made, when, "When", "As made, after one year, after five years."),
};
const struct kind as_made_kind = {"as_made", "A difference between plan and copy",
                                  sizeof(struct as_made), FIELDS(as_made_fields),
                                  "One difference each, seen when the copy was made or later."};
