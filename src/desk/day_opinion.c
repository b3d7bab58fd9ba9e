/* Pulls of the book as the day's model takes them. The gate says which take part and which are of one set-up: comparable
 * with A in all but set-up and build, whatever oil and coolant were, since the model knows what temperatures do. A rest of
 * over twenty minutes counts as a stop. */
#include "desk/day_opinion.h"
#include "book/store.h"
#include "desk/alike.h"
#include "gas/moist_air.h"
#include "judge/comparable.h"
#include "judge/sweep.h"
#include <math.h>
#include <string.h>

#define LOOKED_BACK 200
#define LONG_REST_S 1200                  /* common practice, no source */
#define START       (1u << EW_FACT_START) /* the model knows what temperatures do */

/* The set-ups of one day, each told by a pull of it; A is 0, B is 1. */
struct setups {
  const struct ew_loaded *first[EW_DAY_SETUPS];
  int count;
  gboolean by_spark; /* B differs from A in nothing but spark */
};

static const struct ew_loaded *nth(const GPtrArray *pulls, guint i) {
  return g_ptr_array_index(pulls, i);
}

static gboolean is_one_setup(const struct ew_loaded *x, const struct ew_loaded *y) {
  return ew_is_alike(&x->facts, &y->facts, EW_ALIKE_SPARK_SWEEP, START, NULL);
}

static gboolean has_spark_of(const struct ew_loaded *x, const struct ew_loaded *y) {
  return fabs(x->setup.spark_deg - y->setup.spark_deg) < ew_sweep_apart(EW_SWEEP_SPARK);
}

/* -1: more set-ups than there is room for. */
static int setup_of(struct setups *s, const struct ew_loaded *l) {
  if (s->by_spark && is_one_setup(s->first[1], l))
    return has_spark_of(s->first[1], l);
  for (int k = 0; k < s->count; k++)
    if (is_one_setup(s->first[k], l))
      return k;
  if (s->count == EW_DAY_SETUPS)
    return -1;
  g_assert(s->count < EW_DAY_SETUPS);
  s->first[s->count] = l;
  return s->count++;
}

static double humidity_of(const struct ew_conditions *c) {
  if (!(c->vapour_pa > 0) || strcmp(c->humidity_from, "channel") != 0)
    return NAN;
  return 100 * c->vapour_pa / ew_saturation_pressure_pa(c->temperature_k);
}

static gboolean was_stopped(const struct ew_loaded *before, const struct ew_loaded *l) {
  g_assert(before != l);
  const struct ew_pull_facts *x = &before->facts, *y = &l->facts;
  return ew_level_between(&x, 1, &y, 1) > EW_LEVEL_CONSECUTIVE;
}

static struct ew_day_pull pull_of(const struct ew_loaded *l, const struct ew_loaded *before,
                                  const struct ew_comparison *plain) {
  const struct ew_conditions *c = &l->curve->conditions;
  struct ew_day_pull p = {
      .day = before && strcmp(before->row.day, l->row.day) != 0,
      .spark_deg = l->setup.spark_deg,
      .covariate = {[EW_DAY_OIL] = c->oil_start_k,
                    [EW_DAY_INLET] = c->temperature_k,
                    [EW_DAY_COOLANT] = c->coolant_start_k,
                    [EW_DAY_HUMIDITY] = humidity_of(c)},
      .rested = before && (was_stopped(before, l) || c->rest_s > LONG_REST_S),
      .log_mean = ew_curve_band_log(l->curve, plain->band_low_rpm, plain->band_high_rpm)};
  return p;
}

static gboolean on_one_day(const GPtrArray *a, const GPtrArray *b) {
  const char *day = nth(a, 0)->row.day;
  gboolean one = day != NULL;
  for (guint i = 0; one && i < a->len; i++)
    one = nth(a, i)->id && g_strcmp0(nth(a, i)->row.day, day) == 0;
  for (guint i = 0; one && i < b->len; i++)
    one = nth(b, i)->id && g_strcmp0(nth(b, i)->row.day, day) == 0;
  return one;
}

static gint64 last_of(const GPtrArray *a, const GPtrArray *b) {
  gint64 last = 0;
  for (guint i = 0; i < a->len; i++)
    last = MAX(last, nth(a, i)->id);
  for (guint i = 0; i < b->len; i++)
    last = MAX(last, nth(b, i)->id);
  return last;
}

/* May it be asked about beside A, whatever was changed between them? */
static gboolean is_comparable(const struct ew_loaded *a, const struct ew_loaded *l) {
  const struct ew_pull_facts *x = &a->facts, *y = &l->facts;
  g_autoptr(ew_alike) alike = ew_comparable(&x, 1, &y, 1, EW_ALIKE_QUESTION, START);
  return alike->reasons->len == 0;
}

/* Those that take part, oldest first. */
static GPtrArray *load_days(const struct ew_desk *desk, const struct ew_loaded *a, gint64 last) {
  GPtrArray *loaded = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  g_autoptr(GArray) rows = ew_pull_list(desk->book, a->row.engine_id, NULL);
  for (guint i = rows->len > LOOKED_BACK ? rows->len - LOOKED_BACK : 0; i < rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    if (!ew_pull_counts(row) || row->id > last || !row->day)
      continue;
    struct ew_loaded *l = ew_desk_load_id(desk, row->id, NULL);
    if (l && is_comparable(a, l))
      g_ptr_array_add(loaded, l);
    else
      ew_loaded_free(l);
  }
  return loaded;
}

/* A day's set-ups are its own: only today's A and B keep their numbers. */
static void number_setups(const GPtrArray *loaded, const struct ew_loaded *a,
                          const struct ew_loaded *b, struct ew_day_told *told) {
  const struct setups fresh = {.first = {a, b}, .count = 2, .by_spark = is_one_setup(a, b)};
  struct setups s = fresh;
  for (guint i = 0; i < loaded->len; i++) {
    if (i && told[i].pull.day != told[i - 1].pull.day)
      s = fresh;
    told[i].pull.setup = setup_of(&s, nth(loaded, i));
    g_assert(told[i].pull.setup < EW_DAY_SETUPS && s.count <= EW_DAY_SETUPS);
    if (s.by_spark && told[i].pull.setup == 1) /* its spark is what is asked about */
      told[i].pull.spark_deg = a->setup.spark_deg;
  }
}

struct ew_day_opinion *ew_desk_day_opinion(const struct ew_desk *desk, const GPtrArray *a,
                                           const GPtrArray *b, const struct ew_comparison *plain) {
  if (!desk->book || plain->verdict == EW_VERDICT_NOT_COMPARABLE || !on_one_day(a, b))
    return NULL;
  g_autoptr(GPtrArray) loaded = load_days(desk, nth(a, 0), last_of(a, b));
  g_autofree struct ew_day_told *told = g_new0(struct ew_day_told, loaded->len + 1);
  for (guint i = 0; i < loaded->len; i++) {
    const struct ew_loaded *l = nth(loaded, i), *before = i ? nth(loaded, i - 1) : NULL;
    told[i] = (struct ew_day_told){.pull = pull_of(l, before, plain),
                                   .name = l->numbered,
                                   .id = l->id,
                                   .today = strcmp(l->row.day, nth(a, 0)->row.day) == 0};
    told[i].pull.day += i ? told[i - 1].pull.day : 0;
    g_assert(i == 0 || told[i].pull.day >= told[i - 1].pull.day);
  }
  number_setups(loaded, nth(a, 0), nth(b, 0), told);
  return ew_day_opinion(told, loaded->len, plain);
}
