/* The search that spark.h describes: the closed part is run alone for trial angles, a parabola through three of them
 * gives the best, and the angle is taken back where the knock integral passes its limit. Nothing is kept between
 * calls; the same state gives the same spark. */
#include "base/elementary.h"
#include "cycle/spark.h"
#include <math.h>

#define STEP_DEG          1.0
#define BLOWDOWN          0.5
#define BLOWDOWN_STEP_DEG 6.0
#define LATEST            EW_SPARK_LATEST
#define NEAR_DEG          0.5
#define PARABOLA_DEG      2.0
#define EARLIEST          65.0

struct trial {
  double gain, knock;
};

/* What is left in the cylinder when the exhaust valve opens still works on the piston, more of it the later the spark: counted as
 * BLOWDOWN of what a shut cylinder would yield down to bottom dead centre. */
static struct trial try(const struct ew_spark_question *q, double spark) {
  struct ew_cylinder c =
      ew_cylinder_closed(q->frame, q->shut, q->from_deg, q->to_deg, spark, STEP_DEG);
  double left = 0;
  if (q->to_deg < 180) {
    struct ew_cylinder open = c;
    open.stage = EW_EXPANSION;
    double before = open.work_j;
    for (double deg = q->to_deg; deg < 180; deg += BLOWDOWN_STEP_DEG)
      ew_cylinder_advance(q->frame, &open, deg, fmin(deg + BLOWDOWN_STEP_DEG, 180), NULL);
    left = BLOWDOWN * (open.work_j - before);
  }
  return (struct trial){c.work_j + left -
                            q->friction_peak * c.last.peak_pa * q->frame->displacement_m3,
                        c.last.knock};
}

static double vertex(const struct ew_spark_question *q, double spark, double h) {
  double a = try(q, spark - h).gain, b = try(q, spark).gain, c = try(q, spark + h).gain;
  double bend = a - 2 * b + c;
  double shift = bend < 0 ? 0.5 * h * (a - c) / bend : c > a ? 2 * h : -2 * h;
  return CLAMP(spark + CLAMP(shift, -2 * h, 2 * h), LATEST, EARLIEST);
}

/* ln of the knock integral is nearly linear in the angle: secant from two angles. A trial's answer is only where the run begins to
 * follow its own integral, so that half a degree is near enough. */
static double limited(const struct ew_spark_question *q, double mbt, double start) {
  double limit = ew_log(q->knock_limit), a = start, fa = ew_log(try(q, a).knock) - limit;
  double b = CLAMP(a - fa / EW_KNOCK_PER_DEG, LATEST, mbt);
  for (int i = 0; i < 6 && fabs(b - a) > NEAR_DEG; i++) {
    double fb = ew_log(try(q, b).knock) - limit, slope = (fb - fa) / (b - a);
    a = b;
    fa = fb;
    b = CLAMP(b - fb / CLAMP(slope, 0.02, 0.3), LATEST, mbt);
  }
  return b;
}

/* A parabola is right near its middle only: again from where it leads, unless that is near. */
static double best(const struct ew_spark_question *q) {
  if (!q->refine)
    return vertex(q, vertex(q, q->start_deg, 8), 5);
  double once = vertex(q, q->mbt_deg, 5);
  return fabs(once - q->mbt_deg) > PARABOLA_DEG ? vertex(q, once, 5) : once;
}

struct ew_spark_answer ew_spark_seek(const struct ew_spark_question *q) {
  double mbt = best(q);
  struct ew_spark_answer answer = {mbt, mbt, FALSE};
  if (!isfinite(q->knock_limit) || try(q, mbt).knock <= q->knock_limit)
    return answer;
  answer.spark_deg = limited(q, mbt, q->refine ? fmin(q->start_deg, mbt) : mbt - 5);
  answer.knock_limited = TRUE;
  return answer;
}
