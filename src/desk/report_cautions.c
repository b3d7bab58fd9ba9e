/* What changed between the pulls of a test report, and what its reader must know before he believes a figure. A caution is
 * never left out for being awkward: each stands once. */
#include "desk/report_parts.h"
#include "base/number.h"
#include "book/stream.h"
#include "desk/trip.h"
#include <math.h>
#include <string.h>

/* What tripped stays with the pull, also where it is left out of the means. */
static void caution_trips(struct ew_report *r, struct ew_book *book, gint64 pull_id,
                          const GPtrArray *pulls) {
  g_autofree char *what = ew_trips_of_pull_say(book, pull_id);
  gboolean named = FALSE;
  for (guint i = 0; i < pulls->len; i++)
    named |= ((const struct ew_loaded *)g_ptr_array_index(pulls, i))->id == pull_id;
  g_ptr_array_add(
      r->cautions,
      g_strdup_printf("Pull %" G_GINT64_FORMAT EW_REPORT_TRIPPED "%s.%s", pull_id, what ? what : "",
                      named ? " It is in this report because it was asked for by number."
                            : " It is not in the means."));
}

/* Between pulls too: an engine that was shut down is told, and whether somebody looked. */
static void caution_trips_between(struct ew_report *r, struct ew_book *book, gint64 engine_id) {
  g_autoptr(GArray) trips = ew_trip_list(book, NULL);
  for (guint i = 0; i < trips->len; i++) {
    const struct ew_trip_row *t = &g_array_index(trips, struct ew_trip_row, i);
    if (!t->asks || t->pull_id || t->engine_id != engine_id)
      continue;
    g_autofree char *what = ew_trip_says(t), *found = ew_trip_found_says(t);
    g_ptr_array_add(r->cautions, g_strdup_printf("Alarm" EW_REPORT_TRIPPED "%s%s.", what, found));
  }
}

void ew_report_changes(struct ew_report *r, const struct ew_desk *desk, gint64 engine_id,
                       const GPtrArray *pulls) {
  g_autoptr(GArray) rows = ew_pull_list(desk->book, engine_id, NULL);
  g_autoptr(GArray) verdicts = ew_verdict_list(desk->book, engine_id, NULL);
  struct ew_setup before = {0};
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    struct ew_setup now;
    if (!ew_record_from_yaml(&ew_setup_fields, "set-up", row->setup, &now, NULL))
      continue;
    g_autoptr(GPtrArray) found = i ? ew_setup_changes(&before, &now) : NULL;
    g_autoptr(GPtrArray) changes = found ? ew_messages_texts(found, r->units) : NULL;
    if ((changes && changes->len) || row->changed) {
      if (!changes)
        changes = g_ptr_array_new_with_free_func(g_free);
      g_ptr_array_add(changes, NULL);
      g_autofree char *list = g_strjoinv("; ", (char **)changes->pdata);
      g_ptr_array_add(r->changes, g_strdup_printf("before pull %" G_GINT64_FORMAT ": %s%s%s",
                                                  row->id, row->changed ? row->changed : "",
                                                  row->changed && *list ? "; " : "", list));
    }
    if (row->tripped)
      caution_trips(r, desk->book, row->id, pulls);
    if (row->discarded)
      g_ptr_array_add(r->cautions,
                      g_strdup_printf("Pull %" G_GINT64_FORMAT EW_REPORT_DISCARDED "%s", row->id,
                                      row->discarded));
    ew_setup_clear(&before);
    before = now;
  }
  ew_setup_clear(&before);
  caution_trips_between(r, desk->book, engine_id);
  for (guint i = 0; i < verdicts->len; i++) {
    const struct ew_verdict_row *v = &g_array_index(verdicts, struct ew_verdict_row, i);
    g_ptr_array_add(r->changes, g_strdup_printf("%s, %s: %s", v->question, v->pulls, v->says));
  }
}

/* A mean of pulls that differ is a mean of nothing in particular: then it is said. */
static void caution_mixed(struct ew_report *r, const GPtrArray *pulls) {
  double least = INFINITY, most = 0;
  gboolean alike = TRUE;
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i), *first = g_ptr_array_index(pulls, 0);
    least = fmin(least, l->curve->high_rpm);
    most = fmax(most, l->curve->high_rpm);
    g_autoptr(GPtrArray) changes = ew_setup_changes(&first->setup, &l->setup);
    alike &= changes->len == 0;
  }
  if (most > 1.02 * least) {
    g_autofree char *low = ew_number_thousands(least), *high = ew_number_thousands(most);
    g_ptr_array_add(r->cautions,
                    g_strdup_printf("The pulls end between %s and %s rpm: the means are "
                                    "of the speeds that all of them reach.",
                                    low, high));
  }
  if (!alike)
    g_ptr_array_add(r->cautions,
                    g_strdup("The pulls were run with different set-ups: the mean is of "
                             "all of them, the set-up stated is the last."));
}

/* A report names its engine: figures of the practice cell are not that engine's. */
static void caution_invented(struct ew_report *r, const GPtrArray *pulls) {
  g_autoptr(GString) which = g_string_new(NULL);
  guint count = 0;
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    if (l->row.invented)
      g_string_append_printf(which, "%s%" G_GINT64_FORMAT, count++ ? ", " : "", l->id);
  }
  if (count)
    g_ptr_array_add(r->cautions,
                    g_strdup_printf("Pull%s %s: of the practice cell, an invented engine. Nothing "
                                    "here proves the engine named above.",
                                    count > 1 ? "s" : "", which->str));
}

void ew_report_cautions(struct ew_report *r, const struct ew_desk *desk, const GPtrArray *pulls) {
  g_autoptr(GHashTable) seen = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    for (guint w = 0; w < l->curve->warnings->len; w++) {
      const ew_message *warning = g_ptr_array_index(l->curve->warnings, w);
      g_autofree char *text = ew_message_text(warning, r->units);
      if (g_hash_table_add(seen, ew_message_write(warning)))
        g_ptr_array_add(r->cautions, g_strdup_printf("Pull %" G_GINT64_FORMAT ": %s", l->id, text));
    }
  }
  caution_invented(r, pulls);
  g_autofree char *overdue = ew_calibration_overdue(desk->book);
  if (overdue)
    g_ptr_array_add(r->cautions, g_strdup_printf("%c%s.", g_ascii_toupper(*overdue), overdue + 1));
  caution_mixed(r, pulls);
  const struct ew_loaded *last = g_ptr_array_index(pulls, pulls->len - 1);
  g_ptr_array_add(r->cautions,
                  g_strdup(last->curve->method.standard == EW_STANDARD_NONE
                               ? "No factor was applied: figures are of the air of the day."
                               : "A factor was applied; this is not a test to that standard."));
}
