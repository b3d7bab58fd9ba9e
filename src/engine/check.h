/* Everything that follows from an engine's file: figures with a confidence word and a method,
 * warnings, and what could not be worked out because which fields are missing.
 *
 * The words: "exact" is arithmetic or geometry on figures as given; "estimate" has a model in it that
 * is named; "rule of thumb" compares with what is usual. Methods are headings of
 * docs/methods-combination.md. */
#pragma once
#include "base/message.h"
#include "engine/cam.h"
#include "engine/compression_advice.h"
#include "engine/degree_in.h"
#include "engine/engine.h"
#include "engine/fuel_check.h"
#include "engine/torsion.h"
#include "engine/valve_clearance.h"
#include "engine/valve_spring.h"

enum ew_confidence { EW_EXACT, EW_ESTIMATE, EW_RULE_OF_THUMB };
const char *ew_confidence_word(enum ew_confidence confidence); /* EW_TEXT, and a key in JSON */

struct ew_figure {
  const char *key;             /* of JSON, without the unit's suffix; static */
  const char *section, *label; /* EW_TEXT; static */
  const char *method;          /* a heading of docs/methods-combination.md, EW_TEXT; static */
  enum ew_kind kind;
  enum ew_confidence confidence;
  gboolean list; /* an array in JSON even with one value */
  gsize count;
  double *values; /* owned */
  /* of figures without a kind of their own: their SI unit in JSON, and the unit that is read off a dial with its factor;
   * NULL: none */
  const char *si, *read;
  double factor;
};

#define EW_BARRED_MAX 32

struct ew_engine_check {
  const struct ew_engine *engine; /* must outlive the check */
  GArray *figures;                /* of struct ew_figure */
  GPtrArray *warnings;            /* ew_message*, as found, about the field to look at */
  GPtrArray *left_out;            /* ew_message*: what was not worked out, and what it needs */
  double top_speed_rpm;           /* NaN when no limit is given */
  gboolean has_timing, has_motion[2], has_clearance[2], has_events[2];
  struct ew_cam_timing timing;
  struct ew_valve_events events[2]; /* at the durations' lift, and at the check lift */
  struct ew_valve_motion motion[2];
  struct ew_valve_clearance clearance_zero[2], clearance_running[2];
  double contact_loss_rpm[2];
  struct ew_barred_range barred[EW_BARRED_MAX];
  gsize barred_count;
  gboolean has_fuel_verdict;
  struct ew_fuel_verdict fuel;
  struct ew_compression_advice advice; /* NaN: not known */
  gboolean has_degree_in;
  struct ew_degree_in degree_in;
};

/* Never fails: what can't be worked out is listed in left_out. Free with ew_engine_check_free. */
struct ew_engine_check *ew_engine_check_new(const struct ew_engine *engine);
void ew_engine_check_free(struct ew_engine_check *check);
/* The gravest warning's severity; -1 when there is none. */
int ew_engine_check_worst(const struct ew_engine_check *check);
/* NULL when the figure was not worked out. */
const struct ew_figure *ew_engine_check_find(const struct ew_engine_check *check, const char *key);

/* Members inside an open JSON object: the engine's own fields under "engine", every figure under its
 * key, valve_events_deg, valve_piston_clearance_m, contact_loss_speed_rpm, torsion, warnings and
 * left_out (messages, their sentences in `units`), and "about" with label, confidence and method of each figure. */
void ew_engine_check_write_json(const struct ew_engine *engine, enum ew_unit_system units,
                                struct ew_json *json);
/* For people, in their language; free with g_free. */
char *ew_engine_check_text(const struct ew_engine *engine, enum ew_unit_system system);
