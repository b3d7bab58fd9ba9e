/* Each check gives one row; the gravest row is the answer and stands first.
 *
 * Order of gravity: stop and look before hold before no objection; within one answer a sign (knock, something
 * seen, a trip) before a measured figure before a formal want before a missing channel; within those the row
 * that has least of its allowance left. A channel that is missing is hold, unless the cell's file says that it
 * is not fitted: then it is named once and holds nothing.
 *
 * The allowances are common practice, no source; the engine's and the absorber's makers come first. */
#include "judge/step_up.h"
#include <math.h>

#define OIL_DIP_PA     0.3e5 /* allowed in the last 500 rpm */
#define OIL_SHARE_HOLD 0.9   /* of its own trend */
#define OIL_SHARE_STOP 0.8   /* where the template of alarms begins to speak */
#define OIL_FLOOR_PA   2.0e5 /* from 4,000 rpm on, as in that template; below in proportion */
#define OIL_FLOOR_FROM 4000.0

const char *const ew_step_up_keys[] = {"no objection", "hold", "stop and look", NULL};
const char *const ew_step_up_words[] = {EW_TEXT("no objection"), EW_TEXT("hold"),
                                        EW_TEXT("stop and look"), NULL};

EW_MESSAGE(lost_before_top, "judge.lost-before-top", EW_CAUTION,
           "{channel} is lost before the top: known to {speed}");
EW_MESSAGE(not_recorded, "judge.not-recorded", EW_CAUTION, "{channel} is not recorded");
EW_MESSAGE(not_fitted_here, "judge.not-fitted", EW_NOTE,
           "not fitted in this cell, so nothing is known about it: {channels}");
EW_MESSAGE(oil_least, "judge.oil-least", EW_CAUTION,
           "oil pressure is {pressure} at {speed} (no less than {least} there)");
EW_MESSAGE(oil_falls, "judge.oil-falls", EW_DANGER,
           "oil pressure falls by {fall} in the last 500 rpm (from {speed} on; {allowed} is "
           "allowed): look for level, pick-up and foaming");
EW_MESSAGE(
    oil_dip, "judge.oil-dip", EW_NOTE,
    "oil pressure falls by {fall} in the last 500 rpm (most at {speed}; {allowed} is allowed)");
EW_MESSAGE(oil_trend, "judge.oil-trend", EW_CAUTION,
           "oil pressure is {share} of its own trend at {speed} (at least 90 % is required)");
EW_MESSAGE(lambda_off, "judge.lambda-off", EW_CAUTION,
           "lambda is {lambda} at the top, {off} from its target (0.02 is allowed)");
EW_MESSAGE(lambda_moves, "judge.lambda-moves", EW_CAUTION,
           "lambda changes by {change} in the last 500 rpm (+0.02 is allowed)");
EW_MESSAGE(fuel_drops, "judge.fuel-pressure-drops", EW_CAUTION,
           "fuel pressure drops by {drop} over the pull (5 % is allowed)");
EW_MESSAGE(tail_scatter, "judge.torque-scatter", EW_CAUTION,
           "torque scatters {times} times as much in the last 500 rpm as in the middle (1.5 is "
           "allowed)");
EW_MESSAGE(crankcase_rise, "judge.crankcase-rise", EW_CAUTION,
           "crankcase pressure is {change} mbar from its own curve (5 mbar is allowed)");
EW_MESSAGE(crankcase_alone, "judge.crankcase-alone", EW_NOTE,
           "crankcase pressure is {pressure} mbar, with no earlier curve");
EW_MESSAGE(coolant_still, "judge.coolant-still", EW_NOTE,
           "coolant pressure does not rise during the pull ({allowed} is allowed)");
EW_MESSAGE(coolant_rises, "judge.coolant-rises", EW_CAUTION,
           "coolant pressure rises by {rise} during the pull ({allowed} is allowed)");
EW_MESSAGE(tripped_again, "judge.tripped", EW_CAUTION,
           "{trip}; a pull that tripped proves nothing: run this limit again");
EW_MESSAGE(sign_seen, "judge.sign-seen", EW_DANGER, "'{seen}' was seen");
EW_MESSAGE_MANY(knock_counted, "judge.knock-counted", EW_CAUTION,
                "{counts} knock count, near {speed}",
                "{counts} knock counts, the first near {speed}");
EW_MESSAGE(no_knock, "judge.no-knock", EW_NOTE, "no knock was counted");
EW_MESSAGE(remarked, "judge.remarked", EW_NOTE, "'{remark}' was noted");
EW_MESSAGE(of_part, "judge.ceiling-of-part", EW_NOTE, "97 % of the limit of the {part}");
EW_MESSAGE(of_absorber, "judge.ceiling-of-absorber", EW_NOTE, "97 % of the absorber's limit");
EW_MESSAGE(as_agreed, "judge.ceiling-agreed", EW_NOTE, "the agreed limit");
EW_MESSAGE(no_limit, "judge.no-mechanical-limit", EW_CAUTION,
           "no mechanical limit is stated: valve train, rods, crankshaft, damper");
EW_MESSAGE(above_ceiling, "judge.above-ceiling", EW_CAUTION, "{speed} is above {ceiling}, {limit}");
EW_MESSAGE(past_peak, "judge.past-peak", EW_NOTE,
           "the limit is {speed} past peak power: go on only if the gearing needs it");
EW_MESSAGE(was_discarded, "judge.was-discarded", EW_CAUTION,
           "this pull was discarded ({reason}): ask about one that counts");
EW_MESSAGE_MANY(pulls_wanted, "judge.pulls-wanted", EW_CAUTION,
                "{pulls} valid pull at this limit; {wanted} wanted",
                "{pulls} valid pulls at this limit; {wanted} wanted");
EW_MESSAGE(no_objection, "judge.no-objection", EW_NOTE, "no objection to {speed}");
EW_MESSAGE(hold_for, "judge.hold", EW_CAUTION, "hold: {reason}");
EW_MESSAGE(stop_for, "judge.stop-and-look", EW_DANGER, "stop and look: {reason}");

#define RPM(name, rpm) ew_say_quantity(name, EW_KIND_ROTATIONAL_SPEED, rpm, 0)
#define BAR(name, pa)  ew_say_quantity(name, EW_KIND_PRESSURE_GAUGE, pa, 2)

/* Takes the message. */
static void add_weighed(struct ew_step_up *s, enum ew_step_up_weight weight, const char *what,
                        enum ew_step_up_answer answer, double margin, ew_message *found) {
  struct ew_step_up_row row = {what, found, margin, answer, weight};
  g_array_append_val(s->rows, row);
}

static void add(struct ew_step_up *s, const char *what, enum ew_step_up_answer answer,
                double margin, ew_message *found) {
  add_weighed(s, EW_STEP_MEASURED, what, answer, margin, found);
}

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
                 double known_to_rpm, GPtrArray *not_fitted) {
  struct ew_argument word = ew_say_word("channel", ew_channel_word(channel));
  if (!isnan(known_to_rpm))
    add_weighed(s, EW_STEP_MISSING, EW_TEXT("channels"), EW_STEP_HOLD, NAN,
                ew_message(&lost_before_top, word, RPM("speed", known_to_rpm)));
  else if (bench && ew_bench_lacks(bench, channel))
    ew_messages_add(not_fitted, ew_message_plain(ew_channel_word(channel)));
  else
    add_weighed(s, EW_STEP_MISSING, EW_TEXT("channels"), EW_STEP_HOLD, NAN,
                ew_message(&not_recorded, word));
}

static void check_channels(struct ew_step_up *s, const struct ew_curve *c,
                           const struct ew_bench *bench) {
  static const enum ew_channel musts[] = {
      EW_CHANNEL_OIL_PRESSURE,    EW_CHANNEL_OIL_TEMPERATURE, EW_CHANNEL_COOLANT_TEMPERATURE,
      EW_CHANNEL_LAMBDA,          EW_CHANNEL_FUEL_PRESSURE,   EW_CHANNEL_CRANKCASE_PRESSURE,
      EW_CHANNEL_COOLANT_PRESSURE};
  g_autoptr(GPtrArray) not_fitted = ew_messages_new();
  for (gsize i = 0; i < G_N_ELEMENTS(musts); i++)
    if (isnan(at(c, ew_channel_facts[musts[i]].key, last_point(c)))) /* or lost before the top */
      miss(s, bench, musts[i], known_to(c, ew_channel_facts[musts[i]].key), not_fitted);
  if (!c->conditions.throttle_known)
    miss(s, bench, EW_CHANNEL_THROTTLE, NAN, not_fitted);
  if (isnan(c->conditions.temperature_k) || c->conditions.temperature_from[0] != 'c')
    miss(s, bench, EW_CHANNEL_INLET_AIR_TEMPERATURE, NAN, not_fitted);
  if (not_fitted->len)
    add_weighed(s, EW_STEP_MISSING, EW_TEXT("channels"), EW_STEP_NOTHING_FOUND, NAN,
                ew_message(&not_fitted_here, ew_say_messages("channels", not_fitted)));
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
    add(s, EW_TEXT("oil pressure"), least < 1 ? EW_STEP_STOP : EW_STEP_NOTHING_FOUND, least - 1,
        ew_message(&oil_least, BAR("pressure", oil->values[where]),
                   RPM("speed", c->speed_rpm[where]),
                   BAR("least", oil_floor_pa(c->speed_rpm[where]))));
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
  add(s, EW_TEXT("oil pressure"), falls ? EW_STEP_STOP : EW_STEP_NOTHING_FOUND,
      1 - dip / OIL_DIP_PA,
      ew_message(falls ? &oil_falls : &oil_dip, BAR("fall", dip), RPM("speed", where),
                 BAR("allowed", OIL_DIP_PA)));
}

static void check_oil(struct ew_step_up *s, const struct ew_curve *c,
                      const struct ew_curve *before) {
  check_oil_floor(s, c);
  check_oil_dip(s, c);
  double rpm = before ? fmin(last_point(c), last_point(before)) : (double)NAN;
  double share = at(c, "oil_pressure", rpm) / at(before, "oil_pressure", rpm);
  if (!isfinite(share))
    return;
  add(s, EW_TEXT("oil pressure"),
      share < OIL_SHARE_STOP   ? EW_STEP_STOP
      : share < OIL_SHARE_HOLD ? EW_STEP_HOLD
                               : EW_STEP_NOTHING_FOUND,
      (share - OIL_SHARE_HOLD) / (1 - OIL_SHARE_HOLD),
      ew_message(&oil_trend, ew_say_share("share", share, 0), RPM("speed", rpm)));
}

static void check_lambda(struct ew_step_up *s, const struct ew_curve *c, double target) {
  double top = last_point(c), here = at(c, "lambda", top), below = at(c, "lambda", top - 500);
  if (isnan(here))
    return;
  if (!isnan(target)) {
    double off = here - target;
    add(s, EW_TEXT("mixture"), fabs(off) > 0.02 ? EW_STEP_HOLD : EW_STEP_NOTHING_FOUND,
        1 - fabs(off) / 0.02,
        ew_message(&lambda_off, ew_say_quantity("lambda", EW_KIND_LAMBDA, here, 3),
                   ew_say_change("off", EW_KIND_LAMBDA, off, 3)));
  }
  double leaning = here - below;
  if (isnan(leaning))
    return;
  add(s, EW_TEXT("mixture"), leaning > 0.02 ? EW_STEP_HOLD : EW_STEP_NOTHING_FOUND,
      1 - fmax(leaning, 0) / 0.02,
      ew_message(&lambda_moves, ew_say_change("change", EW_KIND_LAMBDA, leaning, 3)));
}

static void check_others(struct ew_step_up *s, const struct ew_curve *c,
                         const struct ew_curve *before) {
  double top = last_point(c);
  double fuel = at(c, "fuel_pressure", top), fuel_low = at(c, "fuel_pressure", c->speed_rpm[0]);
  double drop = 1 - fuel / fuel_low;
  if (isfinite(drop))
    add(s, EW_TEXT("fuel pressure"), drop > 0.05 ? EW_STEP_HOLD : EW_STEP_NOTHING_FOUND,
        1 - fmax(drop, 0) / 0.05, ew_message(&fuel_drops, ew_say_share("drop", drop, 1)));
  if (!isnan(c->tail_scatter))
    add(s, EW_TEXT("torque scatter"), c->tail_scatter > 1.5 ? EW_STEP_HOLD : EW_STEP_NOTHING_FOUND,
        (1.5 - c->tail_scatter) / 0.5,
        ew_message(&tail_scatter, ew_say_figure("times", c->tail_scatter, 2)));
  double crankcase = at(c, "crankcase_pressure", top);
  double then =
      before ? at(before, "crankcase_pressure", fmin(top, last_point(before))) : (double)NAN;
  double now = before ? at(c, "crankcase_pressure", fmin(top, last_point(before))) : (double)NAN;
  double rise = now - then;
  if (!isnan(rise)) {
    add(s, EW_TEXT("crankcase pressure"), rise > 500 ? EW_STEP_HOLD : EW_STEP_NOTHING_FOUND,
        1 - fmax(rise, 0) / 500,
        ew_message(&crankcase_rise, ew_say_change("change", EW_KIND_NUMBER, rise / 100, 1)));
  } else if (!isnan(crankcase))
    add(s, EW_TEXT("crankcase pressure"), EW_STEP_NOTHING_FOUND, NAN,
        ew_message(&crankcase_alone, ew_say_figure("pressure", crankcase / 100, 1)));
  double coolant = at(c, "coolant_pressure", top),
         coolant_low = at(c, "coolant_pressure", c->speed_rpm[0]);
  rise = coolant - coolant_low;
  if (!isnan(rise))
    add(s, EW_TEXT("coolant pressure"), rise > 0.3e5 ? EW_STEP_STOP : EW_STEP_NOTHING_FOUND,
        1 - fmax(rise, 0) / 0.3e5,
        rise < 500 ? ew_message(&coolant_still, BAR("allowed", 0.3e5))
                   : ew_message(&coolant_rises, BAR("rise", rise), BAR("allowed", 0.3e5)));
}

static void check_signs(struct ew_step_up *s, const struct ew_step_up_input *in) {
  const struct ew_curve *c = in->curve;
  for (guint i = 0; in->open_trips && i < in->open_trips->len; i++)
    add_weighed(s, EW_STEP_SIGN, EW_TEXT("trip"), EW_STEP_STOP, -1,
                ew_message_copy(in->open_trips->pdata[i]));
  for (guint i = 0; in->higher && i < in->higher->len; i++)
    add_weighed(s, EW_STEP_SIGN, EW_TEXT("higher limit"), EW_STEP_STOP, -1,
                ew_message_copy(in->higher->pdata[i]));
  if (in->tripped)
    add_weighed(s, EW_STEP_SIGN, EW_TEXT("trip"), EW_STEP_HOLD, -1,
                ew_message(&tripped_again, ew_say_message("trip", in->tripped)));
  if (in->setup && in->setup->seen && *in->setup->seen)
    add_weighed(s, EW_STEP_SIGN, EW_TEXT("seen"), EW_STEP_STOP, -1,
                ew_message(&sign_seen, ew_say_text("seen", in->setup->seen)));
  if (c->knock_count >= 1)
    add_weighed(s, EW_STEP_SIGN, EW_TEXT("knock"),
                c->knock_count >= 3 ? EW_STEP_STOP : EW_STEP_HOLD, -1,
                ew_message(&knock_counted, ew_say_count("counts", lround(c->knock_count)),
                           RPM("speed", c->knock_near_rpm)));
  else if (!isnan(c->knock_count))
    add(s, EW_TEXT("knock"), EW_STEP_NOTHING_FOUND, 1, ew_message_plain(&no_knock));
  if (in->setup && in->setup->remark && *in->setup->remark)
    add_weighed(s, EW_STEP_FORMAL, EW_TEXT("remark"), EW_STEP_NOTHING_FOUND, NAN,
                ew_message(&remarked, ew_say_text("remark", in->setup->remark)));
}

static void lower_ceiling(struct ew_step_up *s, double limit_rpm, ew_message *from) {
  ew_message_free(s->ceiling_from);
  s->ceiling_rpm = limit_rpm;
  s->ceiling_from = from;
}

static void settle_ceiling(struct ew_step_up *s, const struct ew_step_up_input *in) {
  const struct ew_message_kind *which = NULL;
  double lowest = in->engine ? ew_engine_lowest_limit_rpm(in->engine, &which) : (double)NAN;
  s->ceiling_rpm = 0.97 * lowest;
  if (which)
    s->ceiling_from = ew_message(&of_part, ew_say_word("part", which));
  if (in->bench && !isnan(in->bench->largest_speed_rpm) &&
      !(s->ceiling_rpm <= 0.97 * in->bench->largest_speed_rpm))
    lower_ceiling(s, 0.97 * in->bench->largest_speed_rpm, ew_message_plain(&of_absorber));
  if (in->engine && !isnan(in->engine->agreed_limit_rpm) &&
      !(s->ceiling_rpm <= in->engine->agreed_limit_rpm))
    lower_ceiling(s, in->engine->agreed_limit_rpm, ew_message_plain(&as_agreed));
  if (isnan(lowest))
    add_weighed(s, EW_STEP_FORMAL, EW_TEXT("limits"), EW_STEP_HOLD, NAN,
                ew_message_plain(&no_limit));
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
    add_weighed(s, EW_STEP_FORMAL, EW_TEXT("limits"), EW_STEP_HOLD, -1,
                ew_message(&above_ceiling, RPM("speed", s->next_rpm),
                           ew_say_message("ceiling", s->ceiling_from),
                           RPM("limit", s->ceiling_rpm)));
  gsize peak = ew_curve_peak(in->curve, in->curve->power_w);
  double past = top - in->curve->speed_rpm[peak];
  if (past >= 500)
    add(s, EW_TEXT("power"), EW_STEP_NOTHING_FOUND, NAN,
        ew_message(&past_peak, RPM("speed", past)));
  int wanted = s->limit_rpm >= s->ceiling_rpm - 800 ? 2 : 1;
  if (in->discarded)
    add_weighed(s, EW_STEP_FORMAL, EW_TEXT("discarded"), EW_STEP_HOLD, NAN,
                ew_message(&was_discarded, ew_say_text("reason", in->discarded)));
  if (in->valid_pulls_here < wanted)
    add_weighed(s, EW_STEP_FORMAL, EW_TEXT("pulls"), EW_STEP_HOLD, NAN,
                ew_message(&pulls_wanted, ew_say_count("pulls", in->valid_pulls_here),
                           ew_say_count("wanted", wanted)));
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
  if (s->answer == EW_STEP_NOTHING_FOUND)
    s->says =
        ew_message(&no_objection, RPM("speed", isnan(s->next_rpm) ? s->limit_rpm : s->next_rpm));
  else
    s->says = ew_message(s->answer == EW_STEP_STOP ? &stop_for : &hold_for,
                         ew_say_message("reason", first->found));
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

ew_message *ew_step_up_row_says(const struct ew_step_up_row *row) {
  switch (row->answer) {
  case EW_STEP_STOP: return ew_message(&stop_for, ew_say_message("reason", row->found));
  case EW_STEP_HOLD: return ew_message(&hold_for, ew_say_message("reason", row->found));
  case EW_STEP_NOTHING_FOUND: break;
  }
  return ew_message_copy(row->found);
}

void ew_step_up_free(struct ew_step_up *s) {
  if (!s)
    return;
  for (guint i = 0; i < s->rows->len; i++)
    ew_message_free(g_array_index(s->rows, struct ew_step_up_row, i).found);
  g_array_unref(s->rows);
  ew_message_free(s->ceiling_from);
  ew_message_free(s->says);
  g_free(s);
}

static void write_row(const void *of, struct ew_json *json) {
  const struct ew_step_up_row *row = of;
  ew_json_text(json, "what", row->what);
  ew_message_write_member(row->found, "found", EW_UNITS_SI, json);
  ew_json_text(json, "answer", ew_step_up_keys[row->answer]);
  ew_json_number(json, "allowance_left", row->margin);
}

void ew_step_up_write_json(const struct ew_step_up *s, struct ew_json *json) {
  ew_json_text(json, "answer", ew_step_up_keys[s->answer]);
  ew_message_write_member(s->says, "says", EW_UNITS_SI, json);
  ew_json_number(json, "limit_rpm", s->limit_rpm);
  ew_json_number(json, "next_rpm", s->next_rpm);
  ew_json_number(json, "ceiling_rpm", s->ceiling_rpm);
  ew_message_write_member(s->ceiling_from, "ceiling_from", EW_UNITS_SI, json);
  ew_json_rows(json, "checks", s->rows, write_row);
}
