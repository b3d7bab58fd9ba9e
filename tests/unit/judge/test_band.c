/* A band about the curve is drawn only where both sides have a curve over the whole range. */
#include "unit.h"
#include "judge/band.h"
#include <math.h>

#define POINTS 11

/* Curves in the groups that are given: 0 and 1 are the sides, 2 is history. */
static gboolean band_of(const int *group, gsize curves, struct ew_band *band,
                        const struct ew_message_kind **why) {
  double speed[POINTS];
  g_autofree double *logs = g_new(double, curves *POINTS);
  for (int j = 0; j < POINTS; j++)
    speed[j] = 3000 + 250 * j;
  for (gsize c = 0; c < curves; c++)
    for (int j = 0; j < POINTS; j++)
      logs[c * POINTS + (gsize)j] = 5 + 0.001 * sin((double)(c * 7 + (gsize)j)) + 0.01 * group[c];
  struct ew_band_input in = {.points = POINTS,
                             .speed_rpm = speed,
                             .half_width_rpm = 250,
                             .curves = curves,
                             .log_torque = logs,
                             .group = group,
                             .noise_relative = 0.003,
                             .scale_freedom = 4};
  return ew_band(&in, band, why);
}

static void needs_both_sides(void **state) {
  (void)state;
  static const struct {
    const char *says;
    int group[6];
    gboolean drawn;
  } cases[] = {{"both sides and history", {0, 0, 1, 1, 2, 2}, TRUE},
               {"the second side has no whole curve", {0, 0, 0, 2, 2, 2}, FALSE},
               {"the first side has no whole curve", {1, 1, 1, 2, 2, 2}, FALSE},
               {"history alone", {2, 2, 2, 2, 2, 2}, FALSE}};
  for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
    struct ew_band band;
    const struct ew_message_kind *why = NULL;
    gboolean drawn = band_of(cases[i].group, 6, &band, &why);
    expect(drawn == cases[i].drawn && (why == NULL) == drawn, cases[i].says, "drawn %d", drawn);
    for (int j = 0; drawn && j < POINTS; j++)
      expect(isfinite(band.difference[j]) && band.half_width[j] > 0, cases[i].says, "point %d", j);
    ew_band_clear(&band);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(needs_both_sides)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
