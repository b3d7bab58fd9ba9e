/* What the files of a round share. */
#pragma once
#include "desk/round.h"

/* Which of the plan's cells it is; -1: none. */
int ew_round_cell(const struct ew_round *round, const char *cell);
/* The same engine, cells in the same order, and pulls a visit. */
gboolean ew_round_same_plan(const struct ew_round *a, const struct ew_round *b);
/* Did the engine leave the dyno between these two? */
gboolean ew_round_mounted_between(const struct ew_loaded *a, const struct ew_loaded *b);
/* Its pulls (struct ew_loaded*), judged: of the plan's engine, of this cell, counting, each recording once, alike. NULL with *error. */
GPtrArray *ew_round_load_visit(const struct ew_desk *desk, const struct ew_round *round,
                               const struct ew_round_visit *visit, GError **error);
