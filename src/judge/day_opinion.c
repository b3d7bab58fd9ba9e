/* Steps: 1. earlier days into the model, their evidence about scatter lent in part; 2. today's pulls, any one of which may be wrong
 * (judge/day_answer.h); one of the sides that lies more than three standard deviations from what all others say of it is named,
 * and holds the verdict until its set-up has run again; 3. the difference at the confidence of the plain answer, and its verdict by the
 * same rules: same wins; none before each side ran twice, and gain only after A came back; 4. what the conditions of the sides
 * did. */
#include "judge/day_opinion.h"
#include "judge/day_answer.h"
#include "judge/effects.h"
#include <math.h>
#include <string.h>

#define MISFIT     3.0    /* standard deviations: is said */
#define FAR_APART  2.0    /* standard errors */
#define WORTH_TELL 0.0003 /* relative: what conditions did is told from here on */

EW_MESSAGE(day_says, "judge.day-says", EW_NOTE,
           "all pulls of the day together: {difference} ({low} to {high}), {verdict}");
EW_MESSAGE(day_apart, "judge.day-apart", EW_CAUTION,
           "the pulls of this question tell {plain} and all pulls of the day {day}, more than two "
           "standard errors apart: believe neither before what does not fit is found");
EW_MESSAGE(day_effect, "judge.day-effect", EW_NOTE,
           "{what} {change} on B: {shift} of the difference would come of that, and is taken off");
EW_MESSAGE(
    day_misfit, "judge.day-misfit", EW_CAUTION,
    "{pull} lies {times} standard deviations from what the others say of it: run that set-up "
    "again before anything is said");
EW_MESSAGE(
    day_misfit_again, "judge.day-misfit-again", EW_CAUTION,
    "{pull} lies {times} standard deviations from what the others say of it, and its set-up has "
    "run again since: it is wrong with a chance of {chance}, and counts that much less");
EW_MESSAGE(day_twice, "judge.day-twice", EW_NOTE,
           "one pull of a side today: no answer before it has been run twice");
EW_MESSAGE(day_not_back, "judge.day-not-back", EW_NOTE,
           "A has not come back after B: no gain is claimed before it has");
EW_MESSAGE_MANY(
    day_assumed, "judge.day-assumed", EW_NOTE,
    "from {pulls} pull of today and {earlier} before: one pull scatters by {sd}, the level "
    "moves by {walk} a pull and {jump} at a stop, and drifts by {slope} a pull",
    "from {pulls} pulls of today and {earlier} before: one pull scatters by {sd}, the level "
    "moves by {walk} a pull and {jump} at a stop, and drifts by {slope} a pull");
EW_MESSAGE(day_oil, "judge.day-oil", EW_NOTE, "oil");
EW_MESSAGE(day_inlet, "judge.day-inlet", EW_NOTE, "inlet air");
EW_MESSAGE(day_coolant, "judge.day-coolant", EW_NOTE, "coolant");
EW_MESSAGE(day_humidity, "judge.day-humidity", EW_NOTE, "relative humidity");

static const struct {
  const struct ew_message_kind *word;
  const char *key, *shift_key;
  gboolean is_temperature;
} covariates[EW_DAY_COVARIATES] = {
    [EW_DAY_OIL] = {&day_oil, "oil_difference_k", "oil_relative_shift", TRUE},
    [EW_DAY_INLET] = {&day_inlet, "inlet_difference_k", "inlet_relative_shift", TRUE},
    [EW_DAY_COOLANT] = {&day_coolant, "coolant_difference_k", "coolant_relative_shift", TRUE},
    [EW_DAY_HUMIDITY] = {&day_humidity, "relative_humidity_difference", "humidity_relative_shift",
                         FALSE},
};

void ew_day_opinion_free(struct ew_day_opinion *o) {
  if (!o)
    return;
  ew_message_free(o->says);
  g_ptr_array_unref(o->notes);
  g_free(o);
}

/* What was run today of the sides. */
struct ran {
  guint a, b;
  gboolean back; /* A after the first B */
};

static struct ran what_ran(const struct ew_day_told *pulls, gsize n) {
  struct ran r = {0};
  for (gsize i = 0; i < n; i++) {
    if (!pulls[i].today || !isfinite(pulls[i].pull.log_mean))
      continue;
    r.back |= r.b && pulls[i].pull.setup == 0;
    r.a += pulls[i].pull.setup == 0;
    r.b += pulls[i].pull.setup == 1;
  }
  return r;
}

/* How much of what readings moved by was no scatter of the sensors (judge/effects.h, step 0); groups: of one day, run, set-up and spark. */
static void share_told(const struct ew_day_told *pulls, gsize n, double told[EW_DAY_COVARIATES]) {
  g_autofree struct ew_effects_pull *read = g_new0(struct ew_effects_pull, n + 1);
  int run = 0;
  for (gsize i = 0; i < n; i++) {
    const struct ew_day_pull *p = &pulls[i].pull;
    run += p->rested;
    int spark = isfinite(p->spark_deg) ? (int)lround(CLAMP(p->spark_deg, -100, 100)) : 0;
    read[i] = (struct ew_effects_pull){.day = p->day,
                                       .group = (run * EW_DAY_SETUPS + p->setup) * 256 + spark,
                                       .position = (double)i,
                                       .log_mean = p->log_mean};
    memcpy(read[i].covariate, p->covariate, sizeof read[i].covariate);
  }
  struct ew_effects effects = ew_effects_learn(read, n, 0, 0, 0, NAN);
  memcpy(told, effects.told, sizeof effects.told);
}

/* 1. Of earlier days only that share of the readings counts, lest what conditions do be learned too small. */
static struct ew_day_model *tell_earlier(const struct ew_day_told *pulls, gsize n) {
  struct ew_day_model *m = ew_day_model_new(&(struct ew_day_options){0});
  double told[EW_DAY_COVARIATES];
  gsize earlier = 0;
  while (earlier < n && !pulls[earlier].today)
    earlier++;
  share_told(pulls, earlier, told);
  for (gsize i = 0; i < earlier; i++) {
    struct ew_day_pull pull = pulls[i].pull;
    for (int k = 0; k < EW_DAY_COVARIATES; k++)
      pull.covariate[k] *= told[k]; /* only what it strays from the day's first counts */
    ew_day_model_add(m, &pull);
  }
  ew_day_model_lend_history(m);
  return m;
}

static void tell_misfit(struct ew_day_opinion *o, const struct ew_day_told *told, gsize number,
                        double times, gboolean held, double chance) {
  struct ew_argument pull = told->name ? ew_say_message("pull", told->name)
                                       : ew_say_count("pull", (gint64)number),
                     far = ew_say_figure("times", times, 1);
  ew_messages_add(
      o->notes, held ? ew_message(&day_misfit, pull, far)
                     : ew_message(&day_misfit_again, pull, far, ew_say_share("chance", chance, 0)));
}

static void count_pulls(const struct ew_day_told *pulls, gsize n, struct ew_day_opinion *o) {
  for (gsize i = 0; i < n; i++) {
    gboolean counts = isfinite(pulls[i].pull.log_mean);
    o->days += i == 0 || pulls[i].pull.day != pulls[i - 1].pull.day;
    o->pulls += counts;
    o->pulls_today += counts && pulls[i].today;
  }
}

/* 2. */
static struct ew_day_answer *tell_today(const struct ew_day_model *before,
                                        const struct ew_day_told *pulls, gsize n,
                                        struct ew_day_opinion *o) {
  g_autofree struct ew_day_pull *today = g_new(struct ew_day_pull, n + 1);
  gsize count = 0;
  for (gsize i = 0; i < n; i++)
    if (pulls[i].today)
      today[count++] = pulls[i].pull;
  const struct ew_day_told *told = pulls + (n - count); /* today's come last */
  struct ew_day_answer *answer = ew_day_answer_new(before, today, count);
  gsize repeat = ew_day_answer_repeat(answer);
  if (repeat < count)
    o->misfit_side = told[repeat].pull.setup, o->misfit_pull = told[repeat].id;
  for (gsize i = 0; i < count; i++)
    if (i == repeat || ew_day_answer_apart(answer, i) > MISFIT)
      tell_misfit(o, &told[i], n - count + i + 1, ew_day_answer_apart(answer, i), i == repeat,
                  ew_day_answer_wrong(answer, i));
  return answer;
}

static double side_mean(const struct ew_day_told *pulls, gsize n, int side, int k) {
  double sum = 0, count = 0;
  for (gsize i = 0; i < n; i++)
    if (pulls[i].today && pulls[i].pull.setup == side && isfinite(pulls[i].pull.covariate[k]))
      sum += pulls[i].pull.covariate[k], count++;
  return count ? sum / count : (double)NAN;
}

/* 4. */
static void tell_conditions(const struct ew_day_told *pulls, gsize n,
                            const struct ew_day_belief *belief, struct ew_day_opinion *o) {
  for (int k = 0; k < EW_DAY_COVARIATES; k++) {
    o->change[k] = side_mean(pulls, n, 1, k) - side_mean(pulls, n, 0, k);
    o->shift[k] = isnan(o->change[k]) ? 0 : o->change[k] * belief->effect[k];
    if (!(fabs(o->shift[k]) >= WORTH_TELL))
      continue;
    struct ew_argument change =
        covariates[k].is_temperature
            ? ew_say_change("change", EW_KIND_TEMPERATURE_DIFFERENCE, o->change[k], 1)
            : ew_say_share_change("change", o->change[k] / 100, 0);
    ew_messages_add(o->notes, ew_message(&day_effect, ew_say_word("what", covariates[k].word),
                                         change, ew_say_share_change("shift", o->shift[k], 2)));
  }
}

/* 3. Tails as the plain answer's: 5 % each for same where it was looked at once, else those of its level. */
static enum ew_verdict verdict_of(const struct ew_day_answer *a, const struct ew_comparison *plain,
                                  struct ran ran) {
  double alpha = 1 - plain->confidence,
         inside = plain->confidence > 0.9499 && plain->confidence < 0.9501 ? 0.05 : alpha;
  double below = ew_day_answer_below(a, 0), margin = log1p(plain->margin);
  if (plain->margin > 0 && 1 - ew_day_answer_below(a, margin) < inside &&
      ew_day_answer_below(a, -margin) < inside)
    return EW_VERDICT_SAME;
  if (1 - below < alpha / 2)
    return EW_VERDICT_LOSS;
  return below < alpha / 2 && ran.back ? EW_VERDICT_GAIN : EW_VERDICT_UNDECIDED;
}

static void compare_with_plain(struct ew_day_opinion *o, const struct ew_comparison *plain,
                               double sd) {
  double apart = log1p(o->difference) - log1p(plain->difference);
  double half = (log1p(plain->high) - log1p(plain->low)) / 2; /* of the plain interval */
  double se = hypot(sd, isfinite(half) ? half / 2 : 0);
  o->apart = isfinite(half) && fabs(apart) > FAR_APART * se;
  if (o->apart)
    ew_messages_add(o->notes,
                    ew_message(&day_apart, ew_say_share_change("plain", plain->difference, 1),
                               ew_say_share_change("day", o->difference, 1)));
}

static void tell_assumed(struct ew_day_opinion *o) {
  ew_messages_add(o->notes,
                  ew_message(&day_assumed, ew_say_count("pulls", o->pulls_today),
                             ew_say_count("earlier", o->pulls - o->pulls_today),
                             ew_say_share("sd", o->sd, 2), ew_say_share("walk", o->walk, 2),
                             ew_say_share("jump", o->jump, 2),
                             ew_say_share_change("slope", o->slope, 2)));
}

static void check_opinion(const struct ew_day_opinion *o) {
  g_assert(o->low <= o->difference && o->difference <= o->high);
  g_assert(o->better >= 0 && o->better <= 1);
  g_assert(o->verdict != EW_VERDICT_GAIN || o->low > 0);
  g_assert(o->verdict != EW_VERDICT_LOSS || o->high < 0);
}

struct ew_day_opinion *ew_day_opinion(const struct ew_day_told *pulls, gsize n,
                                      const struct ew_comparison *plain) {
  struct ran ran = what_ran(pulls, n);
  if (plain->verdict == EW_VERDICT_NOT_COMPARABLE || !ran.a || !ran.b)
    return NULL;
  struct ew_day_opinion *o = g_new0(struct ew_day_opinion, 1);
  o->notes = ew_messages_new();
  o->misfit_side = -1;
  g_autoptr(ew_day_model) m = tell_earlier(pulls, n);
  count_pulls(pulls, n, o);
  g_autoptr(ew_day_answer) answer = tell_today(m, pulls, n, o);
  struct ew_day_belief belief = ew_day_answer_believe(answer);
  double alpha = 1 - plain->confidence;
  o->difference = expm1(belief.mean);
  o->low = expm1(fmin(ew_day_answer_quantile(answer, alpha / 2), belief.mean));
  o->high = expm1(fmax(ew_day_answer_quantile(answer, 1 - alpha / 2), belief.mean));
  o->better = 1 - ew_day_answer_below(answer, 0);
  o->sd = belief.scatter, o->walk = belief.walk, o->jump = belief.jump, o->slope = belief.slope;
  gboolean twice = ran.a >= 2 && ran.b >= 2;
  o->verdict = o->misfit_side < 0 && twice ? verdict_of(answer, plain, ran) : EW_VERDICT_UNDECIDED;
  if (!twice)
    ew_messages_add(o->notes, ew_message_plain(&day_twice));
  if (o->verdict == EW_VERDICT_UNDECIDED && o->low > 0 && !ran.back)
    ew_messages_add(o->notes, ew_message_plain(&day_not_back));
  tell_conditions(pulls, n, &belief, o);
  compare_with_plain(o, plain, belief.sd);
  tell_assumed(o);
  o->says =
      ew_message(&day_says, ew_say_share_change("difference", o->difference, 1),
                 ew_say_share_change("low", o->low, 1), ew_say_share_change("high", o->high, 1),
                 ew_say_word("verdict", ew_verdict_word(o->verdict)));
  check_opinion(o);
  return o;
}

void ew_day_opinion_write_json(const struct ew_day_opinion *o, struct ew_json *json) {
  double interval[2] = {o->low, o->high};
  ew_json_text(json, "verdict", ew_verdict_keys[o->verdict]);
  ew_message_write_member(o->says, "says", EW_UNITS_SI, json);
  ew_json_number(json, "relative_difference", o->difference);
  ew_json_numbers(json, "relative_interval", interval, 2);
  ew_json_number(json, "probability_better", o->better);
  ew_json_boolean(json, "apart_from_plain", o->apart);
  ew_json_integer(json, "pulls", o->pulls);
  ew_json_integer(json, "pulls_today", o->pulls_today);
  ew_json_integer(json, "days", o->days);
  ew_json_number(json, "relative_sd", o->sd);
  ew_json_number(json, "relative_walk", o->walk);
  ew_json_number(json, "relative_jump", o->jump);
  ew_json_number(json, "relative_slope", o->slope);
  ew_json_open(json, "conditions");
  for (int k = 0; k < EW_DAY_COVARIATES; k++) {
    ew_json_number(json, covariates[k].key,
                   covariates[k].is_temperature ? o->change[k] : o->change[k] / 100);
    ew_json_number(json, covariates[k].shift_key, o->shift[k]);
  }
  ew_json_close(json);
  ew_messages_write_json(o->notes, "notes", EW_UNITS_SI, json);
}
