/* What was corrected on a pull and what held it, as the interfaces tell it. */
#include "base/error.h"
#include "book/amend.h"
#include "book/hold.h"
#include "desk/curve_note.h"
#include "desk/amend.h"
#include "desk/mend.h"
#include "pull/plausible.h"
#include <string.h>

static gboolean write_amendment(struct ew_book *book, const struct ew_amendment_row *row,
                                enum ew_unit_system units, struct ew_json *json, GError **error) {
  struct ew_former_row former;
  if (!ew_former_get(book, row->pull_id, row->reading - 1, &former, error))
    return FALSE;
  g_autoptr(GPtrArray) changes = ew_amendment_changes(row);
  ew_json_open(json, NULL);
  ew_json_integer(json, "id", row->id);
  ew_json_integer(json, "reading", row->reading);
  ew_json_text(json, "at", row->at);
  ew_json_text(json, "who", row->who);
  ew_json_text(json, "reason", row->reason);
  ew_json_integer(json, "undoes", row->undoes);
  ew_messages_write_json(changes, "changes", units, json);
  ew_json_text(json, "former_digest", former.curve.digest);
  ew_json_number(json, "former_band_mean_torque_n_m", former.pull.band_mean_n_m);
  ew_json_close(json);
  ew_former_row_clear(&former);
  return TRUE;
}

static void write_hold(const struct ew_hold_row *row, enum ew_unit_system units,
                       struct ew_json *json) {
  g_autoptr(ew_message) finding = ew_message_read(row->finding, strlen(row->finding), NULL);
  ew_json_open(json, NULL);
  ew_message_write_member(finding, "finding", units, json);
  ew_json_text(json, "at", row->at);
  ew_json_text(json, "answered_at", row->answered_at);
  ew_json_text(json, "who", row->who);
  ew_json_text(json, "answer", row->answer);
  ew_json_text(json, "reason", row->reason);
  ew_json_close(json);
}

static gboolean write_all(struct ew_book *book, gint64 id, enum ew_unit_system units,
                          struct ew_json *json, GError **error) {
  GError *problem = NULL;
  g_autoptr(GArray) rows = ew_amendment_list(book, id, &problem);
  g_autoptr(GArray) holds = problem ? NULL : ew_hold_list(book, id, &problem);
  ew_json_open_array(json, "amendments");
  for (guint i = 0; !problem && i < rows->len; i++)
    write_amendment(book, &g_array_index(rows, struct ew_amendment_row, i), units, json, &problem);
  ew_json_close_array(json);
  ew_json_open_array(json, "held");
  for (guint i = 0; !problem && i < holds->len; i++)
    write_hold(&g_array_index(holds, struct ew_hold_row, i), units, json);
  ew_json_close_array(json);
  if (problem)
    g_propagate_error(error, problem);
  return problem == NULL;
}

gboolean ew_pull_history_json(struct ew_book *book, gint64 id, enum ew_unit_system units,
                              struct ew_json *json, GError **error) {
  struct ew_pull_row pull;
  if (!ew_pull_get(book, id, &pull, error))
    return FALSE;
  ew_json_integer(json, "id", pull.id);
  ew_json_integer(json, "reading", pull.reading);
  ew_pull_row_clear(&pull);
  return write_all(book, id, units, json, error) &&
         ew_curve_notes_json(book, id, "notes", json, error);
}

void ew_pull_held_json(const struct ew_pull_row *row, struct ew_json *json) {
  g_autoptr(ew_message) finding =
      row->held ? ew_message_read(row->held, strlen(row->held), NULL) : NULL;
  g_autofree char *mend = finding ? ew_plausible_mend(finding, row->id) : NULL;
  ew_message_write_member(finding, "held", EW_UNITS_SI, json);
  if (finding)
    ew_mend_json(mend, json);
  ew_json_integer(json, "reading", row->reading);
}
