/* A recording after the other, so that a stop in the middle leaves each whole or thinned. What may be a weather station's is left: pulls
 * that are added later ask it (station.h). */
#include "desk/thin.h"
#include "base/error.h"
#include "book/keep.h"
#include "book/ship.h"
#include "book/shrink.h"
#include "desk/station.h"
#include <math.h>

#define WORTH_BYTES 65536 /* less is not worth writing the file again */

void ew_thinning_clear(struct ew_thinning *t) {
  g_clear_pointer(&t->rows, g_array_unref);
  g_clear_pointer(&t->kept_because, g_free);
}

/* A clock that runs ahead of the shop's makes nothing older than it is. */
static gboolean now_of(struct ew_book *book, double *now_s, GError **error) {
  struct ew_ship_state state;
  if (!ew_ship_state(book, &state, error))
    return FALSE;
  *now_s = (double)g_get_real_time() / G_USEC_PER_SEC;
  if (state.clock_s < 0)
    *now_s += state.clock_s;
  ew_ship_state_clear(&state);
  return TRUE;
}

static gboolean is_station(struct ew_book *book, gint64 id, gboolean *is, GError **error) {
  g_auto(GStrv) headings = ew_stream_headings(book, id, error);
  *is = headings && ew_station_may_be(headings);
  return headings != NULL;
}

static gboolean one(struct ew_book *book, const struct ew_thin_rule *rule, gint64 id, double now_s,
                    gboolean look, struct ew_thin_done *done, GError **error) {
  gboolean station;
  *done = (struct ew_thin_done){.recording_id = id, .state = EW_THIN_STATION};
  if (!is_station(book, id, &station, error))
    return FALSE;
  return station || (look ? ew_thin_look(book, id, rule, now_s, done, error)
                          : ew_keep_thinned(book, id, rule, now_s, done, error));
}

static GArray *all_of(struct ew_book *book, GError **error) {
  GError *problem = NULL;
  g_autoptr(GArray) streams = ew_stream_list(book, &problem);
  GArray *ids = g_array_new(FALSE, FALSE, sizeof(gint64));
  for (guint i = 0; !problem && i < streams->len; i++)
    g_array_append_val(ids, g_array_index(streams, struct ew_stream_row, i).id);
  if (!problem)
    return ids;
  g_propagate_error(error, problem);
  g_array_unref(ids);
  return NULL;
}

static void add(struct ew_thinning *t, const struct ew_thin_done *done) {
  g_array_append_vals(t->rows, done, 1);
  t->sum.runs += done->runs;
  t->sum.rows += done->rows;
  t->sum.source_rows += done->source_rows;
  t->sum.after += done->after;
  t->sum.source_bytes += done->source_bytes;
  t->sum.bytes += done->bytes;
}

/* Before anything is written: may each that was asked for be thinned? */
static gboolean may_all(struct ew_book *book, const struct ew_thin_rule *rule, const GArray *ids,
                        double now_s, GError **error) {
  for (guint i = 0; i < ids->len; i++) {
    struct ew_thin_done done;
    if (!one(book, rule, g_array_index(ids, gint64, i), now_s, TRUE, &done, error))
      return FALSE;
    if (done.state != EW_THIN_THINNED && done.state != EW_THIN_NOTHING)
      return ew_refuse(error, "live recording %" G_GINT64_FORMAT ": %s", done.recording_id,
                       ew_thin_state_says(done.state));
  }
  return TRUE;
}

/* A rule that can do nothing is a slip: "1 kHz" where 1 Hz was meant. */
static gboolean rate_is_low(const struct ew_thinning *t, const struct ew_thin_rule *rule,
                            GError **error) {
  guint slow = 0, other = 0;
  for (guint i = 0; i < t->rows->len; i++) {
    enum ew_thin_state state = g_array_index(t->rows, struct ew_thin_done, i).state;
    slow += state == EW_THIN_SLOW;
    other += state == EW_THIN_THINNED || state == EW_THIN_NOTHING || state == EW_THIN_SMALL;
  }
  return !slow || other ||
         ew_refuse(error,
                   "no recording that is old enough was recorded faster than the rule's %g Hz: "
                   "nothing can be thinned; 'book set --idle-rate' sets a lower rate",
                   1 / rule->period_s);
}

static gboolean give_back(struct ew_book *book, const struct ew_thin_asked *asked,
                          struct ew_thinning *t, GError **error) {
  gint64 spare;
  if (!ew_book_spare(book, &spare, error))
    return FALSE;
  if (!asked->look && !asked->no_shrink && spare >= WORTH_BYTES) {
    g_autoptr(GError) problem = NULL;
    t->shrunk = ew_book_shrink(book, &problem);
    if (!t->shrunk)
      t->kept_because = g_strdup(problem->message);
  }
  t->size_after = ew_book_size(book, error);
  return t->size_after >= 0;
}

gboolean ew_desk_thin(struct ew_book *book, const struct ew_thin_rule *rule,
                      const struct ew_thin_asked *asked, struct ew_thinning *t, GError **error) {
  double now_s;
  *t = (struct ew_thinning){.rows = g_array_new(FALSE, FALSE, sizeof(struct ew_thin_done))};
  g_autoptr(GArray) every = asked->ids ? NULL : all_of(book, error);
  const GArray *ids = asked->ids ? asked->ids : every;
  gboolean good = ids && now_of(book, &now_s, error) &&
                  (t->size_before = ew_book_size(book, error)) >= 0 &&
                  (!asked->ids || may_all(book, rule, ids, now_s, error));
  for (guint i = 0; good && i < ids->len; i++) {
    struct ew_thin_done done;
    good = one(book, rule, g_array_index(ids, gint64, i), now_s, asked->look, &done, error);
    if (good)
      add(t, &done);
    if (asked->progress)
      asked->progress((i + 1.0) / ids->len, NULL);
  }
  return good && rate_is_low(t, rule, error) && give_back(book, asked, t, error);
}
