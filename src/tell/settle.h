/* settle: inside of tell: which look, reading or trial would settle a guess. */
#ifndef RELICT_TELL_SETTLE_H
#define RELICT_TELL_SETTLE_H

#include "statement/statement.h"

/* In a few words; NULL when nothing is named. Not to be freed. */
const char *tell_settle(const struct statement *s);

#endif
