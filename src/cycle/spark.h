/* The best spark angle of a cylinder, from its state when the valves had shut.
 *
 * Between shut valves a cylinder does not feel its pipes, so its closed part is run alone for a
 * handful of spark angles: least advance for best torque from parabolas through three angles, less
 * where the knock integral of the mean cycle would pass its limit. A ranking: it never permits spark
 * on a real engine. Internal to src/cycle. */
#pragma once

#include "cycle/cylinder.h"

#define EW_SPARK_LATEST (-15.0) /* 15 degrees after top dead centre */
/* Logarithm of the knock integral a degree of spark: 0.045 to 0.06 in most engines, 0.024 to 0.067 at all. */
#define EW_KNOCK_PER_DEG 0.055

struct ew_spark_question {
  const struct ew_cylinder_frame *frame;
  const struct ew_cylinder *shut;
  double from_deg, to_deg; /* the closed part */
  double start_deg;        /* where to begin, before top dead centre */
  double friction_peak;    /* part of peak pressure that friction takes */
  double knock_limit;      /* infinite: no limit */
  gboolean refine;         /* start_deg and mbt_deg are a last answer, not a guess */
  double mbt_deg;
};

struct ew_spark_answer {
  double spark_deg, mbt_deg;
  gboolean knock_limited;
};

struct ew_spark_answer ew_spark_seek(const struct ew_spark_question *question);
