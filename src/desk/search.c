/* A search from question to front: what each step is, the header says. */
#include "desk/search_runs.h"
#include "base/as_pointer.h"
#include "base/error.h"
#include "base/number.h"
#include "desk/vary.h"
#include "search/space.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SPEEDS_USUAL 5

void ew_search_setup_defaults(struct ew_search_setup *s) {
  *s = (struct ew_search_setup){
      .seed = 1, .first = 60, .rounds = 4, .batch = 20, .fine_cell_m = NAN};
  ew_cycle_options_defaults(&s->options);
}

/* ---- speeds ---- */

static gboolean find_speeds(const struct ew_search_setup *s, struct ew_search_answer *a,
                            GError **error) {
  const struct ew_search_question *q = s->question;
  double top = ew_engine_top_speed_rpm(s->setup.engine);
  if (isnan(top))
    top = 6500;
  a->speeds = q->speeds ? (int)q->speeds->len : SPEEDS_USUAL;
  a->speed_rpm = g_new(double, a->speeds);
  for (int i = 0; i < a->speeds; i++)
    a->speed_rpm[i] = q->speeds ? g_array_index(q->speeds, double, i)
                                : round(top * (0.4 + 0.6 * i / (SPEEDS_USUAL - 1)) / 50) * 50;
  a->idle_rpm = NAN;
  for (guint k = 0; k < q->wishes->len; k++) {
    const struct ew_search_wish *w = &g_array_index(q->wishes, struct ew_search_wish, k);
    gboolean any = FALSE;
    for (int i = 0; i < a->speeds; i++)
      any |= !(a->speed_rpm[i] < w->from_rpm) && !(a->speed_rpm[i] > w->to_rpm);
    if (!any)
      return ew_refuse(error,
                       "%s: none of the speeds lies from %.0f to %.0f rpm: give speeds there",
                       ew_search_figures[w->what].key, w->from_rpm, w->to_rpm);
    if (w->what == EW_SEARCH_RESIDUAL)
      a->idle_rpm = isnan(q->idle_rpm) ? s->setup.engine->idle_speed_rpm : q->idle_rpm;
    if (w->what == EW_SEARCH_RESIDUAL && isnan(a->idle_rpm))
      return ew_refuse(error,
                       "residual: at which idle speed? Write 'idle: 900 rpm' into the question, or "
                       "idle_speed into the engine's file");
  }
  g_assert(a->speeds >= 1);
  return TRUE;
}

/* ---- axes that do nothing ---- */

/* Two sets of changes; FALSE with *error when either cannot be built. */
static gboolean differs(struct ew_search_runs *r, GArray *const *set, GError **error) {
  struct ew_cycle_plan *plan[2] = {NULL, NULL};
  gboolean planned = TRUE, same = FALSE;
  for (int i = 0; i < 2 && planned; i++) {
    struct ew_prediction_setup setup = r->setup->setup;
    double spark;
    setup.variations = set[i];
    plan[i] = ew_predict_plan(&setup, &r->options, r->like, &spark, NULL, error);
    planned = plan[i] != NULL;
  }
  if (planned)
    same = memcmp(plan[0]->digest, plan[1]->digest, sizeof plan[0]->digest) == 0;
  for (int i = 0; i < 2; i++)
    ew_cycle_plan_free(plan[i]);
  return planned && !same;
}

static gboolean points_differ(struct ew_search_runs *r, const double *a, const double *b,
                              GError **error) {
  g_autoptr(GArray) low = ew_variations_new();
  g_autoptr(GArray) high = ew_variations_new();
  GArray *const set[] = {low, high};
  ew_search_point_is(r->setup->question, a, low);
  ew_search_point_is(r->setup->question, b, high);
  return differs(r, set, error);
}

/* The engine as it is must be one at both ends of each range of the envelope, and not the same one: told before anything is run. */
static gboolean check_envelope(struct ew_search_runs *r, GError **error) {
  const struct ew_search_question *q = r->setup->question;
  for (guint i = 0; i < q->envelope->len; i++) {
    const struct ew_search_axis *a = g_ptr_array_index(q->envelope, i);
    g_autoptr(GArray) low = ew_variations_new();
    g_autoptr(GArray) high = ew_variations_new();
    GArray *const set[] = {low, high};
    g_autoptr(GError) problem = NULL;
    ew_variation_append(low, &a->from);
    ew_variation_append(high, &a->to);
    if (differs(r, set, &problem))
      continue;
    return problem ? ew_refuse(error, "envelope: %s", problem->message)
                   : ew_refuse(error, "envelope: %s: it changes nothing that the simulation uses",
                               a->name);
  }
  return TRUE;
}

/* An axis whose ends give the same plan with the others in the middle changes nothing that a run would see, and is refused unless a
 * figure that needs no run is asked for and sees it. Ends that cannot be built are no proof: the rounds find out. */
static gboolean check_axes(struct ew_search_runs *r, GError **error) {
  const struct ew_search_question *q = r->setup->question;
  struct ew_axis axes[EW_AXES_MOST];
  ew_search_axes(q, axes);
  for (guint j = 0; j < q->axes->len; j++) {
    double low[EW_AXES_MOST], high[EW_AXES_MOST], middle[EW_AXES_MOST];
    g_autoptr(GError) problem = NULL;
    if (axes[j].places == 1)
      continue;
    for (guint k = 0; k < q->axes->len; k++)
      middle[k] = 0.5;
    ew_axes_snap(axes, (int)q->axes->len, middle, low);
    memcpy(high, low, sizeof low);
    low[j] = 0;
    high[j] = 1;
    if (!points_differ(r, low, high, &problem) && !problem &&
        !ew_search_early_differs(r, low, high))
      return ew_refuse(error, "%s: it changes nothing that the simulation uses",
                       ((struct ew_search_axis *)g_ptr_array_index(q->axes, j))->name);
  }
  return TRUE;
}

/* ---- asked ---- */

static void put_ask(const struct ew_search_setup *s, struct ew_search_runs *r,
                    struct ew_search_answer *a) {
  const struct ew_search_question *q = s->question;
  int axes = (int)q->axes->len, limits = 0;
  struct ew_axis *axis = g_new0(struct ew_axis, MAX(axes, 1));
  struct ew_goal *goal = g_new0(struct ew_goal, MAX(q->wanted, 1));
  struct ew_limit *limit = g_new0(struct ew_limit, MAX(q->wishes->len, 1));
  ew_search_axes(q, axis);
  for (guint k = 0; k < q->wishes->len; k++) {
    const struct ew_search_wish *w = &g_array_index(q->wishes, struct ew_search_wish, k);
    g_assert(w->wanted == ((int)k < q->wanted));
    if ((int)k < q->wanted)
      goal[k] = (struct ew_goal){(int)k, w->more};
    if (w->least > -INFINITY || w->most < INFINITY)
      limit[limits++] = (struct ew_limit){(int)k, w->least, w->most};
  }
  a->ask = (struct ew_search_ask){.axis = axis,
                                  .goal = goal,
                                  .limit = limit,
                                  .axes = axes,
                                  .figures = a->wishes,
                                  .goals = q->wanted,
                                  .limits = limits,
                                  .seed = s->seed,
                                  .first = s->first,
                                  .rounds = s->rounds,
                                  .batch = s->batch,
                                  .allowed = ew_search_allowed,
                                  .run = ew_search_run_points,
                                  .data = r,
                                  .progress = NULL};
}

struct telling {
  void (*progress)(double, gpointer);
  gpointer data;
};

static void tell(double share, gpointer data) {
  const struct telling *t = data;
  if (t->progress)
    t->progress(0.9 * share, t->data); /* the rest is the last look */
}

/* ---- nothing found ---- */

/* A difference of two of that figure, with its unit. */
static char *difference_shown(int what, double difference) {
  enum ew_kind kind = ew_search_figures[what].kind;
  const char *unit = ew_kind_shown(kind, EW_UNITS_SI);
  double scale = ew_shown(kind, EW_UNITS_SI, 1) - ew_shown(kind, EW_UNITS_SI, 0);
  char buffer[EW_NUMBER_SIZE];
  return g_strconcat(ew_number_shown(difference * scale, 2, buffer), ew_unit_space(unit), unit,
                     NULL);
}

static char *shown(enum ew_search_figure what, double figure) {
  enum ew_kind kind = ew_search_figures[what].kind;
  char buffer[EW_NUMBER_SIZE];
  const char *unit = ew_kind_shown(kind, EW_UNITS_SI);
  double f = ew_shown(kind, EW_UNITS_SI, figure);
  return g_strdup_printf("%s%s%s",
                         ew_number_shown(f,
                                         fabs(f) < 10    ? 2
                                         : fabs(f) < 100 ? 1
                                                         : 0,
                                         buffer),
                         ew_unit_space(unit), unit);
}

/* Limits that no point kept to before a run: the one that barred most, and how near any came. */
gboolean ew_search_none_allowed(const struct ew_search_runs *r, GError **error) {
  int worst = -1;
  for (int k = 0; k < r->answer->wishes; k++)
    if (r->barred[k] > 0 && (worst < 0 || r->barred[k] > r->barred[worst]))
      worst = k;
  g_clear_error(error);
  if (worst < 0)
    return ew_answer_no(error, "none of the combinations can be built: %s",
                        r->refusal ? r->refusal : "refused");
  const struct ew_search_wish *w =
      &g_array_index(r->setup->question->wishes, struct ew_search_wish, worst);
  const char *key = ew_search_figures[w->what].key;
  if (!isfinite(r->nearest[worst]))
    return ew_answer_no(error,
                        "none fits: %s cannot be worked out from the engine's file; 'engine check' "
                        "says what is missing",
                        key);
  g_autofree char *by = difference_shown(w->what, r->nearest[worst]);
  return ew_answer_no(error, "none fits: the limit on %s bars all; the nearest is beyond it by %s",
                      key, by);
}

/* Of the designs that were run, the nearest to all limits: which it breaks, and what it has. */
static gboolean none_within(const struct ew_search_setup *s, const struct ew_search_answer *a,
                            GError **error) {
  const struct ew_search_found *f = &a->found;
  int near = -1;
  for (int i = 0; i < f->designs; i++)
    if (f->sound[i] && (near < 0 || f->worse[i] < f->worse[near]))
      near = i;
  if (near < 0)
    return ew_answer_no(error, "none of %d designs could be run: %s", f->designs,
                        a->reasons->len ? g_array_index(a->reasons, struct ew_search_reason, 0).says
                                        : "");
  GString *text = g_string_new(NULL);
  for (int k = 0; k < a->ask.limits; k++) {
    const struct ew_limit *l = &a->ask.limit[k];
    const struct ew_search_wish *w =
        &g_array_index(s->question->wishes, struct ew_search_wish, l->figure);
    double y = f->figure[near * f->figures + l->figure];
    if (y >= l->low && y <= l->high)
      continue;
    double limit = y < l->low ? l->low : l->high;
    g_autofree char *has = shown(w->what, y), *bound = shown(w->what, limit),
                    *by = difference_shown(w->what, fabs(y - limit));
    gboolean alike = strcmp(has, bound) == 0; /* as shown; the difference then says more */
    g_string_append_printf(text, "%s%s %s%s (limit %s)", text->len ? ", " : "",
                           ew_search_figures[w->what].key, alike ? "beyond by " : "",
                           alike ? by : has, bound);
  }
  g_assert(text->len > 0);
  ew_answer_no(error, "none of %d designs is within the limits; the nearest has %s", f->designs,
               text->str);
  g_string_free(text, TRUE);
  return FALSE;
}

/* ---- the whole ---- */

static void reason_clear(gpointer data) {
  struct ew_search_reason *reason = data;
  g_free(reason->kind);
  g_free(reason->says);
}

static gboolean search(const struct ew_search_setup *s, struct ew_search_runs *r,
                       struct ew_search_answer *a, GError **error) {
  struct telling telling = {s->options.progress, s->options.data};
  put_ask(s, r, a);
  a->ask.progress = tell;
  a->ask.progress_data = &telling;
  if (!check_axes(r, error) || !check_envelope(r, error))
    return FALSE;
  if (!ew_search_run(&a->ask, &a->found, error))
    return error && g_error_matches(*error, EW_ERROR, EW_ERROR_NO)
               ? ew_search_none_allowed(r, error)
               : FALSE;
  if (a->found.front_count == 0)
    return none_within(s, a, error);
  if (r->keep)
    a->kept = ew_kept_file_count(r->keep);
  if (!ew_search_look(r, error))
    return FALSE;
  if (telling.progress)
    telling.progress(1, telling.data);
  return TRUE;
}

static void answer_begin(struct ew_search_answer *a, const struct ew_search_setup *s) {
  *a = (struct ew_search_answer){
      .wishes = (int)s->question->wishes->len,
      .members = g_array_new(FALSE, FALSE, sizeof(struct ew_search_member)),
      .reasons = g_array_new(FALSE, FALSE, sizeof(struct ew_search_reason))};
  g_array_set_clear_func(a->members, ew_search_member_clear);
  g_array_set_clear_func(a->reasons, reason_clear);
}

gboolean ew_search(const struct ew_search_setup *s, struct ew_search_answer *a, GError **error) {
  struct ew_search_runs runs = {0};
  answer_begin(a, s);
  gboolean good = find_speeds(s, a, error) &&
                  ew_search_runs_begin(&runs, s, a, s->options.cell_m, error) &&
                  search(s, &runs, a, error);
  ew_search_runs_end(&runs);
  a->ask.data = NULL; /* the runs are over */
  a->ask.progress_data = NULL;
  if (!good)
    ew_search_answer_clear(a);
  return good;
}

gboolean ew_search_prepare(const struct ew_search_setup *s, struct ew_search_runs *r,
                           struct ew_search_answer *a, GError **error) {
  *r = (struct ew_search_runs){0};
  answer_begin(a, s);
  if (!find_speeds(s, a, error) || !ew_search_runs_begin(r, s, a, s->options.cell_m, error))
    return FALSE;
  put_ask(s, r, a);
  return check_axes(r, error);
}

gboolean ew_search_even(const struct ew_search_setup *s, guint64 first, guint64 stride, int count,
                        double *points, double *figures, gboolean *sound, GError **error) {
  struct ew_search_runs runs = {0};
  struct ew_search_answer a;
  struct ew_axis axis[EW_AXES_MOST];
  int axes = (int)s->question->axes->len;
  g_assert(stride >= 1 && count >= 1);
  answer_begin(&a, s);
  ew_search_axes(s->question, axis);
  for (int i = 0; i < count; i++) {
    double even[EW_AXES_MOST];
    ew_space_point(s->seed, first + (guint64)i * stride, axes, even);
    ew_axes_snap(axis, axes, even, points + i * axes);
  }
  gboolean good =
      find_speeds(s, &a, error) && ew_search_runs_begin(&runs, s, &a, s->options.cell_m, error) &&
      check_axes(&runs, error) && ew_search_run_points(points, count, figures, sound, &runs, error);
  ew_search_runs_end(&runs);
  ew_search_answer_clear(&a);
  return good;
}

void ew_search_answer_clear(struct ew_search_answer *a) {
  ew_search_found_clear(&a->found);
  g_free(ew_as_pointer(a->ask.axis));
  g_free(ew_as_pointer(a->ask.goal));
  g_free(ew_as_pointer(a->ask.limit));
  g_clear_pointer(&a->members, g_array_unref);
  g_clear_pointer(&a->reasons, g_array_unref);
  g_free(a->base);
  g_free(a->difference_u);
  g_free(a->influence);
  g_free(a->speed_rpm);
  *a = (struct ew_search_answer){0};
}
