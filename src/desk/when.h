/* When did a recording run? In the order of belief: what was said with it; the date and clock that stand in the file; the
 * file's own time stamp, which is when it was written; this machine's clock. What stands in a file without an offset is the
 * clock on the shop's wall. */
#pragma once
#include "base/table.h"
#include "pull/told.h"
#include <glib.h>

struct ew_when_ask {
  GTimeZone *zone;       /* of the shop */
  GTimeZone *clock_zone; /* of the recorder's own clock, by its profile; NULL: the shop's */
  const char *typed;     /* NULL: nothing was said */
  gboolean month_first;  /* how a shop of US units writes a date */
  double stamp_s, now_s; /* Unix seconds; stamp NaN or 0: none */
  gboolean live;         /* just measured: the clock */
  const struct ew_table_layout
      *layout; /* of the file, where it was read already; NULL: it is looked at */
};
struct ew_when {
  double unix_s;
  enum ew_told_from from;
  double
      ahead_s; /* by which the file's own clock is after its time stamp, or after now; NaN: it is not, or nothing tells */
  ew_message *doubt; /* what was said and what the file says are more than a day apart; NULL */
};

/* Refuses a time that is none, one that the clocks did not or twice show, and one that is still to come. `data` may be NULL.
 * Reads the head of the file only. */
gboolean ew_when_of(const struct ew_when_ask *ask, const void *data, gsize size, const char *name,
                    struct ew_when *when, GError **error);
