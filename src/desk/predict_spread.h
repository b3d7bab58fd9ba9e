/* What each figure that the engine's file leaves out does to a prediction: moved by its own prior, one after the other. Internal to
 * src/desk/predict*.c. */
#pragma once
#include "desk/predict.h"

#define EW_PRIOR_MOST 60 /* set-ups: figures, those of pipes' lengths twice */

struct ew_prior {
  int setups;
  struct ew_prediction_setup setup[EW_PRIOR_MOST]; /* engines moved */
  const char *field[EW_PRIOR_MOST];                /* static; the figure that each of them moves */
  double share[EW_PRIOR_MOST]; /* in the mean square of that figure: 1, or a half of two sides */
  struct ew_engine engine[EW_PRIOR_MOST];
};

/* The set-ups to run beside the engine as it is: none for one whose file gives all, or that is fitted. O of the figures left out. */
gboolean ew_prior_make(const struct ew_prediction_setup *setup, struct ew_prior *spread,
                       GError **error);
/* A copy of the engine with every figure given that was taken for it (ew_predict_assumed); ew_engine_clear. */
void ew_prior_fill(const struct ew_engine *engine, const GArray *assumed, struct ew_engine *filled);
void ew_prior_clear(struct ew_prior *spread);
