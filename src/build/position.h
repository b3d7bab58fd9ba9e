/* Places on an engine, in one spelling: "3" (main, rod or cylinder), "2 top thrust" (a bore at three
 * depths in two directions), "4 exhaust" (a valve; "4 exhaust b" with two a cylinder), "bank 1".
 *
 * Main bearings: cylinders + 1 for one row and half the cylinders + 1 for a vee and a flat engine,
 * unless the build's facts state a number. Common practice, no source. */
#pragma once
#include "base/message.h"
#include "build/build.h"

/* All places of that sort, in order; of char*. Empty for EW_BY_FREE. */
GPtrArray *ew_build_positions(const struct ew_engine *engine, enum ew_build_by by, int mains);
/* The one spelling of a place as people write it ("Main 3", "inlet 4", "cyl 2 top axial"); NULL with
 * *error when the engine has no such place. */
char *ew_build_position(const char *text, enum ew_build_by by, const struct ew_engine *engine,
                        int mains, const char *where, GError **error);
/* A place for people: "5 exhaust" in their language, what is not one of ours as it was written. */
ew_message *ew_build_place(const char *position);
/* The cylinder (or main, or rod) a place begins with; 0 when it begins with none. */
int ew_build_position_number(const char *position);
/* 0 inlet, 1 exhaust, -1 when the place is not a valve. */
int ew_build_position_side(const char *position);
