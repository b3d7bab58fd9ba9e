/* What follows from an amendment beyond what was asked: the age of the weather, run and mounting, the calibration in force, and where
 * each fact comes from now (pull/told.h). */
#pragma once
#include "book/recompute.h"
#include "desk/amend.h"
#include "desk/amend_place.h"
#include "desk/carry.h"

/* Before the curve is computed: `again` has the facts as they were asked for, `was` as they were. Each change is said. `carried` is for
 * ew_amend_told; `others` as of ew_amend_settle_place. */
gboolean ew_amend_settle(const struct ew_desk *desk, const struct ew_amend_ask *ask,
                         const struct ew_amend_rows *rows, const struct ew_pull_row *was,
                         struct ew_recomputed *again, struct ew_carried *carried,
                         GPtrArray *changes, GArray **others, GError **error);
/* Run and mounting of `again` at its time and of its engine; they stay when neither was amended. *others: pulls whose numbers change with
 * it (struct ew_pull_place), in place of what it was; NULL stays where nothing moves. `back` as in struct ew_amend_put. */
gboolean ew_amend_settle_place(const struct ew_desk *desk, const struct ew_amend_rows *rows,
                               const struct ew_pull_row *was, const struct ew_pull_row *back,
                               struct ew_recomputed *again, GArray **others, GError **error);
/* After it: the list of the new reading, to be freed. */
char *ew_amend_told(const struct ew_amend_ask *ask, const struct ew_recomputed *again,
                    const struct ew_pull_row *was, const struct ew_carried *carried);
/* `told` with what `of_all` says of the whole recording (time, units, engine), and nothing else of these; to be freed. */
char *ew_amend_told_of_all(const char *told, const char *of_all);
/* Pulls that took weather over from one of `ids` (gint64) and are not among them: gint64. O(pulls). */
GArray *ew_amend_carried_on(const struct ew_amend_rows *rows, const GArray *ids);
