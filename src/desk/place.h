/* Where a pull that is added stands among those of its engine, by its time and not by when it was added.
 *
 *   run       pulls between which the engine was not stopped     1 1 1 | 2 2 | 3
 *   mounting  pulls between which it was not taken off the dyno  1 1 1 | 1 1 | 2
 *
 * A pull that ran before others that are in the book parts them, when it began after a stop: those that were one run with the pull
 * before it are its run now. So they never are one run across a stop, in whatever order the files come.
 *
 * A run's number says which pulls belong together, not which came first: one that begins among others gets a number that none has.
 * A first pull of a day that is added behind a later one of that day begins a run of its own, as nothing says whether the engine was
 * stopped between them. */
#pragma once
#include "book/keep.h"

struct ew_place_ask {
  const GArray *rows; /* struct ew_pull_row, by time and number, of any engine */
  gint64 engine_id;
  double unix_s;
  const char *day;             /* of the shop */
  gboolean stopped, remounted; /* before it, as somebody said or as its long rest says */
};
struct ew_run_place {
  const struct ew_pull_row *prior; /* ran last before it, a row of `rows`; NULL: it is the first */
  int run, mounting;
  GArray *moved; /* struct ew_pull_place: later pulls whose numbers change; to be unreffed */
};
/* The pull of this engine that ran last at or before `unix_s`: NULL when there is none. O(rows). */
const struct ew_pull_row *ew_place_prior(const GArray *rows, gint64 engine_id, double unix_s);
/* O(rows). */
void ew_place_find(const struct ew_place_ask *ask, struct ew_run_place *place);
