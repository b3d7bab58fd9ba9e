/* Notes on curves, printed with a pull. */
#pragma once
#include "book/curve_note.h"

/* One line a note of the pull, by speed; `all`: those taken back too, with their reason. */
gboolean ew_call_say_curve_notes(struct ew_book *book, gint64 pull_id, gboolean all,
                                 GError **error);
