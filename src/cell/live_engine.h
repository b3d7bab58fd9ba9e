/* The practice cell, live: an invented engine, absorber, cooling and sensors, stepped in time.
 *
 * d(speed)/dt = (engine torque - absorber torque) / inertia; the absorber follows a speed controller
 * through a first-order lag; temperatures drift to where heat and cooling meet; probes lag; sensors
 * add noise. All figures are invented (no engine is meant) and everything follows from the seed. */
#pragma once
#include "base/message.h"

#define EW_LIVE_ENGINE_CHANNELS 26

/* name, command word */
#define EW_LIVE_FAULTS(X)                                                                          \
  X(LEAN_CYLINDER, "lean-cylinder")                                                                \
  X(OIL_AERATION, "oil-aeration")                                                                  \
  X(FUEL_STARVATION, "fuel-starvation")                                                            \
  X(STICKING_ABSORBER, "sticking-absorber")                                                        \
  X(LOST_CRANK, "lost-crank")                                                                      \
  X(VALVE_CONTACT, "valve-contact")                                                                \
  X(POOR_FUEL, "poor-fuel")                                                                        \
  X(HEAD_GASKET, "head-gasket")                                                                    \
  X(CELL_DRIFT, "cell-drift")                                                                      \
  X(OIL_PUMP, "oil-pump")

enum ew_live_fault {
#define X(id, word) EW_LIVE_FAULT_##id,
  EW_LIVE_FAULTS(X)
#undef X
      EW_LIVE_FAULTS_COUNT
};

struct ew_live_engine; /* opaque */
typedef struct ew_live_engine ew_live_engine;

struct ew_live_engine *ew_live_engine_new(guint seed, double rate_hz);
void ew_live_engine_free(struct ew_live_engine *engine);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_live_engine, ew_live_engine_free)
/* A line of control: "start", "stop", "speed 3000", "sweep 2500 7000 300", "throttle 100",
 * "spark 30", "lambda 0.88", "oil 90", "coolant 80", "fault NAME", "clear". The answer is `ew_live_ok` or
 * one of "cell.practice-..."; the caller frees it. "sweep" opens the throttle at the first speed, sweeps,
 * and shuts it again. */
ew_message *ew_live_engine_command(struct ew_live_engine *engine, const char *line);
extern const struct ew_message_kind ew_live_ok;
/* The answer as the cell's own line, "ok ..." or "refused: ...", the same in every language; the caller frees it. */
char *ew_live_engine_answer(const ew_message *answer);
/* One sample later. `values`: EW_LIVE_ENGINE_CHANNELS, as the sensors read. */
void ew_live_engine_step(struct ew_live_engine *engine, double *values);
double ew_live_engine_time_s(const struct ew_live_engine *engine);
gboolean ew_live_engine_ready(const struct ew_live_engine *engine); /* no sweep is under way */
extern const char *const ew_live_engine_names[EW_LIVE_ENGINE_CHANNELS];
extern const char *const ew_live_engine_units[EW_LIVE_ENGINE_CHANNELS];
/* A row as the practice logger writes it, with its time; appended to `text` with a line end. */
void ew_live_engine_header(GString *text);
void ew_live_engine_row(double time_s, const double *values, GString *text);
/* What was practised on, one message a fault, for after the lesson. */
GPtrArray *ew_live_engine_lesson(const struct ew_live_engine *engine);
