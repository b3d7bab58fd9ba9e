/* Readings to a mean with its uncertainty, a verdict against limits, and the lines of a build: each item, stage and
 * place once, measured or missing. Sources in measure.h. */
#include "base/elementary.h"
#include "build/measure.h"
#include "build/position.h"
#include "engine/valve_motion.h"
#include "base/language.h"
#include "base/number.h"
#include "base/statistics.h"
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>

EW_MESSAGE(not_stated, "build.not-stated", EW_NOTE, "not stated");
EW_MESSAGE(makers_figure, "build.makers-figure", EW_NOTE, "the maker's figure");
EW_MESSAGE(common_practice, "build.common-practice", EW_NOTE, "common practice, no source");

/* Whose figure it is where nobody wrote it down: told apart from the shop's words by their address. */
static const char makers[] = EW_TEXT("the maker's figure"),
                  usual[] = EW_TEXT("common practice, no source");

const char *ew_fit_word(enum ew_fit_verdict verdict) {
  static const char *const words[] = {EW_TEXT("no target"), EW_TEXT("in"),
                                      EW_TEXT("near the limit"), EW_TEXT("out"),
                                      EW_TEXT("not measured")};
  g_assert((gsize)verdict < G_N_ELEMENTS(words));
  return words[verdict];
}

struct ew_readings ew_readings_of(const double *values, gsize count, double resolution) {
  g_assert(count == 0 || values);
  struct ew_readings r = {
      .count = count, .mean = ew_mean(values, count, EW_NONE_ABSENT), .freedom = INFINITY};
  double least = INFINITY, greatest = -INFINITY;
  for (gsize i = 0; i < count; i++) {
    least = fmin(least, values[i]);
    greatest = fmax(greatest, values[i]);
  }
  r.range = count ? greatest - least : (double)NAN;
  double scatter =
      count > 1 ? ew_standard_deviation(values, count, EW_NONE_ABSENT) / sqrt((double)count) : 0;
  double step = isnan(resolution) ? 0 : resolution / sqrt(12);
  r.standard = ew_hypot(scatter, step);
  if (scatter > 0)
    r.freedom = ew_pow(r.standard / scatter, 4) * (double)(count - 1);
  if (r.freedom > 1e6)
    r.freedom = INFINITY;
  double factor =
      isinf(r.freedom) ? gsl_cdf_ugaussian_Pinv(0.975) : gsl_cdf_tdist_Pinv(0.975, r.freedom);
  r.expanded = factor * r.standard;
  return r;
}

enum ew_fit_verdict ew_fit_judge(struct ew_readings value, double low, double high) {
  if (value.count == 0)
    return EW_FIT_MISSING;
  if (isnan(low) && isnan(high))
    return EW_FIT_NO_TARGET;
  double slack = 1e-9 * fabs(value.mean); /* decimal figures are not exact in binary */
  if (value.mean < low - slack || value.mean > high + slack)
    return EW_FIT_OUT;
  return value.mean - value.expanded < low - slack || value.mean + value.expanded > high + slack
             ? EW_FIT_NEAR
             : EW_FIT_IN;
}

/* The trade measures chambers in cc whatever it measures the rest in (common practice, no source). */
enum ew_unit_system ew_build_units(enum ew_kind kind, enum ew_unit_system units) {
  return kind == EW_KIND_VOLUME ? EW_UNITS_SI : units;
}

static int decimals_of(enum ew_kind kind, enum ew_unit_system units) {
  return kind == EW_KIND_LENGTH ? (units == EW_UNITS_US ? 4 : 3)
         : kind == EW_KIND_RATIO || kind == EW_KIND_VOLUME || kind == EW_KIND_TORQUE ||
                 kind == EW_KIND_MASS || kind == EW_KIND_PRESSURE_GAUGE
             ? 1
             : 0;
}

char *ew_build_show(enum ew_kind kind, enum ew_unit_system units, double value) {
  return ew_quantity_format(kind, ew_build_units(kind, units), value, decimals_of(kind, units));
}

char *ew_build_show_doubt(enum ew_kind kind, enum ew_unit_system units, double expanded) {
  int decimals = decimals_of(kind, units);
  units = ew_build_units(kind, units);
  double shown = fabs(ew_shown(kind, units, expanded) - ew_shown(kind, units, 0));
  if (shown == 0) /* one reading, with a tool whose resolution was not stated */
    return g_strdup(ew_tr(not_stated.text));
  if (shown * ew_pow(10, decimals) < 0.5) /* would read as certain */
    decimals = (int)ceil(-ew_log10(shown));
  return ew_quantity_format(kind, units, expanded, decimals);
}

struct ew_argument ew_build_say(const char *name, enum ew_kind kind, double value) {
  return ew_say_quantity(name, kind, value, decimals_of(kind, EW_UNITS_SI));
}

struct ew_argument ew_build_say_doubt(const char *name, enum ew_kind kind, double expanded) {
  int decimals = decimals_of(kind, EW_UNITS_SI);
  double shown = fabs(ew_shown(kind, EW_UNITS_SI, expanded) - ew_shown(kind, EW_UNITS_SI, 0));
  if (shown == 0)
    return ew_say_word(name, &not_stated);
  if (shown * ew_pow(10, decimals) < 0.5)
    decimals = (int)ceil(-ew_log10(shown));
  return ew_say_quantity(name, kind, expanded, decimals);
}

const char *ew_build_from(const struct ew_build_line *line) {
  gboolean own = line->from == makers || line->from == usual ||
                 g_strcmp0(line->from, usual) == 0; /* as the program's own template says it */
  return own ? ew_tr(line->from) : line->from;
}

struct ew_argument ew_build_say_from(const char *name, const struct ew_build_line *line) {
  g_assert(line->from);
  return line->from == makers  ? ew_say_word(name, &makers_figure)
         : line->from == usual ? ew_say_word(name, &common_practice)
                               : ew_say_text(name, line->from);
}

static double factor_of(const struct ew_build_item *item, const struct ew_engine *engine,
                        const char *position) {
  const struct ew_engine_valves *side =
      ew_build_position_side(position) == 1 ? &engine->exhaust : &engine->inlet;
  switch ((enum ew_build_times)item->times) {
  case EW_TIMES_BORE: return engine->bore_m;
  case EW_TIMES_STROKE: return engine->stroke_m;
  case EW_TIMES_SPRING_FORCE: return side->spring_force_n;
  case EW_TIMES_SPRING_HEIGHT: return side->spring_height_m;
  case EW_TIMES_NONE: return 1;
  }
  g_assert_not_reached();
}

void ew_build_template_limits(const struct ew_build_item *item, const struct ew_engine *engine,
                              const char *position, double *low, double *high) {
  double factor = factor_of(item, engine, position);
  *low = item->low * factor;
  *high = item->high * factor;
}

/* The maker's figure belongs to the place, whichever reading it was typed with: the last one given counts, each end by
 * itself, until another is typed. */
static const char *makers_limits(const struct ew_build *build, struct ew_build_line *line) {
  const struct ew_build_measure *m;
  const char *from = NULL;
  EW_BUILD_EACH(build, MEASURE, struct ew_build_measure, m, i) {
    if (g_ascii_strcasecmp(m->item, line->name) != 0 || strcmp(m->position, line->position) != 0 ||
        (isnan(m->low) && isnan(m->high)))
      continue;
    line->low = isnan(m->low) ? line->low : m->low;
    line->high = isnan(m->high) ? line->high : m->high;
    from = m->from ? m->from : from ? from : makers;
  }
  return from;
}

static void settle_target(struct ew_build_line *line, const struct ew_build *build,
                          const struct ew_engine *engine) {
  line->low = line->high = NAN;
  line->from = makers_limits(build, line);
  if (!line->from && line->item) {
    ew_build_template_limits(line->item, engine, line->position, &line->low, &line->high);
    if (!isnan(line->low) || !isnan(line->high))
      line->from = line->item->origin ? line->item->origin : usual;
  }
  line->verdict = ew_fit_judge(line->value, line->low, line->high);
  g_assert(line->from || (isnan(line->low) && isnan(line->high)));
}

static const struct ew_build_measure *last_measure(const struct ew_build *build, const char *item,
                                                   const char *position, const char *stage) {
  const struct ew_build_measure *found = NULL, *m;
  EW_BUILD_EACH(build, MEASURE, struct ew_build_measure, m, i)
  if (g_ascii_strcasecmp(m->item, item) == 0 && strcmp(m->position, position) == 0 &&
      g_strcmp0(m->stage, stage) == 0)
    found = m;
  return found;
}

static void add_line(GArray *lines, const struct ew_build *build, const struct ew_build_item *item,
                     const char *name, const char *position, const char *stage,
                     const struct ew_build_measure *m, const struct ew_engine *engine) {
  g_assert(item || m);
  struct ew_build_line line = {.item = item, .name = name, .stage = stage, .measure = m};
  line.kind = item ? item->quantity : m->quantity;
  g_strlcpy(line.position, position, sizeof line.position);
  if (m)
    line.value =
        ew_readings_of((const double *)(void *)m->readings->data, m->readings->len, m->resolution);
  settle_target(&line, build, engine);
  g_array_append_val(lines, line);
}

/* The stages and places at which this item was measured, in the order of first use. */
static void stages_and_places(const struct ew_build *build, const char *item, GPtrArray *stages,
                              GPtrArray *places) {
  const struct ew_build_measure *m;
  EW_BUILD_EACH(build, MEASURE, struct ew_build_measure, m, i) {
    if (g_ascii_strcasecmp(m->item, item) != 0)
      continue;
    if (!g_ptr_array_find_with_equal_func(stages, m->stage ? m->stage : "", g_str_equal, NULL))
      g_ptr_array_add(stages, m->stage ? m->stage : (char *)"");
    if (!g_ptr_array_find_with_equal_func(places, m->position, g_str_equal, NULL))
      g_ptr_array_add(places, m->position);
  }
}

static void add_item(GArray *lines, const struct ew_build *build, const struct ew_engine *engine,
                     const struct ew_build_item *item, const char *name) {
  g_autoptr(GPtrArray) stages = g_ptr_array_new(), places = g_ptr_array_new();
  stages_and_places(build, name, stages, places);
  gboolean measured = stages->len > 0;
  if (!measured && !(item && item->needed))
    return;
  if (!measured)
    g_ptr_array_add(stages, (gpointer) "");
  g_autoptr(GPtrArray) all =
      item && item->by != EW_BY_FREE
          ? ew_build_positions(engine, (enum ew_build_by)item->by, ew_build_facts_of(build)->mains)
          : NULL;
  const GPtrArray *list = all ? all : places;
  for (guint s = 0; s < stages->len; s++) {
    const char *stage = *(char *)stages->pdata[s] ? stages->pdata[s] : NULL;
    for (guint i = 0; i < list->len; i++)
      add_line(lines, build, item, name, list->pdata[i], stage,
               last_measure(build, name, list->pdata[i], stage), engine);
  }
}

/* The line of an item whose place begins with that number: the least or the greatest mean. */
static const struct ew_build_line *extreme(const GArray *lines, const char *item, int number,
                                           gboolean greatest) {
  const struct ew_build_line *found = NULL;
  for (guint i = 0; i < lines->len; i++) {
    const struct ew_build_line *line = &g_array_index(lines, struct ew_build_line, i);
    if (line->value.count == 0 || g_ascii_strcasecmp(line->name, item) != 0 ||
        ew_build_position_number(line->position) != number)
      continue;
    if (!found ||
        (greatest ? line->value.mean > found->value.mean : line->value.mean < found->value.mean))
      found = line;
  }
  return found;
}

static void add_difference(GArray *lines, const struct ew_build *build,
                           const struct ew_engine *engine, const struct ew_build_item *item) {
  g_autoptr(GPtrArray) places =
      ew_build_positions(engine, (enum ew_build_by)item->by, ew_build_facts_of(build)->mains);
  guint before = lines->len;
  for (guint i = 0; i < places->len; i++) {
    int number = ew_build_position_number(places->pdata[i]);
    const struct ew_build_line *a = extreme(lines, item->larger, number, FALSE),
                               *b = extreme(lines, item->smaller, number, TRUE);
    struct ew_build_line line = {.item = item, .name = item->item, .kind = item->quantity};
    g_strlcpy(line.position, places->pdata[i], sizeof line.position);
    if (a && b) {
      line.value = (struct ew_readings){.count = MIN(a->value.count, b->value.count),
                                        .mean = a->value.mean - b->value.mean,
                                        .standard = ew_hypot(a->value.standard, b->value.standard),
                                        .freedom = fmin(a->value.freedom, b->value.freedom)};
      line.value.expanded = ew_hypot(a->value.expanded, b->value.expanded);
    }
    settle_target(&line, build, engine);
    g_array_append_val(lines, line);
  }
  gboolean any = FALSE;
  for (guint i = before; i < lines->len; i++)
    any |= g_array_index(lines, struct ew_build_line, i).value.count > 0;
  if (!any && !item->needed)
    g_array_set_size(lines, before);
}

GArray *ew_build_lines(const struct ew_build *build, const struct ew_engine *engine) {
  GArray *lines = g_array_new(FALSE, TRUE, sizeof(struct ew_build_line));
  const struct ew_build_item *item;
  for (int differences = 0; differences < 2; differences++)
    EW_BUILD_EACH(build, ITEM, struct ew_build_item, item, i) {
      if (ew_build_item_of(build, item->item) != item || (item->larger != NULL) != differences)
        continue;
      if (differences)
        add_difference(lines, build, engine, item);
      else
        add_item(lines, build, engine, item, item->item);
    }
  g_autoptr(GPtrArray) said = g_ptr_array_new();
  const struct ew_build_measure *m;
  EW_BUILD_EACH(build, MEASURE, struct ew_build_measure, m, i)
  if (!ew_build_item_of(build, m->item) &&
      !g_ptr_array_find_with_equal_func(said, m->item, g_str_equal, NULL)) {
    g_ptr_array_add(said, m->item);
    add_item(lines, build, engine, NULL, m->item);
  }
  return lines;
}

static int word_at(const char *position, const char *const *words, int count) {
  g_assert(position && count > 0);
  for (int i = 0; i < count; i++)
    if (strstr(position, words[i]))
      return i;
  return -1;
}

struct ew_bore_shape ew_bore_shape_of(const GArray *lines, const char *item, int cylinder) {
  g_assert(lines && item);
  static const char *const depths[] = {"top", "middle", "bottom"}, *const directions[] = {"thrust",
                                                                                          "axial"};
  double grid[3][2];
  for (int k = 0; k < 6; k++)
    grid[k / 2][k % 2] = NAN;
  struct ew_bore_shape shape = {0, 0, INFINITY, -INFINITY};
  int found = 0;
  for (guint i = 0; i < lines->len; i++) {
    const struct ew_build_line *line = &g_array_index(lines, struct ew_build_line, i);
    int depth = word_at(line->position, depths, 3), way = word_at(line->position, directions, 2);
    if (line->value.count == 0 || depth < 0 || way < 0 ||
        ew_build_position_number(line->position) != cylinder || strcmp(line->name, item) != 0)
      continue;
    grid[depth][way] = line->value.mean;
    shape.least_m = fmin(shape.least_m, line->value.mean);
    shape.greatest_m = fmax(shape.greatest_m, line->value.mean);
    found++;
  }
  for (int way = 0; way < 2; way++)
    for (int a = 0; a < 3; a++)
      for (int b = 0; b < a; b++)
        if (!isnan(grid[a][way]) && !isnan(grid[b][way]))
          shape.taper_m = fmax(shape.taper_m, fabs(grid[a][way] - grid[b][way]));
  for (int depth = 0; depth < 3; depth++)
    if (!isnan(grid[depth][0]) && !isnan(grid[depth][1]))
      shape.ovality_m = fmax(shape.ovality_m, fabs(grid[depth][0] - grid[depth][1]));
  if (found < 2)
    shape.taper_m = shape.ovality_m = NAN;
  return shape;
}
