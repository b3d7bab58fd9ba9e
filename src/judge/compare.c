/* The comparison, in the order safe, valid, better, worth it: what makes it invalid is found before any difference
 * is looked at, and nothing after can make it valid. Side 0 is before, 1 after; sides from 2 on are history and
 * never judged. */
#include "judge/compare.h"
#include "base/words.h"
#include "base/error.h"
#include "base/number.h"
#include "base/statistics.h"
#include <math.h>
#include <string.h>

static void warn(struct ew_comparison *c, const char *format, ...) G_GNUC_PRINTF(2, 3);
static void warn(struct ew_comparison *c, const char *format, ...) {
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *text = ew_words_v(format, arguments);
  ew_messages_add(c->warnings, ew_message_of_sentence(text));
  va_end(arguments);
}

void ew_comparison_free(struct ew_comparison *c) {
  if (!c)
    return;
  g_free(c->safe);
  g_free(c->valid);
  g_free(c->better);
  g_free(c->worth);
  g_free(c->next_order);
  g_free(c->speed_rpm);
  ew_band_clear(&c->band);
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
        error, "the pulls share %.0f to %.0f rpm, too little for a band of use of %.0f to %.0f rpm",
        low, top, c->band_low_rpm, c->band_high_rpm);
  return TRUE;
}

/* One row of the start window: what is compared, its tolerance, and the spread that a difference beyond
 * it may bring (relative, a unit). Tolerances and spreads: common practice, no source. */
static const struct window {
  const char *what, *unit;
  gsize offset;
  double tolerance, spread;
} windows[] = {
    {"oil at the start", "K", offsetof(struct ew_conditions, oil_start_k), 3, 0.0005},
    {"coolant at the start", "K", offsetof(struct ew_conditions, coolant_start_k), 2, 0.0006},
    {"inlet air", "K", offsetof(struct ew_conditions, temperature_k), 3, 0.0005},
    {"fuel", "K", offsetof(struct ew_conditions, fuel_k), 5, 0.0003},
    {"rest before the pull", "s", offsetof(struct ew_conditions, rest_s), 60, 0.00002},
};
#define FAR_OUTSIDE 3.0 /* times the tolerance */

static double condition(const struct ew_curve *curve, const struct window *w) {
  return *(const double *)(const void *)((const char *)&curve->conditions + w->offset);
}

static double side_mean(const struct ew_compared_pull *pulls, gsize n, int side,
                        const struct window *w) {
  double sum = 0, count = 0;
  for (gsize i = 0; i < n; i++)
    if (pulls[i].side == side && !isnan(condition(pulls[i].curve, w)))
      sum += condition(pulls[i].curve, w), count++;
  return count ? sum / count : (double)NAN;
}

/* Extra variance of the difference; *far names the first window missed by far. */
static double check_windows(const struct ew_compared_pull *pulls, gsize n, struct ew_comparison *c,
                            char **far) {
  double added = 0;
  for (gsize k = 0; k < G_N_ELEMENTS(windows); k++) {
    const struct window *w = &windows[k];
    double gap = side_mean(pulls, n, 1, w) - side_mean(pulls, n, 0, w);
    if (isnan(gap) || fabs(gap) <= w->tolerance)
      continue;
    double excess = fabs(gap) - w->tolerance;
    added += excess * w->spread * excess * w->spread;
    if (fabs(gap) > FAR_OUTSIDE * w->tolerance && strcmp(w->unit, "s") != 0 && !*far)
      *far = ew_words("%s differs by %+.1f %s between the sides (window ±%.0f %s)", w->what, gap,
                      w->unit, w->tolerance, w->unit);
    else
      warn(c, "%s differs by %+.1f %s (window ±%.0f): the interval is widened", w->what, gap,
           w->unit, w->tolerance);
  }
  return added;
}

static char *find_invalid(const struct ew_compared_pull *pulls, gsize n) {
  const struct ew_curve *first = NULL;
  for (gsize i = 0; i < n; i++) {
    const struct ew_curve *curve = pulls[i].curve;
    if (pulls[i].side >= 2)
      continue;
    if (!first)
      first = curve;
    if (curve->method.standard != first->method.standard ||
        curve->method.engine_inertia != first->method.engine_inertia)
      return g_strdup("the curves were corrected by different factors or inertias");
    if (curve->kind != first->kind)
      return g_strdup("a sweep is not compared with steady points");
    double a = curve->conditions.acceleration_rpm_s, b = first->conditions.acceleration_rpm_s;
    if (fabs(a - b) > 0.25 * fmax(a, b))
      return ew_words("the accelerations differ: %.0f and %.0f rpm/s", b, a);
    if (curve->conditions.throttle_known && !curve->conditions.full_throttle)
      return g_strdup("a pull never saw full throttle");
  }
  return NULL;
}

static char *find_unsafe(const struct ew_compared_pull *pulls, gsize n,
                         const struct ew_compare_options *o) {
  if (o->look_first)
    return g_strdup_printf("look first: %s", o->look_first);
  for (gsize i = 0; i < n; i++) {
    if (pulls[i].side != 1)
      continue;
    if (pulls[i].curve->knock_count >= 3)
      return ew_words(
          "no: %.0f knock counts, the first near %.0f rpm; go back whatever torque says",
          pulls[i].curve->knock_count, pulls[i].curve->knock_near_rpm);
    if (pulls[i].setup && pulls[i].setup->seen && *pulls[i].setup->seen)
      return g_strdup_printf("look first: '%s' was seen", pulls[i].setup->seen);
  }
  return NULL;
}

static void warn_changes(const struct ew_compared_pull *pulls, gsize n, struct ew_comparison *c) {
  const struct ew_setup *a = NULL, *b = NULL;
  for (gsize i = 0; i < n; i++) {
    if (pulls[i].side == 0 && !a)
      a = pulls[i].setup;
    if (pulls[i].side == 1)
      b = pulls[i].setup;
  }
  if (!a || !b)
    return;
  g_autoptr(GPtrArray) found = ew_setup_changes(a, b);
  g_autoptr(GPtrArray) changes = ew_messages_texts(found, EW_UNITS_SI);
  if (changes->len < 2)
    return;
  g_ptr_array_add(changes, NULL);
  g_autofree char *all = g_strjoinv("; ", (char **)changes->pdata);
  warn(c, "%u things were changed at once (%s): the verdict is about all of them together",
       changes->len - 1, all);
}

/* History: as given, or pooled within the groups of side 2 and above. */
static struct ew_spread history_of(const struct ew_compared_pull *pulls, gsize n,
                                   const struct ew_compare_options *o,
                                   const struct ew_comparison *c) {
  if (o->history)
    return *o->history;
  g_autofree double *value = g_new(double, n);
  g_autofree int *group = g_new(int, n);
  gsize count = 0;
  for (gsize i = 0; i < n; i++) {
    double mean = pulls[i].side >= 2
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
  const char *why = NULL;
  if (!ew_band(&input, &c->band, &why))
    warn(c, "%s", why);
  else {
    /* drift and stops widen the headline beyond its spread; the curve as much */
    double own = d->sd * d->sd * (1.0 / c->n_a + 1.0 / c->n_b);
    double wider = own > 0 && d->variance > own ? sqrt(d->variance / own) : 1;
    for (gsize j = 0; j < c->points; j++)
      c->band.half_width[j] *= wider;
  }
  if (c->band.half_width && c->band.rough)
    warn(c, "the band about the curve is rough: %.0f degrees of freedom", c->band.freedom);
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

static char *percent(double value) {
  char buffer[EW_NUMBER_SIZE];
  ew_number_fixed(100 * value, 1, buffer);
  return g_strdup_printf("%s%s", value >= 0.0005 ? "+" : "", buffer);
}

static void answer(struct ew_comparison *c, const struct ew_decision *decision) {
  g_autofree char *difference = percent(c->difference), *low = percent(c->low),
                  *high = percent(c->high);
  g_autofree char *margin = percent(c->margin);
  g_free(c->better);
  g_free(c->worth);
  switch (c->verdict) {
  case EW_VERDICT_GAIN:
  case EW_VERDICT_LOSS:
    c->better =
        g_strdup_printf("%s: %s %% (%s to %s)", c->verdict == EW_VERDICT_GAIN ? "yes" : "no, worse",
                        difference, low, high);
    c->worth = g_strdup(c->verdict == EW_VERDICT_LOSS ? "no: go back"
                        : c->low > c->margin
                            ? "more than the margin for certain"
                            : "perhaps less than the margin: weigh it against reserve and life");
    break;
  case EW_VERDICT_SAME:
    c->better = g_strdup_printf("the same within %s %%%s", margin + 1,
                                c->real_but_small ? "; a real but small difference" : "");
    c->worth = g_strdup("not for torque: keep what has more reserve");
    break;
  case EW_VERDICT_UNDECIDED:
    c->better = g_strdup_printf("can't tell yet: %s", decision->reason);
    c->worth = g_strdup("not asked before the difference is known");
    break;
  default:
    c->better = g_strdup("not asked: the pulls are not comparable");
    c->worth = g_strdup("not asked");
  }
}

static void warn_method(struct ew_comparison *c, const struct ew_difference *d,
                        const struct ew_compare_options *o) {
  if (d->order == EW_ORDER_BLOCKS)
    warn(c, "all of one side ran before the other: drift cannot be told from the change, and the "
            "interval is "
            "widened for it; run A B A B next time");
  if (d->order == EW_ORDER_PAIR)
    warn(c, "one pull a side, so drift cannot be seen: the interval is widened for it");
  if (d->rough_today)
    warn(c, "today is rougher than your history: today's scatter is used");
  if (!isnan(d->first_to_last) && d->sd > 0 && fabs(d->first_to_last) > 2.8 * d->sd)
    warn(c, "A moved by %.1f %% between its first and last pull: the base line is not steady",
         100 * d->first_to_last);
  if (c->history_borrowed)
    warn(c,
         "no history at the level '%s': a starting figure was added to the spread of the level "
         "below",
         ew_level_names[o->level]);
  if (c->n_a == 1 && c->n_b == 1 && d->freedom > 0)
    warn(c,
         "one pull a side: today is assumed to repeat like your history (%.2f %%), and nothing "
         "today can show it",
         100 * d->sd);
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
  g_autofree char *far = NULL;
  double added = check_windows(pulls, n, c, &far);
  char *invalid = find_invalid(pulls, n);
  if (!invalid && far)
    invalid = g_steal_pointer(&far);
  if (!invalid && o->breaking_in)
    invalid = g_strdup("the engine is still breaking in: three like pulls in a row do not agree");
  c->safe = find_unsafe(pulls, n, o);
  c->unsafe = c->safe != NULL;
  if (!c->safe)
    c->safe = g_strdup("nothing found against it");
  warn_changes(pulls, n, c);
  struct ew_spread history = history_of(pulls, n, o, c);
  c->history_borrowed = history.borrowed;
  struct ew_difference_options options = {.drift_mean = o->drift_mean,
                                          .drift_sd = o->drift_sd,
                                          .added_variance = added,
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
  c->valid = invalid ? g_strdup_printf("no: %s", invalid) : g_strdup("yes");
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
    warn(c, "look number %d at this pair: the %.1f %% interval is used", o->looks_before + 1,
         100 * c->confidence);
  warn_method(c, &d, o);
  answer(c, &decision);
  draw_band(pulls, n, c, &d);
  g_free(invalid);
  return c;
}

char *ew_comparison_line(const struct ew_comparison *c) {
  g_autofree char *difference = percent(c->difference), *low = percent(c->low),
                  *high = percent(c->high);
  g_autofree char *from = ew_number_thousands(c->band_low_rpm),
                  *to = ew_number_thousands(c->band_high_rpm);
  GString *line = g_string_new(NULL);
  if (isfinite(c->low) && isfinite(c->high) && c->verdict != EW_VERDICT_NOT_COMPARABLE)
    g_string_append_printf(line, "%s %% (%s to %s), %s to %s: ", difference, low, high, from, to);
  else
    g_string_append_printf(line, "%s %%, %s to %s: ", difference, from, to);
  g_string_append(line, ew_verdict_words[c->verdict]);
  if (c->verdict == EW_VERDICT_NOT_COMPARABLE)
    g_string_append_printf(line, "; %s", c->valid + 4);
  if (c->unsafe) { /* whatever torque says: and no more pulls of it are proposed */
    g_string_append_printf(line, ", and not safe: %s",
                           g_str_has_prefix(c->safe, "no: ") ? c->safe + 4 : c->safe);
    return g_string_free(line, FALSE);
  }
  if (c->verdict == EW_VERDICT_UNDECIDED && c->pulls_needed)
    ew_words_append(line,
                    c->freedom > 0
                        ? "; %d more pulls would, %s; %.0f min"
                        : "; %d more pulls first, to learn how this cell repeats: %s; %.0f min",
                    c->pulls_needed, c->next_order, c->cost_minutes);
  else if (c->verdict == EW_VERDICT_UNDECIDED && isfinite(c->smallest_margin))
    ew_words_append(line,
                    "; more than 30 pulls would be needed: smallest difference that can be settled "
                    "is about %.1f %%",
                    100 * c->smallest_margin);
  if (!isnan(c->cost_litres) && c->pulls_needed)
    ew_words_append(line, ", about %.1f l", c->cost_litres);
  if (c->pulls_needed && c->cost_seconds_high > 0)
    ew_words_append(line, ", %.0f s near the limit", c->cost_seconds_high);
  return g_string_free(line, FALSE);
}

void ew_comparison_write_json(const struct ew_comparison *c, struct ew_json *json) {
  g_autofree char *line = ew_comparison_line(c);
  double interval[2] = {c->low, c->high};
  ew_json_text(json, "verdict", ew_verdict_keys[c->verdict]);
  ew_json_text(json, "says", line);
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
  ew_json_text(json, "safe", c->safe);
  ew_json_text(json, "valid", c->valid);
  ew_json_text(json, "better", c->better);
  ew_json_text(json, "worth_it", c->worth);
  if (c->band.half_width) {
    ew_json_open(json, "curve");
    ew_json_numbers(json, "speed_rpm", c->speed_rpm, c->points);
    ew_json_numbers(json, "relative_difference", c->band.difference, c->points);
    ew_json_numbers(json, "relative_half_width", c->band.half_width, c->points);
    ew_json_close(json);
  }
  ew_messages_write_json(c->warnings, "warnings", EW_UNITS_SI, json);
}
