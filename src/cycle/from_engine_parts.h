/* What the files of from_engine share. Internal to src/cycle/from_engine*.c. */
#pragma once
#include "base/message.h"
#include "cycle/from_engine.h"

/* Takes the message. */
void ew_model_note(struct ew_cycle_build *build, ew_message *note);
void *ew_model_keep(struct ew_cycle_build *build, gsize size); /* zeroed, freed with the build */
const char *ew_model_keep_name(struct ew_cycle_build *build, char *name);
/* What was given, or the usual figure with a note. `field`: of the engine's file, "inlet.duration". */
double ew_model_or_assume(struct ew_cycle_build *build, double given, double usual,
                          const char *field, enum ew_kind kind);
/* `field` was not given: this was taken. */
void ew_model_assumed(struct ew_cycle_build *build, const char *field, double value);
int ew_model_valves(const struct ew_cycle_build *build, const struct ew_engine_valves *side);
/* Head diameter of one valve, given or usual. side: 0 inlet, 1 exhaust. */
double ew_model_head_m(const struct ew_cycle_build *build, const struct ew_engine *engine,
                       int side);
/* Fills in lift, second duration and place of a cam that is given in part. The engine is a copy: its arrays stay the file's. */
void ew_model_fill_cam(struct ew_cycle_build *build, struct ew_engine *engine);
/* Speed of highest power as expected, else 93 % of the agreed limit, else NaN. */
double ew_model_rated_rpm(const struct ew_engine *engine);
/* Pipes, volumes and junctions from air cleaner to tail. */
void ew_model_air(struct ew_cycle_build *build, const struct ew_engine *engine);
