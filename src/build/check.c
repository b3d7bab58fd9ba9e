/* One function a kind of finding, each reading the record alone: lines against targets, missing places, bores,
 * spreads, stages, chambers, what was seen, lash, torques, parts, steps, what was agreed, instruments. Sorted by
 * grade, the gravest first. */
#include "build/check.h"
#include "base/words.h"
#include "build/lash.h"
#include "build/position.h"
#include "base/statistics.h"
#include <math.h>
#include <string.h>

struct checking {
  const struct ew_build *build;
  const struct ew_engine *engine;
  enum ew_unit_system units;
  GArray *lines, *findings;
};

static void finding_clear(void *data) {
  g_free(((struct ew_finding *)data)->about);
  g_free(((struct ew_finding *)data)->text);
}

static void G_GNUC_PRINTF(4, 5)
    find(struct checking *c, enum ew_severity grade, const char *about, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  struct ew_finding finding = {grade, g_strdup(about), ew_words_v(format, arguments)};
  va_end(arguments);
  g_array_append_val(c->findings, finding);
}

/* A small length with the sign asked for: "0.45 mm", "0.0177 in". */
static char *length_text(const struct checking *c, double value, int decimals_mm) {
  return ew_quantity_format(EW_KIND_LENGTH, c->units, value,
                            c->units == EW_UNITS_US ? 4 : decimals_mm);
}

static char *target_text(const struct checking *c, const struct ew_build_line *line) {
  g_autofree char *low = ew_build_show(line->kind, c->units, line->low),
                  *high = ew_build_show(line->kind, c->units, line->high);
  return isnan(line->low)    ? g_strdup_printf("at most %s", high)
         : isnan(line->high) ? g_strdup_printf("at least %s", low)
                             : g_strdup_printf("%s to %s", low, high);
}

static char *place_text(const struct ew_build_line *line) {
  return g_strdup_printf("%s %s%s%s%s", line->name, line->position, line->stage ? " (" : "",
                         line->stage ? line->stage : "", line->stage ? ")" : "");
}

static void check_line(struct checking *c, const struct ew_build_line *line) {
  if (line->verdict != EW_FIT_OUT && line->verdict != EW_FIT_NEAR)
    return;
  g_autofree char *place = place_text(line), *target = target_text(c, line),
                  *mean = ew_build_show(line->kind, c->units, line->value.mean),
                  *expanded = ew_build_show_doubt(line->kind, c->units, line->value.expanded);
  const char *caution = line->item ? line->item->caution : NULL;
  if (line->verdict == EW_FIT_OUT)
    find(c, caution ? EW_DANGER : EW_CAUTION, place, "%s is out: wanted %s (%s)%s%s", mean, target,
         line->from, caution ? ". " : "", caution ? caution : "");
  else
    find(c, EW_NOTE, place,
         "%s ± %s reaches over a limit (%s): read again, or with a finer "
         "instrument",
         mean, expanded, target);
}

/* Places of one item and stage that were not measured, in one finding. */
static void check_missing(struct checking *c) {
  for (guint i = 0; i < c->lines->len;) {
    const struct ew_build_line *first = &g_array_index(c->lines, struct ew_build_line, i);
    g_autoptr(GString) places = g_string_new(NULL);
    guint missing = 0, from = i;
    for (; i < c->lines->len; i++) {
      const struct ew_build_line *line = &g_array_index(c->lines, struct ew_build_line, i);
      if (line->name != first->name || g_strcmp0(line->stage, first->stage) != 0)
        break;
      if (line->verdict != EW_FIT_MISSING)
        continue;
      if (missing++ < 8)
        g_string_append_printf(places, "%s%s", places->len ? ", " : "", line->position);
    }
    if (missing == i - from)
      find(c, EW_CAUTION, first->name, "not measured at all");
    else if (missing)
      find(c, EW_CAUTION, first->name, "not measured at %s%s%s%s%s", places->str,
           missing > 8 ? " and more" : "", first->stage ? " (" : "",
           first->stage ? first->stage : "", first->stage ? ")" : "");
  }
}

static void check_instruments(struct checking *c) {
  guint silent = 0;
  const char *coarse = NULL;
  for (guint i = 0; i < c->lines->len; i++) {
    const struct ew_build_line *line = &g_array_index(c->lines, struct ew_build_line, i);
    if (!line->measure)
      continue;
    double resolution = line->measure->resolution, wide = line->high - line->low;
    if (!line->measure->instrument || isnan(resolution))
      silent++;
    else if (resolution > wide / 4 && line->name != coarse) {
      coarse = line->name;
      g_autofree char *step = ew_build_show(line->kind, c->units, resolution),
                      *target = target_text(c, line);
      find(c, EW_NOTE, line->name, "read in steps of %s, coarse for a target of %s", step, target);
    }
  }
  if (silent)
    find(c, EW_NOTE, "instruments",
         "%u measurements do not say instrument and resolution: what they are worth is not known",
         silent);
}

static void check_bores(struct checking *c) {
  const struct ew_build_item *item;
  EW_BUILD_EACH(c->build, ITEM, struct ew_build_item, item, i) {
    if (item->by != EW_BY_BORE || ew_build_item_of(c->build, item->item) != item)
      continue;
    for (int cylinder = 1; cylinder <= c->engine->cylinders; cylinder++) {
      struct ew_bore_shape s = ew_bore_shape_of(c->lines, item->item, cylinder);
      const struct {
        const char *word;
        double value, limit;
      } shapes[] = {{"taper", s.taper_m, item->taper_m}, {"ovality", s.ovality_m, item->ovality_m}};
      for (int k = 0; k < 2; k++)
        if (shapes[k].value > shapes[k].limit * (1 + 1e-9)) {
          g_autofree char *about = g_strdup_printf("%s %d", item->item, cylinder),
                          *value = ew_build_show(EW_KIND_LENGTH, c->units, shapes[k].value),
                          *limit = ew_build_show(EW_KIND_LENGTH, c->units, shapes[k].limit);
          find(c, EW_CAUTION, about, "%s %s, wanted at most %s", shapes[k].word, value, limit);
        }
    }
  }
}

/* Least, greatest and mean of the lines [from, to) of one side. */
struct extent {
  double least, greatest, sum;
  const char *least_at, *greatest_at;
  guint count;
};

static struct extent extent_of(const GArray *lines, guint from, guint to, int side) {
  struct extent e = {INFINITY, -INFINITY, 0, NULL, NULL, 0};
  for (guint i = from; i < to; i++) {
    const struct ew_build_line *line = &g_array_index(lines, struct ew_build_line, i);
    if (line->value.count == 0 || ew_build_position_side(line->position) != side)
      continue;
    double v = line->value.mean;
    if (v < e.least)
      e.least = v, e.least_at = line->position;
    if (v > e.greatest)
      e.greatest = v, e.greatest_at = line->position;
    e.sum += v;
    e.count++;
  }
  return e;
}

static void check_spread(struct checking *c) {
  for (guint i = 0; i < c->lines->len;) {
    const struct ew_build_line *first = &g_array_index(c->lines, struct ew_build_line, i);
    guint from = i;
    while (i < c->lines->len &&
           g_array_index(c->lines, struct ew_build_line, i).name == first->name &&
           g_strcmp0(g_array_index(c->lines, struct ew_build_line, i).stage, first->stage) == 0)
      i++;
    for (int side = -1; first->item && side < 2; side++) {
      struct extent e = extent_of(c->lines, from, i, side);
      if (e.count < 2)
        continue;
      g_autofree char *least = ew_build_show(first->kind, c->units, e.least),
                      *greatest = ew_build_show(first->kind, c->units, e.greatest);
      double spread = (e.greatest - e.least) / (e.sum / e.count);
      if (spread > first->item->spread)
        find(c, EW_CAUTION, first->name,
             "spread %.1f %%, from %s at %s to %s at %s; wanted at most "
             "%.1f %%",
             100 * spread, least, e.least_at, greatest, e.greatest_at, 100 * first->item->spread);
      if (e.least / e.greatest < first->item->lowest_share)
        find(c, EW_CAUTION, first->name,
             "lowest (%s at %s) is %.0f %% of highest (%s at %s); wanted "
             "at least %.0f %%",
             least, e.least_at, 100 * e.least / e.greatest, greatest, e.greatest_at,
             100 * first->item->lowest_share);
    }
  }
}

/* The first and the last stage of one place. */
static void check_change(struct checking *c) {
  for (guint i = 0; i < c->lines->len; i++) {
    const struct ew_build_line *first = &g_array_index(c->lines, struct ew_build_line, i),
                               *last = NULL;
    if (!first->item || isnan(first->item->change) || first->value.count == 0)
      continue;
    gboolean earlier = FALSE;
    for (guint k = 0; k < c->lines->len; k++) {
      const struct ew_build_line *line = &g_array_index(c->lines, struct ew_build_line, k);
      if (k == i || line->name != first->name || line->value.count == 0 ||
          strcmp(line->position, first->position) != 0)
        continue;
      if (k < i)
        earlier = TRUE;
      else
        last = line;
    }
    double change = last ? last->value.mean - first->value.mean : 0;
    if (earlier || fabs(change) <= first->item->change * (1 + 1e-9))
      continue;
    g_autofree char *about = g_strdup_printf("%s %s", first->name, first->position),
                    *a = ew_build_show(first->kind, c->units, first->value.mean),
                    *b = ew_build_show(first->kind, c->units, last->value.mean);
    find(c, EW_CAUTION, about, "%s (%s) became %s (%s): find out why before it runs again", a,
         first->stage ? first->stage : "first", b, last->stage ? last->stage : "last");
  }
}

static const char *grade_word(int grade) {
  return grade == 2 ? "stop and look" : "watch";
}

static double median_growth(const GArray *rows, int side) {
  g_autofree double *values = g_new(double, rows->len + 1);
  gsize n = 0;
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_lash_row *row = &g_array_index(rows, struct ew_lash_row, i);
    if (row->side == side && !isnan(row->growth_m))
      values[n++] = row->growth_m;
  }
  return n >= 3 ? ew_median(values, n, EW_NONE_ABSENT) : (double)NAN;
}

static void check_lash(struct checking *c) {
  if (c->build->records[EW_BUILD_LASH]->len == 0)
    return;
  if (ew_lifters_are_hydraulic(c->engine)) {
    find(c, EW_NOTE, "lash",
         "was read, and the engine's file says hydraulic lifters, which have none: "
         "one of them is wrong");
    return;
  }
  g_autoptr(GArray) rows = ew_lash_rows(c->build, c->engine);
  double median[2] = {median_growth(rows, 0), median_growth(rows, 1)};
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_lash_row *row = &g_array_index(rows, struct ew_lash_row, i);
    g_autofree char *about = g_strdup_printf("lash %s", row->valve);
    double change = fabs(row->hot_change_m) > fabs(row->cold_change_m) || isnan(row->cold_change_m)
                        ? row->hot_change_m
                        : row->cold_change_m;
    g_autofree char *changed = length_text(c, change, 2), *grew = length_text(c, row->growth_m, 2),
                    *others = length_text(c, median[row->side], 2),
                    *hot = length_text(c, row->hot_m, 2),
                    *wanted = length_text(c, row->wanted_m, 2);
    if (fabs(change) > EW_LASH_STOP_M * (1 + 1e-9))
      find(c, EW_DANGER, about,
           "changed by %s%s since it was set: stop and look (valve, seat, "
           "lobe, lifter, adjuster)",
           change > 0 ? "+" : "", changed);
    if (fabs(row->growth_m - median[row->side]) > EW_LASH_STOP_M)
      find(c, EW_CAUTION, about, "grew by %s from cold to hot, the others by %s: read it again",
           grew, others);
    if (fabs(row->hot_m - row->wanted_m) > 0.03e-3 * (1 + 1e-9))
      find(c, EW_CAUTION, about, "%s hot, the cam's card wants %s", hot, wanted);
    if (isnan(row->cold_m) && isnan(row->hot_m))
      find(c, EW_CAUTION, about, "was not read, others were");
  }
}

static void check_torques(struct checking *c) {
  const struct ew_build_torque *t;
  guint dry = 0;
  EW_BUILD_EACH(c->build, TORQUE, struct ew_build_torque, t, i) {
    g_autofree char *about = g_strdup_printf("%s%s%s", t->fastener, t->position ? " " : "",
                                             t->position ? t->position : "");
    g_autofree char *torque = ew_build_show(EW_KIND_TORQUE, c->units, t->torque_n_m),
                    *low = ew_build_show(EW_KIND_TORQUE, c->units, t->low_n_m),
                    *high = ew_build_show(EW_KIND_TORQUE, c->units, t->high_n_m);
    if (t->torque_n_m < t->low_n_m || t->torque_n_m > t->high_n_m)
      find(c, EW_DANGER, about, "tightened to %s, the maker says %s to %s", torque, low, high);
    g_autofree char *stretch = length_text(c, t->stretch_m, 3),
                    *least = length_text(c, t->stretch_low_m, 3),
                    *most = length_text(c, t->stretch_high_m, 3);
    if (t->stretch_m < t->stretch_low_m || t->stretch_m > t->stretch_high_m)
      find(c, EW_DANGER, about, "stretched by %s, the maker says %s to %s", stretch, least, most);
    dry += t->lubricant == NULL;
  }
  if (dry)
    find(c, EW_NOTE, "torque records",
         "%u do not say what was on the threads: a torque means "
         "nothing without it",
         dry);
}

static void check_parts(struct checking *c) {
  const struct ew_build_part *part, *other;
  EW_BUILD_EACH(c->build, PART, struct ew_build_part, part, i) {
    if (part->fluid && !part->batch)
      find(c, EW_NOTE, part->part, "has no batch: write it down while the can is there");
    EW_BUILD_EACH(c->build, PART, struct ew_build_part, other, k)
    if (k > i && part->serial && g_strcmp0(part->serial, other->serial) == 0 &&
        g_ascii_strcasecmp(part->part, other->part) == 0 &&
        g_strcmp0(part->position, other->position) != 0)
      find(c, EW_CAUTION, part->part, "serial %s stands at %s and at %s: one is wrong",
           part->serial, part->position ? part->position : "no place",
           other->position ? other->position : "no place");
  }
}

/* The last look at each place counts. */
static void check_seen(struct checking *c) {
  const struct ew_build_seen *seen, *later;
  EW_BUILD_EACH(c->build, SEEN, struct ew_build_seen, seen, i) {
    gboolean over = FALSE;
    EW_BUILD_EACH(c->build, SEEN, struct ew_build_seen, later, k)
    over |= k > i && g_ascii_strcasecmp(seen->what, later->what) == 0 &&
            g_strcmp0(seen->position, later->position) == 0;
    if (over || seen->grade == 0)
      continue;
    g_autofree char *about = g_strdup_printf("%s%s%s", seen->what, seen->position ? " " : "",
                                             seen->position ? seen->position : "");
    find(c, seen->grade == 2 ? EW_DANGER : EW_CAUTION, about, "%s: %s", grade_word(seen->grade),
         seen->says);
  }
}

static void check_chambers(struct checking *c) {
  const GArray *chambers = c->engine->compression.chambers;
  for (guint i = 0; chambers && i < c->lines->len; i++) {
    const struct ew_build_line *line = &g_array_index(c->lines, struct ew_build_line, i);
    int number = ew_build_position_number(line->position);
    if (line->value.count == 0 || strcmp(line->name, "chamber volume") != 0 || number < 1 ||
        (guint)number > chambers->len)
      continue;
    double stated = g_array_index(chambers, double, number - 1);
    g_autofree char *measured = ew_build_show(EW_KIND_VOLUME, c->units, line->value.mean),
                    *in_file = ew_build_show(EW_KIND_VOLUME, c->units, stated);
    if (fabs(line->value.mean - stated) > 0.3e-6)
      find(c, EW_CAUTION, "chamber volume",
           "cylinder %d was measured as %s, the engine's file says %s: one of them is old", number,
           measured, in_file);
  }
}

int ew_build_step_state(const struct ew_build *build, const struct ew_build_step *step,
                        const struct ew_build_tick **tick) {
  const struct ew_build_tick *t, *found = NULL;
  EW_BUILD_EACH(build, TICK, struct ew_build_tick, t, i)
  if (g_ascii_strcasecmp(t->list, step->list) == 0 && g_ascii_strcasecmp(t->step, step->step) == 0)
    found = t;
  if (tick)
    *tick = found;
  return found ? found->state : -1;
}

const char *ew_build_step_state_word(int state) {
  return state < 0 ? "open" : ew_build_state_names[state];
}

GPtrArray *ew_build_open_steps(const struct ew_build *build, enum ew_build_gate gate) {
  GPtrArray *open = g_ptr_array_new_with_free_func(g_free);
  const struct ew_build_step *step;
  guint steps = 0;
  EW_BUILD_EACH(build, STEP, struct ew_build_step, step, i) {
    if (step->before == EW_GATE_NONE || step->before > (int)gate)
      continue;
    int state = ew_build_step_state(build, step, NULL);
    steps++;
    if (state == 0 || state == 1)
      continue;
    g_ptr_array_add(open, g_strdup_printf("%s: %s%s%s%s", step->list, step->step,
                                          state == 2 ? " (failed)" : "", step->caution ? ". " : "",
                                          step->caution ? step->caution : ""));
  }
  if (steps == 0)
    g_ptr_array_add(open, g_strdup_printf("no checklist of this build has steps before %s: nothing "
                                          "is proved",
                                          ew_build_gate_names[gate]));
  return open;
}

static void check_steps(struct checking *c, const struct ew_build_result *result) {
  const struct ew_build_step *step;
  const struct ew_build_tick *tick;
  EW_BUILD_EACH(c->build, STEP, struct ew_build_step, step, i)
  if (ew_build_step_state(c->build, step, &tick) == 2)
    find(c, EW_DANGER, step->list, "failed: %s%s%s", step->step, tick->mark.note ? ": " : "",
         tick->mark.note ? tick->mark.note : "");
  if (!result || result->pulls == 0)
    return;
  g_autoptr(GPtrArray) open = ew_build_open_steps(c->build, EW_GATE_LOAD);
  for (guint i = 0; i < open->len; i++)
    find(c, EW_DANGER, "run under load without", "%s", (char *)open->pdata[i]);
}

struct ew_build_agreed ew_build_agreed_now(const struct ew_build *build) {
  struct ew_build_agreed now = {
      .power_w = NAN, .power_speed_rpm = NAN, .torque_n_m = NAN, .limit_rpm = NAN};
  const struct ew_build_agreed *a;
  EW_BUILD_EACH(build, AGREED, struct ew_build_agreed, a, i) {
    double *to[] = {&now.power_w, &now.power_speed_rpm, &now.torque_n_m, &now.limit_rpm};
    const double from[] = {a->power_w, a->power_speed_rpm, a->torque_n_m, a->limit_rpm};
    for (int k = 0; k < 4; k++)
      if (!isnan(from[k]))
        *to[k] = from[k];
    if (a->fuel)
      now.fuel = a->fuel;
    now.what = a->what;
  }
  return now;
}

static void check_agreed(struct checking *c, const struct ew_build_result *result) {
  struct ew_build_agreed now = ew_build_agreed_now(c->build);
  if (!isnan(now.limit_rpm) && !isnan(c->engine->agreed_limit_rpm) &&
      fabs(now.limit_rpm - c->engine->agreed_limit_rpm) > 1)
    find(c, EW_CAUTION, "agreed limit", "%.0f rpm as agreed, %.0f in the engine's file",
         now.limit_rpm, c->engine->agreed_limit_rpm);
  if (!result || result->pulls == 0)
    return;
  if (result->power_w < now.power_w)
    find(c, EW_CAUTION, "agreed power", "%.1f kW reached of %.1f kW agreed", result->power_w / 1e3,
         now.power_w / 1e3);
  if (result->torque_n_m < now.torque_n_m)
    find(c, EW_CAUTION, "agreed torque", "%.0f N·m reached of %.0f N·m agreed", result->torque_n_m,
         now.torque_n_m);
  if (result->highest_rpm > now.limit_rpm * 1.01)
    find(c, EW_DANGER, "agreed limit", "%.0f rpm was run, %.0f rpm is agreed", result->highest_rpm,
         now.limit_rpm);
}

static int by_grade(gconstpointer a, gconstpointer b) {
  return (int)((const struct ew_finding *)b)->grade - (int)((const struct ew_finding *)a)->grade;
}

GArray *ew_build_check(const struct ew_build *build, const struct ew_engine *engine,
                       const struct ew_build_result *result, enum ew_unit_system units) {
  struct checking c = {build, engine, units, ew_build_lines(build, engine),
                       g_array_new(FALSE, TRUE, sizeof(struct ew_finding))};
  g_array_set_clear_func(c.findings, finding_clear);
  for (guint i = 0; i < c.lines->len; i++)
    check_line(&c, &g_array_index(c.lines, struct ew_build_line, i));
  check_missing(&c);
  check_bores(&c);
  check_spread(&c);
  check_change(&c);
  check_chambers(&c);
  check_seen(&c);
  check_lash(&c);
  check_torques(&c);
  check_parts(&c);
  check_steps(&c, result);
  check_agreed(&c, result);
  check_instruments(&c);
  g_array_sort(c.findings, by_grade);
  g_array_unref(c.lines);
  return c.findings;
}

void ew_finding_json(const void *finding, struct ew_json *json) {
  const struct ew_finding *f = finding;
  ew_json_text(json, "grade", ew_warning_word(f->grade));
  ew_json_text(json, "about", f->about);
  ew_json_text(json, "text", f->text);
}
