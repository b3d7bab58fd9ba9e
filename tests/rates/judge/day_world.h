/* Invented days of an engine on a dyno, pull by pull, with the truth known. Two worlds, and neither is the model that
 * judges them:
 *
 * WORLD_FIGURES  per cent of torque written down: pulls scatter 0.30 % (more or less by engine and day), effects of oil,
 *                inlet air, coolant and humidity that vary by 40 % between engines, oil that lags, sensors that are noisy,
 *                a walk of 0.045 % a pull and a day's slope of 0 ± 0.05 %, jumps of sd 0.3 % at 45 % of the stops, a spark
 *                curve that leans by a hyperbolic tangent.
 * WORLD_ENGINE   torque over twelve speeds from what an engine does: charge by air temperature, pressure and vapour and by
 *                a wall temperature that nobody measures, work by spark and mixture together (the best spark moves with the
 *                mixture, which wanders), friction by the oil's viscosity (Vogel's equation: handbooks), corrected for
 *                measured weather with an exponent that is not the engine's own; noise with memory (AR(1), 0.35) and heavy
 *                tails (t, 4 degrees of freedom); wear-in; jumps of Laplace's distribution when it was stopped; a part
 *                that gains above and loses below a speed.
 *
 * Sizes: common practice and invention, no source. */
#pragma once
#include "judge/day_model.h"
#include "world.h"

enum world_kind { WORLD_FIGURES, WORLD_ENGINE };
#define WORLDS 2

/* What goes wrong, today only. */
struct day_trouble {
  double linear;    /* per cent a pull */
  double warm_up;   /* per cent, tau 2.5 pulls, when the question begins */
  double rougher;   /* scatter times this; 0: as it was */
  gboolean all_day; /* rougher, or linear, from the day's first pull on, not from the question's */
  gboolean heavy;   /* t3 between pulls */
  double bad_pull;  /* per cent, of one pull of B */
  gboolean wrong_way; /* effects of the weather have the other sign */
  double unsaid_jump; /* sd in per cent, before one pull, not declared */
  double warm_inlet;  /* K at the inlet on B */
  gboolean forgets;   /* WORLD_ENGINE: noise without memory, from the first pull of all on */
  double swings;      /* weather and temperatures swing this many times as much; 0: once */
};

#define WORLD_SPEEDS 12

struct world {
  enum world_kind kind;
  gsl_rng *random;
  /* the engine */
  double effect[EW_DAY_COVARIATES], best_deg, curve, lean;
  double charge_exponent, wall_effect, friction, mixture_curve, mixture_moves, wear, shape;
  /* the day */
  double scatter, level, slope, memory, weather[EW_DAY_COVARIATES], tendency, oil, wall, sensor_off;
  double mixture, bad_at, jump_at, warm_from;
  int day, pulls, pulls_in_all, since_stop;
  struct day_trouble trouble;
  gboolean asked;   /* trouble has begun */
  gboolean forgets; /* of WORLD_ENGINE: its noise has no memory */
};

void world_new(struct world *w, enum world_kind kind, gsl_rng *random);
void world_morning(struct world *w);
/* From here on what goes wrong goes wrong. */
void world_trouble(struct world *w, const struct day_trouble *trouble);
/* Stopped, opened, closed and warmed up again. */
void world_stop(struct world *w);
/* One pull, as the model sees it; difference: that of its set-up from A, as a log ratio at reference conditions. */
struct ew_day_pull world_pull(struct world *w, int setup, double difference, double spark_deg,
                              gboolean rested);
/* The best spark of a speed band at reference conditions. */
double world_best_deg(const struct world *w);
