/* The exponents of ISO 3046-1 by kind of engine, and its two ratios. */
#include "base/elementary.h"
#include "pull/site_adjust.h"
#include "gas/moist_air.h"
#include <math.h>

const char *const ew_site_engine_keys[] = {
#define X(id, key, title, a, m, n, s) key,
    EW_SITE_ENGINES(X)
#undef X
        NULL};

static const struct {
  double a, m, n, s;
} exponents[] = {
#define X(id, key, title, a, m, n, s) {a, m, n, s},
    EW_SITE_ENGINES(X)
#undef X
};

struct ew_site_adjustment ew_site_adjust(enum ew_site_engine engine, struct ew_site site) {
  g_assert((gsize)engine < G_N_ELEMENTS(exponents));
  const double reference_pa = 100e3, reference_k = 298, reference_humidity = 0.3;
  double a = exponents[engine].a;
  double vapour = a * site.relative_humidity * ew_saturation_pressure_pa(site.temperature_k);
  double reference_vapour = a * reference_humidity * ew_saturation_pressure_pa(reference_k);
  double k =
      ew_pow((site.pressure_pa - vapour) / (reference_pa - reference_vapour), exponents[engine].m) *
      ew_pow(reference_k / site.temperature_k, exponents[engine].n);
  if (exponents[engine].s > 0 && !isnan(site.coolant_k))
    k *= ew_pow(reference_k / site.coolant_k, exponents[engine].s);
  double ratio = k - 0.7 * (1 - k) * (1 / site.mechanical_efficiency - 1);
  return (struct ew_site_adjustment){k, ratio, k / ratio};
}
