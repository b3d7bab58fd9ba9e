/* Trials of questions on invented days: what each method would have said after each pull. */
#pragma once
#include "day_world.h"
#include "judge/day_answer.h"
#include "judge/decide.h"
#include "judge/effects.h"

#define MOST_LOOKS 14
#define MARGIN     0.00995 /* log of 1.01 */
#define TRUTHS     3
extern const double truths[TRUTHS];

enum method {
  METHOD_PLAIN,
  METHOD_NAMED_ABAB,
  METHOD_NAMED_BABA,
  METHOD_GUARD_ABAB,
  METHOD_GUARD_BABA,
  METHOD_MODEL_ABAB,
  METHOD_MODEL_BABA,
  METHOD_CAUTIOUS_BABA,
  METHOD_KNOWN_ABAB,
  METHOD_KNOWN_BABA,
  METHOD_BARE,
  METHOD_NO_SLOPE,
  METHOD_PLUG_IN,
  METHOD_NO_JUMP,
  METHODS
};
extern const char *const method_names[METHODS];
gboolean b_first(enum method method);

enum model {
  MODEL_USUAL,
  MODEL_CAUTIOUS,
  MODEL_KNOWN,
  MODEL_BARE,
  MODEL_NO_SLOPE,
  MODEL_PLUG_IN,
  MODEL_NO_JUMP,
  MODELS
};

/* Above 1: says gain or loss, or same; the estimate and the half-width at 95 %. */
struct look {
  double differs, same, estimate, half;
  double even_differs, even_same; /* at one level for all looks */
};
struct course {
  struct look look[MOST_LOOKS + 1];                 /* by pulls; zero before the first look */
  double low[MOST_LOOKS + 1], high[MOST_LOOKS + 1]; /* 95 % */
};

struct past {
  struct ew_history_pull pull[100];
  int pulls, run;
  struct ew_day_pull day[100];
  double conditions[100][EW_DAY_COVARIATES];
  double drift[100]; /* per cent, of the day's slope, in each */
  struct ew_spread levels[EW_LEVELS_COUNT], guarded[EW_LEVELS_COUNT];
  double drift_mean, drift_sd;
  struct ew_effects effects;
  struct ew_day_model *model[MODELS];
  double slope; /* of the world today, per cent a pull: what MODEL_KNOWN is told */
};
#define EARLIER_DAYS 5
#define FIRST_SEED   7000 /* of the first day; each has its own */
void past_new(struct world *w, struct past *past, guint models, int days);
void past_clear(struct past *past);

struct context {
  struct ew_day_pull pull[8];
  int pulls;
};

struct study {
  enum world_kind kind;
  struct day_trouble trouble;
  guint methods;   /* bits */
  int pulls_a_run; /* 0: no stops; else stopped at each change */
  int most;        /* looks up to here */
  int trials;
  gboolean no_past; /* the first day of a book */
};
/* trials x METHODS x TRUTHS; g_free it. */
struct course (*run_study(const struct study *study))[METHODS][TRUTHS];
