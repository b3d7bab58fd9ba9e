/* Where a pull stands among all others of its engine, when its time or its engine was told wrongly: which ran before it, of which run
 * and mounting it is, and what doubts are asked against.
 *
 * Rows are read once for a request and brought up to date after each recording, so that the pull before one is that pull as it is
 * amended. Instants are read once: O(pulls) comparisons of figures for each pull that is amended, and no more. */
#pragma once
#include "desk/doubt.h"

struct ew_amend_rows {
  GArray *rows; /* struct ew_pull_row, all of the book */
  GArray *at_s; /* double, of each */
};
gboolean ew_amend_rows_read(struct ew_book *book, struct ew_amend_rows *rows, GError **error);
/* What the book says of this pull now, without reading it again: what is stored is not told as refused because it could not be. Texts
 * are copied. O(pulls). */
void ew_amend_rows_put(struct ew_amend_rows *rows, const struct ew_pull_row *now);
void ew_amend_rows_clear(struct ew_amend_rows *rows);
/* NULL: it is not there. Good until they are read again. */
const struct ew_pull_row *ew_amend_row(const struct ew_amend_rows *rows, gint64 id);

/* The pull of this engine that ran last before `unix_s`, but for those of the recording of `of`; NULL: none did. */
const struct ew_pull_row *ew_amend_prior(const struct ew_amend_rows *rows,
                                         const struct ew_pull_row *of, gint64 engine_id,
                                         double unix_s);
/* Run and mounting of `was`, when it is this engine's and ran then, on this day of the shop. A stop and a mounting that began with it go
 * with it: they are known by another run than that of the pull before, on one day, and a higher mounting. */
void ew_amend_place(const struct ew_amend_rows *rows, const struct ew_pull_row *was,
                    gint64 engine_id, double unix_s, const char *day, double rest_s, int *run,
                    int *mounting);
/* As ew_before_of. */
gboolean ew_amend_before(const struct ew_amend_rows *rows, const struct ew_desk *desk,
                         const struct ew_pull_row *of, gint64 engine_id, double unix_s,
                         struct ew_before *before, GError **error);
