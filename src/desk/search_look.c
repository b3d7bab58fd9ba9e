/* The last look at what a search found: on fine cells, alike ones told as one, and at the corners of the envelope (search.h says in which order).
 *
 * Costs: fine runs of the engine as it is, of CHECKS designs and of each of the front that is unlike the others; coarse ones of these at each
 * corner. */
#include "base/number.h"
#include "desk/search_runs.h"
#include "desk/vary.h"
#include "search/alike.h"
#include <math.h>
#include <string.h>

#define CHECKS       8 /* designs that are run on fine cells too, to learn what coarse ones are worth */
#define CHECKS_LEAST 4
#define SHARE        0.05 /* rule of thumb, no source */

static const struct ew_search_wish *wish_at(const struct ew_search_setup *s, int k) {
  return &g_array_index(s->question->wishes, struct ew_search_wish, k);
}

static struct ew_search_member *member_at(const struct ew_search_answer *a, guint i) {
  return &g_array_index(a->members, struct ew_search_member, i);
}

static const double *point_of(const struct ew_search_answer *a, int design) {
  return a->found.point + (gsize)design * (gsize)a->ask.axes;
}

static const double *coarse_of(const struct ew_search_answer *a, int design) {
  return a->found.figure + (gsize)design * (gsize)a->wishes;
}

void ew_search_member_clear(gpointer data) {
  struct ew_search_member *m = data;
  g_free(m->figures);
  g_free(m->corner);
}

/* ---- fine cells ---- */

static double fine_cell(const struct ew_search_setup *s) {
  return isnan(s->fine_cell_m) ? s->options.cell_m / 2 : s->fine_cell_m;
}

/* Designs of found, run again. figures[n x wishes], sound[n] */
static gboolean run_again(struct ew_search_runs *r, const int *design, int n, double *figures,
                          gboolean *sound, GError **error) {
  const struct ew_search_answer *a = r->answer;
  g_autofree double *points = g_new(double, (gsize)MAX(n, 1) * (gsize)a->ask.axes);
  for (int i = 0; i < n; i++)
    memcpy(points + i * a->ask.axes, point_of(a, design[i]), sizeof(double) * (gsize)a->ask.axes);
  return ew_search_run_points(points, n, figures, sound, r, error);
}

/* ---- what a difference is worth ---- */

/* Some of the designs that settled, evenly; the first ones fill the space, and where too few of those did any will do. */
static int choose_checks(const struct ew_search_found *f, int *check) {
  g_autofree int *sound = g_new(int, MAX(f->designs, 1));
  int n = 0;
  for (int i = 0; i < f->designs; i++)
    if (f->sound[i] && (f->round[i] == 0 || n < CHECKS))
      sound[n++] = i;
  int count = MIN(n, CHECKS);
  for (int i = 0; i < count; i++)
    check[i] = sound[i * n / count];
  return count;
}

/* Of a figure that needs a run: by cells and by the tolerance of convergence. shift[n]: what fine cells change, of those that settled on both. */
static double difference_of(const double *shift, int n, double fine, double level) {
  double sum = 0, square = 0;
  if (n < CHECKS_LEAST)
    return NAN;
  for (int i = 0; i < n; i++)
    sum += shift[i];
  for (int i = 0; i < n; i++)
    square += (shift[i] - sum / n) * (shift[i] - sum / n);
  /* The shift is (1 - fine²) of the coarse error, and two have their own each. Few checks: Student's t has that much more spread. */
  double kept = fine * fine / fmax(1 - fine * fine, 0.1);
  double cells = sqrt(2 * square / (n - 1)) * kept * sqrt((n - 1.0) / (n - 3.0));
  return hypot(cells, EW_DOUBT_OF_TOLERANCE * fabs(level));
}

static void learn_difference(const struct ew_search_setup *s, struct ew_search_answer *a,
                             const int *check, const double *figures, const gboolean *sound,
                             int n) {
  a->difference_u = g_new(double, a->wishes);
  for (int k = 0; k < a->wishes; k++) {
    double shift[CHECKS], level = 0;
    int settled = 0;
    for (int i = 0; i < n; i++)
      if (sound[i]) {
        shift[settled++] = figures[i * a->wishes + k] - coarse_of(a, check[i])[k];
        level += figures[i * a->wishes + k];
      }
    a->difference_u[k] =
        ew_search_figures[wish_at(s, k)->what].early
            ? 0
            : difference_of(shift, settled, fine_cell(s) / s->options.cell_m, level / settled);
  }
}

/* The engine as it is, and some designs. */
static gboolean check_cells(struct ew_search_runs *fine, GError **error) {
  struct ew_search_answer *a = fine->answer;
  int check[CHECKS], n = choose_checks(&a->found, check);
  g_autofree double *figures = g_new(double, (gsize)CHECKS *(gsize)a->wishes);
  gboolean sound[CHECKS] = {FALSE};
  a->base = g_new(double, a->wishes);
  if (!ew_search_run_base(fine, a->base, &a->base_settled, error) ||
      !run_again(fine, check, n, figures, sound, error))
    return FALSE;
  learn_difference(fine->setup, a, check, figures, sound, n);
  return TRUE;
}

/* ---- alike ones are one ---- */

static int by_first_goal(gconstpointer a, gconstpointer b, gpointer data) {
  const struct ew_search_answer *answer = data;
  const struct ew_search_member *x = a, *y = b;
  double f = x->figures[0], g = y->figures[0];
  gboolean more = answer->ask.goal[0].more;
  if (isnan(f) || isnan(g))
    return isnan(f) - isnan(g);
  if (f == g)
    return x->design - y->design;
  return (f < g) == more ? 1 : -1;
}

static void add_span(const struct ew_search_member *from, struct ew_search_member *to, int axes) {
  to->alike += from->alike;
  for (int j = 0; j < axes; j++) {
    to->low[j] = fmin(to->low[j], from->low[j]);
    to->high[j] = fmax(to->high[j], from->high[j]);
    to->places[j] |= from->places[j];
  }
}

/* What two figures may differ by and be told as one: what cannot be told apart, and of a figure that is only kept within limits, and so neither
 * better nor worse, a share of all that it came to. */
static double band_of(const struct ew_search_runs *r, int k) {
  const struct ew_search_answer *a = r->answer;
  double low = INFINITY, high = -INFINITY, band = EW_SEARCH_COVER * a->difference_u[k];
  for (int i = 0; i < a->found.designs; i++)
    if (a->found.sound[i]) {
      low = fmin(low, coarse_of(a, i)[k]);
      high = fmax(high, coarse_of(a, i)[k]);
    }
  return wish_at(r->setup, k)->wanted || !(high > low) ? band : fmax(band, SHARE * (high - low));
}

/* By their figures as they are now: the members are sorted, and of those that cannot be told apart the first is left, with where all lie. */
static void join_alike(const struct ew_search_runs *r) {
  struct ew_search_answer *a = r->answer;
  guint n = a->members->len;
  g_autofree double *figures = g_new(double, MAX(n, 1) * (gsize)a->wishes);
  g_autofree double *band = g_new(double, a->wishes);
  g_autofree int *of = g_new(int, MAX(n, 1));
  GArray *kept = g_array_new(FALSE, FALSE, sizeof(struct ew_search_member));
  g_array_sort_with_data(a->members, by_first_goal, a);
  for (guint i = 0; i < n; i++)
    memcpy(figures + i * (gsize)a->wishes, member_at(a, i)->figures,
           sizeof(double) * (gsize)a->wishes);
  for (int k = 0; k < a->wishes; k++)
    band[k] = band_of(r, k);
  ew_front_alike(figures, (int)n, a->wishes, band, of);
  for (guint i = 0; i < n; i++)
    if (of[i] != (int)i) {
      add_span(member_at(a, i), member_at(a, (guint)of[i]), a->ask.axes);
      g_clear_pointer(&member_at(a, i)->figures, g_free);
    }
  for (guint i = 0; i < n; i++)
    if (of[i] == (int)i)
      g_array_append_val(kept, *member_at(a, i));
  g_array_set_clear_func(a->members, NULL); /* what is kept has moved */
  g_array_unref(a->members);
  a->members = kept;
  g_array_set_clear_func(a->members, ew_search_member_clear);
}

static void add_member(struct ew_search_answer *a, int design) {
  struct ew_search_member m = {.design = design, .alike = 1};
  const double *point = point_of(a, design);
  m.figures = g_memdup2(coarse_of(a, design), sizeof(double) * (gsize)a->wishes);
  for (int j = 0; j < a->ask.axes; j++) {
    m.low[j] = m.high[j] = point[j];
    if (a->ask.axis[j].unordered)
      m.places[j] = 1u << ew_axis_place(&a->ask.axis[j], point[j]);
  }
  g_array_append_val(a->members, m);
}

static gboolean run_members(struct ew_search_runs *fine, GError **error) {
  struct ew_search_answer *a = fine->answer;
  int n = (int)a->members->len;
  g_autofree int *design = g_new(int, MAX(n, 1));
  g_autofree double *figures = g_new(double, (gsize)MAX(n, 1) * (gsize)a->wishes);
  g_autofree gboolean *sound = g_new0(gboolean, MAX(n, 1));
  for (int i = 0; i < n; i++)
    design[i] = member_at(a, (guint)i)->design;
  if (!run_again(fine, design, n, figures, sound, error))
    return FALSE;
  for (int i = 0; i < n; i++) {
    struct ew_search_member *m = member_at(a, (guint)i);
    memcpy(m->figures, figures + i * a->wishes, sizeof(double) * (gsize)a->wishes);
    m->settled = sound[i];
  }
  return TRUE;
}

/* ---- limits ---- */

/* Those that figures are beyond; what is not known is within none, and its owner did not settle. */
static void find_beyond(const struct ew_search_setup *s, const struct ew_search_answer *a,
                        const double *figures, struct ew_search_limits *beyond) {
  beyond->count = 0;
  for (int k = 0; k < a->ask.limits; k++) {
    const struct ew_limit *l = &a->ask.limit[k];
    if (figures[l->figure] < l->low || figures[l->figure] > l->high)
      beyond->of[beyond->count++] = wish_at(s, l->figure);
  }
}

/* A limit that is infinitely far is none. */
static double level_of(const struct ew_limit *l) {
  return fmax(isfinite(l->low) ? fabs(l->low) : 0, isfinite(l->high) ? fabs(l->high) : 0);
}

static void find_held(const struct ew_search_setup *s, const struct ew_search_answer *a,
                      struct ew_search_member *m) {
  for (int k = 0; k < a->ask.limits; k++) {
    const struct ew_limit *l = &a->ask.limit[k];
    double y = m->figures[l->figure], coarse = coarse_of(a, m->design)[l->figure], band = 0;
    ew_search_believes(&a->ask, &a->found, point_of(a, m->design), l->figure, NULL, &band);
    double near = fmax(fmax(2 * band, fabs(y - coarse)), 0.01 * level_of(l));
    g_assert(m->held.count < (int)G_N_ELEMENTS(m->held.of));
    if (y - l->low < near || l->high - y < near)
      m->held.of[m->held.count++] = wish_at(s, l->figure);
  }
}

/* ---- the envelope ---- */

/* All members at one corner, on coarse cells; what the corner changes is added to the fine figures. */
static gboolean run_corner(struct ew_search_runs *r, int corner, GError **error) {
  struct ew_search_answer *a = r->answer;
  int n = (int)a->members->len;
  g_autofree int *design = g_new(int, MAX(n, 1));
  g_autofree double *figures = g_new(double, (gsize)MAX(n, 1) * (gsize)a->wishes);
  g_autofree gboolean *sound = g_new0(gboolean, MAX(n, 1));
  g_autoptr(GArray) more = ew_variations_new();
  ew_search_corner_is(r->setup->question, corner, more);
  for (int i = 0; i < n; i++)
    design[i] = member_at(a, (guint)i)->design;
  r->more = more;
  gboolean good = run_again(r, design, n, figures, sound, error);
  r->more = NULL;
  for (int i = 0; good && i < n; i++)
    for (int k = 0; k < a->wishes; k++) {
      const struct ew_search_member *m = member_at(a, (guint)i);
      m->corner[corner * a->wishes + k] =
          sound[i] ? figures[i * a->wishes + k] - coarse_of(a, m->design)[k] + m->figures[k] : NAN;
    }
  return good;
}

static gboolean is_within(const struct ew_search_answer *a, const double *figures) {
  for (int k = 0; k < a->ask.limits; k++) {
    const struct ew_limit *l = &a->ask.limit[k];
    if (!(figures[l->figure] >= l->low && figures[l->figure] <= l->high))
      return FALSE;
  }
  return isfinite(figures[a->ask.goal[0].figure]);
}

/* Better beyond doubt in everything that is wanted. Where nothing is known of a difference, nothing is beyond doubt. */
static gboolean beats(const struct ew_search_answer *a, const double *one, const double *other) {
  for (int g = 0; g < a->ask.goals; g++) {
    int k = a->ask.goal[g].figure;
    double by = a->ask.goal[g].more ? one[k] - other[k] : other[k] - one[k];
    if (!(by > EW_SEARCH_COVER * a->difference_u[k]))
      return FALSE;
  }
  return TRUE;
}

static void judge_corners(const struct ew_search_answer *a, struct ew_search_member *m) {
  m->stands = m->stays_best = TRUE;
  for (int c = 0; c < a->corners; c++) {
    const double *own = m->corner + c * a->wishes;
    m->stands &= is_within(a, own);
    for (guint i = 0; i < a->members->len && m->stays_best; i++) {
      const double *his = member_at(a, i)->corner + c * a->wishes;
      m->stays_best &= !(is_within(a, his) && beats(a, his, own));
    }
  }
  m->stays_best &= m->stands;
}

static gboolean stand_corners(struct ew_search_runs *coarse, GError **error) {
  struct ew_search_answer *a = coarse->answer;
  gint64 before = coarse->keep ? ew_kept_file_count(coarse->keep).taken : 0;
  a->corners = ew_search_corners(coarse->setup->question);
  for (guint i = 0; a->corners && i < a->members->len; i++)
    member_at(a, i)->corner = g_new(double, (gsize)a->corners *(gsize)a->wishes);
  for (int c = 0; c < a->corners; c++)
    if (!run_corner(coarse, c, error))
      return FALSE;
  for (guint i = 0; a->corners && i < a->members->len; i++)
    judge_corners(a, member_at(a, i));
  if (coarse->keep)
    a->kept.taken += ew_kept_file_count(coarse->keep).taken - before;
  return TRUE;
}

/* ---- the whole ---- */

static void learn_influence(struct ew_search_answer *a) {
  a->influence = g_new0(struct ew_influence, (gsize)a->wishes * (gsize)a->ask.axes);
  for (int k = 0; k < a->wishes; k++)
    ew_search_influence(&a->ask, &a->found, k, a->influence + k * a->ask.axes);
}

static void say_progress(const struct ew_search_setup *s, double share) {
  if (s->options.progress)
    s->options.progress(share, s->options.data);
}

static void add_kept(struct ew_search_answer *a, const struct ew_search_runs *fine) {
  if (!fine->keep)
    return;
  gint64 before = a->kept.taken;
  a->keeping = TRUE;
  a->kept = ew_kept_file_count(fine->keep);
  a->kept.taken += before;
}

static gboolean look(struct ew_search_runs *coarse, struct ew_search_runs *fine, GError **error) {
  struct ew_search_answer *a = coarse->answer;
  const struct ew_search_setup *s = coarse->setup;
  if (!check_cells(fine, error))
    return FALSE;
  for (int i = 0; i < a->found.designs; i++)
    if (a->found.front[i])
      add_member(a, i);
  join_alike(coarse);
  say_progress(s, 0.94);
  if (!run_members(fine, error))
    return FALSE;
  join_alike(coarse);
  find_beyond(s, a, a->base, &a->base_beyond);
  for (guint i = 0; i < a->members->len; i++) {
    find_beyond(s, a, member_at(a, i)->figures, &member_at(a, i)->beyond);
    find_held(s, a, member_at(a, i));
  }
  learn_influence(a);
  say_progress(s, 0.97);
  add_kept(a, fine);
  return TRUE;
}

gboolean ew_search_look(struct ew_search_runs *coarse, GError **error) {
  struct ew_search_runs fine;
  const struct ew_search_setup *s = coarse->setup;
  gboolean good = ew_search_runs_begin(&fine, s, coarse->answer, fine_cell(s), error) &&
                  look(coarse, &fine, error);
  ew_search_runs_end(&fine);
  return good && stand_corners(coarse, error);
}

/* ---- told ---- */

gboolean ew_search_at_end(const struct ew_search_setup *s, const struct ew_search_answer *a,
                          const struct ew_search_member *m, int axis) {
  gboolean matters = FALSE;
  for (int g = 0; g < a->ask.goals; g++)
    matters |= a->influence[a->ask.goal[g].figure * a->ask.axes + axis].all >= EW_SEARCH_MATTERS;
  const struct ew_search_axis *own = g_ptr_array_index(s->question->axes, (guint)axis);
  return matters && own->kind != EW_AXIS_PARTS && own->places != 1 &&
         (m->low[axis] < 0.005 || m->high[axis] > 0.995);
}

static char *parts_say(const struct ew_search_axis *axis, guint places) {
  GString *text = g_string_new(NULL);
  for (guint p = 0; p < axis->parts->len; p++)
    if (places & 1u << p)
      g_string_append_printf(text, "%s%s", text->len ? " / " : "",
                             ((struct ew_search_part *)g_ptr_array_index(axis->parts, p))->name);
  char *all = g_strdup_printf("%s: %s", axis->name, text->str);
  g_string_free(text, TRUE);
  return all;
}

char *ew_search_member_says(const struct ew_search_setup *s, const struct ew_search_answer *a,
                            const struct ew_search_member *m, int axis) {
  const struct ew_search_axis *own = g_ptr_array_index(s->question->axes, (guint)axis);
  g_assert(axis < a->ask.axes);
  if (own->kind == EW_AXIS_PARTS)
    return parts_say(own, m->places[axis]);
  char *from = ew_search_axis_says(own, m->low[axis]);
  g_autofree char *to = ew_search_axis_says(own, m->high[axis]);
  const char *figure = strchr(to, ' ');
  if (!figure || strcmp(from, to) == 0)
    return from;
  g_autofree char *first = from;
  return g_strdup_printf("%s –%s", first, figure);
}

void ew_search_shown(const struct ew_search_answer *a, int most, gboolean *shown) {
  int n = (int)a->members->len;
  g_autofree double *figures = g_new(double, (gsize)MAX(n, 1) * (gsize)a->wishes);
  for (int i = 0; i < n; i++)
    memcpy(figures + i * a->wishes, member_at(a, (guint)i)->figures,
           sizeof(double) * (gsize)a->wishes);
  ew_front_spread(figures, n, a->wishes, most, shown);
}
