#include "engine/engine.h"
#include "base/error.h"
#include <math.h>

static const char *const strokes_choices[] = {"4", "2", NULL};

#define AT(member) offsetof(struct ew_engine, member)
#define SPEED_LIMIT(member, text, from)                                                            \
  {                                                                                                \
    .name = member, .type = EW_FIELD_QUANTITY, .kind = EW_KIND_ROTATIONAL_SPEED, .minimum = 500,   \
    .maximum = 25000, .help = text, .origin = from

static const struct ew_field fields[] =
    {{.name = "name",
      .type = EW_FIELD_TEXT,
      .offset = AT(name),
      .section = "Who it is",
      .help = "what the shop calls this engine"},
     {.name = "serial",
      .type = EW_FIELD_TEXT,
      .offset = AT(serial),
      .help = "serial number or build number"},
     {.name = "owner", .type = EW_FIELD_TEXT, .offset = AT(owner), .help = "for whom it is built"},
     {.name = "equipment",
      .type = EW_FIELD_TEXT,
      .offset = AT(equipment),
      .help =
          "equipment fitted and driven during a test: pumps, alternator, air cleaner, silencer"},
     {.name = "strokes",
      .type = EW_FIELD_CHOICE,
      .offset = AT(strokes),
      .choices = strokes_choices,
      .fallback = "4",
      .section = "Size",
      .help = "strokes of the working cycle"},
     {.name = "cylinders",
      .type = EW_FIELD_INTEGER,
      .kind = EW_KIND_COUNT,
      .offset = AT(cylinders),
      .minimum = 1,
      .maximum = 24,
      .fallback = "4",
      .help = "number of cylinders"},
     {.name = "bore",
      .type = EW_FIELD_QUANTITY,
      .kind = EW_KIND_LENGTH,
      .offset = AT(bore_m),
      .minimum = 0.02,
      .maximum = 0.3,
      .help = "cylinder bore"},
     {.name = "stroke",
      .type = EW_FIELD_QUANTITY,
      .kind = EW_KIND_LENGTH,
      .offset = AT(stroke_m),
      .minimum = 0.02,
      .maximum = 0.4,
      .help = "twice the crank throw"},
     {.name = "displacement",
      .type = EW_FIELD_QUANTITY,
      .kind = EW_KIND_VOLUME,
      .offset = AT(displacement_stated_m3),
      .minimum = 2e-5,
      .maximum = 0.1,
      .help = "swept volume of all cylinders, when bore and stroke are not given"},
     {.name = "fuel",
      .type = EW_FIELD_TEXT,
      .offset = AT(fuel),
      .section = "Fuel",
      .help = "name of a fuel the program knows, such as petrol, E85, methanol"},
     {.name = "stoichiometric_ratio",
      .type = EW_FIELD_QUANTITY,
      .kind = EW_KIND_AIR_FUEL_RATIO,
      .offset = AT(stoichiometric_ratio),
      .minimum = 1,
      .maximum = 40,
      .help = "air-fuel ratio at lambda 1, when the batch is known better than its name tells"},
     {.name = "lambda_target",
      .type = EW_FIELD_QUANTITY,
      .kind = EW_KIND_LAMBDA,
      .offset = AT(lambda_target),
      .minimum = 0.6,
      .maximum = 1.3,
      .help = "mixture wanted at full load"},
     SPEED_LIMIT("agreed_limit", "highest speed agreed with the customer", NULL),
     .offset = AT(agreed_limit_rpm),
     .section = "Limits of speed"},
                             SPEED_LIMIT("valve_train_limit",
                                         "speed at which the valves lose contact", NULL),
                             .offset = AT(valve_train_limit_rpm)
}
, SPEED_LIMIT("rod_limit", "limit of rods and bolts, from their maker", NULL),
    .offset = AT(rod_limit_rpm)
}
, SPEED_LIMIT("crank_limit", "limit of the crankshaft, from its maker", NULL),
    .offset = AT(crank_limit_rpm)
}
, SPEED_LIMIT("damper_limit", "limit of the crank damper, from its maker", NULL),
    .offset = AT(damper_limit_rpm)
}
,
    {.name = "inertia",
     .type = EW_FIELD_QUANTITY,
     .kind = EW_KIND_INERTIA,
     .offset = AT(inertia_kg_m2),
     .minimum = 0.001,
     .maximum = 20,
     .section = "Inertia",
     .help = "moment of inertia of engine, flywheel and clutch"},
}
;

const struct ew_fields ew_engine_fields = {"an engine", sizeof(struct ew_engine), fields,
                                           G_N_ELEMENTS(fields)};

/* Bore, stroke and stated displacement must agree to 1 % (rounding of published figures). */
static gboolean sizes_agree(const struct ew_engine *engine, const char *where, GError **error) {
  double computed =
      G_PI / 4 * engine->bore_m * engine->bore_m * engine->stroke_m * engine->cylinders;
  if (isnan(computed) || isnan(engine->displacement_stated_m3) ||
      fabs(computed / engine->displacement_stated_m3 - 1) < 0.01)
    return TRUE;
  return ew_refuse(error,
                   "%s: displacement %.1f cc contradicts bore, stroke and cylinders, which give "
                   "%.1f cc: correct one of them or leave displacement out",
                   where, engine->displacement_stated_m3 * 1e6, computed * 1e6);
}

gboolean ew_engine_read(const struct ew_node *map, const char *where, struct ew_engine *engine,
                        GError **error) {
  if (!ew_fields_read(&ew_engine_fields, map, where, NULL, engine, error))
    return FALSE;
  if (sizes_agree(engine, where, error))
    return TRUE;
  ew_engine_clear(engine);
  return FALSE;
}

void ew_engine_clear(struct ew_engine *engine) {
  ew_fields_clear(&ew_engine_fields, engine);
}

double ew_engine_displacement_m3(const struct ew_engine *engine) {
  double computed =
      G_PI / 4 * engine->bore_m * engine->bore_m * engine->stroke_m * engine->cylinders;
  return isnan(computed) ? engine->displacement_stated_m3 : computed;
}

double ew_engine_cycles_per_turn(const struct ew_engine *engine) {
  return engine->strokes == 0 ? 0.5 : 1.0;
}

double ew_engine_lowest_limit_rpm(const struct ew_engine *engine, const char **which) {
  const struct {
    double limit;
    const char *name;
  } limits[] = {{engine->valve_train_limit_rpm, "valve train"},
                {engine->rod_limit_rpm, "rods"},
                {engine->crank_limit_rpm, "crankshaft"},
                {engine->damper_limit_rpm, "damper"}};
  double lowest = NAN;
  *which = NULL;
  for (gsize i = 0; i < G_N_ELEMENTS(limits); i++)
    if (!isnan(limits[i].limit) && !(limits[i].limit >= lowest)) {
      lowest = limits[i].limit;
      *which = limits[i].name;
    }
  return lowest;
}
