#include "record/record_kinds.h"

#include "record/import.h"
#include "record/project.h"

#define AT(type, member) .offset = offsetof(struct type, member)

static const struct field meta_fields[] = {
    {.name = "title",
     .label = "Title",
     .type = FIELD_TEXT,
     .required = true,
     AT(record_meta, title),
     .help = "What the project is about, as it stands on paper.",
     .example = "An invented tray"},
    {.name = "seed",
     .label = "Seed",
     .type = FIELD_INT,
     AT(record_meta, seed),
     .min = 0,
     .max = 9e15,
     .preset = "1",
     .help = "Any whole number; the same seed gives the same possible originals.",
     .example = "1"},
    {.name = "draws",
     .label = "Possible originals",
     .type = FIELD_INT,
     AT(record_meta, draws),
     .min = 16,
     .max = 1e6,
     .preset = "4096",
     .help = "How many complete possible originals are held.",
     .example = "4096"},
    {.name = "note",
     .label = "Note",
     .type = FIELD_TEXT,
     AT(record_meta, note),
     .help = "Anything to say about the whole.",
     .example = "Invented for practice."},
    {.name = "made",
     .label = "Begun",
     .type = FIELD_TEXT,
     AT(record_meta, made),
     .help = "When the project was begun.",
     .example = "2026-05-01T10:00:00Z"},
};
const struct kind record_meta_kind = {
    "project", "The project", sizeof(struct record_meta), FIELDS(meta_fields),
    "What is said about the project as a whole; one entry of the id \"project\"."};

static const struct field file_fields[] = {
    {.name = "name",
     .label = "Name",
     .type = FIELD_TEXT,
     .required = true,
     AT(record_file, name),
     .help = "The file's name as it came, without folders.",
     .example = "finds.csv"},
    {.name = "media",
     .label = "Media type",
     .type = FIELD_TEXT,
     .required = true,
     AT(record_file, media),
     .help = "Media type, judged by the first bytes.",
     .example = "text/csv"},
    {.name = "role",
     .label = "Role",
     .type = FIELD_TEXT,
     AT(record_file, role),
     .help = "What it was brought in as.",
     .example = "finds list"},
    {.name = "sha256",
     .label = "Hash",
     .type = FIELD_TEXT,
     .required = true,
     AT(record_file, sha256),
     .help = "SHA-256 of the bytes, in hexadecimal.",
     .example = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
    {.name = "size",
     .label = "Size",
     .unit = "bytes",
     .type = FIELD_INT,
     .required = true,
     AT(record_file, size),
     .min = 0,
     .max = 1e9,
     .help = "Number of bytes.",
     .example = "5475"},
    {.name = "private",
     .label = "Private",
     .type = FIELD_FLAG,
     AT(record_file, is_private),
     .help = "Yes: never handed on with a report or a deposit.",
     .example = "false"},
    {.name = "note",
     .label = "Note",
     .type = FIELD_TEXT,
     AT(record_file, note),
     .help = "Anything to say about the file.",
     .example = "second list, after treatment"},
};
const struct kind record_file_kind = {
    "file", "A file kept as it came", sizeof(struct record_file), FIELDS(file_fields),
    "A finds list, photo, scan or letter brought in; its bytes are kept under their hash."};

#define TEXT(member, title, sentence)                                                              \
    {                                                                                              \
        .name = #member, .label = title, .type = FIELD_TEXT, AT(record_clash, member),             \
        .help = sentence, .example = ""                                                            \
    }

static const struct field clash_fields[] = {
    TEXT(of_kind, "Kind of thing", "Kind of the thing that was changed twice."),
    TEXT(of_id, "Thing", "Its id."),
    TEXT(base, "Before", "Its fields before either change; empty if both made it anew."),
    TEXT(ours, "In this copy", "Its fields here; empty if it was withdrawn here."),
    TEXT(theirs, "In the other copy", "Its fields there; empty if it was withdrawn there."),
    TEXT(ours_who, "Who, here", "Who changed it here."),
    TEXT(ours_when, "When, here", "When it was changed here."),
    TEXT(ours_why, "Why, here", "Reason given here."),
    TEXT(theirs_who, "Who, there", "Who changed it there."),
    TEXT(theirs_when, "When, there", "When it was changed there."),
    TEXT(theirs_why, "Why, there", "Reason given there."),
    {.name = "open",
     .label = "Open",
     .type = FIELD_INT,
     AT(record_clash, open),
     .min = 0,
     .max = 1,
     .required = true,
     .help = "1 until somebody has chosen, then 0.",
     .example = "1"},
    TEXT(chosen, "Chosen", "What was chosen: ours, theirs or other; empty while open."),
};
const struct kind record_clash_kind = {
    "clash", "A thing changed differently in two copies", sizeof(struct record_clash),
    FIELDS(clash_fields),
    "Both values stand side by side until a person chooses; nothing is chosen in silence."};

const struct kind *const record_kinds[] = {&record_meta_kind, &record_file_kind, &record_clash_kind,
                                           &import_map_kind,  &set_aside_kind,   NULL};
