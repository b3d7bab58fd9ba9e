/* How many pulls does an answer take, and how often is it wrong: the plain answer of src/judge/difference against the
 * model of the day, on invented days of two worlds (day_world.h), neither of which is the model.
 *
 * A trial: five earlier days of 18 pulls, then today A, A, six spark steps, then the question, in the order A B A B or
 * B A B A, looked at after every pull from 2 to 14, at levels of alpha t^1.5 for a horizon of 14 pulls. Only pulls of
 * the question are counted. Wrong: gain or loss ever where nothing differs; *same* ever where the difference is the
 * margin of 1 %. "At equal rates": each method's thresholds are scaled until both are 5 %, and then pulls are counted; "even": with one
 * level for all looks in place of alpha t^1.5, which is near what the program spends over its own horizon of eight pulls.
 *
 * days            short: three parts of 60 days, limits three standard errors wider
 * days --full     all parts, 2,000 days each; limits as they stand
 * days --only N   one part alone; --days N: this many; --parts: how many parts there are; --answer: what one answer takes */
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

/* The same level after each pull: 5 % in all over 2 to 14 pulls (after Pocock, Biometrika 64, 1977; from memory; 400,000 walks). */
#define EVEN_LEVEL 0.0104

const char *const method_names[METHODS] = {
    "plain, A B A B",
    "plain, all A named, A B A B",
    "plain, all A named, B A B A",
    "plain, named, conditions, A B A B",
    "plain, named, conditions, B A B A",
    "day's model, A B A B",
    "day's model, B A B A",
    "day's model, cautious, B A B A",
    "ceiling: scatter, walk, jumps, memory and drift known, nobody's guards, A B A B",
    "ceiling: scatter, walk, jumps, memory and drift known, nobody's guards, B A B A",
    "day's model, nobody's guards, A B A B",
    "control: no slope, nobody's guards, A B A B",
    "control: likeliest point only, nobody's guards, A B A B",
    "control: no jump, nobody's guards, A B A B",
};

static gboolean is_model(enum method m) {
  return m >= METHOD_MODEL_ABAB;
}

static gboolean is_known(enum method m) {
  return m == METHOD_KNOWN_ABAB || m == METHOD_KNOWN_BABA;
}

/* All pulls are taken for sound, and nothing is held back: what one ingredient of the model does is seen where no guard covers it. */
static gboolean is_bare(enum method m) {
  return m >= METHOD_BARE || is_known(m);
}

gboolean b_first(enum method m) {
  return m == METHOD_NAMED_BABA || m == METHOD_GUARD_BABA || m == METHOD_MODEL_BABA ||
         m == METHOD_CAUTIOUS_BABA || m == METHOD_KNOWN_BABA;
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
  double gap = MARGIN - fabs(d.difference);
  return (struct look){.differs = fabs(d.difference) / half,
                       .same = gap / inside,
                       .even_differs = fabs(d.difference) / ew_half_width(&d, EVEN_LEVEL),
                       .even_same = gap / ew_half_width(&d, 2 * EVEN_LEVEL),
                       .estimate = d.difference,
                       .half = at95};
}

static double normal_of(double p) {
  return gsl_cdf_ugaussian_Pinv(fmin(fmax(p, 1e-15), 1 - 1e-15));
}

static struct look model_look(const struct ew_day_answer *a, int pulls) {
  double alpha = spending[pulls], below = ew_day_answer_below(a, 0);
  double inside = fmin(ew_day_answer_below(a, MARGIN), 1 - ew_day_answer_below(a, -MARGIN));
  struct ew_day_belief b = ew_day_answer_believe(a);
  double away = fabs(normal_of(below)), within = normal_of(inside);
  return (struct look){.differs = away / normal_of(1 - alpha / 2),
                       .same = within / normal_of(1 - alpha),
                       .even_differs = away / normal_of(1 - EVEN_LEVEL / 2),
                       .even_same = within / normal_of(1 - EVEN_LEVEL),
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
  past->day[i] = p;
  past->drift[i] = w->slope * (w->pulls - 1);
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

/* As the second opinion does: of the readings only what was no scatter of the sensors. */
static void tell_models(struct past *past) {
  for (int i = 0; i < past->pulls; i++) {
    struct ew_day_pull pull = past->day[i];
    double drift = past->drift[i] / 100;
    for (int k = 0; k < EW_DAY_COVARIATES; k++)
      pull.covariate[k] *= past->effects.told[k];
    for (int k = 0; k < MODELS; k++)
      if (past->model[k]) {
        pull.log_mean = past->day[i].log_mean - (k == MODEL_KNOWN ? drift : 0);
        ew_day_model_add(past->model[k], &pull);
      }
  }
  for (int k = 0; k < MODELS; k++)
    if (past->model[k])
      ew_day_model_lend_history(past->model[k]);
}

/* What no method can know: the truth about today's scatter. Of WORLD_ENGINE the jumps' standard deviation. */
static void what_is_true(const struct world *w, double only[4]) {
  gboolean figures = w->kind == WORLD_FIGURES;
  only[0] = w->scatter;
  only[1] = figures ? 0.045 : 0.03;
  only[2] = figures ? 0.3 * sqrt(0.45) : 0.25 * sqrt(2 * 0.5);
  only[3] = figures ? 0 : 0.35;
}

void past_new(struct world *w, struct past *past, guint models, int days) {
  double only[4];
  what_is_true(w, only);
  const struct ew_day_options known = {.only = only, .no_slope = TRUE, .all_sound = TRUE};
  static const struct ew_day_options options[MODELS] = {
      [MODEL_USUAL] = {0},
      [MODEL_CAUTIOUS] = {.cautious = TRUE},
      [MODEL_BARE] = {.all_sound = TRUE},
      [MODEL_NO_SLOPE] = {.no_slope = TRUE, .all_sound = TRUE},
      [MODEL_PLUG_IN] = {.plug_in = TRUE, .all_sound = TRUE},
      [MODEL_NO_JUMP] = {.no_jump = TRUE, .all_sound = TRUE},
  };
  *past = (struct past){0};
  for (int k = 0; k < MODELS; k++)
    past->model[k] =
        models & (1u << k) ? ew_day_model_new(k == MODEL_KNOWN ? &known : &options[k]) : NULL;
  for (int day = 0; day < days; day++)
    one_day_of_past(w, past);
  ew_learn_spread(past->pull, (gsize)past->pulls, past->levels);
  ew_learn_drift(past->pull, (gsize)past->pulls, past->levels[EW_LEVEL_CONSECUTIVE].sd,
                 &past->drift_mean, &past->drift_sd);
  learn_conditions(past);
  tell_models(past);
}

void past_clear(struct past *past) {
  for (int k = 0; k < MODELS; k++)
    ew_day_model_free(past->model[k]);
}

/* What goes wrong all day goes wrong from its first pull on. */
static void morning(struct world *w, const struct day_trouble *trouble, struct context *c) {
  world_morning(w);
  if (trouble->all_day) {
    w->trouble = (struct day_trouble){.rougher = trouble->rougher, .linear = trouble->linear};
    w->asked = TRUE;
    w->warm_from = 0;
  }
  c->pulls = 0;
  for (int i = 0; i < 2; i++)
    c->pull[c->pulls++] = world_pull(w, 0, 0, 30, FALSE);
  for (int i = 0; i < 6; i++)
    c->pull[c->pulls++] = world_pull(w, 0, 0, 20 + 4 * i, FALSE);
}

static enum model model_of(enum method m) {
  switch (m) {
  case METHOD_CAUTIOUS_BABA: return MODEL_CAUTIOUS;
  case METHOD_KNOWN_ABAB:
  case METHOD_KNOWN_BABA: return MODEL_KNOWN;
  case METHOD_BARE: return MODEL_BARE;
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
 * nothing and its set-up has not run again, and no gain before A came back. */
static void hold_back(const struct ew_day_answer *answer, gsize today,
                      const struct ew_day_pull *question, int pulls, struct look *look) {
  int b = 0;
  gboolean back = FALSE; /* A after the first B */
  for (int i = 0; i < pulls; i++) {
    back |= b > 0 && question[i].setup == 0;
    b += question[i].setup == 1;
  }
  if (b >= 2 && ew_day_answer_repeat(answer) == today) {
    if (!back && look->estimate > 0)
      look->differs = look->even_differs = 1e-9;
    return;
  }
  look->differs = look->even_differs = 1e-9; /* looked at, and nothing told */
  look->same = look->even_same = -1;
}

/* One look of the day's model, at the morning and the first pulls of the question. */
static void look_at_day(enum method m, const struct past *past, const struct context *c,
                        const struct ew_day_pull *question, int pulls, struct course *out) {
  struct ew_day_pull today[G_N_ELEMENTS(c->pull) + MOST_LOOKS];
  gsize n = (gsize)(c->pulls + pulls);
  memcpy(today, c->pull, (gsize)c->pulls * sizeof *today);
  memcpy(today + c->pulls, question, (gsize)pulls * sizeof *today);
  for (gsize i = 0; i < n && is_known(m); i++)
    today[i].log_mean -= past->slope * (double)i / 100;
  g_autoptr(ew_day_answer) answer = ew_day_answer_new(past->model[model_of(m)], today, n);
  out->look[pulls] = model_look(answer, pulls);
  if (!is_bare(m))
    hold_back(answer, n, question, pulls, &out->look[pulls]);
  if (pulls == 4 || pulls == 8) {
    out->low[pulls] = ew_day_answer_quantile(answer, 0.025);
    out->high[pulls] = ew_day_answer_quantile(answer, 0.975);
  }
}

static void look_plainly(enum method m, const struct past *past, const struct ew_value *values,
                         const double (*conditions)[EW_DAY_COVARIATES], gsize n, int pulls,
                         gboolean stops, struct course *out) {
  gboolean guarded = m == METHOD_GUARD_ABAB || m == METHOD_GUARD_BABA;
  struct look look = plain_look(values, guarded ? conditions : NULL, n, pulls, past, stops);
  out->look[pulls] = look;
  out->low[pulls] = look.estimate - look.half;
  out->high[pulls] = look.estimate + look.half;
}

/* One method over the pulls of one question: a look after each from the second on. */
static void follow(enum method m, const struct past *past, const struct context *c,
                   const struct ew_day_pull *question, int most, gboolean stops,
                   struct course *out) {
  gboolean named = m >= METHOD_NAMED_ABAB && m <= METHOD_GUARD_BABA;
  struct ew_value values[MOST_LOOKS + 8];
  double conditions[MOST_LOOKS + 8][EW_DAY_COVARIATES];
  gsize n = 0;
  for (int i = 0; named && i < 2; i++) {
    memcpy(conditions[n], c->pull[i].covariate, sizeof *conditions);
    values[n++] = (struct ew_value){0, i, c->pull[i].log_mean};
  }
  gboolean seen[2] = {n > 0, FALSE};
  for (int i = 0; i < most; i++) {
    memcpy(conditions[n], question[i].covariate, sizeof *conditions);
    values[n++] = (struct ew_value){question[i].setup, c->pulls + i, question[i].log_mean};
    seen[question[i].setup] = TRUE;
    if (i == 0 || !seen[0] || !seen[1])
      continue;
    if (is_model(m))
      look_at_day(m, past, c, question, i + 1, out);
    else
      look_plainly(m, past, values, (const double(*)[EW_DAY_COVARIATES])conditions, n, i + 1, stops,
                   out);
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
  w.forgets = s->trouble.forgets;
  past_new(&w, &past, models_of(s), s->no_past ? 0 : EARLIER_DAYS);
  morning(&w, &s->trouble, &c);
  past.slope = w.slope;
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
    gsl_rng_set(random,
                FIRST_SEED + (unsigned long)trial); /* each day its own, whatever ran before */
    one_trial(random, s, all[trial]);
  }
  gsl_rng_free(random);
  return all;
}
