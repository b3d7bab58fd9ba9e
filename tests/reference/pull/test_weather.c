/* The rates by which weather moves on, against a year of hourly readings of one station (KNMI, Westdorpe, 2010; see
 * data/PROVENANCE.md): what the budget adds for an hour is what an hour did, and a front that really passed is not taken for a
 * reading reduced to sea level. */
#include "../near.h"
#include "pull/plausible.h"
#include "pull/weather.h"

struct year {
  GArray *pressure_pa, *temperature_k; /* double, hourly */
};

static struct year read_year(void) {
  struct year y = {g_array_new(FALSE, FALSE, sizeof(double)),
                   g_array_new(FALSE, FALSE, sizeof(double))};
  g_autofree char *text = data_text("ugly-tables/knmi-westdorpe-hourly-head.txt");
  g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
  for (int i = 0; lines[i]; i++) {
    g_auto(GStrv) cells = g_strsplit(lines[i], ",", -1);
    if (*lines[i] == '#' || g_strv_length(cells) < 5)
      continue;
    double temperature = 273.15 + g_ascii_strtod(g_strstrip(cells[3]), NULL) / 10;
    double pressure = g_ascii_strtod(g_strstrip(cells[4]), NULL) * 10;
    g_array_append_val(y.temperature_k, temperature);
    g_array_append_val(y.pressure_pa, pressure);
  }
  assert_true(y.pressure_pa->len > 8900);
  return y;
}

static void year_clear(struct year *y) {
  g_array_unref(y->pressure_pa);
  g_array_unref(y->temperature_k);
}

static double rms_change(const GArray *x, guint hours) {
  double squares = 0;
  for (guint i = hours; i < x->len; i++) {
    double change = g_array_index(x, double, i) - g_array_index(x, double, i - hours);
    squares += change * change;
  }
  return sqrt(squares / (x->len - hours));
}

static void rates(void **state) {
  (void)state;
  struct year y = read_year();
  assert_relative(EW_WEATHER_PRESSURE_PA_S * 3600, rms_change(y.pressure_pa, 1), 0.03);
  assert_relative(EW_WEATHER_TEMPERATURE_K_S * 3600, rms_change(y.temperature_k, 1), 0.03);
  /* in proportion to time, near enough: three hours are not worth more than 15 % less */
  assert_relative(EW_WEATHER_PRESSURE_PA_S * 3 * 3600, rms_change(y.pressure_pa, 3), 0.15);
  assert_relative(EW_WEATHER_TEMPERATURE_K_S * 3 * 3600, rms_change(y.temperature_k, 3), 0.3);
  year_clear(&y);
}

/* A factor with carried-forward weather errs by what the weather did meanwhile: J1349's factor with the air of now against
 * the air of an hour ago, the whole year through, has the spread that is stated. */
static void factors_of_an_hour_ago(void **state) {
  (void)state;
  struct year y = read_year();
  double squares = 0, stated = 0;
  guint count = 0;
  for (guint i = 1; i < y.pressure_pa->len; i++) {
    double t = g_array_index(y.temperature_k, double, i),
           t0 = g_array_index(y.temperature_k, double, i - 1);
    struct ew_air now = {g_array_index(y.pressure_pa, double, i), t, 1000, NAN};
    struct ew_air then = {g_array_index(y.pressure_pa, double, i - 1), t0, 1000, NAN};
    struct ew_curve curve = {.method = {.standard = EW_STANDARD_J1349},
                             .conditions = {.pressure_pa = then.pressure_pa,
                                            .temperature_k = t0,
                                            .vapour_pa = 1000,
                                            .weather_age_s = 3600,
                                            .pressure_from = "set-up",
                                            .temperature_from = "set-up",
                                            .humidity_from = "channel"},
                             .factor = ew_correction_factor(EW_STANDARD_J1349, EW_NATURAL, then)};
    double error =
        ew_correction_factor(EW_STANDARD_J1349, EW_NATURAL, now).factor / curve.factor.factor - 1;
    double u = ew_weather_drift(&curve);
    squares += error * error;
    stated += u * u;
    count++;
  }
  assert_relative(sqrt(stated / count), sqrt(squares / count), 0.1);
  year_clear(&y);
}

/* No reading of that year, held against one of 1 to 12 hours before, is doubted more than once in 2,000. */
static void fronts_are_believed(void **state) {
  (void)state;
  struct year y = read_year();
  static const guint hours[] = {1, 2, 3, 6, 12};
  double doubted = 0, asked = 0;
  g_autoptr(GArray) columns = g_array_new(FALSE, FALSE, sizeof(struct ew_curve_column));
  for (gsize k = 0; k < G_N_ELEMENTS(hours); k++)
    for (guint i = hours[k]; i < y.pressure_pa->len; i++) {
      struct ew_curve curve = {
          .conditions = {.pressure_pa = g_array_index(y.pressure_pa, double, i),
                         .pressure_from = "set-up",
                         .temperature_from = "set-up",
                         .temperature_k = NAN,
                         .vapour_pa = NAN},
          .factor = {.factor = 1},
          .columns = columns};
      struct ew_plausible p = ew_plausible_nothing();
      p.curve = &curve;
      p.known_pressure_pa = g_array_index(y.pressure_pa, double, i - hours[k]);
      p.known_pressure_age_s = 3600.0 * hours[k];
      g_autoptr(GPtrArray) doubts = ew_implausible(&p);
      doubted += doubts->len;
      asked++;
    }
  print_message("%.0f of %.0f readings doubted\n", doubted, asked);
  assert_true(doubted < asked / 2000);
  year_clear(&y);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(rates),
                                     cmocka_unit_test(factors_of_an_hour_ago),
                                     cmocka_unit_test(fronts_are_believed)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
