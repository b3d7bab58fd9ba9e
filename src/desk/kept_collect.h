/* Files of kept runs of several workers collected into one: each record once, in the order of the keys, so that the file has the same
 * bytes however the work was shared out, and whichever worker died on the way. */
#pragma once
#include <glib.h>

struct ew_kept_collected {
  gint64 records, twice; /* in the file that was written; that stood in more than one place */
  gint64 older,
      damaged; /* left out: of another physics version or form; that do not match their check, or are torn */
};
/* files[n] are read, `into` is written at once or not at all; it may be one of them. Refused: a file that does not begin with `head`, two
 * records of one key with unlike figures, `into` that holds something else. Cost: records times their logarithm; memory: 32 bytes a record, lines stay in their
 * files. */
gboolean ew_kept_collect(char *const *files, int n, const char *into, const char *head,
                         struct ew_kept_collected *counts, GError **error);
