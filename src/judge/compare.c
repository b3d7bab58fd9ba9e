/* The comparison, in the order safe, valid, better, worth it: what makes it invalid is found before any difference
 * is looked at, and nothing after can make it valid. Side 0 is before, 1 after; sides from 2 on are history and
 * never judged. */
#include "judge/compare.h"
#include "base/error.h"
#include "base/statistics.h"
#include "judge/day_opinion.h"
#include <math.h>
#include <string.h>

EW_MESSAGE(breaking_in, "judge.breaking-in", EW_CAUTION,
           "the engine is still breaking in: three like pulls in a row do not agree");
EW_MESSAGE(knocked, "judge.knocked", EW_DANGER,
           "{counts} knock counts, the first near {speed}; go back whatever torque says");
EW_MESSAGE(was_seen, "judge.seen", EW_DANGER, "'{seen}' was seen");
EW_MESSAGE(safe_no, "judge.safe-no", EW_DANGER, "no: {reason}");
EW_MESSAGE(safe_look, "judge.safe-look", EW_DANGER, "look first: {reason}");
EW_MESSAGE(safe_yes, "judge.safe-yes", EW_NOTE, "no objection to it");
EW_MESSAGE(valid_yes, "judge.valid-yes", EW_NOTE, "yes");
EW_MESSAGE(valid_no, "judge.valid-no", EW_CAUTION, "no: {reason}");
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
EW_MESSAGE_MANY(several_changes, "judge.several-changes", EW_CAUTION,
                "{count} thing was changed ({changes}): the verdict is about it",
                "{count} things were changed at once ({changes}): the verdict is about all of them "
                "together");
EW_MESSAGE(on_purpose, "judge.on-purpose", EW_CAUTION,
           "asked on purpose although {differences}: whatever makes the difference, it is not the "
           "change alone");
EW_MESSAGE(history_unlike, "judge.history-unlike", EW_CAUTION,
           "a pull of the history is not like the first of its group and is left out: {reason}");
EW_MESSAGE(band_rough, "judge.band-rough", EW_NOTE,
           "the band around the curve is rough: it rests on few like pulls");
EW_MESSAGE(blocks, "judge.blocks", EW_CAUTION,
           "all of one side ran before the other: drift cannot be told from the change, and the "
           "interval is wider for it; run A B A B next time");
EW_MESSAGE(pair_drift, "judge.pair-drift", EW_CAUTION,
           "one pull a side, so drift cannot be seen: the interval is wider for it");
EW_MESSAGE(rough_today, "judge.rough-today", EW_CAUTION,
           "today scatters more than earlier like pulls: today's scatter is used");
EW_MESSAGE(base_moved, "judge.base-moved", EW_CAUTION,
           "A moved by {change} between its first and last pull: the base line is not steady");
EW_MESSAGE(
    borrowed, "judge.history-borrowed", EW_CAUTION,
    "no earlier like pulls to learn from ({level}): a starting figure was added to the spread of "
    "the level below");
EW_MESSAGE(pair_assumed, "judge.pair-assumed", EW_CAUTION,
           "one pull a side: today is assumed to repeat as earlier like pulls did ({spread}), and "
           "nothing today can show it");
EW_MESSAGE(look_again, "judge.look", EW_CAUTION,
           "look {look} at this pair: the {confidence} interval is used");
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

static void warn(struct ew_comparison *c, ew_message *message) {
  ew_messages_add(c->warnings, message);
}

void ew_comparison_free(struct ew_comparison *c) {
  if (!c)
    return;
  ew_message *all[] = {c->safe, c->valid, c->better, c->worth, c->invalid, c->danger};
  for (gsize i = 0; i < G_N_ELEMENTS(all); i++)
    ew_message_free(all[i]);
  g_free(c->next_order);
  g_free(c->speed_rpm);
  ew_band_clear(&c->band);
  ew_day_opinion_free(c->day);
  g_ptr_array_unref(c->warnings);
  g_free(c);
}

/* The band that every pull reaches, from the method's shares of the common top speed. */
static gboolean settle_range(const struct ew_compared_pull *pulls, gsize n,
                             const struct ew_compare_options *o, struct ew_comparison *c,
                             GError **error) {
  double low = 0, top = INFINITY;
  for (gsize i = 0; i < n; i++)
    if (pulls[i].side < 2) {
      const struct ew_curve *curve = pulls[i].curve;
      low = fmax(low, curve->speed_rpm[0]);
      top = fmin(top, curve->speed_rpm[curve->points - 1]);
    }
  const struct ew_method *method = &pulls[0].curve->method;
  c->band_low_rpm = isnan(o->band_low_rpm) ? fmax(method->band_low * top, low) : o->band_low_rpm;
  c->band_high_rpm = isnan(o->band_high_rpm) ? method->band_high * top : o->band_high_rpm;
  if (c->band_low_rpm < low || c->band_high_rpm > top || c->band_high_rpm - c->band_low_rpm < 300)
    return ew_refuse(
        error,
        "the pulls share %#.0f to %#.0f rpm, too little for a band of use of %#.0f to %#.0f rpm",
        low, top, c->band_low_rpm, c->band_high_rpm);
  return TRUE;
}

/* Facts of the pulls of one side; those that the caller knows, else of curve and set-up. */
struct side_facts {
  struct ew_pull_facts *own;
  const struct ew_pull_facts **each;
  gsize count;
};

static struct side_facts facts_of_side(const struct ew_compared_pull *pulls, gsize n, int side) {
  struct side_facts f = {g_new0(struct ew_pull_facts, n), g_new0(const struct ew_pull_facts *, n),
                         0};
  for (gsize i = 0; i < n; i++) {
    if (pulls[i].side != side)
      continue;
    f.own[f.count] = ew_pull_facts_of(pulls[i].curve, pulls[i].setup);
    f.each[f.count] = pulls[i].facts ? pulls[i].facts : &f.own[f.count];
    f.count++;
  }
  return f;
}

static void side_facts_clear(struct side_facts *f) {
  g_free(f->own);
  g_free(f->each);
}

/* Are the sides comparable? */
static struct ew_alike *ask_gate(const struct ew_compared_pull *pulls, gsize n,
                                 const struct ew_compare_options *o) {
  struct side_facts a = facts_of_side(pulls, n, 0), b = facts_of_side(pulls, n, 1);
  struct ew_alike *alike =
      ew_comparable(a.each, a.count, b.each, b.count, EW_ALIKE_QUESTION, o->despite);
  side_facts_clear(&a);
  side_facts_clear(&b);
  return alike;
}

/* What speaks against side B whatever torque says; *look: somebody has to look first. NULL: nothing. */
static ew_message *find_unsafe(const struct ew_compared_pull *pulls, gsize n,
                               const struct ew_compare_options *o, gboolean *look) {
  *look = TRUE;
  if (o->look_first)
    return ew_message_copy(o->look_first);
  for (gsize i = 0; i < n; i++) {
    if (pulls[i].side != 1)
      continue;
    if (pulls[i].curve->knock_count >= 3) { /* not known: FALSE */
      *look = FALSE;
      return ew_message(
          &knocked, ew_say_count("counts", lround(pulls[i].curve->knock_count)),
          ew_say_quantity("speed", EW_KIND_ROTATIONAL_SPEED, pulls[i].curve->knock_near_rpm, 0));
    }
    if (pulls[i].setup && pulls[i].setup->seen && *pulls[i].setup->seen)
      return ew_message(&was_seen, ew_say_text("seen", pulls[i].setup->seen));
  }
  return NULL;
}

static void settle_safety(const struct ew_compared_pull *pulls, gsize n,
                          const struct ew_compare_options *o, struct ew_comparison *c) {
  gboolean look;
  g_autoptr(ew_message) found = find_unsafe(pulls, n, o, &look);
  c->unsafe = found != NULL;
  c->safe = found ? ew_message(look ? &safe_look : &safe_no, ew_say_message("reason", found))
                  : ew_message_plain(&safe_yes);
  if (found)
    c->danger = look ? ew_message_copy(c->safe) : g_steal_pointer(&found);
}

static void warn_alike(const struct ew_alike *alike, struct ew_comparison *c) {
  if (alike->despite->len)
    warn(c, ew_message(&on_purpose, ew_say_messages("differences", alike->despite)));
  ew_messages_copy(alike->widenings, c->warnings);
  if (alike->changes->len >= 2)
    warn(c, ew_message(&several_changes, ew_say_count("count", alike->changes->len),
                       ew_say_messages("changes", alike->changes)));
}

/* A pull of a history group that is not like the first of it says nothing of how pulls repeat. */
static gboolean is_like_its_group(const struct ew_compared_pull *pulls, gsize n, gsize which,
                                  struct ew_comparison *c) {
  gsize first = 0;
  while (pulls[first].side != pulls[which].side)
    first++;
  struct ew_pull_facts own[2] = {ew_pull_facts_of(pulls[first].curve, pulls[first].setup),
                                 ew_pull_facts_of(pulls[which].curve, pulls[which].setup)};
  g_autoptr(ew_message) reason = NULL;
  g_assert(first <= which && which < n);
  if (ew_is_alike(pulls[first].facts ? pulls[first].facts : &own[0],
                  pulls[which].facts ? pulls[which].facts : &own[1], EW_ALIKE_REPEAT, 0, &reason))
    return TRUE;
  warn(c, ew_message(&history_unlike, ew_say_message("reason", reason)));
  return FALSE;
}

/* History: as given, or pooled within the groups of side 2 and above. */
static struct ew_spread history_of(const struct ew_compared_pull *pulls, gsize n,
                                   const struct ew_compare_options *o, struct ew_comparison *c) {
  if (o->history)
    return *o->history;
  g_autofree double *value = g_new(double, n);
  g_autofree int *group = g_new(int, n);
  gsize count = 0;
  for (gsize i = 0; i < n; i++) {
    double mean = pulls[i].side >= 2 && is_like_its_group(pulls, n, i, c)
                      ? ew_curve_band_log(pulls[i].curve, c->band_low_rpm, c->band_high_rpm)
                      : (double)NAN;
    if (isnan(mean))
      continue;
    value[count] = mean;
    group[count++] = pulls[i].side;
  }
  return ew_pooled_spread(value, group, NULL, count, FALSE);
}

static gsize gather_values(const struct ew_compared_pull *pulls, gsize n, struct ew_comparison *c,
                           struct ew_value *values) {
  gsize count = 0;
  double sum[2] = {0, 0};
  for (gsize i = 0; i < n; i++)
    if (pulls[i].side < 2) {
      double mean = ew_curve_band_log(pulls[i].curve, c->band_low_rpm, c->band_high_rpm);
      values[count++] = (struct ew_value){pulls[i].side, pulls[i].position, mean};
      sum[pulls[i].side] += mean;
      pulls[i].side ? c->n_b++ : c->n_a++;
    }
  for (gsize i = 0; i + 1 < count; i++) /* by position */
    for (gsize j = i + 1; j < count; j++)
      if (values[j].position < values[i].position) {
        struct ew_value swap = values[i];
        values[i] = values[j];
        values[j] = swap;
      }
  c->mean_a_n_m = exp(sum[0] / c->n_a);
  c->mean_b_n_m = exp(sum[1] / c->n_b);
  return count;
}

static void draw_band(const struct ew_compared_pull *pulls, gsize n, struct ew_comparison *c,
                      const struct ew_difference *d) {
  double step = 100;
  c->points = (gsize)((c->band_high_rpm - c->band_low_rpm) / step) + 1;
  while (c->points > 60) {
    step *= 2;
    c->points = (gsize)((c->band_high_rpm - c->band_low_rpm) / step) + 1;
  }
  c->speed_rpm = g_new(double, c->points);
  for (gsize j = 0; j < c->points; j++)
    c->speed_rpm[j] = c->band_low_rpm + step * (double)j;
  g_autofree double *logs = g_new(double, n * c->points);
  g_autofree int *group = g_new(int, n);
  gsize curves = 0;
  double noise = 0;
  for (gsize i = 0; i < n; i++) {
    gboolean whole = TRUE;
    for (gsize j = 0; j < c->points; j++) {
      double torque = ew_curve_at(pulls[i].curve, pulls[i].curve->torque_n_m, c->speed_rpm[j]);
      double drift = pulls[i].side < 2 ? d->slope * pulls[i].position : 0;
      logs[curves * c->points + j] = log(torque) - drift;
      whole &= torque > 0;
    }
    if (!whole)
      continue;
    const struct ew_curve *curve = pulls[i].curve;
    double se = ew_curve_at(curve, curve->torque_se_n_m, c->speed_rpm[c->points / 2]);
    noise += isnan(se) ? 0.003 : se / exp(logs[curves * c->points + c->points / 2]);
    group[curves++] = pulls[i].side;
  }
  struct ew_band_input input = {.points = c->points,
                                .speed_rpm = c->speed_rpm,
                                .half_width_rpm = pulls[0].curve->method.half_width_rpm,
                                .curves = curves,
                                .log_torque = logs,
                                .group = group,
                                .noise_relative = fmax(noise / (double)MAX(curves, 1), 1e-4),
                                .scale_freedom = d->freedom,
                                .wide = c->n_a == 1 && c->n_b == 1};
  const struct ew_message_kind *why = NULL;
  if (!ew_band(&input, &c->band, &why))
    warn(c, ew_message_plain(why));
  else {
    /* drift and stops widen the headline beyond its spread; the curve as much */
    double own = d->sd * d->sd * (1.0 / c->n_a + 1.0 / c->n_b);
    double wider = own > 0 && d->variance > own ? sqrt(d->variance / own) : 1;
    for (gsize j = 0; j < c->points; j++)
      c->band.half_width[j] *= wider;
  }
  if (c->band.half_width && c->band.rough)
    warn(c, ew_message_plain(&band_rough));
}

/* The order of further pulls: strictly alternate, beginning with the side that did not run last. */
static char *order_of_next(const struct ew_value *values, gsize n, int each) {
  GString *order = g_string_new(NULL);
  int side = values[n - 1].side;
  for (int i = 0; i < 2 * each && i < 8; i++) {
    side = 1 - side;
    g_string_append_printf(order, "%s%c", i ? " " : "", side ? 'B' : 'A');
  }
  if (2 * each > 8)
    g_string_append(order, " ...");
  return g_string_free(order, FALSE);
}

static void settle_cost(struct ew_comparison *c, const struct ew_compared_pull *pulls, gsize n,
                        const struct ew_compare_options *o) {
  c->cost_minutes = c->pulls_needed * (isnan(o->minutes_a_pull) ? 3.5 : o->minutes_a_pull);
  c->cost_litres = c->pulls_needed * o->litres_a_pull;
  const struct ew_curve *curve = pulls[n - 1].curve;
  double rate = curve->conditions.acceleration_rpm_s;
  c->cost_seconds_high = rate > 0 ? c->pulls_needed * 0.07 * curve->high_rpm / rate : (double)NAN;
}

static ew_message *better_of(const struct ew_comparison *c, const struct ew_decision *decision) {
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

static const struct ew_message_kind *worth_of(const struct ew_comparison *c) {
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

static void warn_method(struct ew_comparison *c, const struct ew_difference *d,
                        const struct ew_compare_options *o) {
  if (d->order == EW_ORDER_BLOCKS)
    warn(c, ew_message_plain(&blocks));
  if (d->order == EW_ORDER_PAIR)
    warn(c, ew_message_plain(&pair_drift));
  if (d->rough_today)
    warn(c, ew_message_plain(&rough_today));
  if (!isnan(d->first_to_last) && d->sd > 0 && fabs(d->first_to_last) > 2.8 * d->sd)
    warn(c, ew_message(&base_moved, ew_say_share_change("change", d->first_to_last, 1)));
  if (c->history_borrowed)
    warn(c, ew_message(&borrowed, ew_say_word("level", ew_level_words[o->level])));
  if (c->n_a == 1 && c->n_b == 1 && d->freedom > 0)
    warn(c, ew_message(&pair_assumed, ew_say_share("spread", d->sd, 2)));
}

struct ew_comparison *ew_compare(const struct ew_compared_pull *pulls, gsize n,
                                 const struct ew_compare_options *o, GError **error) {
  struct ew_comparison *c = g_new0(struct ew_comparison, 1);
  c->warnings = ew_messages_new();
  c->margin = o->margin;
  c->level = o->level;
  c->difference = c->low = c->high = c->cost_litres = NAN;
  g_autofree struct ew_value *values = g_new(struct ew_value, n + 1);
  if (!settle_range(pulls, n, o, c, error)) {
    ew_comparison_free(c);
    return NULL;
  }
  gsize count = gather_values(pulls, n, c, values);
  g_autoptr(ew_alike) alike = ask_gate(pulls, n, o);
  ew_message *invalid = alike->reasons->len ? ew_message_copy(alike->reasons->pdata[0]) : NULL;
  if (!invalid && o->breaking_in)
    invalid = ew_message_plain(&breaking_in);
  c->invalid = invalid;
  settle_safety(pulls, n, o, c);
  warn_alike(alike, c);
  struct ew_spread history = history_of(pulls, n, o, c);
  c->history_borrowed = history.borrowed;
  struct ew_difference_options options = {.drift_mean = o->drift_mean,
                                          .drift_sd = o->drift_sd,
                                          .added_variance = alike->added_variance,
                                          .stop_between = o->level > EW_LEVEL_CONSECUTIVE,
                                          .within = o->consecutive ? *o->consecutive
                                                                   : (struct ew_spread){0}};
  struct ew_difference d = ew_difference(values, count, history, &options);
  int looks = o->looks_counted && o->looks_before == 0 ? EW_FIRST_OF_SEVERAL : o->looks_before;
  struct ew_decision decision = ew_decide(&d, o->margin > 0 ? log1p(o->margin) : 0, looks);
  c->verdict = invalid ? EW_VERDICT_NOT_COMPARABLE : decision.verdict;
  c->real_but_small = !invalid && decision.real_but_small;
  c->difference = expm1(d.difference);
  c->low = isfinite(decision.low) ? expm1(decision.low) : (double)NAN;
  c->high = isfinite(decision.high) ? expm1(decision.high) : (double)NAN;
  c->confidence = 1 - decision.alpha;
  c->sd = d.sd;
  c->sd_freedom = d.sd_freedom;
  c->freedom = d.freedom;
  c->smallest_margin = ew_smallest_margin(history, c->n_a, c->n_b);
  if (isnan(c->smallest_margin))
    c->smallest_margin = ew_smallest_margin_today(&d);
  c->valid = invalid ? ew_message(&valid_no, ew_say_message("reason", invalid))
                     : ew_message_plain(&valid_yes);
  if (c->verdict == EW_VERDICT_UNDECIDED) {
    int each = ew_pulls_needed(&d, log1p(o->margin));
    if (each == 0 && !(d.freedom > 0))
      each = 2; /* with two a side there is something to reckon with */
    c->pulls_needed = 2 * each;
    if (each)
      c->next_order = order_of_next(values, count, each);
    settle_cost(c, pulls, n, o);
  }
  if (o->looks_before > 0)
    warn(c, ew_message(&look_again, ew_say_count("look", o->looks_before + 1),
                       ew_say_share("confidence", c->confidence, 1)));
  warn_method(c, &d, o);
  c->better = better_of(c, &decision);
  c->worth = ew_message_plain(worth_of(c));
  draw_band(pulls, n, c, &d);
  return c;
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
  ew_message_write_member(c->better, "better", EW_UNITS_SI, json);
  ew_message_write_member(c->worth, "worth_it", EW_UNITS_SI, json);
  if (c->band.half_width) {
    ew_json_open(json, "curve");
    ew_json_numbers(json, "speed_rpm", c->speed_rpm, c->points);
    ew_json_numbers(json, "relative_difference", c->band.difference, c->points);
    ew_json_numbers(json, "relative_half_width", c->band.half_width, c->points);
    ew_json_close(json);
  }
  if (c->day) {
    ew_json_open(json, "whole_day");
    ew_day_opinion_write_json(c->day, json);
    ew_json_close(json);
  } else
    ew_json_text(json, "whole_day", NULL);
  ew_messages_write_json(c->warnings, "warnings", EW_UNITS_SI, json);
}
