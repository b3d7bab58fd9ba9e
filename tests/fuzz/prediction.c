/* An engine with any of its figures moved anywhere in their ranges, predicted at one speed on long cells for a few cycles: refused in
 * words, or run; and a run that settled has finite figures and kept mass and energy. Each three bytes move a figure: which, and where to. */
#include "cycle/from_engine.h"
#include "cycle/predict.h"
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static const char start[] =
    "name: fuzzed\ncylinders: 2\nbore: 86 mm\nstroke: 80 mm\nfuel: petrol\noctane: "
    "98\nlambda_target: 0.9\n"
    "geometry:\n  rod_length: 140 mm\ncompression:\n  ratio: 10\n"
    "cam:\n  lifter: flat solid\n  lobe_separation: 108 deg\n  inlet_centreline: 106 deg\n"
    "inlet:\n  head_diameter: 40 mm\n  gross_lift: 10 mm\n  duration: 262 deg\n  duration_lift: "
    "0.5 mm\n  check_duration: 226 deg\n"
    "  check_lift: 1.27 mm\n  ramp_height: 0.3 mm\n  ramp_length: 34 deg\n"
    "exhaust:\n  head_diameter: 34 mm\n  gross_lift: 10 mm\n  duration: 262 deg\n  duration_lift: "
    "0.5 mm\n  check_duration: 226 deg\n"
    "  check_lift: 1.27 mm\n  ramp_height: 0.3 mm\n  ramp_length: 34 deg\n"
    "breathing:\n  throttles: 1\n  plenum: 1 L\n  runner_length: 300 mm\n  runner_diameter: 38 "
    "mm\n  primary_length: 600 mm\n"
    "  primary_diameter: 36 mm\n  power_speed: 6000 rpm\n";

static void move(void *record, const struct ew_fields *fields, const uint8_t *byte) {
  const struct ew_field *f = &fields->fields[byte[1] % fields->count];
  double u = byte[2] / 255.0, low = f->minimum, high = f->maximum;
  if (f->type == EW_FIELD_QUANTITY)
    *(double *)((char *)record + f->offset) = byte[2] == 255 ? (double)NAN
                                              : low > 0      ? low * pow(high / low, u)
                                                             : low + (high - low) * u;
  else if (f->type == EW_FIELD_INTEGER)
    *(int *)((char *)record + f->offset) = (int)(low + (fmin(high, low + 8) - low) * u);
}

static void predict(const struct ew_engine *engine) {
  g_autoptr(GError) error = NULL;
  struct ew_cycle_build *build = ew_cycle_from_engine(engine, &error);
  if ((build == NULL) != (error != NULL))
    abort();
  if (!build)
    return;
  struct ew_cycle_options options;
  ew_cycle_options_defaults(&options);
  options.cell_m = 0.1;
  options.most_cycles = 3;
  options.threads = 1;
  options.tolerance = 0.2;
  struct ew_cycle_result r = {0};
  double rpm = 4500;
  if (ew_cycle_predict(&build->model, &rpm, NULL, 1, &options, &r, NULL, &error)) {
    if (!r.converged && r.why.failure == EW_CYCLE_STEADY)
      abort();
    if (r.converged && !(isfinite(r.torque_n_m) && isfinite(r.peak_pressure_pa) &&
                         r.mass_residual < 1e-9 && r.energy_residual < 1e-9))
      abort();
    ew_cycle_result_clear(&r);
  } else if (!error)
    abort();
  ew_cycle_build_free(build);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  struct ew_engine engine;
  g_autoptr(ew_node) root = ew_node_parse("start", start, strlen(start), NULL);
  if (!root || !ew_engine_read(root, "start", &engine, NULL))
    abort();
  for (size_t i = 0; i + 2 < size && i < 60; i += 3) {
    gsize group = data[i] % (ew_engine_groups_count + 1);
    if (group == ew_engine_groups_count)
      move(&engine, &ew_engine_fields, data + i);
    else
      move((char *)&engine + ew_engine_groups[group].offset, ew_engine_groups[group].fields,
           data + i);
  }
  engine.cylinders = MIN(engine.cylinders, 4); /* time */
  predict(&engine);
  ew_engine_clear(&engine);
  return 0;
}
