#include "day_world.h"
#include <math.h>
#include <string.h>

static double uniform(struct world *w, double low, double high) {
  return low + (high - low) * gsl_rng_uniform(w->random);
}

static double some(struct world *w, double sd) {
  return sd * normal(w->random);
}

static const double usual_effect[EW_DAY_COVARIATES] = {-0.02, -0.04, -0.02, -0.003};
/* Spread of the weather in a day: how far it strays, and how much of that from one pull to the next. */
static const double strays[EW_DAY_COVARIATES] = {2.5, 1.5, 1.2, 4};
static const double sensor_sd[EW_DAY_COVARIATES] = {0.8, 0.4, 0.5, 1.5};

void world_new(struct world *w, enum world_kind kind, gsl_rng *random) {
  *w = (struct world){.kind = kind, .random = random};
  for (int k = 0; k < EW_DAY_COVARIATES; k++)
    w->effect[k] = usual_effect[k] * (1 + some(w, 0.4));
  w->best_deg = uniform(w, 26, 34);
  w->curve = fmax(0.3, 1 + some(w, 0.3));
  w->lean = some(w, 0.15);
  w->charge_exponent = 0.6 + some(w, 0.1); /* corrected with 0.5 */
  w->wall_effect = 0.015 * (1 + some(w, 0.4));
  w->friction = 0.16 * (1 + some(w, 0.15)); /* of the torque, at the middle speed */
  w->mixture_curve = 0.3 * fmax(0.3, 1 + some(w, 0.3));
  w->mixture_moves = uniform(w, 20, 50); /* degrees a unit of lambda */
  w->wear = uniform(w, -0.1, 0.4);
  w->shape = some(w, 0.6);
  w->scatter = 0.3 * exp(some(w, 0.2));
}

void world_morning(struct world *w) {
  w->day++;
  w->pulls = w->since_stop = 0;
  w->level = some(w, 0.5);
  w->slope = some(w, 0.05);
  w->memory = 0;
  for (int k = 0; k < EW_DAY_COVARIATES; k++)
    w->weather[k] = some(w, strays[k]);
  w->tendency = some(w, 0.15); /* K a pull: the cell warms up */
  w->oil = w->wall = 0;
  w->sensor_off = some(w, 0.5);
  w->mixture = some(w, 0.008);
  w->asked = FALSE;
}

void world_trouble(struct world *w, const struct day_trouble *trouble) {
  w->trouble = *trouble;
  w->asked = TRUE;
  w->warm_from = trouble->all_day ? 0 : w->pulls;
  w->jump_at = w->pulls + 1 + floor(uniform(w, 0, 5));
  w->bad_at = floor(uniform(w, 0, 3)); /* which pull of B */
}

void world_stop(struct world *w) {
  if (w->kind == WORLD_FIGURES)
    w->level += gsl_rng_uniform(w->random) < 0.45 ? some(w, 0.3) : 0;
  else if (gsl_rng_uniform(w->random) < 0.5)
    w->level += 0.25 * log(1 / gsl_rng_uniform_pos(w->random)) *
                (gsl_rng_uniform(w->random) < 0.5 ? -1 : 1);
  w->oil -= uniform(w, 2, 6);
  w->wall -= uniform(w, 5, 15);
  w->since_stop = 0;
}

/* Weather wanders back to its mean; oil follows pulls and lags. */
static void pass_time(struct world *w) {
  double times = w->asked && w->trouble.swings > 0 ? w->trouble.swings : 1;
  for (int k = 0; k < EW_DAY_COVARIATES; k++)
    w->weather[k] = 0.85 * w->weather[k] + times * some(w, strays[k] * 0.45);
  w->weather[EW_DAY_INLET] += w->tendency;
  w->oil = 0.7 * w->oil + 0.3 * w->weather[EW_DAY_OIL];
  w->wall = 0.6 * w->wall + some(w, 1.5);
  w->mixture = 0.8 * w->mixture + some(w, 0.005);
  double q = w->kind == WORLD_FIGURES ? 0.045 : 0.03;
  w->level += some(w, q) + w->slope;
}

/* What goes wrong today, in per cent of this pull. */
static double trouble_of(struct world *w, int setup) {
  const struct day_trouble *t = &w->trouble;
  if (!w->asked)
    return 0;
  double since = w->pulls - w->warm_from, sum = t->linear * since;
  sum -= t->warm_up * exp(-since / 2.5);
  if (t->unsaid_jump > 0 && w->pulls == (int)w->jump_at)
    w->level += some(w, t->unsaid_jump);
  if (setup == 1 && t->bad_pull != 0 && w->bad_at-- == 0)
    sum += t->bad_pull;
  return sum;
}

static double noise_of(struct world *w) {
  double sd = w->scatter * (w->asked && w->trouble.rougher > 0 ? w->trouble.rougher : 1);
  gboolean t3 = w->asked && w->trouble.heavy;
  if (w->kind == WORLD_FIGURES)
    return sd * (t3 ? heavy(w->random, 3) : normal(w->random));
  double kept = w->forgets ? 0 : 0.35;
  w->memory = kept * w->memory + sqrt(1 - kept * kept) * heavy(w->random, t3 ? 3 : 4);
  return sd * w->memory;
}

/* A curve about its best, in shifts of 5 degrees: steeper on one side, up to `lean`, as tanh. */
static double spark_loss(const struct world *w, double spark, double best) {
  double v = (spark - best) / 5;
  return w->curve * v * v * (1 + w->lean * tanh(v));
}

/* Root of the viscosity after Vogel, exp(b / (T - t0)), at 90 °C and `warmer` K more, relative to that at 90 °C:
 * hydrodynamic friction goes with it (Patton, Nitschke and Heywood, SAE 890836; from memory). */
static double root_of_viscosity(double warmer) {
  return exp((1000 / (90 + warmer + 95) - 1000 / (90.0 + 95)) / 2);
}

/* WORLD_ENGINE: log of the corrected band mean in per cent, from twelve speeds. */
static double engine_torque(const struct world *w, int setup, double difference, double spark,
                            double inlet, double measured_inlet) {
  double sum = 0, sign = w->asked && w->trouble.wrong_way ? -1 : 1;
  double air =
      pow(298 / (298 + inlet), sign * w->charge_exponent) *
      (1 - sign * w->wall_effect * w->wall / 100 - sign * 0.00003 * w->weather[EW_DAY_HUMIDITY]);
  double thick =
      0.75 + 0.25 * root_of_viscosity(sign * (w->oil + 0.4 * w->weather[EW_DAY_COOLANT]));
  double best = w->best_deg + w->mixture_moves * w->mixture;
  double fat = w->mixture / 0.03, part = 0;
  for (int i = 0; i < WORLD_SPEEDS; i++) {
    double x = 2.0 * i / (WORLD_SPEEDS - 1) - 1; /* -1 to 1 over the band */
    double work = 1 - (spark_loss(w, spark, best + 3 * x) + w->mixture_curve * fat * fat) / 100;
    double charge = 1 + 0.05 * x - 0.12 * x * x, rub = w->friction * (1 + 0.4 * x) * thick;
    part = setup == 1 ? w->shape * tanh(2 * x) / 100 : 0; /* of mean 0 over the band */
    sum += log((charge * air * work - rub) / (1 - w->friction)) + part;
  }
  double corrected = sum / WORLD_SPEEDS + 0.5 * log((298 + measured_inlet) / 298);
  return 100 * (corrected + difference) + w->wear * (1 - exp(-w->pulls_in_all / 60.0));
}

static double figures_torque(const struct world *w, double difference, double spark,
                             const double *x) {
  double sum = 100 * difference - spark_loss(w, spark, w->best_deg);
  double sign = w->asked && w->trouble.wrong_way ? -1 : 1;
  for (int k = 0; k < EW_DAY_COVARIATES; k++)
    sum += sign * w->effect[k] * x[k];
  return sum;
}

struct ew_day_pull world_pull(struct world *w, int setup, double difference, double spark_deg,
                              gboolean rested) {
  pass_time(w);
  double x[EW_DAY_COVARIATES];
  memcpy(x, w->weather, sizeof x);
  x[EW_DAY_OIL] = w->oil;
  if (w->asked && setup == 1)
    x[EW_DAY_INLET] += w->trouble.warm_inlet;
  struct ew_day_pull p = {.day = w->day, .setup = setup, .spark_deg = spark_deg, .rested = rested};
  for (int k = 0; k < EW_DAY_COVARIATES; k++)
    p.covariate[k] = x[k] + some(w, sensor_sd[k]) + (k == EW_DAY_INLET ? w->sensor_off : 0);
  p.covariate[EW_DAY_HUMIDITY] += 50;
  double y = w->kind == WORLD_FIGURES ? figures_torque(w, difference, spark_deg, x)
                                      : engine_torque(w, setup, difference, spark_deg,
                                                      x[EW_DAY_INLET], p.covariate[EW_DAY_INLET]);
  double wrong = trouble_of(w, setup); /* may move the level */
  p.log_mean = 5.5 + (y + w->level + wrong + noise_of(w)) / 100;
  w->oil += uniform(w, 0, 1);
  w->wall += 1.5;
  w->pulls++, w->pulls_in_all++, w->since_stop++;
  return p;
}

double world_best_deg(const struct world *w) {
  return w->best_deg;
}
