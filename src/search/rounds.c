/* The rounds of rounds.h.
 *
 * Inside, goals are turned so that less is better. What is learned sees an axis without order as one column a place (0 or 1), so
 * that no place is nearer to one than to another. */
#include "search/rounds.h"
#include "base/error.h"
#include "search/rounds_parts.h"
#include "search/seen.h"
#include "search/space.h"
#include <math.h>
#include <string.h>

#define TRIES_EACH   200 /* points looked at for each design that may be built */
#define INFLUENCE_OF 1024

/* ---- axes ---- */

void ew_axes_snap(const struct ew_axis *axis, int axes, const double *from, double *to) {
  for (int j = 0; j < axes; j++) {
    int n = axis[j].places;
    to[j] = n == 0 ? from[j] : n == 1 ? 0 : MIN(floor(from[j] * n), n - 1) / (n - 1);
  }
}

int ew_axis_place(const struct ew_axis *axis, double coordinate) {
  g_assert(axis->places > 0);
  return (int)lround(coordinate * (axis->places - 1));
}

static gboolean spread_out(const struct ew_axis *axis) {
  return axis->unordered && axis->places > 2;
}

static int columns_of(const struct ew_search_ask *a) {
  int n = 0;
  for (int j = 0; j < a->axes; j++)
    n += spread_out(&a->axis[j]) ? a->axis[j].places : 1;
  return n;
}

void ew_rounds_row(const struct ew_search_ask *a, const double *point, double *row) {
  for (int j = 0, at = 0; j < a->axes; j++) {
    if (!spread_out(&a->axis[j])) {
      row[at++] = point[j];
      continue;
    }
    for (int k = 0; k < a->axis[j].places; k++)
      row[at++] = k == ew_axis_place(&a->axis[j], point[j]);
  }
}

/* ---- designs ---- */

static void make_room(struct ew_search_found *f, int more) {
  gsize n = (gsize)(f->designs + more);
  f->point = g_renew(double, f->point, n *(gsize)f->axes);
  f->figure = g_renew(double, f->figure, n *(gsize)f->figures);
  f->worse = g_renew(double, f->worse, n);
  f->round = g_renew(int, f->round, n);
  f->sound = g_renew(gboolean, f->sound, n);
}

double ew_rounds_beyond(const struct ew_rounds *s, const double *figure) {
  double sum = 0;
  for (int k = 0; k < s->ask->limits; k++) {
    const struct ew_limit *l = &s->ask->limit[k];
    double y = figure[l->figure], scale = s->scale[l->figure];
    if (isnan(y))
      return INFINITY;
    sum += fmax(0, fmax(l->low - y, y - l->high)) / (scale > 0 ? scale : 1);
  }
  return sum;
}

static void scale_limits(struct ew_rounds *s) {
  const struct ew_search_found *f = s->found;
  for (int k = 0; k < f->figures; k++) {
    double low = INFINITY, high = -INFINITY;
    for (int i = 0; i < f->designs; i++)
      if (f->sound[i]) {
        low = fmin(low, f->figure[i * f->figures + k]);
        high = fmax(high, f->figure[i * f->figures + k]);
      }
    s->scale[k] = high > low ? high - low : 0;
  }
  for (int i = 0; i < f->designs; i++)
    f->worse[i] = f->sound[i] ? ew_rounds_beyond(s, f->figure + i * f->figures) : INFINITY;
}

static gboolean run_these(struct ew_rounds *s, const double *points, int n, int round,
                          GError **error) {
  struct ew_search_found *f = s->found;
  if (n == 0)
    return TRUE;
  make_room(f, n);
  gsize at = (gsize)f->designs;
  double *figure = f->figure + at * (gsize)f->figures;
  memcpy(f->point + at * (gsize)f->axes, points, sizeof(double) * (gsize)n * (gsize)f->axes);
  if (!s->ask->run(points, n, figure, f->sound + at, s->ask->data, error))
    return FALSE;
  for (int i = 0; i < n; i++) {
    gboolean whole = f->sound[at + (gsize)i];
    for (int k = 0; k < f->figures; k++)
      whole &= isfinite(figure[i * f->figures + k]);
    f->sound[at + (gsize)i] = whole;
    f->round[at + (gsize)i] = round;
    f->unsound += !whole;
    for (int k = 0; k < f->figures && !whole; k++)
      figure[i * f->figures + k] = NAN;
  }
  f->designs += n;
  scale_limits(s);
  if (s->ask->progress)
    s->ask->progress((double)f->designs / (s->ask->first + s->ask->rounds * s->ask->batch),
                     s->ask->progress_data);
  return TRUE;
}

gboolean ew_rounds_known(const struct ew_rounds *s, const double *point, const double *chosen,
                         int n) {
  const struct ew_search_ask *a = s->ask;
  for (int i = 0; i < n; i++)
    if (ew_seen_alike(a->axis, a->axes, chosen + i * a->axes, point))
      return TRUE;
  return ew_seen_has(s->seen, point);
}

gboolean ew_rounds_may_be(const struct ew_rounds *s, const double *point) {
  return !s->ask->allowed || s->ask->allowed(point, s->ask->data);
}

/* Up to `want` even designs that may be built and are new, behind the n that are chosen, which are seen from then on; returns how many
 * there are then. Fewer when the places of the axes are used up, or tries are. */
static int add_even(struct ew_rounds *s, double *chosen, int n, int want) {
  const struct ew_search_ask *a = s->ask;
  double even[EW_AXES_MOST], *point = chosen + n * a->axes;
  for (int i = 0; i < n; i++)
    ew_seen_add(s->seen, chosen + i * a->axes);
  for (gint64 tries = 0; n < want && tries < (gint64)TRIES_EACH * want; tries++) {
    ew_space_point(a->seed, s->next++, a->axes, even);
    ew_axes_snap(a->axis, a->axes, even, point);
    if (!ew_rounds_may_be(s, point))
      s->found->barred++;
    else if (!ew_seen_has(s->seen, point)) {
      ew_seen_add(s->seen, point);
      n++;
      point += a->axes;
    }
  }
  return n;
}

/* ---- learning ---- */

static gboolean is_used(const struct ew_search_ask *a, int figure) {
  for (int g = 0; g < a->goals; g++)
    if (a->goal[g].figure == figure)
      return TRUE;
  for (int l = 0; l < a->limits; l++)
    if (a->limit[l].figure == figure)
      return TRUE;
  return FALSE;
}

static int sound_rows(const struct ew_rounds *s, double *x) {
  int n = 0;
  for (int i = 0; i < s->found->designs; i++)
    if (s->found->sound[i])
      ew_rounds_row(s->ask, s->found->point + i * s->ask->axes, x + n++ * s->columns);
  return n;
}

static gboolean learn(struct ew_rounds *s, GError **error) {
  struct ew_search_found *f = s->found;
  g_autofree double *x = g_new(double, (gsize)f->designs *(gsize)s->columns);
  g_autofree double *y = g_new(double, f->designs);
  int n = sound_rows(s, x);
  for (int k = 0; k < f->figures; k++) {
    int at = 0;
    for (int i = 0; i < f->designs; i++)
      if (f->sound[i])
        y[at++] = f->figure[i * f->figures + k];
    if (n < 4 || !is_used(s->ask, k))
      continue;
    struct ew_surrogate *now = ew_surrogate_new(x, y, n, s->columns, f->surrogate[k], error);
    if (!now)
      return FALSE;
    ew_surrogate_free(f->surrogate[k]);
    f->surrogate[k] = now;
  }
  return TRUE;
}

gboolean ew_rounds_believe(const struct ew_search_ask *a, const struct ew_search_found *f,
                           const double *point, int figure, double *mean, double *band) {
  g_assert(figure >= 0 && figure < f->figures);
  const struct ew_surrogate *p = f->surrogate[figure];
  double row[EW_AXES_MOST * EW_PLACES_MOST];
  if (!p)
    return FALSE;
  ew_rounds_row(a, point, row);
  if (mean)
    *mean = ew_surrogate_mean(p, row);
  if (band)
    *band = ew_surrogate_band(p, row);
  return TRUE;
}

/* The first designs fill the space. */
static void weigh(struct ew_rounds *s) {
  int even = 0;
  for (int i = 0; i < s->found->designs && s->found->round[i] == 0; i++)
    even += s->found->sound[i];
  for (int k = 0; k < s->found->figures; k++)
    if (s->found->surrogate[k])
      ew_surrogate_weigh(s->found->surrogate[k], even);
}

gboolean ew_search_believes(const struct ew_search_ask *a, const struct ew_search_found *found,
                            const double *point, int figure, double *mean, double *band) {
  double snapped[EW_AXES_MOST];
  g_assert(figure >= 0 && figure < found->figures);
  ew_axes_snap(a->axis, a->axes, point, snapped);
  if (!ew_rounds_believe(a, found, snapped, figure, mean, NULL))
    return FALSE;
  double row[EW_AXES_MOST * EW_PLACES_MOST];
  ew_rounds_row(a, snapped, row);
  if (band)
    *band = ew_surrogate_told(found->surrogate[figure], row);
  return TRUE;
}

/* ---- the whole ---- */

static void find_front(struct ew_rounds *s) {
  struct ew_search_found *f = s->found;
  g_autofree double *own = g_new(double, (gsize)f->designs *(gsize)f->goals);
  for (int i = 0; i < f->designs; i++)
    for (int g = 0; g < f->goals; g++)
      own[i * f->goals + g] =
          ew_goal_turned(&s->ask->goal[g], f->figure[i * f->figures + s->ask->goal[g].figure]);
  f->front = g_renew(gboolean, f->front, f->designs);
  ew_front_of(own, f->worse, f->designs, f->goals, f->front);
  f->front_count = 0;
  for (int i = 0; i < f->designs; i++) {
    f->front[i] &= f->worse[i] == 0;
    f->front_count += f->front[i];
  }
}

static gboolean check(const struct ew_search_ask *a, GError **error) {
  if (a->axes < 1 || a->axes > EW_AXES_MOST)
    return ew_refuse(error, "change: %d fields; give 1 to %d", a->axes, EW_AXES_MOST);
  if (a->goals < 1 || a->goals > EW_GOALS_MOST)
    return ew_refuse(error, "want: %d figures; give 1 to %d", a->goals, EW_GOALS_MOST);
  g_assert(a->figures >= 1 && a->figures <= EW_FIGURES_MOST);
  for (int j = 0; j < a->axes; j++)
    g_assert(a->axis[j].places >= 0 &&
             (!a->axis[j].unordered || a->axis[j].places <= EW_PLACES_MOST));
  return TRUE;
}

/* What is learned from has its own limit; designs that are only run have not. */
static gboolean check_rounds(const struct ew_search_ask *a, GError **error) {
  if (a->first < 8 || a->batch < 1 || a->rounds < 0 ||
      a->first + (double)a->rounds * a->batch > EW_SURROGATE_MOST)
    return ew_refuse(error,
                     "%d first designs and %d rounds of %d: give at least 8 first designs, and at "
                     "most %d in all",
                     a->first, a->rounds, a->batch, EW_SURROGATE_MOST);
  return TRUE;
}

/* points[(first + 1) x axes]: one is tried beyond the last. */
static int even_ones(struct ew_rounds *s, double *points, GError **error) {
  int n = add_even(s, points, 0, s->ask->first);
  if (n == 0)
    ew_answer_no(error, "none of %d designs tried is allowed by the limits that need no run",
                 s->found->barred);
  return n;
}

static gboolean first_designs(struct ew_rounds *s, GError **error) {
  g_autofree double *points = g_new(double, (gsize)(s->ask->first + 1) * (gsize)s->ask->axes);
  int n = even_ones(s, points, error);
  return n > 0 && run_these(s, points, n, 0, error);
}

int ew_search_first_points(const struct ew_search_ask *a, double *points, GError **error) {
  struct ew_search_found found = {.axes = a->axes, .figures = a->figures, .goals = a->goals};
  struct ew_rounds s = {.ask = a, .found = &found};
  g_autofree double *room = g_new(double, (gsize)(MAX(a->first, 0) + 1) * (gsize)MAX(a->axes, 1));
  int n = 0;
  if (check(a, error)) {
    s.seen = ew_seen_new(a->axis, a->axes);
    n = even_ones(&s, room, error);
    ew_seen_free(s.seen);
  }
  memcpy(points, room, sizeof(double) * (gsize)n * (gsize)MAX(a->axes, 1));
  return n;
}

static gboolean one_round(struct ew_rounds *s, int round, GError **error) {
  g_autofree double *chosen = g_new(double, (gsize)(s->ask->batch + 1) * (gsize)s->ask->axes);
  find_front(s);
  if (!learn(s, error))
    return FALSE;
  int n = ew_rounds_choose(s, round, chosen);
  n = add_even(s, chosen, n, s->ask->batch);
  return run_these(s, chosen, n, round, error);
}

gboolean ew_search_run(const struct ew_search_ask *a, struct ew_search_found *found,
                       GError **error) {
  *found = (struct ew_search_found){.axes = a->axes,
                                    .figures = a->figures,
                                    .goals = a->goals,
                                    .surrogate = g_new0(struct ew_surrogate *, MAX(a->figures, 1))};
  struct ew_rounds s = {.ask = a, .found = found};
  gboolean good = check(a, error) && check_rounds(a, error);
  if (good) {
    s.seen = ew_seen_new(a->axis, a->axes);
    s.columns = columns_of(a);
    good = first_designs(&s, error);
  }
  for (int r = 1; good && r <= a->rounds; r++)
    good = one_round(&s, r, error);
  good = good && learn(&s, error);
  ew_seen_free(s.seen);
  if (good) {
    weigh(&s);
    find_front(&s);
  } else
    ew_search_found_clear(found);
  return good;
}

void ew_search_found_clear(struct ew_search_found *f) {
  for (int k = 0; f->surrogate && k < f->figures; k++)
    ew_surrogate_free(f->surrogate[k]);
  g_free(f->surrogate);
  g_free(f->point);
  g_free(f->figure);
  g_free(f->worse);
  g_free(f->round);
  g_free(f->sound);
  g_free(f->front);
  *f = (struct ew_search_found){0};
}

/* ---- influence ---- */

struct asked {
  const struct ew_search_ask *ask;
  const struct ew_search_found *found;
  int figure;
};

static double learned(const double *point, gpointer data) {
  const struct asked *q = data;
  double mean = NAN;
  ew_search_believes(q->ask, q->found, point, q->figure, &mean, NULL);
  return mean;
}

gboolean ew_search_influence(const struct ew_search_ask *a, const struct ew_search_found *found,
                             int figure, struct ew_influence *influence) {
  struct asked asked = {a, found, figure};
  return found->surrogate[figure] &&
         ew_influence_of(learned, &asked, a->axes, INFLUENCE_OF, a->seed, influence);
}
