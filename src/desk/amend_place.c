/* The same order as that of adding (desk/add.c): by time, and at one time by number. */
#include "desk/amend_place.h"
#include "base/zone.h"
#include <math.h>
#include <string.h>

#define REST_S 1800.0 /* of a stop, as when a pull is added */

static const struct ew_pull_row *row_at(const struct ew_amend_rows *r, guint i) {
  return &g_array_index(r->rows, struct ew_pull_row, i);
}

gboolean ew_amend_rows_read(struct ew_book *book, struct ew_amend_rows *r, GError **error) {
  *r = (struct ew_amend_rows){ew_pull_list(book, 0, error), NULL};
  if (!r->rows)
    return FALSE;
  r->at_s = g_array_sized_new(FALSE, FALSE, sizeof(double), r->rows->len);
  for (guint i = 0; i < r->rows->len; i++) {
    double at = ew_instant(row_at(r, i)->at);
    g_array_append_val(r->at_s, at);
  }
  return TRUE;
}

static guint index_of(const struct ew_amend_rows *r, gint64 id) {
  guint i = 0;
  while (i < r->rows->len && row_at(r, i)->id != id)
    i++;
  return i;
}

void ew_amend_rows_put(struct ew_amend_rows *r, const struct ew_pull_row *now) {
  struct ew_pull_row own = *now;
  char **texts[] = {&own.kind,    &own.at,        &own.day,     &own.purpose, &own.setup,
                    &own.changed, &own.discarded, &own.tripped, &own.held,    &own.told};
  for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
    *texts[i] = g_strdup(*texts[i]);
  double at = ew_instant(own.at);
  guint i = index_of(r, own.id);
  if (i == r->rows->len) {
    g_array_append_val(r->rows, own);
    g_array_append_val(r->at_s, at);
    return;
  }
  struct ew_pull_row *there = &g_array_index(r->rows, struct ew_pull_row, i);
  ew_pull_row_clear(there);
  *there = own;
  g_array_index(r->at_s, double, i) = at;
}

void ew_amend_rows_clear(struct ew_amend_rows *r) {
  g_clear_pointer(&r->rows, g_array_unref);
  g_clear_pointer(&r->at_s, g_array_unref);
}

const struct ew_pull_row *ew_amend_row(const struct ew_amend_rows *r, gint64 id) {
  guint i = index_of(r, id);
  return i < r->rows->len ? row_at(r, i) : NULL;
}

/* Did it run before that one, which ran at `unix_s`? */
static gboolean is_before(const struct ew_amend_rows *r, guint i, const struct ew_pull_row *of,
                          double unix_s) {
  const struct ew_pull_row *row = row_at(r, i);
  double at = g_array_index(r->at_s, double, i);
  gint64 recording = of->recording_id;
  return row->recording_id != recording && (at < unix_s || (at == unix_s && row->id < of->id));
}

/* Is `i` later than `best`? Nothing is earlier than no pull (-1). */
static gboolean is_later(const struct ew_amend_rows *r, guint i, int best) {
  if (best < 0)
    return TRUE;
  double at = g_array_index(r->at_s, double, i), then = g_array_index(r->at_s, double, best);
  return at > then || (at == then && row_at(r, i)->id > row_at(r, (guint)best)->id);
}

static gboolean is_of_engine(const struct ew_pull_row *row, gint64 engine_id) {
  gint64 of = row->engine_id;
  return of == engine_id;
}

const struct ew_pull_row *ew_amend_prior(const struct ew_amend_rows *r,
                                         const struct ew_pull_row *of, gint64 engine_id,
                                         double unix_s) {
  int best = -1;
  for (guint i = 0; i < r->rows->len; i++)
    if (is_of_engine(row_at(r, i), engine_id) && is_before(r, i, of, unix_s) &&
        is_later(r, i, best))
      best = (int)i;
  return best < 0 ? NULL : row_at(r, (guint)best);
}

/* The first that ran after it on that day; NULL: none. */
static const struct ew_pull_row *next_of_day(const struct ew_amend_rows *r,
                                             const struct ew_pull_row *of, gint64 engine_id,
                                             double unix_s, const char *day) {
  int best = -1;
  gint64 recording = of->recording_id;
  for (guint i = 0; i < r->rows->len; i++) {
    const struct ew_pull_row *row = row_at(r, i);
    if (row->recording_id != recording && is_of_engine(row, engine_id) &&
        !is_before(r, i, of, unix_s) && g_strcmp0(row->day, day) == 0 &&
        (best < 0 || !is_later(r, i, best)))
      best = (int)i;
  }
  return best < 0 ? NULL : row_at(r, (guint)best);
}

/* A number that no other pull of the engine has: its own, if that is so. */
static int free_run(const struct ew_amend_rows *r, const struct ew_pull_row *was,
                    gint64 engine_id) {
  int most = 0;
  gboolean taken = !is_of_engine(was, engine_id);
  gint64 recording = was->recording_id;
  for (guint i = 0; i < r->rows->len; i++) {
    const struct ew_pull_row *row = row_at(r, i);
    if (!is_of_engine(row, engine_id) || row->recording_id == recording)
      continue;
    most = MAX(most, row->run);
    taken |= row->run == was->run;
  }
  return taken ? most + 1 : was->run;
}

void ew_amend_place(const struct ew_amend_rows *r, const struct ew_pull_row *was, gint64 engine_id,
                    double unix_s, const char *day, double rest_s, int *run, int *mounting) {
  const struct ew_pull_row *old = ew_amend_prior(r, was, was->engine_id, ew_instant(was->at));
  const struct ew_pull_row *now = ew_amend_prior(r, was, engine_id, unix_s);
  const struct ew_pull_row *next = next_of_day(r, was, engine_id, unix_s, day);
  gboolean stopped =
      (old && old->run != was->run && g_strcmp0(old->day, was->day) == 0) || rest_s > REST_S;
  gboolean remounted = old && old->mounting < was->mounting; /* they count up */
  *mounting = now ? now->mounting + remounted : 1;
  if (now && !stopped && g_strcmp0(now->day, day) == 0)
    *run = now->run;
  else if (next && (!stopped || next->run == was->run) && !(now && now->run == next->run))
    *run = next->run;
  else
    *run = free_run(r, was, engine_id);
}

/* ---- what doubts are asked against ---- */

gboolean ew_amend_before(const struct ew_amend_rows *r, const struct ew_desk *desk,
                         const struct ew_pull_row *of, gint64 engine_id, double unix_s,
                         struct ew_before *before, GError **error) {
  int last = -1, any = -1;
  for (guint i = 0; i < r->rows->len; i++) {
    const struct ew_pull_row *row = row_at(r, i);
    if (!is_before(r, i, of, unix_s) || row->held || row->discarded)
      continue;
    if (is_later(r, i, any))
      any = (int)i;
    if (is_of_engine(row, engine_id) && ew_pull_counts(row) && is_later(r, i, last))
      last = (int)i;
  }
  g_autoptr(GArray) few = g_array_new(FALSE, FALSE, sizeof(struct ew_pull_row)); /* borrowed */
  if (last >= 0)
    g_array_append_vals(few, row_at(r, (guint)last), 1);
  if (any >= 0 && any != last)
    g_array_append_vals(few, row_at(r, (guint)any), 1);
  return ew_before_of(desk, few, engine_id, unix_s, of->id, before, error);
}
