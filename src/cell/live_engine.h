/* The practice cell, live: an invented engine, absorber, cooling and sensors, stepped in time.
 *
 * d(speed)/dt = (engine torque - absorber torque) / inertia; the absorber follows a speed controller
 * through a first-order lag; temperatures drift to where heat and cooling meet; probes lag; sensors
 * add noise. All figures are invented (no engine is meant) and everything follows from the seed. */
#pragma once
#include <glib.h>

#define EW_LIVE_ENGINE_CHANNELS 26

/* name, command word, what a new hand should have noticed */
#define EW_LIVE_FAULTS(X)                                                                          \
  X(LEAN_CYLINDER, "lean-cylinder", "one exhaust runs hotter and lambda rises a little")           \
  X(OIL_AERATION, "oil-aeration", "oil pressure falls with speed above 6,300 rpm")                 \
  X(FUEL_STARVATION, "fuel-starvation", "fuel pressure falls with load, then lambda rises")        \
  X(STICKING_ABSORBER, "sticking-absorber", "speed overshoots at load-up: the water valve sticks") \
  X(LOST_CRANK, "lost-crank", "the speed signal drops out")                                        \
  X(VALVE_CONTACT, "valve-contact",                                                                \
    "torque falls suddenly near the top and crankcase breath rises")                               \
  X(POOR_FUEL, "poor-fuel", "knock at a spark that was safe before")                               \
  X(HEAD_GASKET, "head-gasket", "coolant pressure rises within the pull and stays")                \
  X(CELL_DRIFT, "cell-drift", "torque at no load is no longer zero")                               \
  X(OIL_PUMP, "oil-pump", "oil pressure is gone within a second")

enum ew_live_fault {
#define X(id, word, notice) EW_LIVE_FAULT_##id,
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
 * "spark 30", "lambda 0.88", "warm", "fault NAME", "clear", "drift", "help". The answer is one line without
 * a line end, "ok ..." or "refused: ..."; the caller frees it. "sweep" opens the throttle at the
 * first speed, sweeps, and shuts it again. */
char *ew_live_engine_command(struct ew_live_engine *engine, const char *line);
/* One sample later. `values`: EW_LIVE_ENGINE_CHANNELS, as the sensors read. */
void ew_live_engine_step(struct ew_live_engine *engine, double *values);
double ew_live_engine_time_s(const struct ew_live_engine *engine);
gboolean ew_live_engine_ready(const struct ew_live_engine *engine); /* no sweep is under way */
extern const char *const ew_live_engine_names[EW_LIVE_ENGINE_CHANNELS];
extern const char *const ew_live_engine_units[EW_LIVE_ENGINE_CHANNELS];
/* A row as the practice logger writes it, with its time; appended to `text` with a line end. */
void ew_live_engine_header(GString *text);
void ew_live_engine_row(double time_s, const double *values, GString *text);
/* What was practised on, one line a fault, for after the lesson: char*. */
GPtrArray *ew_live_engine_lesson(const struct ew_live_engine *engine);
