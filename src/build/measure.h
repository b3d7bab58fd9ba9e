/* Measurements judged: what repeat readings are worth, and whether they lie inside their target.
 *
 * Uncertainty after the GUM (JCGM 100:2008): of n readings the standard uncertainty of the mean is
 * s / sqrt(n) (4.2.3); an instrument that shows steps of r adds r / sqrt(12) (F.2.2.1); both are
 * summed in squares, and expanded to 95 % by Student's t for the effective degrees of freedom after
 * Welch and Satterthwaite (G.4). What the instrument itself may be off by is not in it.
 *
 * Judged after the idea of ISO 14253-1 and JCGM 106:2012: "in" when the whole interval lies inside
 * the target, "out" when the mean lies outside it, "near" when the mean lies inside and a limit lies
 * within the interval: another reading, or a finer instrument, decides. */
#pragma once
#include "base/message.h"
#include "build/build.h"

struct ew_readings {
  gsize count;
  double mean, range;
  double standard, freedom, expanded; /* freedom: INFINITY when readings do not scatter */
};
/* resolution NaN: not known, not counted. */
struct ew_readings ew_readings_of(const double *values, gsize count, double resolution);

enum ew_fit_verdict {
  EW_FIT_NO_TARGET,
  EW_FIT_IN,
  EW_FIT_NEAR,
  EW_FIT_OUT,
  EW_FIT_MISSING,
};
const char *ew_fit_word(enum ew_fit_verdict verdict);
enum ew_fit_verdict ew_fit_judge(struct ew_readings value, double low, double high);

struct ew_build_line {
  const struct ew_build_item *item; /* NULL: not in the template */
  const char *name, *stage;         /* stage NULL: none said */
  char position[48];
  enum ew_kind kind;
  struct ew_readings value;
  double low, high;
  const char
      *from; /* whose figure that is, in the shop's words or EW_TEXT; NULL without a target */
  enum ew_fit_verdict verdict;
  const struct ew_build_measure *measure; /* the last one; NULL for a difference or a missing one */
};

/* Every measurement in the template's order, place by place, the last reading of each stage; then
 * differences, then what the template does not know. Missing places stand in it where the template
 * asks for them or where other places of that item were measured. */
GArray *ew_build_lines(const struct ew_build *build, const struct ew_engine *engine);
/* The template's limits of an item at a place; NaN where it has none. */
void ew_build_template_limits(const struct ew_build_item *item, const struct ew_engine *engine,
                              const char *position, double *low, double *high);
/* "0.058 mm" in the unit a bench uses: lengths in mm to a thousandth, or in to a ten-thousandth. */
char *ew_build_show(enum ew_kind kind, enum ew_unit_system units, double value);
/* The same as an argument of a message. */
struct ew_argument ew_build_say(const char *name, enum ew_kind kind, double value);
struct ew_argument ew_build_say_doubt(const char *name, enum ew_kind kind, double expanded);
/* The same as a text of the reader's language; what somebody typed as it was typed. Static, or the line's. */
const char *ew_build_from(const struct ew_build_line *line);
struct ew_argument ew_build_say_from(const char *name, const struct ew_build_line *line);
/* What it is shown in. */
enum ew_unit_system ew_build_units(enum ew_kind kind, enum ew_unit_system units);
/* An uncertainty: never shown as 0 when it is not. */
char *ew_build_show_doubt(enum ew_kind kind, enum ew_unit_system units, double expanded);

/* Taper: the greatest difference over the depths of a cylinder in one direction. Ovality: the
 * greatest between both directions at one depth. NaN with too few readings. */
struct ew_bore_shape {
  double taper_m, ovality_m, least_m, greatest_m;
};
struct ew_bore_shape ew_bore_shape_of(const GArray *lines, const char *item, int cylinder);
