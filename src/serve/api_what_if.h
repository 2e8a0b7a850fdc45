/* api_what_if: handlers for trying a change of a making; rows of the table in api.c. */
#ifndef RELICT_SERVE_API_WHAT_IF_H
#define RELICT_SERVE_API_WHAT_IF_H

#include "serve/api.h"

int api_what_if(struct api_call *call, struct error *err);
int api_copy(struct api_call *call, struct error *err);

#endif
