/* Each check gives one row; the worst row is the answer. A missing must-have channel is hold. The
 * allowances are common practice, no source; the engine's and the absorber's makers come first. */
#include "judge/step_up.h"
#include "base/number.h"
#include <math.h>

const char *const ew_step_up_words[] = {"nothing found against", "hold", "stop and look", NULL};

static void add(struct ew_step_up *s, const char *what, enum ew_step_up_answer answer,
                double margin, const char *format, ...) G_GNUC_PRINTF(5, 6);
static void add(struct ew_step_up *s, const char *what, enum ew_step_up_answer answer,
                double margin, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  struct ew_step_up_row row = {what, g_strdup_vprintf(format, arguments), margin, answer};
  va_end(arguments);
  g_array_append_val(s->rows, row);
}

static double at(const struct ew_curve *curve, const char *key, double rpm) {
  const struct ew_curve_column *column = curve ? ew_curve_column(curve, key, 0) : NULL;
  return column ? ew_curve_at(curve, column->values, rpm) : (double)NAN;
}

static double last_point(const struct ew_curve *curve) {
  return curve->speed_rpm[curve->points - 1];
}

static void check_channels(struct ew_step_up *s, const struct ew_curve *c) {
  static const char *const musts[] = {"oil_pressure",    "oil_temperature", "coolant_temperature",
                                      "lambda",          "fuel_pressure",   "crankcase_pressure",
                                      "coolant_pressure"};
  for (gsize i = 0; i < G_N_ELEMENTS(musts); i++)
    if (!ew_curve_column(c, musts[i], 0)) {
      enum ew_channel channel = ew_channel_by_key(musts[i]);
      add(s, "channels", EW_STEP_HOLD, NAN, "%s is not recorded", ew_channel_facts[channel].label);
    }
  if (!c->conditions.throttle_known)
    add(s, "channels", EW_STEP_HOLD, NAN, "throttle position is not recorded");
  if (isnan(c->conditions.temperature_k) || c->conditions.temperature_from[0] != 'c')
    add(s, "channels", EW_STEP_HOLD, NAN, "inlet air temperature is not recorded");
}

static void check_oil(struct ew_step_up *s, const struct ew_curve *c,
                      const struct ew_curve *before) {
  double top = last_point(c), here = at(c, "oil_pressure", top);
  if (isnan(here))
    return;
  double highest = here, where = top;
  for (double rpm = top - 500; rpm < top; rpm += 50)
    if (at(c, "oil_pressure", rpm) > highest)
      highest = at(c, "oil_pressure", rpm), where = rpm;
  double dip = highest - here, allowed = 0.3e5;
  add(s, "oil pressure", dip > allowed ? EW_STEP_HOLD : EW_STEP_NOTHING_FOUND, 1 - dip / allowed,
      dip > allowed
          ? "oil pressure falls %.2f bar in the last 500 rpm (from %.0f rpm on; 0.3 bar allowed): "
            "look for "
            "level, pick-up and foaming"
          : "oil pressure falls %.2f bar in the last 500 rpm (most at %.0f rpm; 0.3 bar allowed)",
      dip / 1e5, where);
  double then = before ? at(before, "oil_pressure", fmin(top, last_point(before))) : (double)NAN;
  if (!isnan(then)) {
    double now = at(c, "oil_pressure", fmin(top, last_point(before))), share = now / then;
    add(s, "oil pressure", share < 0.9 ? EW_STEP_HOLD : EW_STEP_NOTHING_FOUND, (share - 0.9) / 0.1,
        "oil pressure is %.0f %% of its own trend at %.0f rpm (90 %% wanted)", 100 * share,
        fmin(top, last_point(before)));
  }
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
  add(s, "mixture", leaning > 0.02 ? EW_STEP_HOLD : EW_STEP_NOTHING_FOUND,
      1 - fmax(leaning, 0) / 0.02, "lambda moves %+.3f in the last 500 rpm (+0.02 allowed)",
      leaning);
}

static void check_others(struct ew_step_up *s, const struct ew_curve *c,
                         const struct ew_curve *before) {
  double top = last_point(c);
  double fuel = at(c, "fuel_pressure", top), fuel_low = at(c, "fuel_pressure", c->speed_rpm[0]);
  if (!isnan(fuel)) {
    double drop = 1 - fuel / fuel_low;
    add(s, "fuel pressure", drop > 0.05 ? EW_STEP_HOLD : EW_STEP_NOTHING_FOUND,
        1 - fmax(drop, 0) / 0.05, "fuel pressure drops %.1f %% over the pull (5 %% allowed)",
        100 * drop);
  }
  if (!isnan(c->tail_scatter))
    add(s, "torque scatter", c->tail_scatter > 1.5 ? EW_STEP_HOLD : EW_STEP_NOTHING_FOUND,
        (1.5 - c->tail_scatter) / 0.5,
        "scatter of torque in the last 500 rpm is %.2f times that of the middle "
        "(1.5 allowed)",
        c->tail_scatter);
  double crankcase = at(c, "crankcase_pressure", top);
  double then =
      before ? at(before, "crankcase_pressure", fmin(top, last_point(before))) : (double)NAN;
  if (!isnan(then)) {
    double now = at(c, "crankcase_pressure", fmin(top, last_point(before))), rise = now - then;
    add(s, "crankcase pressure", rise > 500 ? EW_STEP_HOLD : EW_STEP_NOTHING_FOUND,
        1 - fmax(rise, 0) / 500,
        "crankcase pressure is %+.1f mbar from its own curve (5 mbar allowed)", rise / 100);
  } else if (!isnan(crankcase))
    add(s, "crankcase pressure", EW_STEP_NOTHING_FOUND, NAN,
        "crankcase pressure %.1f mbar, with no earlier curve", crankcase / 100);
  double coolant = at(c, "coolant_pressure", top),
         coolant_low = at(c, "coolant_pressure", c->speed_rpm[0]);
  if (!isnan(coolant)) {
    double rise = coolant - coolant_low;
    add(s, "coolant pressure", rise > 0.3e5 ? EW_STEP_STOP : EW_STEP_NOTHING_FOUND,
        1 - fmax(rise, 0) / 0.3e5,
        rise < 500 ? "coolant pressure does not rise within the pull (0.3 bar allowed)"
                   : "coolant pressure rises %.2f bar within the pull (0.3 bar allowed)",
        rise / 1e5);
  }
}

static void check_knock(struct ew_step_up *s, const struct ew_curve *c,
                        const struct ew_setup *setup) {
  if (c->knock_count >= 1)
    add(s, "knock", c->knock_count >= 3 ? EW_STEP_STOP : EW_STEP_HOLD, -1,
        "%.0f knock counts, the first near %.0f rpm", c->knock_count, c->knock_near_rpm);
  else if (!isnan(c->knock_count))
    add(s, "knock", EW_STEP_NOTHING_FOUND, 1, "no knock counted");
  if (setup && setup->remark && *setup->remark)
    add(s, "remark", EW_STEP_STOP, -1, "'%s' was noted", setup->remark);
}

static void settle_ceiling(struct ew_step_up *s, const struct ew_step_up_input *in) {
  const char *which = NULL;
  double lowest = in->engine ? ew_engine_lowest_limit_rpm(in->engine, &which) : (double)NAN;
  s->ceiling_rpm = 0.97 * lowest;
  s->ceiling_from = which ? g_strdup_printf("97 %% of the %s's limit", which) : NULL;
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
    add(s, "limits", EW_STEP_HOLD, NAN,
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
    add(s, "limits", EW_STEP_HOLD, -1, "%.0f rpm is above %s, %.0f rpm", s->next_rpm,
        s->ceiling_from, s->ceiling_rpm);
  gsize peak = ew_curve_peak(in->curve, in->curve->power_w);
  double past = top - in->curve->speed_rpm[peak];
  if (past >= 500)
    add(s, "power", EW_STEP_NOTHING_FOUND, NAN,
        "the limit stands %.0f rpm past peak power: go on only if the gearing needs it", past);
  int wanted = s->limit_rpm >= s->ceiling_rpm - 800 ? 2 : 1;
  if (in->discarded)
    add(s, "discarded", EW_STEP_HOLD, NAN, "this pull was discarded (%s): ask of one that counts",
        in->discarded);
  if (in->valid_pulls_here < wanted)
    add(s, "pulls", EW_STEP_HOLD, NAN, "%d valid pull%s at this limit, and %d wanted",
        in->valid_pulls_here, in->valid_pulls_here == 1 ? "" : "s", wanted);
}

static void settle_answer(struct ew_step_up *s) {
  const struct ew_step_up_row *worst = NULL;
  for (guint i = 0; i < s->rows->len; i++) {
    const struct ew_step_up_row *row = &g_array_index(s->rows, struct ew_step_up_row, i);
    if (row->answer > s->answer) {
      s->answer = row->answer;
      worst = row;
    }
  }
  g_autofree char *next = ew_number_thousands(isnan(s->next_rpm) ? s->limit_rpm : s->next_rpm);
  if (s->answer == EW_STEP_NOTHING_FOUND)
    s->says = g_strdup_printf("nothing found against %s", next);
  else
    s->says = g_strdup_printf("%s: %s", ew_step_up_words[s->answer], worst->found);
}

struct ew_step_up *ew_step_up(const struct ew_step_up_input *in) {
  struct ew_step_up *s = g_new0(struct ew_step_up, 1);
  s->rows = g_array_new(FALSE, FALSE, sizeof(struct ew_step_up_row));
  double target = !isnan(in->lambda_target) ? in->lambda_target
                  : in->engine              ? in->engine->lambda_target
                                            : (double)NAN;
  check_channels(s, in->curve);
  check_knock(s, in->curve, in->setup);
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
