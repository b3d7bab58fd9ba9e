/* Which of its amendments a pull takes back when another pull of its recording takes back what was said of all of it.
 *
 *   pull that leads:  1 --spark--> 2 --unit of the recording--> 3        takes back the last: 4 is 2 again
 *   another:          1 --unit of the recording--> 2 --spark--> 3        takes back the unit: 4 is 3 but for the unit
 *   found since:      1 (by the unit)                                    4 of the first asks: is it there without the unit?
 *
 * An act on a whole recording is recognised by what it changed: the newest amendment of a pull before which the recording was as the
 * leading pull's former reading has it. */
#include "desk/amend_parts.h"

static gboolean is_same_of_all(const struct ew_former_row *a, const struct ew_former_row *b) {
  gint64 one = a->pull.engine_id, other = b->pull.engine_id;
  return one == other && g_strcmp0(a->channel_map, b->channel_map) == 0 &&
         g_strcmp0(a->measured_at, b->measured_at) == 0;
}

static gint64 made_by(const GArray *amendments, gint64 reading) {
  for (guint i = 0; i < amendments->len; i++)
    if (g_array_index(amendments, struct ew_amendment_row, i).reading == reading)
      return g_array_index(amendments, struct ew_amendment_row, i).id;
  return 0;
}

gboolean ew_amend_step_of(struct ew_book *book, const struct ew_pull_row *pull,
                          const struct ew_former_row *f, gint64 *reading, gint64 *id,
                          GError **error) {
  GError *problem = NULL;
  g_autoptr(GArray) amendments = ew_amendment_list(book, pull->id, &problem);
  *reading = *id = 0;
  for (gint64 r = pull->reading - 1; !problem && *reading == 0 && r > 0; r--) {
    struct ew_former_row own;
    if (!ew_former_get(book, pull->id, r, &own, &problem))
      break;
    if (is_same_of_all(&own, f))
      *reading = r + 1;
    ew_former_row_clear(&own);
  }
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  *id = made_by(amendments, *reading);
  g_assert(*reading == 0 || (*id > 0 && *reading <= pull->reading));
  return TRUE;
}
