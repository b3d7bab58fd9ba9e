/* The same order as that of adding (desk/place.c): by time, and at one time by number.
 *
 *   as it stands --(taken out: what it began goes with it)--> without it --(put in: what it begins parts those after it)--> as it will
 *
 * Both are done on copies of the numbers alone; what differs in the end is moved. */
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
  g_assert(r->rows->len == r->at_s->len);
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
  g_assert(r->rows->len == r->at_s->len);
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

static gboolean is_after(const struct ew_amend_rows *r, guint i, const struct ew_pull_row *of,
                         double unix_s) {
  const struct ew_pull_row *row = row_at(r, i);
  double at = g_array_index(r->at_s, double, i);
  return row->recording_id != of->recording_id &&
         (at > unix_s || (at == unix_s && row->id > of->id));
}

/* Index of the pull before it; -1: none. */
static int prior_of(const struct ew_amend_rows *r, const struct ew_pull_row *of, gint64 engine_id,
                    double unix_s) {
  int best = -1;
  for (guint i = 0; i < r->rows->len; i++)
    if (is_of_engine(row_at(r, i), engine_id) && is_before(r, i, of, unix_s) &&
        is_later(r, i, best))
      best = (int)i;
  return best;
}

const struct ew_pull_row *ew_amend_prior(const struct ew_amend_rows *r,
                                         const struct ew_pull_row *of, gint64 engine_id,
                                         double unix_s) {
  int prior = prior_of(r, of, engine_id, unix_s);
  return prior < 0 ? NULL : row_at(r, (guint)prior);
}

/* The first that ran after it on that day; -1: none. */
static int next_of_day(const struct ew_amend_rows *r, const struct ew_amend_put *ask) {
  int best = -1;
  for (guint i = 0; i < r->rows->len; i++)
    if (is_of_engine(row_at(r, i), ask->engine_id) && is_after(r, i, ask->was, ask->unix_s) &&
        g_strcmp0(row_at(r, i)->day, ask->day) == 0 && (best < 0 || !is_later(r, i, best)))
      best = (int)i;
  return best;
}

/* ---- numbers ---- */

struct numbers { /* of each row, as they will be */
  int run, mounting;
};

/* What begins with a pull. */
struct begun {
  gboolean stopped, remounted;
};

static gboolean is_day_of(const struct ew_amend_rows *r, int i, const char *day) {
  return i >= 0 && g_strcmp0(row_at(r, (guint)i)->day, day) == 0;
}

/* It is no longer where it was: those after it are as if it had never been there. */
static struct begun take_out(const struct ew_amend_rows *r, const struct ew_pull_row *was,
                             struct numbers *now) {
  double at_s = ew_instant(was->at);
  int prior = prior_of(r, was, was->engine_id, at_s);
  if (prior < 0)
    return (struct begun){FALSE, FALSE};
  struct begun begun = {is_day_of(r, prior, was->day) && now[prior].run != was->run,
                        now[prior].mounting < was->mounting}; /* they count up */
  for (guint i = 0; i < r->rows->len; i++) {
    const struct ew_pull_row *row = row_at(r, i);
    if (!is_of_engine(row, was->engine_id) || !is_after(r, i, was, at_s))
      continue;
    if (begun.stopped && row->run == was->run && g_strcmp0(row->day, was->day) == 0)
      now[i].run = now[prior].run;
    if (begun.remounted && row->mounting >= was->mounting)
      now[i].mounting--;
  }
  return begun;
}

/* A number that no other pull of the engine has: the preferred one, if that is so. */
static int free_run(const struct ew_amend_rows *r, const struct ew_amend_put *ask,
                    const struct numbers *now) {
  const struct ew_pull_row *as = ask->back ? ask->back : ask->was;
  gboolean taken = !is_of_engine(as, ask->engine_id);
  int most = 0;
  for (guint i = 0; i < r->rows->len; i++) {
    const struct ew_pull_row *row = row_at(r, i);
    if (!is_of_engine(row, ask->engine_id) || row->recording_id == ask->was->recording_id)
      continue;
    most = MAX(most, now[i].run);
    taken |= now[i].run == as->run;
  }
  return taken ? most + 1 : as->run;
}

/* Its own run and mounting, put between others whose numbers are `now`. */
static struct numbers own_numbers(const struct ew_amend_rows *r, const struct ew_amend_put *ask,
                                  struct begun begun, int prior, const struct numbers *now) {
  int next = next_of_day(r, ask);
  gboolean goes_on = is_day_of(r, prior, ask->day);
  int former = ask->back ? ask->back->run : ask->was->run;
  /* of one run with the pull after it: it was so before, or nothing says that the engine was stopped between them */
  gboolean leads = next >= 0 && !goes_on &&
                   (now[next].run == former || !(begun.stopped || begun.remounted || ask->back)) &&
                   (prior < 0 || now[prior].run != now[next].run);
  struct numbers own = {.mounting = prior < 0 ? 1 : now[prior].mounting + begun.remounted};
  own.run = goes_on && !begun.stopped && !begun.remounted ? now[prior].run
            : leads                                       ? now[next].run
                                                          : free_run(r, ask, now);
  return own;
}

/* Those after it: parted from the run that it ended, and counted on from the mounting that it began. */
static void part_later(const struct ew_amend_rows *r, const struct ew_amend_put *ask,
                       struct begun begun, int prior, int run, struct numbers *now) {
  const struct numbers before = now[prior];
  gboolean parts = is_day_of(r, prior, ask->day) && before.run != run;
  for (guint i = 0; i < r->rows->len; i++) {
    const struct ew_pull_row *row = row_at(r, i);
    if (!is_of_engine(row, ask->engine_id) || !is_after(r, i, ask->was, ask->unix_s))
      continue;
    if (parts && now[i].run == before.run && g_strcmp0(row->day, ask->day) == 0)
      now[i].run = run;
    if (begun.remounted && now[i].mounting >= before.mounting)
      now[i].mounting++;
  }
}

static void list_moved(const struct ew_amend_rows *r, gint64 recording_id,
                       const struct numbers *now, GArray *moved) {
  for (guint i = 0; i < r->rows->len; i++) {
    const struct ew_pull_row *row = row_at(r, i);
    struct ew_pull_place place = {row->id, now[i].run, now[i].mounting, row->run, row->mounting};
    g_assert(now[i].run >= 1 || row->run < 1);
    if (row->run == now[i].run && row->mounting == now[i].mounting)
      continue;
    g_assert(row->recording_id != recording_id);
    g_array_append_val(moved, place);
  }
}

void ew_amend_place(const struct ew_amend_rows *r, const struct ew_amend_put *ask,
                    struct ew_amend_placed *placed) {
  g_autofree struct numbers *now = g_new(struct numbers, r->rows->len);
  for (guint i = 0; i < r->rows->len; i++)
    now[i] = (struct numbers){row_at(r, i)->run, row_at(r, i)->mounting};
  struct begun begun = take_out(r, ask->was, now);
  int prior = prior_of(r, ask->was, ask->engine_id, ask->unix_s);
  begun.stopped |= ask->rest_s > REST_S;
  if (ask->back && prior >= 0) { /* the place that it is moved from may not have told */
    begun.stopped |= is_day_of(r, prior, ask->day) && now[prior].run != ask->back->run;
    begun.remounted |= now[prior].mounting < ask->back->mounting;
  }
  struct numbers own = own_numbers(r, ask, begun, prior, now);
  if (prior >= 0)
    part_later(r, ask, begun, prior, own.run, now);
  *placed =
      (struct ew_amend_placed){.run = own.run,
                               .mounting = own.mounting,
                               .moved = g_array_new(FALSE, FALSE, sizeof(struct ew_pull_place))};
  list_moved(r, ask->was->recording_id, now, placed->moved);
}

void ew_amend_rows_move(struct ew_amend_rows *r, const GArray *moved) {
  for (guint k = 0; k < moved->len; k++) {
    const struct ew_pull_place *place = &g_array_index(moved, struct ew_pull_place, k);
    guint i = index_of(r, place->id);
    g_assert(i < r->rows->len);
    struct ew_pull_row *row = &g_array_index(r->rows, struct ew_pull_row, i);
    row->run = place->run;
    row->mounting = place->mounting;
  }
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
