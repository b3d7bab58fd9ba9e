/* The comparison, in the order safe, valid, better, worth it: what makes it invalid is found before any difference
 * is looked at, and nothing after can make it valid. Side 0 is before, 1 after; sides from 2 on are history and
 * never judged. */
#include "judge/compare_parts.h"
#include "base/as_pointer.h"
#include "base/error.h"
#include "base/statistics.h"
#include "judge/day_opinion.h"
#include "judge/next.h"
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
EW_MESSAGE_MANY(several_changes, "judge.several-changes", EW_CAUTION,
                "{count} thing was changed ({changes}): the verdict is about it",
                "{count} things were changed at once ({changes}): the verdict is about all of them "
                "together");
EW_MESSAGE(on_purpose, "judge.on-purpose", EW_CAUTION,
           "asked on purpose although {differences}: whatever makes the difference, it is not the "
           "change alone");
EW_MESSAGE(history_unlike, "judge.history-unlike", EW_CAUTION,
           "a pull of the history is not like the first of its group and is left out: {reason}");
EW_MESSAGE(blocks, "judge.blocks", EW_CAUTION,
           "all of one side ran before the other: drift cannot be told from the change, and the "
           "interval is wider for it; run A B A B next time");
EW_MESSAGE(pair_drift, "judge.pair-drift", EW_CAUTION,
           "one pull a side, so drift cannot be seen: the interval is wider for it");
EW_MESSAGE(rough_today, "judge.rough-today", EW_CAUTION,
           "today scatters more than earlier like pulls: today's scatter is used");
EW_MESSAGE(drift_today, "judge.drift-today", EW_CAUTION,
           "today drifts by {slope} a pull, more than earlier days: today's own pulls tell it");
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
  ew_next_free(c->next);
  g_free(c->weight);
  g_ptr_array_unref(c->notes);
  g_ptr_array_unref(c->warnings);
  g_free(c);
}

EW_MESSAGE(by_use, "judge.by-use", EW_NOTE,
           "speeds count by the time spent at each: {share} of it lies within what every pull "
           "reaches. A pull is taken to repeat as its plain mean does");

/* Where it is used, within what every pull reaches; refused where most of the time lies outside. */
static gboolean use_range(const struct ew_speed_use *use, double low, double top,
                          struct ew_comparison *c, GError **error) {
  double all = ew_speed_use_between(use, 0, EW_SPEED_USE_STEPS * EW_SPEED_USE_RPM),
         inside = ew_speed_use_between(use, low, top);
  c->band_low_rpm = low;
  c->band_high_rpm = top;
  if (!(inside >= EW_SPEED_USE_LEAST * all && all > 0) ||
      !ew_speed_use_range(use, &c->band_low_rpm, &c->band_high_rpm))
    return ew_refuse(error,
                     "the pulls share %#.0f to %#.0f rpm, and only %.0f %% of the time is spent "
                     "there: name pulls that reach further",
                     low, top, all > 0 ? 100 * inside / all : 0);
  ew_messages_add(c->notes, ew_message(&by_use, ew_say_share("share", inside / all, 0)));
  return TRUE;
}

/* The headline of a pull: mean of the logarithm of its torque. */
static double mean_of(const struct ew_curve *curve, const struct ew_compare_options *o,
                      const struct ew_comparison *c) {
  return o->use ? ew_speed_use_log(o->use, curve, c->band_low_rpm, c->band_high_rpm)
                : ew_curve_band_log(curve, c->band_low_rpm, c->band_high_rpm);
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
  if (o->use && !use_range(o->use, low, top, c, error))
    return FALSE;
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
                      ? mean_of(pulls[i].curve, o, c)
                      : (double)NAN;
    if (isnan(mean))
      continue;
    value[count] = mean;
    group[count++] = pulls[i].side;
  }
  return ew_pooled_spread(value, group, NULL, count, FALSE);
}

/* Pulls of the sides in the order they ran, with what is known of their start. */
struct gathered {
  struct ew_value *values;
  double (*conditions)[EW_DAY_COVARIATES];
  gsize *which;  /* of the pulls */
  double *shift; /* of each pull, sides or not: what its conditions did */
  gsize count;
};

static void gathered_clear(struct gathered *g) {
  g_free(g->values);
  g_free(g->conditions);
  g_free(g->which);
  g_free(g->shift);
}

static int by_position(const void *a, const void *b, void *user) {
  const struct ew_compared_pull *pulls = user;
  double x = pulls[*(const gsize *)a].position, y = pulls[*(const gsize *)b].position;
  return (x > y) - (x < y);
}

static struct gathered gather_values(const struct ew_compared_pull *pulls, gsize n,
                                     const struct ew_compare_options *o, struct ew_comparison *c) {
  struct gathered g = {g_new(struct ew_value, n + 1), g_malloc_n(n + 1, sizeof *g.conditions),
                       g_new(gsize, n + 1), g_new0(double, n + 1), 0};
  double sum[2] = {0, 0};
  for (gsize i = 0; i < n; i++)
    if (pulls[i].side < 2)
      g.which[g.count++] = i;
  g_qsort_with_data(g.which, (int)g.count, sizeof *g.which, by_position, ew_as_pointer(pulls));
  for (gsize i = 0; i < g.count; i++) {
    const struct ew_compared_pull *p = &pulls[g.which[i]];
    double mean = mean_of(p->curve, o, c);
    g.values[i] = (struct ew_value){p->side, p->position, mean};
    ew_effects_conditions(p->curve, g.conditions[i]);
    sum[p->side] += mean;
    p->side ? c->n_b++ : c->n_a++;
  }
  c->mean_a_n_m = exp(sum[0] / c->n_a);
  c->mean_b_n_m = exp(sum[1] / c->n_b);
  return g;
}

/* What conditions did is taken out of the values, with its uncertainty; of a difference that is refused nothing is. */
static void take_conditions_out(struct gathered *g, const struct ew_compare_options *o,
                                struct ew_spread history, struct ew_difference_options *options,
                                struct ew_comparison *c) {
  if (!o->effects || c->invalid)
    return;
  g_autofree struct ew_value *before = g_memdup2(g->values, g->count * sizeof *before);
  ew_effects_apply(o->effects, (const double(*)[EW_DAY_COVARIATES])g->conditions, g->values,
                   g->count, history, options, &c->conditions);
  for (gsize i = 0; i < g->count; i++)
    g->shift[g->which[i]] = before[i].log_mean - g->values[i].log_mean;
  c->effects_pulls = o->effects->pulls;
}

static void keep_weights(const struct gathered *g, const struct ew_compared_pull *pulls,
                         const struct ew_difference *d, struct ew_comparison *c) {
  if (c->invalid) /* of a refused difference nothing is weighed */
    return;
  g_autofree double *weight = g_new(double, g->count + 1);
  ew_difference_weights(g->values, g->count, d, weight);
  c->weights = g->count;
  c->weight = g_new(struct ew_weight, g->count + 1);
  for (gsize i = 0; i < g->count; i++)
    c->weight[i] = (struct ew_weight){g->values[i].side, pulls[g->which[i]].id,
                                      g->values[i].position, weight[i]};
}

/* The order of further pulls: strictly alternate, beginning with the side that did not run last; two pulls a run where the engine is
 * stopped for each change, and a run that has had one pull is given its second first. */
static char *order_of_next(const struct ew_value *values, gsize n, int each, gboolean stops) {
  g_assert(n > 0);
  GString *order = g_string_new(NULL);
  int side = values[n - 1].side, run = 0, left[2] = {each, each};
  for (gsize i = n; i-- > 0 && values[i].side == side;)
    run++;
  for (int i = 0; (left[0] || left[1]) && i < 8; i++) {
    if (!left[side] || !stops || (run >= 2 && left[1 - side]))
      side = left[1 - side] ? 1 - side : side, run = 0;
    run++, left[side]--;
    g_string_append_printf(order, "%s%c", i ? " " : "", side ? 'B' : 'A');
  }
  if (2 * each > 8)
    g_string_append(order, " ...");
  return g_string_free(order, FALSE);
}

static void settle_cost(struct ew_comparison *c, const struct ew_compared_pull *pulls, gsize n,
                        const struct ew_compare_options *o) {
  g_assert(n > 0);
  c->cost_minutes = c->pulls_needed * (isnan(o->minutes_a_pull) ? 3.5 : o->minutes_a_pull);
  c->cost_litres = c->pulls_needed * o->litres_a_pull;
  const struct ew_curve *curve = pulls[n - 1].curve;
  double rate = curve->conditions.acceleration_rpm_s;
  c->cost_seconds_high = rate > 0 ? c->pulls_needed * 0.07 * curve->high_rpm / rate : (double)NAN;
}

static void warn_method(struct ew_comparison *c, const struct ew_difference *d,
                        const struct ew_compare_options *o) {
  if (d->order == EW_ORDER_BLOCKS)
    warn(c, ew_message_plain(&blocks));
  if (d->order == EW_ORDER_PAIR)
    warn(c, ew_message_plain(&pair_drift));
  if (d->rough_today)
    warn(c, ew_message_plain(&rough_today));
  if (d->drift_today)
    warn(c, ew_message(&drift_today, ew_say_share_change("slope", d->slope, 2)));
  if (!isnan(d->first_to_last) && d->sd > 0 && fabs(d->first_to_last) > 2.8 * d->sd)
    warn(c, ew_message(&base_moved, ew_say_share_change("change", d->first_to_last, 1)));
  if (c->history_borrowed)
    warn(c, ew_message(&borrowed, ew_say_word("level", ew_level_words[o->level])));
  if (c->n_a == 1 && c->n_b == 1 && d->freedom > 0)
    warn(c, ew_message(&pair_assumed, ew_say_share("spread", d->sd, 2)));
}

static struct ew_difference_options difference_options(const struct ew_compare_options *o,
                                                       const struct ew_alike *alike) {
  return (struct ew_difference_options){.drift_mean = o->drift_mean,
                                        .drift_sd = o->drift_sd,
                                        .added_variance = alike->added_variance,
                                        .stop_between = o->level > EW_LEVEL_CONSECUTIVE,
                                        .within = o->consecutive ? *o->consecutive
                                                                 : (struct ew_spread){0}};
}

/* Figures of the answer from the difference and what was decided of it. */
static void settle_figures(struct ew_comparison *c, const struct ew_difference *d,
                           const struct ew_decision *decision, struct ew_spread history) {
  c->verdict = c->invalid ? EW_VERDICT_NOT_COMPARABLE : decision->verdict;
  c->real_but_small = !c->invalid && decision->real_but_small;
  c->difference = expm1(d->difference);
  gboolean known = !c->invalid && isfinite(decision->low) && isfinite(decision->high);
  c->low =
      known ? expm1(decision->low) : (double)NAN; /* of a refusal no interval: none would hold */
  c->high = known ? expm1(decision->high) : (double)NAN;
  c->confidence = 1 - decision->alpha;
  c->sd = d->sd;
  c->sd_freedom = d->sd_freedom;
  c->freedom = d->freedom;
  c->smallest_margin = ew_smallest_margin(history, c->n_a, c->n_b);
  if (isnan(c->smallest_margin))
    c->smallest_margin = ew_smallest_margin_today(d);
}

static void settle_next(struct ew_comparison *c, const struct ew_compared_pull *pulls, gsize n,
                        const struct ew_compare_options *o, const struct gathered *g,
                        const struct ew_difference *d) {
  if (c->verdict != EW_VERDICT_UNDECIDED)
    return;
  int each = ew_pulls_needed(d, log1p(o->margin));
  if (each == 0 && !(d->freedom > 0))
    each = 2; /* with two a side there is something to reckon with */
  c->pulls_needed = 2 * each;
  if (each)
    c->next_order = order_of_next(g->values, g->count, each, o->level > EW_LEVEL_CONSECUTIVE);
  settle_cost(c, pulls, n, o);
}

static void settle_validity(const struct ew_alike *alike, const struct ew_compare_options *o,
                            struct ew_comparison *c) {
  c->may_ask = alike->may_ask;
  c->invalid = alike->reasons->len ? ew_message_copy(alike->reasons->pdata[0])
               : o->breaking_in    ? ew_message_plain(&breaking_in)
                                   : NULL;
  c->valid = c->invalid ? ew_message(&valid_no, ew_say_message("reason", c->invalid))
                        : ew_message_plain(&valid_yes);
}

static void settle(struct ew_comparison *c, const struct ew_compared_pull *pulls, gsize n,
                   const struct ew_compare_options *o) {
  struct gathered g = gather_values(pulls, n, o, c);
  g_autoptr(ew_alike) alike = ask_gate(pulls, n, o);
  settle_validity(alike, o, c);
  settle_safety(pulls, n, o, c);
  warn_alike(alike, c);
  struct ew_spread history = history_of(pulls, n, o, c);
  c->history_borrowed = history.borrowed;
  struct ew_difference_options options = difference_options(o, alike);
  take_conditions_out(&g, o, history, &options, c);
  struct ew_difference d = ew_difference(g.values, g.count, history, &options);
  keep_weights(&g, pulls, &d, c);
  int looks = o->looks_counted && o->looks_before == 0 ? EW_FIRST_OF_SEVERAL : o->looks_before;
  struct ew_decision decision = ew_decide(&d, o->margin > 0 ? log1p(o->margin) : 0, looks);
  settle_figures(c, &d, &decision, history);
  settle_next(c, pulls, n, o, &g, &d);
  if (o->looks_before > 0)
    warn(c, ew_message(&look_again, ew_say_count("look", o->looks_before + 1),
                       ew_say_share("confidence", c->confidence, 1)));
  warn_method(c, &d, o);
  ew_compare_tell_conditions(c);
  c->better = ew_compare_better(c, &decision);
  c->worth = ew_message_plain(ew_compare_worth(c));
  if (!c->invalid)
    ew_compare_band(pulls, n, g.shift, c, &d);
  gathered_clear(&g);
}

struct ew_comparison *ew_compare(const struct ew_compared_pull *pulls, gsize n,
                                 const struct ew_compare_options *o, GError **error) {
  struct ew_comparison *c = g_new0(struct ew_comparison, 1);
  c->warnings = ew_messages_new();
  c->notes = ew_messages_new();
  c->margin = o->margin;
  c->level = o->level;
  c->difference = c->low = c->high = c->cost_litres = NAN;
  if (!settle_range(pulls, n, o, c, error)) {
    ew_comparison_free(c);
    return NULL;
  }
  settle(c, pulls, n, o);
  return c;
}
