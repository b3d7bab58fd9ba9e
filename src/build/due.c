/* Used time of each fitted part against its life, at all speeds or above one, the greater share first. A later part
 * of the same name in the same place ends the earlier one. */
#include "build/due.h"
#include <math.h>
#include <string.h>

double ew_build_told_s(const struct ew_build *build, int *runs) {
  double sum = 0;
  int count = 0;
  const struct ew_build_after *after;
  EW_BUILD_EACH(build, AFTER, struct ew_build_after, after, i) {
    sum += after->running_s;
    count += after->runs;
  }
  if (runs)
    *runs = count;
  return sum;
}

/* A part of the same name and place that was fitted later has taken its place. */
static gboolean replaced(const struct ew_build *build, const struct ew_build_part *part) {
  gboolean seen = FALSE;
  const struct ew_build_part *other;
  EW_BUILD_EACH(build, PART, struct ew_build_part, other, i) {
    if (other == part)
      seen = TRUE;
    else if (seen && g_ascii_strcasecmp(other->part, part->part) == 0 &&
             g_strcmp0(other->position, part->position) == 0)
      return TRUE;
  }
  return FALSE;
}

static int by_share(gconstpointer a, gconstpointer b) {
  const struct ew_build_due *x = a, *y = b;
  return x->share > y->share ? -1 : x->share < y->share;
}

GArray *ew_build_due_list(const struct ew_build *build, double running_s, const double *above_s,
                          gsize bins) {
  GArray *list = g_array_new(FALSE, TRUE, sizeof(struct ew_build_due));
  double total = running_s + ew_build_told_s(build, NULL);
  const struct ew_build_part *part;
  EW_BUILD_EACH(build, PART, struct ew_build_part, part, i) {
    if ((isnan(part->life_s) && isnan(part->life_above_s)) || replaced(build, part))
      continue;
    struct ew_build_due due = {
        part, fmax(total - part->fitted_at_s, 0), part->life_s, NAN, part->life_above_s, 0};
    gsize bin = isnan(part->life_speed_rpm) ? bins : (gsize)(part->life_speed_rpm / 500);
    if (!isnan(part->life_above_s) && bin < bins)
      due.above_s = above_s[bin];
    due.share = fmax(isnan(due.life_s) ? 0 : due.used_s / due.life_s,
                     isnan(due.above_s) ? 0 : due.above_s / due.life_above_s);
    g_array_append_val(list, due);
  }
  g_array_sort(list, by_share);
  return list;
}
