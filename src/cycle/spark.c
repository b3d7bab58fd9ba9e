#include "cycle/spark.h"
#include <math.h>

#define STEP_DEG 1.0
#define LATEST   (-15.0) /* 15 degrees after top dead centre */
#define EARLIEST 65.0

struct trial {
  double gain, knock;
};

static struct trial try(const struct ew_spark_question *q, double spark) {
  struct ew_cylinder c =
      ew_cylinder_closed(q->frame, q->shut, q->from_deg, q->to_deg, spark, STEP_DEG);
  return (struct trial){c.work_j - q->friction_peak * c.last.peak_pa * q->frame->displacement_m3,
                        c.last.knock};
}

static double vertex(const struct ew_spark_question *q, double spark, double h) {
  double a = try(q, spark - h).gain, b = try(q, spark).gain, c = try(q, spark + h).gain;
  double bend = a - 2 * b + c;
  double shift = bend < 0 ? 0.5 * h * (a - c) / bend : c > a ? 2 * h : -2 * h;
  return CLAMP(spark + CLAMP(shift, -2 * h, 2 * h), LATEST, EARLIEST);
}

struct ew_spark_answer ew_spark_seek(const struct ew_spark_question *q) {
  double spark = vertex(q, vertex(q, q->start_deg, 8), 5);
  struct ew_spark_answer answer = {spark, spark, FALSE};
  if (!isfinite(q->knock_limit) || try(q, spark).knock <= q->knock_limit)
    return answer;
  double low = LATEST, high = spark; /* knock falls with retard: halve */
  for (int i = 0; i < 8; i++) {
    double middle = 0.5 * (low + high);
    if (try(q, middle).knock > q->knock_limit)
      high = middle;
    else
      low = middle;
  }
  answer.spark_deg = low;
  answer.knock_limited = TRUE;
  return answer;
}
