/* Power adjustment after ISO 3046-1 (formulas and table of exponents from memory; only the contents
 * page was seen). The check values were computed outside this program. It goes from reference to site
 * power, so the other way round from a dyno's correction. */
#include "../near.h"
#include "gas/moist_air.h"
#include "pull/site_adjust.h"

static const struct ew_site site = {93000, 308, 0.5, NAN, 0.8};

static void check_values(void **state) {
  (void)state;
  static const struct {
    enum ew_site_engine engine;
    double k, alpha, beta;
  } rows[] = {{EW_SITE_DIESEL_AIR, 0.88840, 0.86887, 1.02248},
              {EW_SITE_DIESEL_HEAT, 0.89981, 0.88227, 1.01987},
              {EW_SITE_SPARK, 0.89576, 0.87752, 1.02079}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    struct ew_site_adjustment a = ew_site_adjust(rows[i].engine, site);
    assert_near(a.k, rows[i].k, 0.51e-5);
    assert_near(a.power_ratio, rows[i].alpha, 0.51e-5);
    assert_near(a.consumption_ratio, rows[i].beta, 0.51e-5);
  }
}

/* The turbocharged classes by the formula itself, written out. */
static void turbocharged(void **state) {
  (void)state;
  struct ew_site cooled = site;
  cooled.coolant_k = 303;
  struct ew_site_adjustment a = ew_site_adjust(EW_SITE_DIESEL_TURBO, site);
  assert_near(a.k, pow(0.93, 0.7) * pow(298.0 / 308, 2), 1e-12);
  a = ew_site_adjust(EW_SITE_DIESEL_COOLED, cooled);
  double k = pow(0.93, 0.7) * pow(298.0 / 308, 1.2) * 298 / 303;
  assert_near(a.k, k, 1e-12);
  assert_near(a.power_ratio, k - 0.7 * (1 - k) * 0.25, 1e-12);
  assert_near(a.consumption_ratio, k / (k - 0.7 * (1 - k) * 0.25), 1e-12);
}

static void reference_is_one(void **state) {
  (void)state;
  for (int i = 0; i < EW_SITE_ENGINES_COUNT; i++) {
    struct ew_site here = {100000, 298, 0.3, 298, 0.8};
    struct ew_site_adjustment a = ew_site_adjust((enum ew_site_engine)i, here);
    assert_near(a.k, 1, 1e-12);
    assert_near(a.power_ratio, 1, 1e-12);
    assert_near(a.consumption_ratio, 1, 1e-12);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(check_values), cmocka_unit_test(turbocharged),
                                     cmocka_unit_test(reference_is_one)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
