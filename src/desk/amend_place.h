/* Where a pull stands among all others of its engine, when its time or its engine was told wrongly: which ran before it, of which run
 * and mounting it is, and what doubts are asked against.
 *
 * Rows are read once for a request and brought up to date after each recording, so that the pull before one is that pull as it is
 * amended. Instants are read once: O(pulls) comparisons of figures for each pull that is amended, and no more. */
#pragma once
#include "book/keep.h"
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
/* Where a recording is put. */
struct ew_amend_put {
  const struct ew_pull_row *was; /* a pull of it, as it stands: of the rows */
  const struct ew_pull_row
      *back; /* as it was at the reading that comes back; NULL: nothing is taken back */
  gint64 engine_id;
  double unix_s;
  const char *day; /* of the shop */
  double rest_s;   /* before it; a long one was a stop */
};
struct ew_amend_placed {
  int run, mounting; /* its own */
  GArray *
      moved; /* struct ew_pull_place: of other pulls, whose numbers change with it; to be unreffed */
};
/* Runs and mountings are those of the order of time (place.h), as if it had been added there: a stop and a mounting that began with it go
 * with it, so those after its old place are of the run before it again, and those after its new place are parted. What began with it
 * is known by another run than that of the pull before, on one day, and by a higher mounting: whether the engine was stopped before
 * the first pull of a day is not known, and such a one is of the run of the pull after it when nothing speaks against it.
 * Taken back at once, all numbers are what they were. O(rows). */
void ew_amend_place(const struct ew_amend_rows *rows, const struct ew_amend_put *ask,
                    struct ew_amend_placed *placed);
/* The rows as they are once those are stored. */
void ew_amend_rows_move(struct ew_amend_rows *rows, const GArray *moved);
/* As ew_before_of. */
gboolean ew_amend_before(const struct ew_amend_rows *rows, const struct ew_desk *desk,
                         const struct ew_pull_row *of, gint64 engine_id, double unix_s,
                         struct ew_before *before, GError **error);
