/* Each check gives one row; the gravest row is the answer and stands first.
 *
 * Order of gravity: stop and look before hold before nothing found; within one answer a sign (knock, something
 * seen, a trip) before a measured figure before a formal want before a missing channel; within those the row
 * that has least of its allowance left. A channel that is missing is hold, unless the cell's file says that it
 * is not fitted: then it is named once and holds nothing.
 *
 * The allowances are common practice, no source; the engine's and the absorber's makers come first. */
#include "judge/step_up.h"
#include "base/words.h"
#include "base/number.h"
#include <math.h>

#define OIL_DIP_PA     0.3e5 /* allowed in the last 500 rpm */
#define OIL_SHARE_HOLD 0.9   /* of its own trend */
#define OIL_SHARE_STOP 0.8   /* where the template of alarms begins to speak */
#define OIL_FLOOR_PA   2.0e5 /* from 4,000 rpm on, as in that template; below in proportion */
#define OIL_FLOOR_FROM 4000.0

const char *const ew_step_up_words[] = {"nothing found against", "hold", "stop and look", NULL};

static void add_weighed(struct ew_step_up *s, enum ew_step_up_weight weight, const char *what,
                        enum ew_step_up_answer answer, double margin, const char *format, ...)
    G_GNUC_PRINTF(6, 7);
static void add_weighed(struct ew_step_up *s, enum ew_step_up_weight weight, const char *what,
                        enum ew_step_up_answer answer, double margin, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  struct ew_step_up_row row = {what, ew_words_v(format, arguments), margin, answer, weight};
  va_end(arguments);
  g_array_append_val(s->rows, row);
}
#define add(s, what, answer, margin, ...)                                                          \
  add_weighed(s, EW_STEP_MEASURED, what, answer, margin, __VA_ARGS__)

static double at(const struct ew_curve *curve, const char *key, double rpm) {
  const struct ew_curve_column *column = curve ? ew_curve_column(curve, key, 0) : NULL;
  return column ? ew_curve_at(curve, column->values, rpm) : (double)NAN;
}

static double last_point(const struct ew_curve *curve) {
  return curve->speed_rpm[curve->points - 1];
}

/* The highest speed at which it is known; NaN where it is known nowhere. */
static double known_to(const struct ew_curve *curve, const char *key) {
  const struct ew_curve_column *column = ew_curve_column(curve, key, 0);
  for (gsize j = column ? curve->points : 0; j > 0; j--)
    if (!isnan(column->values[j - 1]))
      return curve->speed_rpm[j - 1];
  return NAN;
}

/* A must-have that is missing; those the cell never records are gathered. */
static void miss(struct ew_step_up *s, const struct ew_bench *bench, enum ew_channel channel,
                 const char *label, double known_to_rpm, GString *not_fitted) {
  if (!isnan(known_to_rpm))
    add_weighed(s, EW_STEP_MISSING, "channels", EW_STEP_HOLD, NAN,
                "%s is lost before the top: known to %.0f rpm", label, known_to_rpm);
  else if (bench && ew_bench_lacks(bench, channel))
    g_string_append_printf(not_fitted, "%s%s", not_fitted->len ? ", " : "", label);
  else
    add_weighed(s, EW_STEP_MISSING, "channels", EW_STEP_HOLD, NAN, "%s is not recorded", label);
}

static void check_channels(struct ew_step_up *s, const struct ew_curve *c,
                           const struct ew_bench *bench) {
  static const enum ew_channel musts[] = {
      EW_CHANNEL_OIL_PRESSURE,    EW_CHANNEL_OIL_TEMPERATURE, EW_CHANNEL_COOLANT_TEMPERATURE,
      EW_CHANNEL_LAMBDA,          EW_CHANNEL_FUEL_PRESSURE,   EW_CHANNEL_CRANKCASE_PRESSURE,
      EW_CHANNEL_COOLANT_PRESSURE};
  g_autoptr(GString) not_fitted = g_string_new(NULL);
  for (gsize i = 0; i < G_N_ELEMENTS(musts); i++)
    if (isnan(at(c, ew_channel_facts[musts[i]].key, last_point(c)))) /* or lost before the top */
      miss(s, bench, musts[i], ew_channel_facts[musts[i]].label,
           known_to(c, ew_channel_facts[musts[i]].key), not_fitted);
  if (!c->conditions.throttle_known)
    miss(s, bench, EW_CHANNEL_THROTTLE, "throttle position", NAN, not_fitted);
  if (isnan(c->conditions.temperature_k) || c->conditions.temperature_from[0] != 'c')
    miss(s, bench, EW_CHANNEL_INLET_AIR_TEMPERATURE, "inlet air temperature", NAN, not_fitted);
  if (not_fitted->len)
    add_weighed(s, EW_STEP_MISSING, "channels", EW_STEP_NOTHING_FOUND, NAN,
                "not fitted in this cell, so nothing is known of it: %s", not_fitted->str);
}

/* Least pressure at a speed: half a bar a thousand rpm, 2 bar from 4,000 rpm on. */
static double oil_floor_pa(double rpm) {
  return OIL_FLOOR_PA * fmin(rpm / OIL_FLOOR_FROM, 1);
}

static void check_oil_floor(struct ew_step_up *s, const struct ew_curve *c) {
  const struct ew_curve_column *oil = ew_curve_column(c, "oil_pressure", 0);
  double least = INFINITY;
  gsize where = 0;
  for (gsize j = 0; oil && j < c->points; j++)
    if (oil->values[j] / oil_floor_pa(c->speed_rpm[j]) < least) { /* FALSE for NaN */
      least = oil->values[j] / oil_floor_pa(c->speed_rpm[j]);
      where = j;
    }
  if (isfinite(least))
    add(s, "oil pressure", least < 1 ? EW_STEP_STOP : EW_STEP_NOTHING_FOUND, least - 1,
        "oil pressure is %.2f bar at %.0f rpm (no less than %.2f bar there)",
        oil->values[where] / 1e5, c->speed_rpm[where], oil_floor_pa(c->speed_rpm[where]) / 1e5);
}

static void check_oil_dip(struct ew_step_up *s, const struct ew_curve *c) {
  double top = last_point(c), here = at(c, "oil_pressure", top);
  if (isnan(here))
    return;
  double highest = here, where = top;
  for (double rpm = top - 500; rpm < top; rpm += 50)
    if (at(c, "oil_pressure", rpm) > highest)
      highest = at(c, "oil_pressure", rpm), where = rpm;
  double dip = highest - here;
  gboolean falls = dip > OIL_DIP_PA;
  add(s, "oil pressure", falls ? EW_STEP_STOP : EW_STEP_NOTHING_FOUND, 1 - dip / OIL_DIP_PA,
      falls ? "oil pressure falls %.2f bar in the last 500 rpm (from %.0f rpm on; 0.3 bar "
              "allowed): look for level, pick-up and foaming"
            : "oil pressure falls %.2f bar in the last 500 rpm (most at %.0f rpm; 0.3 bar allowed)",
      dip / 1e5, where);
}

static void check_oil(struct ew_step_up *s, const struct ew_curve *c,
                      const struct ew_curve *before) {
  check_oil_floor(s, c);
  check_oil_dip(s, c);
  double rpm = before ? fmin(last_point(c), last_point(before)) : (double)NAN;
  double share = at(c, "oil_pressure", rpm) / at(before, "oil_pressure", rpm);
  if (!isfinite(share))
    return;
  add(s, "oil pressure",
      share < OIL_SHARE_STOP   ? EW_STEP_STOP
      : share < OIL_SHARE_HOLD ? EW_STEP_HOLD
                               : EW_STEP_NOTHING_FOUND,
      (share - OIL_SHARE_HOLD) / (1 - OIL_SHARE_HOLD),
      "oil pressure is %.0f %% of its own trend at %.0f rpm (90 %% wanted)", 100 * share, rpm);
}

static void check_lambda(struct ew_step_up *s, const struct ew_curve *c, double target) {
  double top = last_point(c), here = at(c, "lambda", top), below = at(c, "lambda", top - 500);
  if (isnan(here))
    return;
  if (!isnan(target)) {
    double off = here - target;
    add(s, "mixture", fabs(off) > 0.02 ? EW_STEP_HOLD : EW_STEP_NOTHING_FOUND, 1 - fabs(off) / 0.02,
        "lambda %.3f at the top, %+.3f from its target (0.02 allowed)", here, off);
  }
  double leaning = here - below;
  if (isnan(leaning))
    return;
  add(s, "mixture", leaning > 0.02 ? EW_STEP_HOLD : EW_STEP_NOTHING_FOUND,
      1 - fmax(leaning, 0) / 0.02, "lambda moves %+.3f in the last 500 rpm (+0.02 allowed)",
      leaning);
}

static void check_others(struct ew_step_up *s, const struct ew_curve *c,
                         const struct ew_curve *before) {
  double top = last_point(c);
  double fuel = at(c, "fuel_pressure", top), fuel_low = at(c, "fuel_pressure", c->speed_rpm[0]);
  double drop = 1 - fuel / fuel_low;
  if (isfinite(drop))
    add(s, "fuel pressure", drop > 0.05 ? EW_STEP_HOLD : EW_STEP_NOTHING_FOUND,
        1 - fmax(drop, 0) / 0.05, "fuel pressure drops %.1f %% over the pull (5 %% allowed)",
        100 * drop);
  if (!isnan(c->tail_scatter))
    add(s, "torque scatter", c->tail_scatter > 1.5 ? EW_STEP_HOLD : EW_STEP_NOTHING_FOUND,
        (1.5 - c->tail_scatter) / 0.5,
        "scatter of torque in the last 500 rpm is %.2f times that of the middle "
        "(1.5 allowed)",
        c->tail_scatter);
  double crankcase = at(c, "crankcase_pressure", top);
  double then =
      before ? at(before, "crankcase_pressure", fmin(top, last_point(before))) : (double)NAN;
  double now = before ? at(c, "crankcase_pressure", fmin(top, last_point(before))) : (double)NAN;
  double rise = now - then;
  if (!isnan(rise)) {
    add(s, "crankcase pressure", rise > 500 ? EW_STEP_HOLD : EW_STEP_NOTHING_FOUND,
        1 - fmax(rise, 0) / 500,
        "crankcase pressure is %+.1f mbar from its own curve (5 mbar allowed)", rise / 100);
  } else if (!isnan(crankcase))
    add(s, "crankcase pressure", EW_STEP_NOTHING_FOUND, NAN,
        "crankcase pressure %.1f mbar, with no earlier curve", crankcase / 100);
  double coolant = at(c, "coolant_pressure", top),
         coolant_low = at(c, "coolant_pressure", c->speed_rpm[0]);
  rise = coolant - coolant_low;
  if (!isnan(rise))
    add(s, "coolant pressure", rise > 0.3e5 ? EW_STEP_STOP : EW_STEP_NOTHING_FOUND,
        1 - fmax(rise, 0) / 0.3e5,
        rise < 500 ? "coolant pressure does not rise within the pull (0.3 bar allowed)"
                   : "coolant pressure rises %.2f bar within the pull (0.3 bar allowed)",
        rise / 1e5);
}

static void check_signs(struct ew_step_up *s, const struct ew_step_up_input *in) {
  const struct ew_curve *c = in->curve;
  for (guint i = 0; in->open_trips && i < in->open_trips->len; i++)
    add_weighed(s, EW_STEP_SIGN, "trip", EW_STEP_STOP, -1, "%s",
                (const char *)in->open_trips->pdata[i]);
  for (guint i = 0; in->higher && i < in->higher->len; i++)
    add_weighed(s, EW_STEP_SIGN, "higher limit", EW_STEP_STOP, -1, "%s",
                (const char *)in->higher->pdata[i]);
  if (in->tripped)
    add_weighed(s, EW_STEP_SIGN, "trip", EW_STEP_HOLD, -1,
                "%s; a pull that tripped proves nothing: run this limit again", in->tripped);
  if (in->setup && in->setup->seen && *in->setup->seen)
    add_weighed(s, EW_STEP_SIGN, "seen", EW_STEP_STOP, -1, "'%s' was seen", in->setup->seen);
  if (c->knock_count >= 1)
    add_weighed(s, EW_STEP_SIGN, "knock", c->knock_count >= 3 ? EW_STEP_STOP : EW_STEP_HOLD, -1,
                "%.0f knock counts, the first near %.0f rpm", c->knock_count, c->knock_near_rpm);
  else if (!isnan(c->knock_count))
    add(s, "knock", EW_STEP_NOTHING_FOUND, 1, "no knock counted");
  if (in->setup && in->setup->remark && *in->setup->remark)
    add_weighed(s, EW_STEP_FORMAL, "remark", EW_STEP_NOTHING_FOUND, NAN, "'%s' was noted",
                in->setup->remark);
}

static void settle_ceiling(struct ew_step_up *s, const struct ew_step_up_input *in) {
  const struct ew_message_kind *which = NULL;
  double lowest = in->engine ? ew_engine_lowest_limit_rpm(in->engine, &which) : (double)NAN;
  s->ceiling_rpm = 0.97 * lowest;
  s->ceiling_from = which ? g_strdup_printf("97 %% of the %s's limit", which->text) : NULL;
  if (in->bench && !isnan(in->bench->largest_speed_rpm) &&
      !(s->ceiling_rpm <= 0.97 * in->bench->largest_speed_rpm)) {
    s->ceiling_rpm = 0.97 * in->bench->largest_speed_rpm;
    g_free(s->ceiling_from);
    s->ceiling_from = g_strdup("97 % of the absorber's limit");
  }
  if (in->engine && !isnan(in->engine->agreed_limit_rpm) &&
      !(s->ceiling_rpm <= in->engine->agreed_limit_rpm)) {
    s->ceiling_rpm = in->engine->agreed_limit_rpm;
    g_free(s->ceiling_from);
    s->ceiling_from = g_strdup("the limit agreed");
  }
  if (isnan(lowest))
    add_weighed(s, EW_STEP_FORMAL, "limits", EW_STEP_HOLD, NAN,
                "no mechanical limit is stated: valve train, rods, crankshaft, damper");
}

/* Steps of about 1,000 rpm up to 60 % of the target, 500 to 90 %, 250 above. */
static double propose(double limit, double ceiling) {
  double share = limit / ceiling;
  double step = share < 0.6 ? 1000 : share < 0.9 ? 500 : 250;
  return fmin(limit + step, ceiling);
}

static void settle_next(struct ew_step_up *s, const struct ew_step_up_input *in) {
  double top = in->curve->high_rpm;
  s->limit_rpm = round(top / 50) * 50;
  s->next_rpm = !isnan(in->next_rpm) ? in->next_rpm : propose(s->limit_rpm, s->ceiling_rpm);
  if (!isnan(s->ceiling_rpm) && s->limit_rpm >= s->ceiling_rpm - 25 && isnan(in->next_rpm))
    s->next_rpm = NAN;
  else if (s->next_rpm > s->ceiling_rpm + 1)
    add_weighed(s, EW_STEP_FORMAL, "limits", EW_STEP_HOLD, -1, "%.0f rpm is above %s, %.0f rpm",
                s->next_rpm, s->ceiling_from, s->ceiling_rpm);
  gsize peak = ew_curve_peak(in->curve, in->curve->power_w);
  double past = top - in->curve->speed_rpm[peak];
  if (past >= 500)
    add(s, "power", EW_STEP_NOTHING_FOUND, NAN,
        "the limit stands %.0f rpm past peak power: go on only if the gearing needs it", past);
  int wanted = s->limit_rpm >= s->ceiling_rpm - 800 ? 2 : 1;
  if (in->discarded)
    add_weighed(s, EW_STEP_FORMAL, "discarded", EW_STEP_HOLD, NAN,
                "this pull was discarded (%s): ask of one that counts", in->discarded);
  if (in->valid_pulls_here < wanted)
    add_weighed(s, EW_STEP_FORMAL, "pulls", EW_STEP_HOLD, NAN,
                "%d valid pull%s at this limit, and %d wanted", in->valid_pulls_here,
                in->valid_pulls_here == 1 ? "" : "s", wanted);
}

static gint by_gravity(gconstpointer a, gconstpointer b) {
  const struct ew_step_up_row *x = a, *y = b;
  if (x->answer != y->answer)
    return x->answer < y->answer ? 1 : -1;
  if (x->weight != y->weight)
    return x->weight < y->weight ? 1 : -1;
  double left = isnan(x->margin) ? INFINITY : x->margin,
         right = isnan(y->margin) ? INFINITY : y->margin;
  return (left > right) - (left < right);
}

static void settle_answer(struct ew_step_up *s) {
  g_array_sort(s->rows, by_gravity); /* merge sort: equals keep their order */
  const struct ew_step_up_row *first = &g_array_index(s->rows, struct ew_step_up_row, 0);
  s->answer = s->rows->len ? first->answer : EW_STEP_NOTHING_FOUND;
  g_autofree char *next = ew_number_thousands(isnan(s->next_rpm) ? s->limit_rpm : s->next_rpm);
  if (s->answer == EW_STEP_NOTHING_FOUND)
    s->says = g_strdup_printf("nothing found against %s", next);
  else
    s->says = g_strdup_printf("%s: %s", ew_step_up_words[s->answer], first->found);
}

struct ew_step_up *ew_step_up(const struct ew_step_up_input *in) {
  struct ew_step_up *s = g_new0(struct ew_step_up, 1);
  s->rows = g_array_new(FALSE, FALSE, sizeof(struct ew_step_up_row));
  double target = !isnan(in->lambda_target) ? in->lambda_target
                  : in->engine              ? in->engine->lambda_target
                                            : (double)NAN;
  check_signs(s, in);
  check_channels(s, in->curve, in->bench);
  check_oil(s, in->curve, in->before);
  check_lambda(s, in->curve, target);
  check_others(s, in->curve, in->before);
  settle_ceiling(s, in);
  settle_next(s, in);
  settle_answer(s);
  return s;
}

void ew_step_up_free(struct ew_step_up *s) {
  if (!s)
    return;
  for (guint i = 0; i < s->rows->len; i++)
    g_free(g_array_index(s->rows, struct ew_step_up_row, i).found);
  g_array_unref(s->rows);
  g_free(s->ceiling_from);
  g_free(s->says);
  g_free(s);
}

static void write_row(const void *of, struct ew_json *json) {
  const struct ew_step_up_row *row = of;
  ew_json_text(json, "what", row->what);
  ew_json_text(json, "found", row->found);
  ew_json_text(json, "answer", ew_step_up_words[row->answer]);
  ew_json_number(json, "allowance_left", row->margin);
}

void ew_step_up_write_json(const struct ew_step_up *s, struct ew_json *json) {
  ew_json_text(json, "answer", ew_step_up_words[s->answer]);
  ew_json_text(json, "says", s->says);
  ew_json_number(json, "limit_rpm", s->limit_rpm);
  ew_json_number(json, "next_rpm", s->next_rpm);
  ew_json_number(json, "ceiling_rpm", s->ceiling_rpm);
  ew_json_text(json, "ceiling_from", s->ceiling_from);
  ew_json_rows(json, "checks", s->rows, write_row);
}
