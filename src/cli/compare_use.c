/* compare --car: the use of speeds as a weight. */
#include "base/error.h"
#include "cli/question_call.h"
#include "desk/car.h"
#include <math.h>

G_STATIC_ASSERT(EW_CAR_SHARES <= EW_SPEED_USE_STEPS);

/* Of the run that 'car worth' times when nothing is asked: to 100 km/h or 100 m, on the level. */
static gboolean work_out(const struct ew_desk *desk, const GPtrArray *a, const struct ew_car *car,
                         struct ew_speed_use *use, GError **error) {
  const struct ew_car_run run = {.grade = 0, .to_speed_m_s = 100 / 3.6, .to_distance_m = 100};
  struct ew_car_mean mean;
  struct ew_car_result result;
  if (!ew_desk_car_mean(desk, a, NAN, &mean, error))
    return FALSE;
  ew_car_run(car, &mean.engine, &run, &result);
  for (int k = 0; k < EW_CAR_SHARES; k++)
    use->share[k] = result.share[k];
  ew_car_mean_clear(&mean);
  return TRUE;
}

gboolean ew_call_use_of_speeds(const struct ew_call *call, const struct ew_desk *desk,
                               const GPtrArray *a, struct ew_speed_use *use,
                               struct ew_question_options *options, GError **error) {
  const char *path = ew_call_option(call, "car");
  struct ew_car car;
  *use = (struct ew_speed_use){{0}};
  if (!path)
    return TRUE;
  if (ew_call_has(call, "band"))
    return ew_refuse(error, "--band and --car: give one; the car says which speeds count");
  g_autoptr(ew_node) root = ew_node_read(path, error);
  if (!root || !ew_car_read(root, path, &car, error))
    return FALSE;
  gboolean good = work_out(desk, a, &car, use, error);
  ew_car_clear(&car);
  if (good)
    options->use = use;
  return good;
}
