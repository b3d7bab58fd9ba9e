/* Findings that wait are read back from the book, as the interfaces read them. */
#include "cli/held.h"
#include "book/hold.h"
#include "cli/command.h"
#include "pull/plausible.h"
#include <string.h>

void ew_call_say_held(struct ew_book *book, gint64 id, enum ew_unit_system units) {
  g_autoptr(GArray) rows = ew_hold_list(book, id, NULL);
  gboolean any = FALSE;
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_hold_row *row = &g_array_index(rows, struct ew_hold_row, i);
    g_autoptr(ew_message) finding =
        row->answered_at ? NULL : ew_message_read(row->finding, strlen(row->finding), NULL);
    if (!finding)
      continue;
    g_autofree char *text = ew_message_text(finding, units);
    g_autofree char *mend = ew_plausible_mend(finding, id);
    ew_say("HELD: %s", text);
    if (mend)
      ew_say("to correct it: enginewright %s --reason \"...\"", mend);
    any = TRUE;
  }
  if (any)
    ew_say("if it is right as it is: enginewright pull right %lld --reason \"...\"; until then "
           "nothing uses pull %lld",
           (long long)id, (long long)id);
}
