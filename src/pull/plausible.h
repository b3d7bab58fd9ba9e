/* Is what was told about a pull believable? Pure: facts in, findings out; nothing is read or kept here.
 *
 * Each finding is a doubt that a person must answer before the pull is used: either the fact is wrong and is amended
 * (ew_plausible_mend says how), or it is right as it is. So a doubt must be rare in sound work: limits lie beyond what
 * engines of the trade do, not at what is usual. A NaN or a missing record answers no question: what is not known is
 * not doubted.
 *
 * What is asked, and where the limits come from: docs/methods.md, "Plausible before it is believed". */
#pragma once
#include "engine/engine.h"
#include "pull/curve.h"
#include "pull/series.h"

struct ew_plausible {
  const struct ew_series
      *series; /* as cleaned; NULL: not at hand, and nothing of its samples is asked */
  const struct ew_segment *segment; /* of the series; NULL: no pull was found in it */
  const struct ew_curve *curve;     /* of the segment; NULL with it */
  const struct ew_engine *engine;
  const struct ew_bench *bench;
  const struct ew_setup *setup;
  /* The last pull of the engine that counts, as it was kept; all NULL when there is none. */
  const struct ew_curve *before;
  const struct ew_bench *bench_before;
  const struct ew_setup *setup_before;
  /* The last station pressure known in this cell, of whatever engine, and how long before; NaN: none. */
  double known_pressure_pa, known_pressure_age_s;
  /* Rotor and coupling together, where somebody said once that they are right; NaN: nobody did. */
  double right_inertia_kg_m2;
};
/* The same to a part in 10^9: a sum of two that were written and read. FALSE where one is not known. */
gboolean ew_same_inertia(double one, double other);

/* All NaN and NULL. */
struct ew_plausible ew_plausible_nothing(void);

/* Messages, each about the key of the fact it doubts; empty when all is plausible. O(rows looked at): at most 2,000 of
 * each channel. */
GPtrArray *ew_implausible(const struct ew_plausible *p);

/* The command that amends what is doubted of this pull ("pull amend 7 --units torque=lb-ft"); freed by the caller. NULL
 * for a message that is not a doubt. That the fact is right as it is, is said by `pull right`. */
char *ew_plausible_mend(const ew_message *doubt, gint64 pull_id);
