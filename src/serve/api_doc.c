/* The interface as a page: written from the table of rows and the field descriptors, so that it
 * cannot say anything else than what is so. `relict help api` prints it; doc/api.md is that. */
#include "serve/api.h"

#include "job/kinds.h"
#include "show/out.h"

static const char opening[] =
    "# The interface of `relict serve`\n"
    "\n"
    "Written by `relict help api` from the program itself; a test compares the two.\n"
    "\n"
    "The screens use nothing else. Everything is the same `job/` that the command line calls.\n"
    "\n"
    "- **Getting in.** The address printed at the start carries a key after `#key=`. Send it to\n"
    "  `POST /api/join` as `{\"token\": \"...\"}`; the answer `{\"write\", \"own\"}` sets a "
    "cookie\n"
    "  that every other request needs. Keys: to read, to write, and the one of who began the\n"
    "  program (own), which alone hands out and revokes others.\n"
    "- **Asking** is GET with words in the query. **Telling** is POST with one JSON object (at "
    "most\n"
    "  1 MiB, 64 levels deep); files are PUT as `application/octet-stream` (at most 200 MB).\n"
    "  Telling needs `Origin` equal to the address, a `Content-Length`, and no other page.\n"
    "- **Answers** are JSON, drawings SVG, files bytes. What is not there *yet* is no error: the\n"
    "  answer is `{\"missing\": why, \"remedy\": what to do first}`.\n"
    "- **Errors** are `{\"error\": {\"code\", \"message\", \"remedy\", \"column\", \"id\"}}` with\n"
    "  status 422 (what was sent), 404 (no such thing), 409 (two changed one thing; `present` is\n"
    "  what stands there now), 401 and 403 (the key), 429 (too many).\n"
    "- **Several at once.** Each entry has a revision; send the one you saw as `expected` (0: it\n"
    "  should be new). `who` in the body, or in the query of a PUT, signs the change.\n"
    "- **News**: `GET /api/stream` is a stream of events (HTML standard, section 9.2): `progress`\n"
    "  `{step, what, share?}`, `end` `{done, task, report?, stopped?, message?,\n"
    "  remedy?}`, `changed` `{revision}`. One a page, 32 a session.\n"
    "\n"
    "## What can be asked and told\n"
    "\n"
    "| method | path | key | takes | what it does |\n"
    "| --- | --- | --- | --- | --- |\n";

static const char kinds_opening[] =
    "\n"
    "## Kinds of things that are entered\n"
    "\n"
    "`GET /api/kinds` tells the fields of each: name, label, unit, type, limits, choices, help. "
    "The\n"
    "body of an entry is an object of these, numbers in the unit given.\n"
    "\n"
    "| kind | what it is |\n"
    "| --- | --- |\n";

char *api_document(struct arena *arena) {
    static const char *const rights[] = {"", "read", "write", "own"};
    struct show_out o = {0};
    show_out_text(&o, opening);
    show_out_text(&o, "| POST | `/api/join` |  | token | swaps a key for a cookie |\n"
                      "| GET | `/api/stream` | read |  | news as they come |\n");
    for (const struct api_row *r = api_table; r->path; r++)
        show_out_format(&o, "| %s | `%s` | %s | %s | %s |\n", r->method, r->path, rights[r->right],
                        r->takes, r->summary);
    show_out_text(&o, kinds_opening);
    for (size_t i = 0; i < job_kind_count(); i++)
        show_out_format(&o, "| `%s` | %s |\n", job_kinds[i]->name, job_kinds[i]->title);
    char *text = o.failed ? NULL : arena_copy(arena, o.bytes, o.n);
    show_out_deinit(&o);
    return text;
}
