/* What a comparison says: its answers in words, its line, its JSON. */
#include "judge/compare_parts.h"
#include "judge/day_opinion.h"
#include "judge/next.h"
#include <math.h>

EW_MESSAGE(better_yes, "judge.better-yes", EW_NOTE, "yes: {difference} ({low} to {high})");
EW_MESSAGE(better_worse, "judge.better-worse", EW_NOTE,
           "no, worse: {difference} ({low} to {high})");
EW_MESSAGE(better_same, "judge.better-same", EW_NOTE, "the same within {margin}");
EW_MESSAGE(better_same_small, "judge.better-same-small", EW_NOTE,
           "the same within {margin}; a real but small difference");
EW_MESSAGE(better_open, "judge.better-open", EW_NOTE, "can't tell yet: {reason}");
EW_MESSAGE(better_not_asked, "judge.better-not-asked", EW_NOTE,
           "not asked: the pulls are not comparable");
EW_MESSAGE(worth_back, "judge.worth-back", EW_NOTE, "no: go back");
EW_MESSAGE(worth_certain, "judge.worth-certain", EW_NOTE, "more than the margin for certain");
EW_MESSAGE(worth_perhaps, "judge.worth-perhaps", EW_NOTE,
           "perhaps less than the margin: weigh it against reserve and life");
EW_MESSAGE(worth_reserve, "judge.worth-reserve", EW_NOTE,
           "not for torque: keep what has more reserve");
EW_MESSAGE(worth_open, "judge.worth-open", EW_NOTE, "not asked until the difference is known");
EW_MESSAGE(worth_not_asked, "judge.worth-not-asked", EW_NOTE, "not asked");
EW_MESSAGE_PUBLIC(ew_judge_says, "judge.says", EW_NOTE, "{headline}: {verdict}");
EW_MESSAGE(says_more, "judge.says-more", EW_NOTE, "{headline}: {verdict}; {more}");
EW_MESSAGE(with_interval, "judge.with-interval", EW_NOTE,
           "{difference} ({low} to {high}), {from} to {to}");
EW_MESSAGE(without_interval, "judge.without-interval", EW_NOTE, "{difference}, {from} to {to}");
EW_MESSAGE(not_safe, "judge.not-safe", EW_DANGER, "not safe: {reason}");
EW_MESSAGE_MANY(more_pulls, "judge.more-pulls", EW_NOTE,
                "{pulls} more pull would settle it, {order}; {minutes} min",
                "{pulls} more pulls would settle it, {order}; {minutes} min");
EW_MESSAGE_MANY(learning_pulls, "judge.learning-pulls", EW_NOTE,
                "{pulls} more pull first, to learn how this cell repeats: {order}; {minutes} min",
                "{pulls} more pulls first, to learn how this cell repeats: {order}; {minutes} min");
EW_MESSAGE(too_many, "judge.too-many-pulls", EW_NOTE,
           "more than 30 pulls would be needed: the smallest difference that can be settled is "
           "about {smallest}");
EW_MESSAGE(litres, "judge.litres", EW_NOTE, "about {litres} l");
EW_MESSAGE(near_limit, "judge.near-limit", EW_NOTE, "{time} near the limit");

ew_message *ew_compare_better(const struct ew_comparison *c, const struct ew_decision *decision) {
  switch (c->verdict) {
  case EW_VERDICT_GAIN:
  case EW_VERDICT_LOSS:
    return ew_message(c->verdict == EW_VERDICT_GAIN ? &better_yes : &better_worse,
                      ew_say_share_change("difference", c->difference, 1),
                      ew_say_share_change("low", c->low, 1),
                      ew_say_share_change("high", c->high, 1));
  case EW_VERDICT_SAME:
    return ew_message(c->real_but_small ? &better_same_small : &better_same,
                      ew_say_share("margin", c->margin, 1));
  case EW_VERDICT_UNDECIDED:
    return ew_message(&better_open, ew_say_word("reason", decision->reason));
  case EW_VERDICT_NOT_COMPARABLE:
  case EW_VERDICTS_COUNT: break;
  }
  return ew_message_plain(&better_not_asked);
}

const struct ew_message_kind *ew_compare_worth(const struct ew_comparison *c) {
  switch (c->verdict) {
  case EW_VERDICT_GAIN: return c->low > c->margin ? &worth_certain : &worth_perhaps;
  case EW_VERDICT_LOSS: return &worth_back;
  case EW_VERDICT_SAME: return &worth_reserve;
  case EW_VERDICT_UNDECIDED: return &worth_open;
  case EW_VERDICT_NOT_COMPARABLE:
  case EW_VERDICTS_COUNT: break;
  }
  return &worth_not_asked;
}

EW_MESSAGE(oil_at_start, "judge.conditions-oil", EW_NOTE, "oil");
EW_MESSAGE(inlet_air, "judge.conditions-inlet", EW_NOTE, "inlet air");
EW_MESSAGE(coolant_at_start, "judge.conditions-coolant", EW_NOTE, "coolant");
EW_MESSAGE(humidity, "judge.conditions-humidity", EW_NOTE, "relative humidity");
EW_MESSAGE(
    conditions_differ, "judge.conditions-differ", EW_NOTE,
    "{what}: B less A {change}; that alone makes about {shift} (± {doubt}), and is taken out "
    "of the difference");

/* Less than this is not worth a line: common practice, no source. */
#define WORTH_TELL 0.0002

static const struct condition {
  const struct ew_message_kind *word;
  const char *key, *shift_key;
  gboolean is_temperature;
} conditions[EW_DAY_COVARIATES] = {
    [EW_DAY_OIL] = {&oil_at_start, "oil_difference_k", "oil_relative_shift", TRUE},
    [EW_DAY_INLET] = {&inlet_air, "inlet_difference_k", "inlet_relative_shift", TRUE},
    [EW_DAY_COOLANT] = {&coolant_at_start, "coolant_difference_k", "coolant_relative_shift", TRUE},
    [EW_DAY_HUMIDITY] = {&humidity, "relative_humidity_difference", "humidity_relative_shift",
                         FALSE},
};

void ew_compare_tell_conditions(struct ew_comparison *c) {
  const struct ew_effects_told *g = &c->conditions;
  for (int k = 0; k < EW_DAY_COVARIATES; k++) {
    if (!g->asked || isnan(g->change[k]) || !(fabs(g->shift[k]) >= WORTH_TELL))
      continue;
    struct ew_argument change =
        conditions[k].is_temperature
            ? ew_say_change("change", EW_KIND_TEMPERATURE_DIFFERENCE, g->change[k], 1)
            : ew_say_share_change("change", g->change[k] / 100, 0);
    ew_messages_add(c->notes,
                    ew_message(&conditions_differ, ew_say_word("what", conditions[k].word), change,
                               ew_say_share_change("shift", g->shift[k], 2),
                               ew_say_share("doubt", g->shift_sd[k], 2)));
  }
}

static void write_conditions(const struct ew_comparison *c, struct ew_json *json) {
  const struct ew_effects_told *g = &c->conditions;
  if (!g->asked) {
    ew_json_text(json, "conditions", NULL);
    return;
  }
  ew_json_open(json, "conditions");
  for (int k = 0; k < EW_DAY_COVARIATES; k++) {
    ew_json_number(json, conditions[k].key,
                   conditions[k].is_temperature ? g->change[k] : g->change[k] / 100);
    ew_json_number(json, conditions[k].shift_key, g->shift[k]);
  }
  ew_json_number(json, "relative_sd", g->sd);
  ew_json_integer(json, "pulls", (gint64)c->effects_pulls);
  ew_json_close(json);
}

/* A pull of the question, and what it weighs in the difference: none of one that is refused. */
static void write_weights(const struct ew_comparison *c, struct ew_json *json) {
  ew_json_open_array(json, "weights");
  for (gsize i = 0; i < c->weights; i++) {
    ew_json_open(json, NULL);
    ew_json_text(json, "side", c->weight[i].side ? "b" : "a");
    if (c->weight[i].id)
      ew_json_integer(json, "pull", c->weight[i].id);
    else
      ew_json_text(json, "pull", NULL);
    ew_json_number(json, "position", c->weight[i].position);
    ew_json_number(json, "weight", c->weight[i].weight);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

#define RPM(name, rpm) ew_say_quantity(name, EW_KIND_ROTATIONAL_SPEED, rpm, 0)

static ew_message *headline_of(const struct ew_comparison *c) {
  if (!isfinite(c->low) || !isfinite(c->high) || c->verdict == EW_VERDICT_NOT_COMPARABLE)
    return ew_message(&without_interval, ew_say_share_change("difference", c->difference, 1),
                      RPM("from", c->band_low_rpm), RPM("to", c->band_high_rpm));
  return ew_message(&with_interval, ew_say_share_change("difference", c->difference, 1),
                    ew_say_share_change("low", c->low, 1), ew_say_share_change("high", c->high, 1),
                    RPM("from", c->band_low_rpm), RPM("to", c->band_high_rpm));
}

/* What it would take to settle it. */
static void add_costs(const struct ew_comparison *c, GPtrArray *more) {
  if (c->pulls_needed)
    ew_messages_add(more, ew_message(c->freedom > 0 ? &more_pulls : &learning_pulls,
                                     ew_say_count("pulls", c->pulls_needed),
                                     ew_say_text("order", c->next_order),
                                     ew_say_figure("minutes", c->cost_minutes, 0)));
  else if (isfinite(c->smallest_margin))
    ew_messages_add(more, ew_message(&too_many, ew_say_share("smallest", c->smallest_margin, 1)));
  if (!isnan(c->cost_litres) && c->pulls_needed)
    ew_messages_add(more, ew_message(&litres, ew_say_figure("litres", c->cost_litres, 1)));
  if (c->pulls_needed && c->cost_seconds_high > 0)
    ew_messages_add(more, ew_message(&near_limit, ew_say_quantity("time", EW_KIND_TIME,
                                                                  c->cost_seconds_high, 0)));
}

ew_message *ew_comparison_says(const struct ew_comparison *c) {
  g_autoptr(ew_message) headline = headline_of(c);
  g_autoptr(GPtrArray) more = ew_messages_new();
  if (c->verdict == EW_VERDICT_NOT_COMPARABLE)
    ew_messages_add(more, ew_message_copy(c->invalid));
  if (c->unsafe) /* whatever torque says: and no more pulls of it are proposed */
    ew_messages_add(more, ew_message(&not_safe, ew_say_message("reason", c->danger)));
  else if (c->verdict == EW_VERDICT_UNDECIDED)
    add_costs(c, more);
  struct ew_argument head = ew_say_message("headline", headline);
  struct ew_argument verdict = ew_say_word("verdict", ew_verdict_word(c->verdict));
  return more->len ? ew_message(&says_more, head, verdict, ew_say_messages("more", more))
                   : ew_message(&ew_judge_says, head, verdict);
}

char *ew_comparison_line(const struct ew_comparison *c) {
  g_autoptr(ew_message) says = ew_comparison_says(c);
  return ew_message_text(says, EW_UNITS_SI);
}

/* Keys of what the question can be asked about on purpose, all of them at once. */
static void write_may_ask(const struct ew_comparison *c, struct ew_json *json) {
  ew_json_open_array(json, "may_be_asked");
  for (int fact = 0; fact < EW_ALIKE_FACTS_COUNT; fact++)
    if (c->may_ask >> fact & 1)
      ew_json_text(json, NULL, ew_alike_keys[fact]);
  ew_json_close_array(json);
}

void ew_comparison_write_json(const struct ew_comparison *c, struct ew_json *json) {
  g_autoptr(ew_message) says = ew_comparison_says(c);
  double interval[2] = {c->low, c->high};
  ew_json_text(json, "verdict", ew_verdict_keys[c->verdict]);
  ew_message_write_member(says, "says", EW_UNITS_SI, json);
  ew_json_number(json, "relative_difference", c->difference);
  ew_json_numbers(json, "relative_interval", interval, 2);
  ew_json_number(json, "confidence", c->confidence);
  ew_json_number(json, "margin", c->margin);
  ew_json_boolean(json, "real_but_small", c->real_but_small);
  ew_json_integer(json, "pulls_needed", c->pulls_needed);
  ew_json_text(json, "next_order", c->next_order);
  ew_json_number(json, "cost_s", 60 * c->cost_minutes);
  ew_json_number(json, "band_low_rpm", c->band_low_rpm);
  ew_json_number(json, "band_high_rpm", c->band_high_rpm);
  ew_json_number(json, "mean_a_n_m", c->mean_a_n_m);
  ew_json_number(json, "mean_b_n_m", c->mean_b_n_m);
  ew_json_integer(json, "pulls_a", c->n_a);
  ew_json_integer(json, "pulls_b", c->n_b);
  ew_json_text(json, "level", ew_level_names[c->level]);
  ew_json_number(json, "relative_sd", c->sd);
  ew_json_number(json, "degrees_of_freedom", c->freedom);
  ew_json_number(json, "smallest_margin", c->smallest_margin);
  ew_json_boolean(json, "unsafe", c->unsafe);
  ew_message_write_member(c->safe, "safe", EW_UNITS_SI, json);
  ew_message_write_member(c->valid, "valid", EW_UNITS_SI, json);
  write_may_ask(c, json);
  ew_message_write_member(c->better, "better", EW_UNITS_SI, json);
  ew_message_write_member(c->worth, "worth_it", EW_UNITS_SI, json);
  if (c->band.half_width) {
    ew_json_open(json, "curve");
    ew_json_numbers(json, "speed_rpm", c->speed_rpm, c->points);
    ew_json_numbers(json, "relative_difference", c->band.difference, c->points);
    ew_json_numbers(json, "relative_half_width", c->band.half_width, c->points);
    ew_json_close(json);
  }
  if (c->next) {
    ew_json_open(json, "next");
    ew_next_write_json(c->next, json);
    ew_json_close(json);
  } else
    ew_json_text(json, "next", NULL);
  write_conditions(c, json);
  write_weights(c, json);
  ew_messages_write_json(c->notes, "notes", EW_UNITS_SI, json);
  if (c->day) {
    ew_json_open(json, "whole_day");
    ew_day_opinion_write_json(c->day, json);
    ew_json_close(json);
  } else
    ew_json_text(json, "whole_day", NULL);
  ew_messages_write_json(c->warnings, "warnings", EW_UNITS_SI, json);
}
