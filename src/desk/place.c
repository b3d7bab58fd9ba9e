/* place.h: one look at the rows for the pull before, one for those after. Nothing is read from the book or written. */
#include "desk/place.h"
#include "base/zone.h"
#include <math.h>
#include <string.h>

static const struct ew_pull_row *row_at(const GArray *rows, guint i) {
  return &g_array_index(rows, struct ew_pull_row, i);
}

static gboolean is_of(const struct ew_pull_row *row, gint64 engine_id) {
  gint64 of = row->engine_id;
  return of == engine_id;
}

const struct ew_pull_row *ew_place_prior(const GArray *rows, gint64 engine_id, double unix_s) {
  const struct ew_pull_row *prior = NULL;
  double last_s = NAN;
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_pull_row *row = row_at(rows, i);
    double at = is_of(row, engine_id) ? ew_instant(row->at) : (double)NAN;
    if (at <= unix_s && !(at < last_s)) {
      prior = row;
      last_s = at;
    }
  }
  g_assert(!prior || last_s <= unix_s);
  return prior;
}

/* A number that no run of this engine has. */
static int next_run(const struct ew_place_ask *ask) {
  g_assert(ask->rows);
  int most = 0;
  for (guint i = 0; i < ask->rows->len; i++)
    if (is_of(row_at(ask->rows, i), ask->engine_id))
      most = MAX(most, row_at(ask->rows, i)->run);
  return most + 1;
}

/* Those that ran after it: parted from the run that it ended, and counted on from the mounting that it began. */
static void move_later(const struct ew_place_ask *ask, struct ew_run_place *p) {
  gboolean parts = p->prior && p->run != p->prior->run;
  gboolean counts = p->prior && ask->remounted;
  for (guint i = 0; (parts || counts) && i < ask->rows->len; i++) {
    const struct ew_pull_row *row = row_at(ask->rows, i);
    if (!is_of(row, ask->engine_id) || !(ew_instant(row->at) > ask->unix_s))
      continue;
    gboolean parted = parts && row->run == p->prior->run;
    struct ew_pull_place now = {.id = row->id,
                                .run = parted ? p->run : row->run,
                                .mounting = row->mounting + counts,
                                .was_run = row->run,
                                .was_mounting = row->mounting};
    if (parted || counts)
      g_array_append_val(p->moved, now);
  }
}

void ew_place_find(const struct ew_place_ask *ask, struct ew_run_place *place) {
  const struct ew_pull_row *prior = ew_place_prior(ask->rows, ask->engine_id, ask->unix_s);
  gboolean begins =
      !prior || ask->stopped || ask->remounted || g_strcmp0(prior->day, ask->day) != 0;
  *place = (struct ew_run_place){.prior = prior,
                                 .run = begins ? next_run(ask) : prior->run,
                                 .mounting = prior ? prior->mounting + (ask->remounted != 0) : 1,
                                 .moved = g_array_new(FALSE, FALSE, sizeof(struct ew_pull_place))};
  move_later(ask, place);
  g_assert(begins || place->moved->len == 0); /* only what begins something parts others */
}
