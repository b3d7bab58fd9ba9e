/* The combination: what an engine is, as one YAML file says it.
 *
 * Every field is described once, in the table of engine.c; reading, JSON, template and manual all
 * come from there. Figures that a shop may leave out are NaN (quantities) or NULL (texts). */
#pragma once
#include "base/field.h"

struct ew_engine {
  char *name, *serial, *owner, *fuel, *equipment;
  int cylinders, strokes; /* strokes: index into the choices 4, 2 */
  double bore_m, stroke_m, displacement_stated_m3;
  double agreed_limit_rpm; /* what was agreed with the customer */
  double valve_train_limit_rpm, rod_limit_rpm, crank_limit_rpm, damper_limit_rpm;
  double inertia_kg_m2; /* engine, flywheel and clutch */
  double lambda_target, stoichiometric_ratio;
};

extern const struct ew_fields ew_engine_fields;

gboolean ew_engine_read(const struct ew_node *map, const char *where, struct ew_engine *engine,
                        GError **error);
void ew_engine_clear(struct ew_engine *engine);

/* pi/4 bore^2 stroke cylinders, or the stated displacement where bore and stroke are not given. */
double ew_engine_displacement_m3(const struct ew_engine *engine);
/* Working cycles per turn of the crank: 1/2 for a four-stroke, 1 for a two-stroke. */
double ew_engine_cycles_per_turn(const struct ew_engine *engine);
/* The lowest mechanical limit given, and its name; NaN and NULL when none is given. */
double ew_engine_lowest_limit_rpm(const struct ew_engine *engine, const char **which);
