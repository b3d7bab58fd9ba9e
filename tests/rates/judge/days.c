/* How many pulls does an answer take, and how often is it wrong: the plain answer of src/judge/difference against the
 * model of the day, on invented days of two worlds (day_world.h), neither of which is the model.
 *
 * A trial: five earlier days of 18 pulls, then today A, A, six spark steps, then the question, in the order A B A B or
 * B A B A, looked at after every pull from 2 to 14, at levels of alpha t^1.5 for a horizon of 14 pulls. Only pulls of
 * the question are counted. Wrong: gain or loss ever where nothing differs; *same* ever where the difference is the
 * margin of 1 %. "At equal rates": each method's thresholds are scaled until both are 5 %, and then pulls are counted.
 *
 * days            short: three parts of 100 days, limits three standard errors wider
 * days --full     twelve parts of 2,000 days; limits as they stand
 * days --only N   one part alone; --days N: this many; --answer: what one answer takes */
#include "day_world.h"
#include "days.h"
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Two-sided levels after 2 to 14 pulls, 5 % in all: the recursion of tests/reference/judge/test_spending.c. */
static const double spending[MOST_LOOKS + 1] = {1,     1,     .0027, .0024, .0047,
                                                .0051, .0074, .0082, .0106, .0118,
                                                .0144, .0159, .0187, .0205, .0236};

const char *const method_names[METHODS] = {
    "plain, A B A B",
    "plain, all A named, A B A B",
    "plain, all A named, B A B A",
    "plain, named, conditions, A B A B",
    "plain, named, conditions, B A B A",
    "day's model, A B A B",
    "day's model, B A B A",
    "day's model, cautious, B A B A",
    "control: no slope, A B A B",
    "control: likeliest point only, A B A B",
    "control: no jump, A B A B",
};

static gboolean is_model(enum method m) {
  return m >= METHOD_MODEL_ABAB;
}

gboolean b_first(enum method m) {
  return m == METHOD_NAMED_BABA || m == METHOD_GUARD_BABA || m == METHOD_MODEL_BABA ||
         m == METHOD_CAUTIOUS_BABA;
}

/* How far the plain answer goes beyond its thresholds: above 1 it says gain or loss, or same. */
static struct look plain_look(const struct ew_value *raw,
                              const double (*conditions)[EW_DAY_COVARIATES], gsize n, int pulls,
                              const struct past *past, gboolean stops) {
  const struct ew_spread *levels = conditions ? past->guarded : past->levels;
  struct ew_difference_options o = {.drift_mean = past->drift_mean,
                                    .drift_sd = past->drift_sd,
                                    .stop_between = stops,
                                    .within = levels[EW_LEVEL_CONSECUTIVE]};
  struct ew_spread level = levels[stops ? EW_LEVEL_RESTART : EW_LEVEL_CONSECUTIVE];
  struct ew_value values[MOST_LOOKS + 8];
  memcpy(values, raw, n * sizeof *raw);
  if (conditions)
    ew_effects_apply(&past->effects, conditions, values, n, level, &o, NULL);
  struct ew_difference d = ew_difference(values, n, level, &o);
  double alpha = spending[pulls], half = ew_half_width(&d, alpha),
         inside = ew_half_width(&d, 2 * alpha);
  double at95 = ew_half_width(&d, 0.05);
  return (struct look){.differs = fabs(d.difference) / half,
                       .same = (MARGIN - fabs(d.difference)) / inside,
                       .estimate = d.difference,
                       .half = at95};
}

static double normal_of(double p) {
  return gsl_cdf_ugaussian_Pinv(fmin(fmax(p, 1e-15), 1 - 1e-15));
}

static struct look model_look(const struct ew_day_model *m, int pulls) {
  double alpha = spending[pulls], below = ew_day_model_below(m, 0, 1, 0);
  double inside =
      fmin(ew_day_model_below(m, 0, 1, MARGIN), 1 - ew_day_model_below(m, 0, 1, -MARGIN));
  struct ew_day_belief b = ew_day_model_believe(m, 0, 1);
  return (struct look){.differs = fabs(normal_of(below)) / normal_of(1 - alpha / 2),
                       .same = normal_of(inside) / normal_of(1 - alpha),
                       .estimate = b.mean,
                       .half = 0};
}

static void one_pull_of_past(struct world *w, struct past *past, int setup, double difference,
                             double spark, gboolean rested) {
  struct ew_day_pull p = world_pull(w, setup, difference, spark, rested);
  past->run += rested;
  int i = past->pulls++;
  past->pull[i] = (struct ew_history_pull){.day = w->day,
                                           .run = past->run,
                                           .kind = setup ? 100 + w->day : (int)lround(spark),
                                           .position = i,
                                           .log_mean = p.log_mean};
  memcpy(past->conditions[i], p.covariate, sizeof p.covariate);
  for (int k = 0; k < MODELS; k++)
    if (past->model[k])
      ew_day_model_add(past->model[k], &p);
}

/* A A, six steps of spark, A B A B A B, then stopped, A A A A. */
static void one_day_of_past(struct world *w, struct past *past) {
  world_morning(w);
  past->run++;
  double b = 0.01 * normal(w->random);
  for (int i = 0; i < 2; i++)
    one_pull_of_past(w, past, 0, 0, 30, FALSE);
  for (int i = 0; i < 6; i++)
    one_pull_of_past(w, past, 0, 0, 20 + 4 * i, FALSE);
  for (int i = 0; i < 6; i++)
    one_pull_of_past(w, past, i % 2, i % 2 ? b : 0, 30, FALSE);
  world_stop(w);
  for (int i = 0; i < 4; i++)
    one_pull_of_past(w, past, 0, 0, 30, i == 0);
}

/* Conditions, and what a cell repeats to when they are taken out. */
static void learn_conditions(struct past *past) {
  struct ew_effects_pull pulls[100];
  struct ew_history_pull guarded[100];
  for (int i = 0; i < past->pulls; i++) {
    const struct ew_history_pull *p = &past->pull[i];
    pulls[i] = (struct ew_effects_pull){.day = p->day,
                                        .group = 1000 * p->run + p->kind,
                                        .position = p->position,
                                        .log_mean = p->log_mean};
    memcpy(pulls[i].covariate, past->conditions[i], sizeof pulls[i].covariate);
  }
  past->effects =
      ew_effects_learn(pulls, (gsize)past->pulls, 0, 0, 0, past->levels[EW_LEVEL_CONSECUTIVE].sd);
  for (int i = 0; i < past->pulls; i++) {
    guarded[i] = past->pull[i];
    guarded[i].log_mean -= ew_effects_shift(&past->effects, past->conditions[i]);
  }
  ew_learn_spread(guarded, (gsize)past->pulls, past->guarded);
}

void past_new(struct world *w, struct past *past, guint models, int days) {
  static const struct ew_day_options options[MODELS] = {
      [MODEL_USUAL] = {0},
      [MODEL_CAUTIOUS] = {.cautious = TRUE},
      [MODEL_NO_SLOPE] = {.no_slope = TRUE},
      [MODEL_PLUG_IN] = {.plug_in = TRUE},
      [MODEL_NO_JUMP] = {.no_jump = TRUE},
  };
  *past = (struct past){0};
  for (int k = 0; k < MODELS; k++)
    past->model[k] = models & (1u << k) ? ew_day_model_new(&options[k]) : NULL;
  for (int day = 0; day < days; day++)
    one_day_of_past(w, past);
  ew_learn_spread(past->pull, (gsize)past->pulls, past->levels);
  ew_learn_drift(past->pull, (gsize)past->pulls, past->levels[EW_LEVEL_CONSECUTIVE].sd,
                 &past->drift_mean, &past->drift_sd);
  learn_conditions(past);
  for (int k = 0; k < MODELS; k++)
    if (past->model[k])
      ew_day_model_lend_history(past->model[k]);
}

void past_clear(struct past *past) {
  for (int k = 0; k < MODELS; k++)
    ew_day_model_free(past->model[k]);
}

static void morning(struct world *w, struct past *past, struct context *c) {
  world_morning(w);
  c->pulls = 0;
  for (int i = 0; i < 2; i++)
    c->pull[c->pulls++] = world_pull(w, 0, 0, 30, FALSE);
  for (int i = 0; i < 6; i++)
    c->pull[c->pulls++] = world_pull(w, 0, 0, 20 + 4 * i, FALSE);
  for (int k = 0; k < MODELS; k++)
    for (int i = 0; past->model[k] && i < c->pulls; i++)
      ew_day_model_add(past->model[k], &c->pull[i]);
}

static enum model model_of(enum method m) {
  switch (m) {
  case METHOD_CAUTIOUS_BABA: return MODEL_CAUTIOUS;
  case METHOD_NO_SLOPE: return MODEL_NO_SLOPE;
  case METHOD_PLUG_IN: return MODEL_PLUG_IN;
  case METHOD_NO_JUMP: return MODEL_NO_JUMP;
  case METHOD_PLAIN:
  case METHOD_NAMED_ABAB:
  case METHOD_NAMED_BABA:
  case METHOD_GUARD_ABAB:
  case METHOD_GUARD_BABA:
  case METHOD_MODEL_ABAB:
  case METHOD_MODEL_BABA:
  case METHODS: break;
  }
  return MODEL_USUAL;
}

/* As the second opinion does: nothing is told before each side ran twice (A twice in the morning), nor while a pull fits
 * nothing, and no gain before A came back. Only asked where something would be told, or nearly. */
static void hold_back(const struct ew_day_model *before, const struct ew_day_pull *question,
                      int pulls, struct look *look) {
  int b = 0;
  gboolean back = FALSE; /* A after the first B */
  for (int i = 0; i < pulls; i++) {
    back |= b > 0 && question[i].setup == 0;
    b += question[i].setup == 1;
  }
  if (fmax(look->differs, look->same) < 0.5)
    return;
  if (b >= 2 && ew_day_model_misfit(before, question, (gsize)pulls, NULL) <= 3) {
    if (!back && look->estimate > 0)
      look->differs = 1e-9;
    return;
  }
  look->differs = 1e-9; /* looked at, and nothing told */
  look->same = -1;
}

/* One method over the pulls of one question: a look after each from the second on. */
static void follow(enum method m, const struct past *past, const struct context *c,
                   const struct ew_day_pull *question, int most, gboolean stops,
                   struct course *out) {
  gboolean guarded = m == METHOD_GUARD_ABAB || m == METHOD_GUARD_BABA;
  gboolean named = m == METHOD_NAMED_ABAB || m == METHOD_NAMED_BABA || guarded;
  struct ew_value values[MOST_LOOKS + 8];
  double conditions[MOST_LOOKS + 8][EW_DAY_COVARIATES];
  gsize n = 0;
  g_autoptr(ew_day_model) model = is_model(m) ? ew_day_model_copy(past->model[model_of(m)]) : NULL;
  for (int i = 0; named && i < 2; i++) {
    memcpy(conditions[n], c->pull[i].covariate, sizeof *conditions);
    values[n++] = (struct ew_value){0, i, c->pull[i].log_mean};
  }
  gboolean seen[2] = {n > 0, FALSE}, told = FALSE;
  for (int i = 0; i < most; i++) {
    memcpy(conditions[n], question[i].covariate, sizeof *conditions);
    values[n++] = (struct ew_value){question[i].setup, c->pulls + i, question[i].log_mean};
    seen[question[i].setup] = TRUE;
    if (model)
      ew_day_model_add(model, &question[i]);
    if (i == 0 || !seen[0] || !seen[1])
      continue;
    out->look[i + 1] =
        model ? model_look(model, i + 1)
              : plain_look(values, guarded ? (const double(*)[EW_DAY_COVARIATES])conditions : NULL,
                           n, i + 1, past, stops);
    if (model && !told)
      hold_back(past->model[model_of(m)], question, i + 1, &out->look[i + 1]);
    told |=
        fmax(out->look[i + 1].differs, out->look[i + 1].same) > 1; /* later looks change nothing */
    if (model && (i + 1 == 4 || i + 1 == 8)) {
      out->low[i + 1] = ew_day_model_quantile(model, 0, 1, 0.025);
      out->high[i + 1] = ew_day_model_quantile(model, 0, 1, 0.975);
    } else {
      out->low[i + 1] = out->look[i + 1].estimate - out->look[i + 1].half;
      out->high[i + 1] = out->look[i + 1].estimate + out->look[i + 1].half;
    }
  }
}

/* The same morning and the same chances for each order and difference. */
static void ask(const struct world *before, const struct study *s, gboolean first_b,
                double difference, struct ew_day_pull *question) {
  struct world w = *before;
  w.random = gsl_rng_clone(before->random);
  world_trouble(&w, &s->trouble);
  int each = MAX(s->pulls_a_run, 1);
  for (int i = 0; i < s->most; i++) {
    int side = (i / each + first_b) % 2;
    gboolean stop = s->pulls_a_run > 0 && i % each == 0;
    if (stop)
      world_stop(&w);
    question[i] = world_pull(&w, side, side ? difference : 0, 30, stop);
  }
  gsl_rng_free(w.random);
}

static guint models_of(const struct study *s) {
  guint models = 0;
  for (int m = 0; m < METHODS; m++)
    if (s->methods & (1u << m) && is_model((enum method)m))
      models |= 1u << model_of((enum method)m);
  return models;
}

static void one_trial(gsl_rng *random, const struct study *s, struct course (*out)[TRUTHS]) {
  struct world w;
  struct past past;
  struct context c;
  world_new(&w, s->kind, random);
  past_new(&w, &past, models_of(s), s->no_past ? 0 : EARLIER_DAYS);
  morning(&w, &past, &c);
  for (int truth = 0; truth < TRUTHS; truth++)
    for (int first_b = 0; first_b < 2; first_b++) {
      struct ew_day_pull question[MOST_LOOKS];
      ask(&w, s, first_b, truths[truth], question);
      for (int m = 0; m < METHODS; m++)
        if (s->methods & (1u << m) && b_first((enum method)m) == first_b)
          follow((enum method)m, &past, &c, question, s->most, s->pulls_a_run > 0, &out[m][truth]);
    }
  past_clear(&past);
}

const double truths[TRUTHS] = {0, 0.005, 0.01};

struct course (*run_study(const struct study *s))[METHODS][TRUTHS] {
  struct course(*all)[METHODS][TRUTHS] = g_malloc0_n((gsize)s->trials, sizeof *all);
  gsl_rng *random = gsl_rng_alloc(gsl_rng_taus2);
  for (int trial = 0; trial < s->trials; trial++) {
    gsl_rng_set(random, 7000 + (unsigned long)trial); /* each day its own, whatever ran before */
    one_trial(random, s, all[trial]);
  }
  gsl_rng_free(random);
  return all;
}
