/* What an engine was proved with: the set-up of its last like pulls that count, for the sheet that leaves with it. */
#pragma once
#include "desk/loaded.h"

struct ew_proved {
  GPtrArray *pairs; /* char*: label in English, value as it is shown; empty: no pull counts */
  GPtrArray
      *notes; /* char*: by which pulls; held and amended ones are named, never taken in silence */
};
/* O(pulls of the engine). FALSE with *error only when the book fails; then there is nothing to clear. */
gboolean ew_proved_read(struct ew_desk *desk, gint64 engine_id, enum ew_unit_system units,
                        struct ew_proved *proved, GError **error);
void ew_proved_clear(struct ew_proved *proved); /* also of zeros */
