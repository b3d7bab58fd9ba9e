/* The reach of each kind of reading, and one question with the figure, the reach and how to insist. The rules and why
 * they are so wide: doubt.h. */
#include "build/doubt.h"
#include "base/error.h"
#include "base/statistics.h"
#include "base/words.h"
#include "build/measure.h"
#include <math.h>
#include <string.h>

struct reach {
  double low, high; /* what is wanted, or NaN */
  double least, most;
};

/* What a shop's hand tools can read of a kind. */
static struct reach of_tools(enum ew_kind kind) {
  static const struct {
    double least, most; /* both 0: no tool of a shop reads it, and nothing is out of reach */
  } tools[EW_KINDS_COUNT] = {
      [EW_KIND_LENGTH] = {-0.1, 1}, [EW_KIND_VOLUME] = {0, 5e-3},
      [EW_KIND_FORCE] = {0, 2e4},   [EW_KIND_TORQUE] = {0, 2000},
      [EW_KIND_MASS] = {0, 300},    [EW_KIND_PRESSURE_GAUGE] = {-1e5, 6e6},
      [EW_KIND_RATIO] = {-1, 1},    [EW_KIND_VOLUME_FLOW] = {0, 2},
      [EW_KIND_AREA] = {0, 0.05},   [EW_KIND_ANGLE] = {-720, 720},
  };
  gboolean known = kind < EW_KINDS_COUNT && tools[kind].most > 0;
  return (struct reach){NAN, NAN, known ? tools[kind].least : -INFINITY,
                        known ? tools[kind].most : INFINITY};
}

static struct reach of_target(double low, double high, struct reach tools) {
  struct reach r = {low, high, tools.least, tools.most};
  double factor = low > 0 && high < 2 * low ? 2 : 5, wide = high - low;
  if (isnan(low) && isnan(high))
    return r;
  if (low >= 0 || (isnan(low) && high >= 0))
    r.least = fmax(r.least, low > 0 ? low / factor : 0);
  else if (!isnan(wide))
    r.least = low - factor * fmax(wide, fabs(low));
  if (!isnan(high))
    r.most = fmin(r.most, high > 0 ? factor * high : high + factor * fmax(wide, fabs(high)));
  else if (low > 0)
    r.most = fmin(r.most, 20 * low); /* "at least": more is better, up to a point */
  return r;
}

/* Bores, and what runs in them: within a tenth of the engine's bore. */
static gboolean bore_sized(const struct ew_build *build, const struct ew_build_item *item) {
  if (item->by == EW_BY_BORE)
    return TRUE;
  const struct ew_build_item *other;
  EW_BUILD_EACH(build, ITEM, struct ew_build_item, other, i) {
    if (!other->larger || g_ascii_strcasecmp(other->smaller, item->item) != 0)
      continue;
    const struct ew_build_item *larger = ew_build_item_of(build, other->larger);
    if (larger && larger->by == EW_BY_BORE)
      return TRUE;
  }
  return FALSE;
}

static struct reach of_place(const struct ew_build_measure *m, const struct ew_build *build,
                             const struct ew_engine *engine) {
  struct reach tools = of_tools(m->quantity);
  const struct ew_build_item *item = ew_build_item_of(build, m->item);
  double low = NAN, high = NAN;
  if (item)
    ew_build_template_limits(item, engine, m->position, &low, &high);
  if (isnan(low) && isnan(high) && item && m->quantity == EW_KIND_LENGTH &&
      bore_sized(build, item) && engine->bore_m > 0)
    return (struct reach){NAN, NAN, 0.9 * engine->bore_m, 1.1 * engine->bore_m};
  if (isnan(low) && isnan(high) && m->quantity == EW_KIND_LENGTH && engine->stroke_m > 0)
    tools.most = fmin(tools.most, 2 * fmax(engine->stroke_m, engine->bore_m));
  return of_target(low, high, tools);
}

/* What is expected, as a whole sentence about it. */
static char *band_of(enum ew_kind kind, struct reach r) {
  g_autofree char *low = ew_build_show(kind, EW_UNITS_SI, isnan(r.low) ? r.least : r.low),
                  *high = ew_build_show(kind, EW_UNITS_SI, isnan(r.high) ? r.most : r.high);
  if (isnan(r.low) && isnan(r.high))
    return ew_words("it can be %s to %s", low, high);
  if (isnan(r.low))
    return ew_words("there at most %s is allowed", high);
  if (isnan(r.high))
    return ew_words("there at least %s is required", low);
  return ew_words("there the target is %s to %s", low, high);
}

static gboolean ask(const char *where, const char *what, enum ew_kind kind, double value,
                    struct reach r, GError **error) {
  g_autofree char *shown = ew_build_show(kind, EW_UNITS_SI, value), *band = band_of(kind, r);
  return ew_ask(error, "%s: %s reads %s, far outside what is expected (%s): check figure and unit",
                where, what, shown, band);
}

static gboolean ask_at(const char *where, const char *what, const char *place, enum ew_kind kind,
                       double value, struct reach r, GError **error) {
  g_autofree char *both = g_strconcat(what, place ? " " : NULL, place, NULL);
  return ask(where, both, kind, value, r, error);
}

static gboolean within(double value, struct reach r) {
  return isfinite(value) && value >= r.least && value <= r.most;
}

static gboolean plausible_measure(const struct ew_build_measure *m, const char *where,
                                  const struct ew_build *build, const struct ew_engine *engine,
                                  GError **error) {
  struct reach place = of_place(m, build, engine),
               maker = of_target(m->low, m->high, of_tools(m->quantity));
  const double limits[] = {m->low, m->high};
  for (int k = 0; k < 2; k++)
    if (!isnan(limits[k]) && !within(limits[k], place)) {
      g_autofree char *what =
          k ? ew_words("the high limit of %s", m->item) : ew_words("the low limit of %s", m->item);
      return ask(where, what, m->quantity, limits[k], place, error);
    }
  for (guint i = 0; i < m->readings->len; i++) {
    double value = g_array_index(m->readings, double, i);
    if (!within(value, place))
      return ask_at(where, m->item, m->position, m->quantity, value, place, error);
    if (!within(value, maker))
      return ask_at(where, m->item, m->position, m->quantity, value, maker, error);
  }
  return TRUE;
}

static double mean_of(const struct ew_build_measure *m) {
  return ew_mean((const double *)(void *)m->readings->data, m->readings->len, EW_NONE_ABSENT);
}

static gboolean is_same_item(const struct ew_build_measure *a, const struct ew_build_measure *b) {
  return g_ascii_strcasecmp(a->item, b->item) == 0 && g_strcmp0(a->stage, b->stage) == 0;
}

static int by_size(gconstpointer a, gconstpointer b) {
  const double *x = a, *y = b;
  return (*x > *y) - (*x < *y);
}

/* What the same item reads at other places, the middle one; NaN with fewer than two readings. */
static double fellows_of(const struct ew_build_measure *m, const struct ew_build *build) {
  g_autoptr(GArray) sizes = g_array_new(FALSE, FALSE, sizeof(double));
  const struct ew_build_measure *other;
  EW_BUILD_EACH(build, MEASURE, struct ew_build_measure, other, i) {
    if (!is_same_item(other, m) || g_strcmp0(other->position, m->position) == 0)
      continue;
    double size = mean_of(other);
    g_array_append_val(sizes, size);
  }
  if (sizes->len < 2)
    return NAN;
  g_array_sort(sizes, by_size);
  return g_array_index(sizes, double, sizes->len / 2);
}

/* Sizes of parts that belong together: journals of one crank, bores of one block. A clearance has a target instead. */
static gboolean is_size(const struct ew_build_measure *m, const struct ew_build *build,
                        const struct ew_engine *engine) {
  const struct ew_build_item *item = ew_build_item_of(build, m->item);
  double low = NAN, high = NAN;
  if (item && item->by == EW_BY_VALVE) /* inlet and exhaust differ */
    return FALSE;
  if (item)
    ew_build_template_limits(item, engine, m->position, &low, &high);
  return m->quantity == EW_KIND_LENGTH && isnan(low) && isnan(high) && isnan(m->low) &&
         isnan(m->high);
}

static gboolean plausible_beside(const struct ew_build_measure *m, const char *where,
                                 const struct ew_build *build, const struct ew_engine *engine,
                                 GError **error) {
  double others = build && is_size(m, build, engine) ? fellows_of(m, build) : (double)NAN;
  for (guint i = 0; i < m->readings->len; i++) {
    double value = g_array_index(m->readings, double, i);
    if (isnan(others) || others < EW_SIZE_LEAST_M || fabs(value - others) <= EW_SIZES_APART_M)
      continue;
    g_autofree char *shown = ew_build_show(m->quantity, EW_UNITS_SI, value),
                    *beside = ew_build_show(m->quantity, EW_UNITS_SI, others);
    return ew_ask(error,
                  "%s: %s %s reads %s where the others read %s: is it of another part or another "
                  "place? Check it",
                  where, m->item, m->position, shown, beside);
  }
  return TRUE;
}

/* Is it the record that is there already, sent again? */
static gboolean is_sent_again(const struct ew_build_measure *a, const struct ew_build_measure *b) {
  return g_strcmp0(a->mark.at, b->mark.at) == 0 && a->readings->len == b->readings->len &&
         memcmp(a->readings->data, b->readings->data, a->readings->len * sizeof(double)) == 0;
}

gboolean ew_build_first_there(enum ew_build_kind kind, const void *record, const char *where,
                              const struct ew_build *build, GError **error) {
  const struct ew_build_measure *m = record, *there = NULL, *other;
  if (kind != EW_BUILD_MEASURE)
    return TRUE;
  EW_BUILD_EACH(build, MEASURE, struct ew_build_measure, other, i) {
    if (!is_same_item(other, m) || g_strcmp0(other->position, m->position) != 0)
      continue;
    if (is_sent_again(other, m))
      return TRUE;
    there = other;
  }
  if (!there)
    return TRUE;
  g_autofree char *shown = ew_build_show(there->quantity, EW_UNITS_SI, mean_of(there));
  return ew_ask(error,
                "%s: %s %s was measured already and reads %s: is this another place? A later "
                "measurement of the same place has a stage, or takes the place of the first",
                where, m->item, m->position, shown);
}

/* Lash of a running engine is below 1.2 mm. */
static gboolean plausible_lash(const struct ew_build_lash *l, const char *where, GError **error) {
  const struct reach reach = {NAN, NAN, 0, 1.2e-3};
  const double both[] = {l->cold_m, l->hot_m};
  for (int k = 0; k < 2; k++)
    if (!isnan(both[k]) && !within(both[k], reach)) {
      g_autofree char *what =
          k ? ew_words("hot lash %s", l->valve) : ew_words("cold lash %s", l->valve);
      return ask(where, what, EW_KIND_LENGTH, both[k], reach, error);
    }
  return TRUE;
}

static gboolean plausible_torque(const struct ew_build_torque *t, const char *where,
                                 GError **error) {
  struct reach torque = of_target(t->low_n_m, t->high_n_m, of_tools(EW_KIND_TORQUE)),
               stretch = of_target(t->stretch_low_m, t->stretch_high_m, of_tools(EW_KIND_LENGTH));
  if (!isnan(t->torque_n_m) && !within(t->torque_n_m, torque))
    return ask_at(where, t->fastener, t->position, EW_KIND_TORQUE, t->torque_n_m, torque, error);
  return isnan(t->stretch_m) || within(t->stretch_m, stretch) ||
         ask_at(where, t->fastener, t->position, EW_KIND_LENGTH, t->stretch_m, stretch, error);
}

static gboolean said_so(const char *sure) {
  return sure && (strcmp(sure, "yes") == 0 || strcmp(sure, "true") == 0);
}

gboolean ew_build_plausible(enum ew_build_kind kind, const void *record, const char *where,
                            const struct ew_build *build, const struct ew_engine *engine,
                            GError **error) {
  const struct ew_build_measure *m = kind == EW_BUILD_MEASURE ? record : NULL;
  const struct ew_build_lash *lash = kind == EW_BUILD_LASH ? record : NULL;
  const struct ew_build_torque *torque = kind == EW_BUILD_TORQUE ? record : NULL;
  if (m && !said_so(m->sure))
    return plausible_measure(m, where, build, engine, error) &&
           plausible_beside(m, where, build, engine, error);
  if (lash && !said_so(lash->sure))
    return plausible_lash(lash, where, error);
  return !torque || said_so(torque->sure) || plausible_torque(torque, where, error);
}
