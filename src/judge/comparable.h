/* Are these pulls alike? The one gate that everything goes through which sets pulls beside each other: comparisons, what a
 * cell repeats to, sweeps, step-up, the mean of a report, fits and the trend of hot lash. It is handed plain facts and knows
 * no book. Nowhere else is it decided (script/lib/check-layers).
 *
 * What alike means, fact by fact. "same": nothing comes of a difference. "reason": a difference makes the pulls not comparable.
 * "change": it is what the question is about. "wider": the interval of the difference is widened by what it may bring, and that is
 * said. A repeat is one more pull of the same (history, a mean, pulls in a row); a side is the same without the limit; a
 * question has two sides; in a sweep the swept setting may differ; a step is the pull at a lower limit whose trends are gone on with.
 *
 * | fact | alike is | repeat, side | question | sweep | step |
 * |---|---|---|---|---|---|
 * | held | no pull is held with its question open | reason | reason | reason | reason |
 * | practice | all of the practice cell, or none | reason | reason | reason | reason |
 * | engine | one engine of the book; names where a pull is not of the book; not known: the same | reason | reason* | reason* | reason |
 * | build | the engine's own record but for names and limits, and its build | reason | change | reason | reason |
 * | cell | name, arm, and inertias of a sweep, as the curve was computed with; two cells that a round of a reference engine covers (judge/between.h): wider | reason* | reason* | reason* | same |
 * | method | standard, kind of charging, smoothing, the engine's inertia counted or not | reason | reason | reason | same |
 * | air | pressure, temperature and humidity known on both sides, or on neither | reason, wider | reason, wider | the same | same |
 * | set-up | every field that is not a condition; fuel and equipment else the engine's | reason* | change | reason* | oil only |
 * | kind | sweep, steps, table | reason | reason | reason | same |
 * | throttle | full, where it is known | reason | reason | reason | same |
 * | acceleration | of sweeps: within a quarter; within a twentieth where the inertia is not known | reason, wider | the same | the same | same |
 * | recorder | one recorder, or lags that are stated | wider | wider | wider | same |
 * | calibration | one calibration of torque in force | wider | wider | wider | same |
 * | limit | ends within 150 rpm | reason, side: same | same | same | same |
 * | start | oil, coolant, inlet air, fuel and rest within their windows; beyond three times them | wider, reason*, side: same | wider, reason* | wider, reason* | same |
 *
 * Those with a star can be asked about on purpose (`despite`): the answer says so, and is wider where something can be said of it.
 *
 * Not known: on one side only it is never taken for equal (a reason, or wider by what it may hide), on both sides it widens where
 * it may have moved between them (air), else it is what the pull's scatter holds already. A widening adds the square of the largest
 * bias that it stands for to the variance of the difference: a bias b with variance b^2 added gives at most 5 % of false
 * answers at 95 %, whatever the rest of the variance is (docs/methods.md).
 *
 * Cost: one pass over the pulls of the sides; the record of an engine is gone through once for each of them. */
#pragma once
#include "engine/engine.h"
#include "judge/between.h"
#include "judge/history.h"
#include "pull/calibrated.h"
#include "pull/curve.h"

#define EW_ALIKE_FACTS(X)                                                                          \
  X(HELD, "held")                                                                                  \
  X(PRACTICE, "practice")                                                                          \
  X(ENGINE, "engine")                                                                              \
  X(BUILD, "build")                                                                                \
  X(CELL, "cell")                                                                                  \
  X(METHOD, "method")                                                                              \
  X(AIR, "air")                                                                                    \
  X(SETUP, "set-up")                                                                               \
  X(KIND, "kind")                                                                                  \
  X(THROTTLE, "throttle")                                                                          \
  X(ACCELERATION, "acceleration")                                                                  \
  X(RECORDER, "recorder")                                                                          \
  X(CALIBRATION, "calibration")                                                                    \
  X(LIMIT, "limit")                                                                                \
  X(START, "start")
enum ew_alike_fact {
#define X(id, key) EW_FACT_##id,
  EW_ALIKE_FACTS(X)
#undef X
      EW_ALIKE_FACTS_COUNT
};
extern const char *const ew_alike_keys[EW_ALIKE_FACTS_COUNT];

enum ew_alike_use {
  EW_ALIKE_REPEAT,
  EW_ALIKE_SIDE,
  EW_ALIKE_QUESTION,
  EW_ALIKE_SPARK_SWEEP,
  EW_ALIKE_MIXTURE_SWEEP,
  EW_ALIKE_STEP,
  EW_ALIKE_USES_COUNT
};

/* One pull as far as likeness asks. Everything pointed to is borrowed. What is not known is NaN, NULL or 0. */
struct ew_pull_facts {
  const struct ew_curve *curve; /* never NULL */
  const struct ew_setup *setup;
  const struct ew_engine *engine;
  const struct ew_bench *bench;            /* as the curve was computed with */
  const struct ew_calibrated *calibration; /* what was applied; NULL: none */
  gint64 engine_id, build_id;              /* of one book */
  const char *recorder;                    /* what tells one recorder from another */
  double torque_lag_s, speed_lag_s;        /* taken out, as stated; NaN: not stated */
  gboolean placed;                         /* mounting, day and run are known */
  int mounting, run;
  const char *day;
  double at_s;            /* unix time */
  double air_u;           /* relative, of torque: what the age of its weather adds; NaN: nothing */
  gboolean invented;      /* of the practice cell */
  const ew_message *held; /* the question that is open; NULL: none */
  const struct ew_between
      *between;       /* the round of a reference engine that covers its cell; or NULL */
  gsize between_cell; /* which of that round's cells it is */
};
/* Those of a curve and its set-up alone. */
struct ew_pull_facts ew_pull_facts_of(const struct ew_curve *curve, const struct ew_setup *setup);

struct ew_alike {
  GPtrArray *reasons;   /* messages: why not comparable, the first found first; empty: comparable */
  GPtrArray *changes;   /* messages: what the question is about */
  GPtrArray *widenings; /* messages */
  GPtrArray *despite;   /* messages: reasons that were asked about on purpose */
  guint
      may_ask; /* facts, bits: with these in `despite` no reason is left; 0: none would do, or none is needed */
  double added_variance; /* of the difference of the sides, relative, squared */
};
/* Side A against side B, each of one pull or more (`a`, `b`: pointers to facts). Within a side all must be alike. `despite`: bits, 1 <<
 * enum ew_alike_fact. */
struct ew_alike *ew_comparable(const struct ew_pull_facts *const *a, gsize n_a,
                               const struct ew_pull_facts *const *b, gsize n_b,
                               enum ew_alike_use use, guint despite);
void ew_alike_free(struct ew_alike *alike);
typedef struct ew_alike ew_alike; /* for g_autoptr only */
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_alike, ew_alike_free)

/* Is this widening one of a temperature outside its window at the start? */
gboolean ew_alike_began_outside(const ew_message *widening);

/* Two pulls of a kind of use; *reason (may be NULL) says why not, to be freed. */
gboolean ew_is_alike(const struct ew_pull_facts *a, const struct ew_pull_facts *b,
                     enum ew_alike_use use, guint despite, ew_message **reason);

/* Pulls that end nearer to each other than this ran to one limit; common practice, no source. FALSE when one of them is
 * not known. */
#define EW_SAME_LIMIT_RPM 150.0
gboolean ew_is_same_limit(double a_rpm, double b_rpm);
gboolean ew_is_lower_limit(double rpm, double than_rpm); /* lower, and not the same */

/* What lay between the sides at the least: another mounting (or engine), day or run. Not placed: consecutive. */
enum ew_level ew_level_between(const struct ew_pull_facts *const *a, gsize n_a,
                               const struct ew_pull_facts *const *b, gsize n_b);

/* The same question again: one engine, and equal set-ups on both sides, whichever pulls. A digest that books keep. */
char *ew_alike_question(const struct ew_pull_facts *a, const struct ew_pull_facts *b);

/* "engine,cell" as bits of `despite`; only what can be asked about on purpose. */
gboolean ew_despite_read(const char *text, guint *despite, GError **error);
