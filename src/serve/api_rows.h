/* api_rows: the handlers behind the table of api.c, and what they share. Private to this room. */
#ifndef RELICT_SERVE_API_ROWS_H
#define RELICT_SERVE_API_ROWS_H

#include "serve/api.h"

/* A word of the query or a text of the body that cannot be done without: ERR_USAGE names it. */
int api_need(struct api_call *call, const char *name, const char **out, struct error *err);
int api_need_text(struct api_call *call, const char *name, const char **out, struct error *err);
/* The same where it may be absent: NULL. */
const char *api_word(const struct api_call *call, const char *name);
const char *api_text(const struct api_call *call, const char *name);

/* Takes the answer over; NULL is ERR_MEMORY. */
int api_done(struct api_call *call, json_t *out, struct error *err);

/* api_ask.c */
int api_get_project(struct api_call *call, struct error *err);
int api_get_steps(struct api_call *call, struct error *err);
int api_get_statements(struct api_call *call, struct error *err);
int api_get_why(struct api_call *call, struct error *err);
int api_get_result(struct api_call *call, struct error *err);
int api_get_kinds(struct api_call *call, struct error *err);
int api_get_entries(struct api_call *call, struct error *err);
int api_get_history(struct api_call *call, struct error *err);
int api_get_changes(struct api_call *call, struct error *err);
int api_get_change(struct api_call *call, struct error *err);
int api_get_methods(struct api_call *call, struct error *err);
int api_get_aside(struct api_call *call, struct error *err);

/* api_file.c */
int api_get_file(struct api_call *call, struct error *err);
int api_get_picture(struct api_call *call, struct error *err);
int api_get_checklist(struct api_call *call, struct error *err);
int api_get_label(struct api_call *call, struct error *err);
int api_get_papers(struct api_call *call, struct error *err);
int api_get_paper(struct api_call *call, struct error *err);
int api_get_wood(struct api_call *call, struct error *err);
int api_post_write(struct api_call *call, struct error *err);

/* api_enter.c */
int api_post_enter(struct api_call *call, struct error *err);
int api_post_enter_all(struct api_call *call, struct error *err);
int api_post_withdraw(struct api_call *call, struct error *err);
int api_post_undo(struct api_call *call, struct error *err);
int api_put_import(struct api_call *call, struct error *err);
int api_put_propose(struct api_call *call, struct error *err);
int api_post_release(struct api_call *call, struct error *err);
int api_post_compute(struct api_call *call, struct error *err);
int api_post_stop(struct api_call *call, struct error *err);
int api_post_calc(struct api_call *call, struct error *err);

/* api_share.c */
int api_get_keys(struct api_call *call, struct error *err);
int api_post_share(struct api_call *call, struct error *err);
int api_post_revoke(struct api_call *call, struct error *err);

#endif
