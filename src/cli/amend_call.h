/* What the commands that amend share. */
#pragma once
#include "cli/command.h"
#include "desk/amend.h"

/* Pulls by number as arguments and with --pulls, and all --since one: gint64. NULL with *error. */
GArray *ew_call_pulls(const struct ew_call *call, struct ew_book *book, GError **error);
/* Amends, and says what came of it. */
gboolean ew_call_amend(const struct ew_call *call, const struct ew_desk *desk,
                       const struct ew_amend_ask *ask, GError **error);
