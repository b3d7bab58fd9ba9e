/* What changed between the pulls of a test report, and what its reader must know before he believes a figure. A caution is
 * never left out for being awkward: each stands once. */
#include "desk/report_parts.h"
#include "base/language.h"
#include "book/amend.h"
#include "book/stream.h"
#include "desk/question.h"
#include "desk/trip.h"
#include "pull/findings.h"
#include <math.h>
#include <string.h>

EW_MESSAGE_PUBLIC(ew_report_tripped, "desk.report-tripped", EW_DANGER,
                  "pull {pull} tripped: {trip}. It is not in the means.");
EW_MESSAGE_PUBLIC(ew_report_tripped_named, "desk.report-tripped-named", EW_DANGER,
                  "pull {pull} tripped: {trip}. It is in this report because it was asked for by "
                  "number.");
EW_MESSAGE_PUBLIC(ew_report_tripped_between, "desk.report-tripped-between", EW_DANGER,
                  "alarm tripped: {trip}.");
EW_MESSAGE_PUBLIC(ew_report_discarded, "desk.report-discarded", EW_CAUTION,
                  "pull {pull} was discarded: {reason}");

/* What tripped stays with the pull, also where it is left out of the means. */
static void caution_trips(struct ew_report *r, struct ew_book *book, gint64 pull_id,
                          const GPtrArray *pulls) {
  g_autoptr(ew_message) tripped = ew_trips_of_pull(book, pull_id);
  gboolean named = FALSE;
  for (guint i = 0; i < pulls->len; i++)
    named |= ((const struct ew_loaded *)g_ptr_array_index(pulls, i))->id == pull_id;
  ew_messages_add(r->cautions, ew_message(named ? &ew_report_tripped_named : &ew_report_tripped,
                                          ew_say_count("pull", pull_id),
                                          tripped ? ew_say_message("trip", tripped)
                                                  : ew_say_text("trip", NULL)));
}

/* Between pulls too: an engine that was shut down is reported, and whether somebody looked. */
static void caution_trips_between(struct ew_report *r, struct ew_book *book, gint64 engine_id) {
  g_autoptr(GArray) trips = ew_trip_list(book, NULL);
  for (guint i = 0; i < trips->len; i++) {
    const struct ew_trip_row *t = &g_array_index(trips, struct ew_trip_row, i);
    if (!t->asks || t->pull_id || t->engine_id != engine_id)
      continue;
    g_autoptr(ew_message) what = ew_trip_message(t);
    ew_messages_add(r->cautions,
                    ew_message(&ew_report_tripped_between, ew_say_message("trip", what)));
  }
}

EW_MESSAGE(changed, "desk.report-changed", EW_NOTE, "before pull {pull}: {changes}");

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
      g_autofree char *both = g_strdup_printf("%s%s%s", row->changed ? row->changed : "",
                                              row->changed && *list ? "; " : "", list);
      ew_messages_add(r->changes, ew_message(&changed, ew_say_count("pull", row->id),
                                             ew_say_text("changes", both)));
    }
    if (row->tripped)
      caution_trips(r, desk->book, row->id, pulls);
    if (row->discarded)
      ew_messages_add(r->cautions, ew_message(&ew_report_discarded, ew_say_count("pull", row->id),
                                              ew_say_text("reason", row->discarded)));
    ew_setup_clear(&before);
    before = now;
  }
  ew_setup_clear(&before);
  caution_trips_between(r, desk->book, engine_id);
  for (guint i = 0; i < verdicts->len; i++) {
    const struct ew_verdict_row *v = &g_array_index(verdicts, struct ew_verdict_row, i);
    ew_messages_add(r->changes, ew_answer_message(v));
  }
}

EW_MESSAGE_PUBLIC(ew_report_amended, "desk.report-amended", EW_NOTE,
                  "pull {pull} was amended on {day} by {who}: {reason} ({changes})");
EW_MESSAGE(held, "desk.report-held", EW_CAUTION,
           "pull {pull} is held: {finding}. It is in this report because it was asked for by "
           "number.");

/* What was corrected after it ran: a report that was printed before says something else. */
static gboolean tell_amendments(struct ew_report *r, struct ew_book *book, const GPtrArray *pulls,
                                GError **error) {
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    GError *problem = NULL;
    g_autoptr(GArray) rows = ew_amendment_list(book, l->id, &problem);
    if (problem) {
      g_propagate_error(error, problem);
      return FALSE;
    }
    for (guint k = 0; k < rows->len; k++) {
      const struct ew_amendment_row *row = &g_array_index(rows, struct ew_amendment_row, k);
      g_autoptr(GPtrArray) changes = ew_amendment_changes(row);
      char day[EW_DAY_SIZE] = "";
      if (!ew_book_day(book, row->at, day, error))
        return FALSE;
      ew_messages_add(r->cautions, ew_message(&ew_report_amended, ew_say_count("pull", l->id),
                                              ew_say_text("day", day), ew_say_text("who", row->who),
                                              ew_say_text("reason", row->reason),
                                              ew_say_messages("changes", changes)));
    }
    g_autoptr(ew_message) finding =
        l->row.held ? ew_message_read(l->row.held, strlen(l->row.held), NULL) : NULL;
    if (finding)
      ew_messages_add(r->cautions, ew_message(&held, ew_say_count("pull", l->id),
                                              ew_say_message("finding", finding)));
  }
  return TRUE;
}

EW_MESSAGE(mixed_ends, "desk.report-mixed-ends", EW_CAUTION,
           "the pulls end between {low} and {high} rpm: the means are of the speeds that all of "
           "them reach.");

/* Where the pulls end, when not at one speed; whether they are alike at all was asked before (report.c). */
static void caution_mixed(struct ew_report *r, const GPtrArray *pulls) {
  double least = INFINITY, most = 0;
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    least = fmin(least, l->curve->high_rpm);
    most = fmax(most, l->curve->high_rpm);
  }
  if (most > 1.02 * least) {
    ew_messages_add(r->cautions, ew_message(&mixed_ends, ew_say_figure("low", least, 0),
                                            ew_say_figure("high", most, 0)));
  }
}

EW_MESSAGE(invented_one, "desk.report-practice-pull", EW_DANGER,
           "pull {pulls}: of the practice cell, an invented engine. Nothing here proves the engine "
           "named above.");
EW_MESSAGE(
    invented_many, "desk.report-practice-pulls", EW_DANGER,
    "pulls {pulls}: of the practice cell, an invented engine. Nothing here proves the engine "
    "named above.");

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
    ew_messages_add(r->cautions, ew_message(count > 1 ? &invented_many : &invented_one,
                                            ew_say_text("pulls", which->str)));
}

EW_MESSAGE(of_pull, "desk.report-of-pull", EW_CAUTION, "pull {pull}: {what}");
EW_MESSAGE(overdue_one, "desk.report-overdue", EW_CAUTION, "{what}.");
EW_MESSAGE(no_factor, "desk.report-no-factor", EW_NOTE,
           "no factor was applied: figures are in the air of the day.");
EW_MESSAGE(factor, "desk.report-factor", EW_NOTE,
           "a factor was applied; this is not a test to that standard.");

gboolean ew_report_cautions(struct ew_report *r, const struct ew_desk *desk, const GPtrArray *pulls,
                            GError **error) {
  g_assert(pulls->len > 0);
  g_autoptr(GHashTable) seen = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    for (guint w = 0; w < l->curve->warnings->len; w++) {
      const ew_message *warning = g_ptr_array_index(l->curve->warnings, w);
      if (ew_message_is(warning, &ew_pull_altered))
        continue; /* by another factor: said once for the whole sheet */
      if (g_hash_table_add(seen, ew_message_write(warning)))
        ew_messages_add(r->cautions, ew_message(&of_pull, ew_say_count("pull", l->id),
                                                ew_say_message("what", warning)));
    }
  }
  caution_invented(r, pulls);
  g_autoptr(ew_message) overdue = NULL;
  gboolean good = tell_amendments(r, desk->book, pulls, error) &&
                  ew_calibration_overdue(desk->book, &overdue, error);
  if (overdue)
    ew_messages_add(r->cautions, ew_message(&overdue_one, ew_say_message("what", overdue)));
  caution_mixed(r, pulls);
  const struct ew_loaded *last = g_ptr_array_index(pulls, pulls->len - 1);
  ew_messages_add(
      r->cautions,
      ew_message_plain(last->curve->method.standard == EW_STANDARD_NONE ? &no_factor : &factor));
  return good;
}
