/* How a prediction is made: what of it belongs to the answer, and what does not. */
#pragma once
#include <glib.h>

enum ew_cycle_spark {
  EW_SPARK_BEST,  /* least advance for best torque, or less where the knock limit says so */
  EW_SPARK_MBT,   /* least advance for best torque, knock or not */
  EW_SPARK_GIVEN, /* spark_deg of the run */
};

struct ew_cycle_backend;
struct ew_cycle_warm;

/* From this tolerance on one cycle that is as the one before ends a run; below it two. */
#define EW_CYCLE_ROUGH 0.005

struct ew_cycle_options {
  /* part of a plan: other values give other figures */
  double cell_m;   /* wanted cell length; 0.02 default, 0.04 for searches */
  double cfl;      /* 0.85 */
  int most_cycles; /* 40 */
  double
      tolerance; /* 1e-3: change of work, air and charge from cycle to cycle, two in a row (EW_CYCLE_ROUGH) */
  enum ew_cycle_spark spark;
  /* not part of it: the figures do not depend on them */
  int threads; /* 0: as many as OpenMP gives */
  gboolean trace;
  const struct ew_cycle_backend *backend; /* NULL: ew_cycle_backend_choose */
  void (*progress)(double share_done, gpointer data);
  gpointer data;
  const gint *cancel; /* stop soon after this becomes non-zero; may be NULL */
  struct ew_cycle_warm *
      warm; /* runs begin where those before left off, and leave theirs; the figures depend on it within the tolerance.
                                 NULL: from still gas */
};

/* The cell length that a question wants whose highest speed this is: a pulse of 60 degrees at 345 m/s gets twelve cells, between 10 and
 * 40 mm (40 up to 7,200 rpm, 24 at 12,000). And what cells leave of torque at a speed, relative, as a standard uncertainty: 1.6 % at twelve
 * cells a pulse, by the square of the length (docs/methods-cycle.md, 5). */
double ew_cycle_cell_m(double top_speed_rpm);
double ew_cycle_cells_u(double cell_m, double speed_rpm);

void ew_cycle_options_defaults(struct ew_cycle_options *options);
/* Refuses what is out of range, naming it. */
gboolean ew_cycle_options_check(const struct ew_cycle_options *options, GError **error);
