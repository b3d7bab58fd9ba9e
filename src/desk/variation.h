/* One change to an engine or its air, as it is asked for:
 *
 *   lambda=0.80          a figure without a sign sets
 *   compression=+0.5     a sign changes by
 *   runner_length=-5 %   a percentage scales (here to 95 %); without a sign, "95 %", it says how much is left
 *
 * A name is one of ew_variation_names, or any figure of the engine's file as its YAML has it: bore,
 * breathing.plenum, inlet.head_diameter. What the simulation does not use is refused where it is run (vary.h).
 *
 * The same rule holds on the command line, over HTTP and on the page. A figure may be set only where the engine has
 * one of its own: cams are advanced by, not to. */
#pragma once
#include "cycle/predict.h"
#include "engine/cam.h"
#include "engine/engine.h"

enum ew_adjust_how { EW_ADJUST_SET, EW_ADJUST_BY, EW_ADJUST_SCALE };

struct ew_adjustment {
  enum ew_adjust_how how;
  double figure; /* inside units; a factor when it scales */
};
double ew_adjusted(struct ew_adjustment change, double from);

/* A change to a figure of kind `set`; `by` is the kind of a difference of it. Refuses, naming `field`. */
gboolean ew_adjustment_parse(const char *field, const char *text, enum ew_kind set, enum ew_kind by,
                             struct ew_adjustment *change, GError **error);

struct ew_variation {
  int what; /* index into ew_variation_names; beyond them, a figure of the engine's file */
  struct ew_adjustment change;
  char *text; /* as given: "compression +0.5" */
};
extern const char *const ew_variation_names[]; /* NULL-terminated */
const char *ew_variation_help(int what);
/* "a=1,2" gives two; those read before a refusal stay in `into` (of struct ew_variation). */
gboolean ew_variation_parse(const char *text, GArray *into, GError **error);

gboolean ew_variation_is_field(const struct ew_variation *variation);
/* Is it made to the engine (before its model is built)? */
gboolean ew_variation_of_engine(const struct ew_variation *variation);

/* What a model is built from, while changes are made to it one after the other. */
struct ew_varying {
  struct ew_engine *engine;     /* until the model is built */
  struct ew_cycle_model *model; /* from then on; its valves and cylinders are these: */
  struct ew_cycle_valve *valves;
  struct ew_cycle_cylinder *cylinders;
  double inlet_centreline_deg, exhaust_centreline_deg, spark_deg;
};
/* Changes to the engine are made before its model is built (FALSE in `model`), the rest after. `reach` is filled with
 * the figure before and after, NaN where there is none; it is left alone in the other pass. Refuses a change to a
 * figure that the engine does not give. */
struct ew_reach {
  double from, to;
};
gboolean ew_vary(struct ew_varying *at, const struct ew_variation *variation, gboolean model,
                 struct ew_reach *reach, GError **error);
/* As a program asks for it: "runner_length=0.31225 m"; ew_variation_parse reads it to the same change within 1e-8. g_free. */
char *ew_variation_asks(const struct ew_variation *variation);
/* What it asks for, as it could be typed: "runner_length 312 mm", "cam_advance +2.00 deg", "bore 102.0 %". g_free. */
char *ew_variation_reads(const struct ew_variation *variation);
/* "lambda 0.88 → 0.80" */
char *ew_variation_says(const struct ew_variation *variation, struct ew_reach reach);
