/* Constants of the units. Sources: NIST SP 811 (2008), Guide for the Use of the SI, appendix B, for
 * the exact definitions of the pound (0.45359237 kg), inch (25.4 mm), US gallon (231 in3) and the
 * conventional columns of mercury and water; standard gravity 9.80665 m/s2 (CGPM 1901); the imperial
 * gallon 4.54609 L (Units of Measurement Regulations 1995). The definitions are from memory; the
 * derived figures were computed from them in 60-digit arithmetic. */
#include "../near.h"
#include "base/units.h"

#define GRAVITY 9.80665
#define POUND   0.45359237
#define INCH    0.0254
#define FOOT    0.3048

struct row {
  const char *says, *text;
  enum ew_kind kind;
  double want, part;
};

#define EXACT 4e-15 /* a few roundings of a double */

static const struct row rows[] = {
    /* as printed: a figure that was computed once, not the expression again */
    {"horsepower, 550 ft lbf/s", "1 hp", EW_KIND_POWER, 745.6998715823, 1e-13},
    {"metric horsepower, 75 kgf m/s", "1 PS", EW_KIND_POWER, 735.49875, EXACT},
    {"pound-foot", "1 lb-ft", EW_KIND_TORQUE, 1.3558179483314, 1e-13},
    {"foot-pound is a torque here too", "1 ft-lb", EW_KIND_TORQUE, 1.3558179483314, 1e-13},
    {"pound an inch squared", "1 psia", EW_KIND_PRESSURE_ABSOLUTE, 6894.757293, 1e-10},
    {"gauge", "1 psi", EW_KIND_PRESSURE_GAUGE, 6894.757293, 1e-10},
    {"bar in psi", "14.503773773 psia", EW_KIND_PRESSURE_ABSOLUTE, 1e5, 1e-10},
    {"pound a horsepower-hour, 608.277388 g/kWh", "1 lb/hp-hr", EW_KIND_SPECIFIC_FUEL,
     608.277388e-3 / 3.6e6, 1e-9},
    {"0.50 lb/hp-hr, 304.139 g/kWh", "0.50 lb/hp-hr", EW_KIND_SPECIFIC_FUEL, 304.139e-3 / 3.6e6,
     2e-6},
    {"cubic inch", "1 cid", EW_KIND_VOLUME, 16.387064e-6, EXACT},
    {"cubic centimetre", "1 cc", EW_KIND_VOLUME, 1e-6, EXACT},
    {"US gallon", "1 US gal", EW_KIND_VOLUME, 3.785411784e-3, EXACT},
    {"imperial gallon", "1 imp gal", EW_KIND_VOLUME, 4.54609e-3, EXACT},
    /* from the exact definitions */
    {"inch of mercury, conventional, 0 C", "1 inHg", EW_KIND_PRESSURE_ABSOLUTE, 3386.388640, 2e-10},
    {"29.92 inHg is not 1013.25 hPa", "29.92 inHg", EW_KIND_PRESSURE_ABSOLUTE, 101320.75, 5e-7},
    {"1013.25 hPa", "29.921256 inHg", EW_KIND_PRESSURE_ABSOLUTE, 101325, 2e-8},
    {"99 kPa", "29.234683 inHg", EW_KIND_PRESSURE_ABSOLUTE, 99000, 2e-8},
    {"29.234 inHg", "29.234 inHg", EW_KIND_PRESSURE_ABSOLUTE, 98997.69, 1e-7},
    {"inch of water, 4 C", "1 inH2O", EW_KIND_PRESSURE_DIFFERENCE, 249.08891, 1e-9},
    {"28 inches of water", "28 inH2O", EW_KIND_PRESSURE_DIFFERENCE, 6974.489, 1e-7},
    {"millimetre of mercury, conventional", "1 mmHg", EW_KIND_PRESSURE_ABSOLUTE, 133.322387415,
     1e-12},
    {"pound", "1 lb", EW_KIND_MASS, POUND, EXACT},
    {"pound force", "1 lbf", EW_KIND_FORCE, POUND *GRAVITY, EXACT},
    {"inch", "1 in", EW_KIND_LENGTH, INCH, EXACT},
    {"thousandth of an inch", "1 thou", EW_KIND_LENGTH, INCH / 1000, EXACT},
    {"cubic foot a minute", "1 cfm", EW_KIND_VOLUME_FLOW, FOOT *FOOT *FOOT / 60, EXACT},
    {"pound an hour", "1 lb/hr", EW_KIND_MASS_FLOW, POUND / 3600, EXACT},
    {"foot a minute", "3770 ft/min", EW_KIND_SPEED, 3770 * FOOT / 60, EXACT},
    {"mile an hour", "1 mph", EW_KIND_SPEED, 0.44704, EXACT},
    {"kilowatt-hour", "1 kWh", EW_KIND_ENERGY, 3.6e6, EXACT},
    {"British thermal unit of the International Table", "1 BTU", EW_KIND_ENERGY, 1055.05585262,
     1e-11},
    {"pound-foot squared", "1 lb-ft2", EW_KIND_INERTIA, POUND *FOOT *FOOT, EXACT},
    {"pound force an inch", "1 lb/in", EW_KIND_STIFFNESS, POUND *GRAVITY / INCH, EXACT},
    {"turns a second", "100 rev/s", EW_KIND_ROTATIONAL_SPEED, 6000, EXACT},
    {"radians a second", "628.3185307179586 rad/s", EW_KIND_ROTATIONAL_SPEED, 6000, 1e-14},
    /* temperatures: offsets are exact */
    {"60 F is 15.5556 C", "60 degF", EW_KIND_TEMPERATURE, 273.15 + 140.0 / 9, EXACT},
    {"77 F is 25 C", "77 degF", EW_KIND_TEMPERATURE, 298.15, EXACT},
    {"Celsius", "25 degC", EW_KIND_TEMPERATURE, 298.15, EXACT},
    {"where the scales meet", "-40 degF", EW_KIND_TEMPERATURE, 233.15, EXACT},
    {"a difference has no offset", "9 delta°F", EW_KIND_TEMPERATURE_DIFFERENCE, 5, EXACT},
};

static void parsed(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GError) error = NULL;
    double got = NAN;
    gboolean good = ew_quantity_parse("figure", rows[i].text, rows[i].kind, &got, &error);
    assert_true_says(good, error ? error->message : rows[i].says);
    assert_relative_says(got, rows[i].want, rows[i].part, rows[i].says);
  }
}

static void shown_in_us_units(void **state) {
  (void)state;
  assert_relative(ew_shown(EW_KIND_POWER, EW_UNITS_US, 745.6998715822702), 1, EXACT);
  assert_relative(ew_shown(EW_KIND_TORQUE, EW_UNITS_US, 1.3558179483314004), 1, EXACT);
  assert_relative(ew_shown(EW_KIND_VOLUME, EW_UNITS_US, 16.387064e-6), 1, EXACT);
  assert_relative(ew_shown(EW_KIND_PRESSURE_GAUGE, EW_UNITS_US, 1e5), 14.503773773, 1e-10);
  assert_relative(ew_shown(EW_KIND_PRESSURE_ABSOLUTE, EW_UNITS_US, 101325), 29.921256, 2e-8);
  assert_relative(ew_shown(EW_KIND_SPECIFIC_FUEL, EW_UNITS_US, 608.277388e-3 / 3.6e6), 1, 1e-9);
  assert_near(ew_shown(EW_KIND_TEMPERATURE, EW_UNITS_US, 298.15), 77, 1e-11);
  assert_near(ew_shown(EW_KIND_TEMPERATURE, EW_UNITS_SI, 298.15), 25, 1e-12);
  assert_relative(ew_shown(EW_KIND_SPECIFIC_FUEL, EW_UNITS_SI, 304.139e-3 / 3.6e6), 304.139, EXACT);
}

/* 400 lbf ft at 5500 rpm = 418.8790 hp = 312.3580 kW; at 16500/pi = 5252.113122 rpm torque in lbf ft
 * and power in hp are equal (computed from the definitions above). */
static void power_of_torque_and_speed(void **state) {
  (void)state;
  double torque, speed;
  assert_true(ew_quantity_parse("torque", "400 lb-ft", EW_KIND_TORQUE, &torque, NULL));
  assert_true(ew_quantity_parse("speed", "5500 rpm", EW_KIND_ROTATIONAL_SPEED, &speed, NULL));
  double power = torque * speed * G_PI / 30;
  assert_near(ew_shown(EW_KIND_POWER, EW_UNITS_US, power), 418.8790, 0.5e-4);
  assert_near(ew_shown(EW_KIND_POWER, EW_UNITS_SI, power), 312.3580, 0.5e-4);
  power = torque * 5252.113122 * G_PI / 30;
  assert_relative(ew_shown(EW_KIND_POWER, EW_UNITS_US, power), 400, 1e-9);
  assert_relative(9549.296586 * G_PI / 30, 1000, 1e-9); /* kW = N m rpm / 9549.296586 */
  double ps = NAN;
  assert_true(ew_quantity_parse("power", "1 PS", EW_KIND_POWER, &ps, NULL));
  assert_relative(7023.495702 * G_PI / 30, ps, 1e-9); /* PS = N m rpm / 7023.495702 */
}

/* BMEP of a four-stroke in psi = 150.796447 x lbf ft / in3: 400 and 350 give 172.3388 psi (computed). */
static void mean_effective_pressure_constant(void **state) {
  (void)state;
  double torque, volume;
  assert_true(ew_quantity_parse("torque", "400 lb-ft", EW_KIND_TORQUE, &torque, NULL));
  assert_true(ew_quantity_parse("displacement", "350 cid", EW_KIND_VOLUME, &volume, NULL));
  double pa = 4 * G_PI * torque / volume;
  assert_near(ew_shown(EW_KIND_MEAN_EFFECTIVE_PRESSURE, EW_UNITS_US, pa), 172.3388, 0.5e-4);
  assert_near(pa / 1e5, 11.88234, 0.5e-5);
}

/* Things that share a dimension and are not the same, or that do not say enough. */
static void refused(void **state) {
  (void)state;
  static const struct {
    const char *says, *text;
    enum ew_kind kind;
  } wrong[] = {
      {"gauge is not absolute", "65 psig", EW_KIND_PRESSURE_ABSOLUTE},
      {"absolute is not gauge", "14.7 psia", EW_KIND_PRESSURE_GAUGE},
      {"which gallon", "5 gal", EW_KIND_VOLUME},
      {"an air-fuel ratio is no lambda", "12.9 AFR", EW_KIND_LAMBDA},
      {"a power is no torque", "200 kW", EW_KIND_TORQUE},
      {"a torque is no power", "200 lb-ft", EW_KIND_POWER},
      {"a pressure without a unit", "985", EW_KIND_PRESSURE_ABSOLUTE},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(wrong); i++) {
    g_autoptr(GError) error = NULL;
    double got;
    assert_true_says(!ew_quantity_parse("figure", wrong[i].text, wrong[i].kind, &got, &error),
                     wrong[i].says);
    assert_non_null(error);
    assert_true_says(strstr(error->message, "figure") != NULL, error->message);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(parsed), cmocka_unit_test(shown_in_us_units),
                                     cmocka_unit_test(power_of_torque_and_speed),
                                     cmocka_unit_test(mean_effective_pressure_constant),
                                     cmocka_unit_test(refused)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
