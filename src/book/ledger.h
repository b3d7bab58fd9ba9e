/* The life ledger: hours, pulls, heat cycles and seconds above each speed, from stored raw. */
#pragma once
#include "book/book.h"

#define EW_LEDGER_SPEEDS 24 /* bins of 500 rpm from 0 */

struct ew_ledger {
  double running_s;                 /* with the engine above 300 rpm */
  double above_s[EW_LEDGER_SPEEDS]; /* seconds above k x 500 rpm */
  double highest_rpm;
  int recordings, pulls;
  int heat_cycles; /* docs/methods.md, "Life ledger" */
};
gboolean ew_ledger_read(struct ew_book *book, gint64 engine_id, struct ew_ledger *ledger,
                        GError **error);
/* What a live recording did to the engine, as JSON; of one that was thinned as it was before. */
gboolean ew_ledger_life(struct ew_book *book, gint64 recording_id, char **json, GError **error);
gboolean ew_ledger_is_life(const char *json);
void ew_ledger_add(struct ew_ledger *ledger, const double *time_s, const double *speed_rpm,
                   gsize n);
