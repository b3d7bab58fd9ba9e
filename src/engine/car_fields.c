/* The field table of a car's file. Limits keep out slips of a decimal point and of a unit, not opinions. */
#include "base/error.h"
#include "engine/car.h"
#include <stddef.h>

#define AT(member) offsetof(struct ew_car, member)
#define COMMON     "common practice, no source"
#define Q(field, unit, member, low, high)                                                          \
  .name = field, .type = EW_FIELD_QUANTITY, .kind = EW_KIND_##unit, .offset = AT(member),          \
  .minimum = low, .maximum = high

static const struct ew_field fields[] = {
    {.name = "name",
     .type = EW_FIELD_TEXT,
     .offset = AT(name),
     .help = "what this car is called",
     .example = "\"hill-climb car\""},
    {Q("mass", MASS, mass_kg, 50, 60000), .help = "with driver and fuel, as weighed",
     .example = "780 kg"},
    {.name = "gears",
     .type = EW_FIELD_NUMBERS,
     .kind = EW_KIND_NUMBER,
     .offset = AT(gears),
     .minimum = 0.2,
     .maximum = 20,
     .help = "ratios of the gearbox, first gear first",
     .example = "[3.2, 2.1, 1.5, 1.2, 1.0]"},
    {Q("final_drive", NUMBER, final_drive, 0.2, 20),
     .help = "ratio of the final drive, with a drop gear in it", .example = "4.1"},
    {Q("tyre_radius", LENGTH, tyre_radius_m, 0.1, 1.2),
     .help = "rolling radius: circumference over 2 pi, as rolled under load", .example = "290 mm"},
    {Q("drag_area", AREA, drag_area_m2, 0.01, 15), .help = "drag coefficient times frontal area",
     .example = "0.62 m2"},
    {Q("rolling_resistance", RATIO, rolling_resistance, 0.001, 0.2), .fallback = "1.5 %",
     .help = "force over weight", .origin = COMMON},
    {Q("efficiency", RATIO, efficiency, 0.3, 1), .fallback = "90 %",
     .help = "of the whole driveline, crank to wheels", .origin = COMMON},
    {Q("wheel_inertia", INERTIA, wheel_inertia_kg_m2, 0, 500), .fallback = "0 kg·m2",
     .help = "of all wheels with what turns at their speed, together"},
    {Q("grip", RATIO, grip, 0.05, 5), .fallback = "100 %",
     .help = "friction of the driven tyres: force over the weight on them", .origin = COMMON},
    {Q("driven_share", RATIO, driven_share, 0.1, 1), .fallback = "60 %",
     .help = "share of the weight on the driven wheels; how it moves under "
             "acceleration is left out",
     .origin = COMMON},
    {Q("shift_time", TIME, shift_s, 0, 5), .fallback = "300 ms",
     .help = "without drive at each shift", .origin = COMMON},
    {Q("launch_speed", ROTATIONAL_SPEED, launch_rpm, 300, 20000),
     .help = "engine speed at which the clutch is let in; where the curve begins if left "
             "out",
     .example = "4500 rpm"},
    {Q("air_density", DENSITY, air_density_kg_m3, 0.4, 2), .fallback = "1.2 kg/m3",
     .help = "of the air the car drives through", .origin = COMMON},
    {Q("mass_doubt", RATIO, mass_doubt, 0, 0.5), .fallback = "1 %",
     .help = "standard uncertainty of the mass", .origin = COMMON},
    {Q("drag_doubt", RATIO, drag_doubt, 0, 0.5), .fallback = "5 %",
     .help = "standard uncertainty of the drag area", .origin = COMMON},
    {Q("rolling_doubt", RATIO, rolling_doubt, 0, 0.5), .fallback = "15 %",
     .help = "standard uncertainty of the rolling resistance", .origin = COMMON},
    {Q("efficiency_doubt", RATIO, efficiency_doubt, 0, 0.2), .fallback = "2 %",
     .help = "standard uncertainty of the driveline's efficiency", .origin = COMMON},
    {Q("grip_doubt", RATIO, grip_doubt, 0, 0.5), .fallback = "10 %",
     .help = "standard uncertainty of the grip", .origin = COMMON},
    {Q("radius_doubt", RATIO, radius_doubt, 0, 0.2), .fallback = "1 %",
     .help = "standard uncertainty of the rolling radius", .origin = COMMON},
};
const struct ew_fields ew_car_fields = {"car", sizeof(struct ew_car), fields, G_N_ELEMENTS(fields)};

static gboolean is_given(const struct ew_car *car, const char *where, GError **error) {
  const struct {
    const char *name;
    double value;
  } needed[] = {{"mass", car->mass_kg},
                {"final_drive", car->final_drive},
                {"tyre_radius", car->tyre_radius_m},
                {"drag_area", car->drag_area_m2}};
  for (gsize i = 0; i < G_N_ELEMENTS(needed); i++)
    if (!(needed[i].value > 0))
      return ew_refuse(error, "%s: '%s' is not given, and nothing follows without it", where,
                       needed[i].name);
  return TRUE;
}

static gboolean gears_fall(const struct ew_car *car, const char *where, GError **error) {
  if (!car->gears || !car->gears->len)
    return ew_refuse(error, "%s: 'gears' is not given: write the ratios, first gear first", where);
  if (car->gears->len > EW_CAR_GEARS)
    return ew_refuse(error, "%s: 'gears' has %u ratios; at most %d are taken", where,
                     car->gears->len, EW_CAR_GEARS);
  for (guint i = 1; i < car->gears->len; i++) {
    double before = g_array_index(car->gears, double, i - 1),
           here = g_array_index(car->gears, double, i);
    if (!(here < before))
      return ew_refuse(error,
                       "%s: 'gears': gear %u (%g) is not lower than gear %u (%g): write the ratios "
                       "in order, first gear first",
                       where, i + 1, here, i, before);
  }
  return TRUE;
}

gboolean ew_car_read(const struct ew_node *map, const char *where, struct ew_car *car,
                     GError **error) {
  if (!ew_fields_read(&ew_car_fields, map, where, NULL, car, error))
    return FALSE;
  if (is_given(car, where, error) && gears_fall(car, where, error))
    return TRUE;
  ew_car_clear(car);
  return FALSE;
}

void ew_car_clear(struct ew_car *car) {
  ew_fields_clear(&ew_car_fields, car);
}
