/* Each pull is asked as if it were amended to what it says already: the same doubts, against the pull that ran before it, less what was
 * answered "right as it is". Discarded and invented pulls prove nothing and are not asked. */
#include "desk/book_check.h"
#include "base/error.h"
#include "base/zone.h"
#include "book/hold.h"
#include "desk/amend_doubt.h"
#include "desk/mend.h"
#include "pull/told.h"
#include <math.h>
#include <string.h>

EW_MESSAGE(no_weather, "desk.check-no-weather", EW_CAUTION,
           "the weather is not known: the curve is uncorrected, and nothing sets it beside "
           "corrected ones");
EW_MESSAGE(carried_long, "desk.check-carried-long", EW_CAUTION,
           "its weather was {age} old, and weather holds for {most}");
EW_MESSAGE(not_computed, "desk.check-not-computed", EW_CAUTION,
           "it cannot be computed again from its raw data");

static void row_clear(void *data) {
  struct ew_check_row *row = data;
  ew_message_free(row->finding);
  g_free(row->mend);
}

void ew_book_check_add(GArray *rows, gint64 pull, ew_message *finding, char *mend) {
  struct ew_check_row row = {pull, finding, mend};
  g_array_append_val(rows, row);
}

static char *mend_of(const ew_message *finding, gint64 id) {
  char *mend = ew_plausible_mend(finding, id);
  return mend ? mend : g_strdup_printf("pull history %" G_GINT64_FORMAT, id);
}

/* ---- what waits already ---- */

static gboolean add_held(const struct ew_desk *desk, gint64 id, GArray *rows, GError **error) {
  GError *problem = NULL;
  g_autoptr(GArray) holds = ew_hold_list(desk->book, id, &problem);
  for (guint i = 0; !problem && i < holds->len; i++) {
    const struct ew_hold_row *hold = &g_array_index(holds, struct ew_hold_row, i);
    ew_message *finding =
        hold->answered_at ? NULL : ew_message_read(hold->finding, strlen(hold->finding), NULL);
    if (finding)
      ew_book_check_add(rows, id, finding, mend_of(finding, id));
  }
  if (problem)
    g_propagate_error(error, problem);
  return problem == NULL;
}

/* ---- weather ---- */

static char *weather_mend(gint64 id) {
  return g_strdup_printf("pull amend %" G_GINT64_FORMAT
                         " --set \"pressure=... hPa\" --set \"temperature=... degC\" --set "
                         "\"humidity=... %%\"",
                         id);
}

/* The same figures as of the pull before, where an earlier program kept no origins: so old at the least. NaN: not so. */
static double silently_carried(const struct ew_loaded *l, const struct ew_pull_row *prior,
                               double at_s) {
  struct ew_setup before = {0};
  if (!prior || !prior->setup ||
      !ew_record_from_yaml(&ew_setup_fields, "set-up", prior->setup, &before, NULL))
    return NAN;
  gboolean same =
      l->setup.pressure_pa == before.pressure_pa && l->setup.temperature_k == before.temperature_k;
  ew_setup_clear(&before);
  return same ? at_s - ew_instant(prior->at) : (double)NAN;
}

static double oldest_carried(const GArray *told) {
  double oldest = NAN;
  for (guint i = 0; i < told->len; i++) {
    const struct ew_told *one = &g_array_index(told, struct ew_told, i);
    if (one->from == EW_FROM_CARRIED && one->fact <= EW_TOLD_HUMIDITY)
      oldest = fmax(oldest, one->age_s);
  }
  return oldest;
}

static void add_weather(const struct ew_amend_rows *all, const struct ew_loaded *l, GArray *rows) {
  const struct ew_pull_row *row = &l->row;
  double at_s = ew_instant(row->at), most = l->curve->method.weather_age_s;
  g_autoptr(GArray) told = ew_told_read(row->told);
  double age = told->len
                   ? oldest_carried(told)
                   : silently_carried(l, ew_amend_prior(all, row, row->engine_id, at_s), at_s);
  if (ew_curve_corrected(l->curve) == EW_UNCORRECTED)
    ew_book_check_add(rows, row->id, ew_message_plain(&no_weather), weather_mend(row->id));
  else if (age > most)
    ew_book_check_add(rows, row->id,
                      ew_message(&carried_long, ew_say_quantity("age", EW_KIND_TIME, age, 0),
                                 ew_say_quantity("most", EW_KIND_TIME, most, 0)),
                      weather_mend(row->id));
}

/* ---- doubts, from raw ---- */

static gboolean add_doubts(const struct ew_desk *desk, const struct ew_amend_rows *all,
                           const struct ew_pull_row *row, GArray *rows, GError **error) {
  const struct ew_amend_ask as_it_is = {.at = row->at}; /* its day is asked about, too */
  struct ew_recomputed again;
  g_autoptr(GError) problem = NULL;
  if (!ew_recompute(desk->book, row->id, &again, &problem)) {
    ew_book_check_add(rows, row->id, ew_message_plain(&not_computed), g_strdup("book verify"));
    return TRUE;
  }
  g_autoptr(GPtrArray) doubts =
      ew_amend_doubts(desk, &as_it_is, all, &again, row, row, &again.recording, 0, NULL, error);
  ew_recomputed_clear(&again);
  for (guint i = 0; doubts && i < doubts->len; i++)
    ew_book_check_add(rows, row->id, ew_message_copy(doubts->pdata[i]),
                      mend_of(doubts->pdata[i], row->id));
  return doubts != NULL;
}

static gboolean check_pull(const struct ew_desk *desk, const struct ew_check_ask *ask,
                           const struct ew_amend_rows *all, const struct ew_pull_row *row,
                           GArray *rows, GError **error) {
  if (row->discarded || row->invented)
    return TRUE;
  struct ew_loaded *l = ew_desk_load_id(desk, row->id, error);
  if (!l)
    return FALSE;
  add_weather(all, l, rows);
  ew_loaded_free(l);
  return row->held ? add_held(desk, row->id, rows, error)
                   : !ask->raw || add_doubts(desk, all, row, rows, error);
}

GArray *ew_book_check(const struct ew_desk *desk, const struct ew_check_ask *ask, GError **error) {
  struct ew_amend_rows all = {0};
  GArray *rows = g_array_new(FALSE, FALSE, sizeof(struct ew_check_row));
  g_array_set_clear_func(rows, row_clear);
  gboolean good = ew_amend_rows_read(desk->book, &all, error);
  struct ew_steps steps = {ask->progress, ask->progress_data, 0, good ? all.rows->len : 0};
  for (guint i = 0; good && i < all.rows->len; i++) {
    good =
        check_pull(desk, ask, &all, &g_array_index(all.rows, struct ew_pull_row, i), rows, error);
    ew_step(&steps);
    if (good && ask->cancel && g_atomic_int_get(ask->cancel))
      good = ew_refuse(error, "stopped before the end");
  }
  good = good && ew_book_check_whole(desk, all.rows, rows, error);
  ew_amend_rows_clear(&all);
  if (good)
    return rows;
  g_array_unref(rows);
  return NULL;
}

void ew_book_check_json(const GArray *rows, const char *key, enum ew_unit_system units,
                        struct ew_json *json) {
  ew_json_open_array(json, key);
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_check_row *row = &g_array_index(rows, struct ew_check_row, i);
    ew_json_open(json, NULL);
    if (row->pull)
      ew_json_integer(json, "pull", row->pull);
    else
      ew_json_text(json, "pull", NULL);
    ew_message_write_member(row->finding, "finding", units, json);
    ew_mend_json(row->mend, json);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}
