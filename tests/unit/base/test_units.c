/* Factors: NIST Special Publication 811 (2008), appendix B.8, digits as printed there unless a row says
 * otherwise; degrees and gallons are exact by definition. The table of spellings is included, so that
 * every row of it is tried. */
#include "base/unit_spellings.c"
#include "base/number.h"
#include "unit.h"
#include <glib/gstdio.h>
#include <locale.h>
#include <math.h>

struct reading {
  const char *says, *text;
  enum ew_kind kind;
  double want, part; /* part: relative tolerance, half of the last digit printed */
};

static const struct reading readings[] = {
    {"horsepower of 550 ft·lbf/s", "1 hp", EW_KIND_POWER, 7.456999e2, 1e-7},
    {"metric horsepower", "1 PS", EW_KIND_POWER, 7.354988e2, 1e-7},
    {"cheval vapeur is the same", "1 CV", EW_KIND_POWER, 7.354988e2, 1e-7},
    {"kilowatt", "198 kW", EW_KIND_POWER, 198e3, 1e-15},
    {"pound-foot of torque", "1 lb-ft", EW_KIND_TORQUE, 1.355818, 3e-7},
    {"foot-pound is the same torque", "1 ft-lb", EW_KIND_TORQUE, 1.355818, 3e-7},
    {"pound-inch", "1 lb-in", EW_KIND_TORQUE, 0.1129848, 5e-7},
    {"kilogram-force metre", "1 kgf·m", EW_KIND_TORQUE, 9.80665, 1e-12},
    {"newton metre with a dot", "304 N·m", EW_KIND_TORQUE, 304, 0},
    {"newton metre without", "304 Nm", EW_KIND_TORQUE, 304, 0},
    {"foot-pound-force is energy too", "1 ft-lbf", EW_KIND_ENERGY, 1.355818, 3e-7},
    {"British thermal unit (IT)", "1 BTU", EW_KIND_ENERGY, 1.055056e3, 3e-7},
    {"kilowatt hour", "2 kWh", EW_KIND_ENERGY, 7.2e6, 1e-15},
    {"inch of mercury, conventional", "1 inHg", EW_KIND_PRESSURE_ABSOLUTE, 3.386389e3, 2e-7},
    {"standard air of J607", "29.92 inHg", EW_KIND_PRESSURE_ABSOLUTE, 101320.75, 1e-7},
    {"inch of water, conventional", "1 inH2O", EW_KIND_PRESSURE_DIFFERENCE, 249.0889, 3e-7},
    {"psi as gauge", "65 psi", EW_KIND_PRESSURE_GAUGE, 65 * 6.894757e3, 1e-7},
    {"psi as absolute", "14.696 psia", EW_KIND_PRESSURE_ABSOLUTE, 14.696 * 6.894757e3, 1e-7},
    {"psig is gauge", "65 psig", EW_KIND_PRESSURE_GAUGE, 65 * 6.894757e3, 1e-7},
    {"bar gauge", "4.5 bar(g)", EW_KIND_PRESSURE_GAUGE, 4.5e5, 1e-15},
    {"hectopascal", "985 hPa", EW_KIND_PRESSURE_ABSOLUTE, 98500, 1e-15},
    {"megapascal, not millipascal", "1 MPa", EW_KIND_PRESSURE_GAUGE, 1e6, 1e-15},
    {"bmep in psi", "186 psi", EW_KIND_MEAN_EFFECTIVE_PRESSURE, 186 * 6.894757e3, 1e-7},
    {"thousandth of an inch", "2 thou", EW_KIND_LENGTH, 5.08e-5, 1e-12},
    {"mil", "2 mil", EW_KIND_LENGTH, 5.08e-5, 1e-12},
    {"inch", "3.386 in", EW_KIND_LENGTH, 3.386 * 0.0254, 1e-12},
    {"cubic centimetre", "497 cc", EW_KIND_VOLUME, 497e-6, 1e-12},
    {"cubic inch", "350 cid", EW_KIND_VOLUME, 350 * 1.6387064e-5, 1e-12},
    {"US gallon", "1 US gal", EW_KIND_VOLUME, 3.785412e-3, 2e-7},
    {"imperial gallon", "1 imp gal", EW_KIND_VOLUME, 4.54609e-3, 1e-12},
    {"litre", "2.98 L", EW_KIND_VOLUME, 2.98e-3, 1e-12},
    {"cubic foot a minute", "1 cfm", EW_KIND_VOLUME_FLOW, 4.719474e-4, 2e-7},
    {"US gallon a minute", "1 US gal/min", EW_KIND_VOLUME_FLOW, 6.309020e-5, 2e-7},
    {"pound an hour", "1 lb/hr", EW_KIND_MASS_FLOW, 1.259979e-4, 4e-7},
    {"pound a horsepower hour", "1 lb/hp-hr", EW_KIND_SPECIFIC_FUEL, 1.689659e-7, 4e-7},
    {"gram a kilowatt hour", "270 g/kWh", EW_KIND_SPECIFIC_FUEL, 270e-3 / 3.6e6, 1e-12},
    {"BTU a pound", "1 BTU/lb", EW_KIND_SPECIFIC_ENERGY, 2.326e3, 1e-12},
    {"pound foot squared", "1 lb-ft2", EW_KIND_INERTIA, 4.214011e-2, 2e-7},
    {"pound-inch second squared", "1 in-lb-s2", EW_KIND_INERTIA, 0.1129848, 5e-7},
    {"pound-foot second squared", "1 lb-ft-s2", EW_KIND_INERTIA, 1.355818, 3e-7},
    {"inches of water by their sign", "28\" H2O", EW_KIND_PRESSURE_DIFFERENCE, 28 * 249.0889, 3e-7},
    {"a half by its sign", "4½ in", EW_KIND_LENGTH, 4.5 * 0.0254, 1e-12},
    {"three eighths alone", "⅜ in", EW_KIND_LENGTH, 0.375 * 0.0254, 1e-12},
    /* 101,325 Pa / (287.055 J/(kg K) 288.706 K) x 4.719474e-4 m3/s: 60 °F; composed, no printed figure */
    {"standard cubic foot a minute", "1 scfm", EW_KIND_MASS_FLOW, 5.7704e-4, 2e-4},
    {"pound an inch of spring", "1 lb/in", EW_KIND_STIFFNESS, 1.751268e2, 4e-7},
    {"pound-force", "1 lbf", EW_KIND_FORCE, 4.448222, 2e-7},
    {"pound", "1 lb", EW_KIND_MASS, 0.45359237, 1e-12},
    {"mile an hour", "60 mph", EW_KIND_SPEED, 60 * 0.44704, 1e-12},
    {"foot a minute", "4000 ft/min", EW_KIND_SPEED, 4000 * 5.08e-3, 1e-12},
    {"degree Celsius", "25 degC", EW_KIND_TEMPERATURE, 298.15, 1e-12},
    {"degree Fahrenheit", "77 °F", EW_KIND_TEMPERATURE, 298.15, 1e-12},
    {"kelvin", "298 K", EW_KIND_TEMPERATURE, 298, 0},
    {"below nothing Celsius", "-40 °C", EW_KIND_TEMPERATURE, 233.15, 1e-12},
    {"a difference in Fahrenheit", "9 delta°F", EW_KIND_TEMPERATURE_DIFFERENCE, 5, 1e-12},
    {"revolutions a minute stay", "6000 rpm", EW_KIND_ROTATIONAL_SPEED, 6000, 1e-12},
    {"revolutions a second", "100 rev/s", EW_KIND_ROTATIONAL_SPEED, 6000, 1e-12},
    {"radians a second", "628.3185307179586 rad/s", EW_KIND_ROTATIONAL_SPEED, 6000, 1e-12},
    {"thousands of rpm", "6.5 krpm", EW_KIND_ROTATIONAL_SPEED, 6500, 1e-12},
    {"degrees stay degrees", "30 deg", EW_KIND_ANGLE, 30, 1e-12},
    {"before top dead centre", "30 BTDC", EW_KIND_ANGLE, 30, 1e-12},
    {"radians become degrees", "1 rad", EW_KIND_ANGLE, 57.29578, 1e-7},
    {"per cent", "85 %", EW_KIND_RATIO, 0.85, 1e-15},
    {"a share", "0.85", EW_KIND_RATIO, 0.85, 0},
    {"lambda", "0.88", EW_KIND_LAMBDA, 0.88, 0},
    {"lambda by name", "0.88 lambda", EW_KIND_LAMBDA, 0.88, 0},
    {"an air-fuel ratio", "12.9:1", EW_KIND_AIR_FUEL_RATIO, 12.9, 0},
    {"a ratio of compression", "10.2:1", EW_KIND_NUMBER, 10.2, 0},
    {"a ratio of gears", "3.9 : 1", EW_KIND_NUMBER, 3.9, 0},
    {"milliseconds", "150 ms", EW_KIND_TIME, 0.15, 1e-12},
    {"a typographic minus", "−5 deg", EW_KIND_ANGLE, -5, 1e-12},
    {"capitals do not matter", "304 NM", EW_KIND_TORQUE, 304, 0},
    {"no blank between", "985hPa", EW_KIND_PRESSURE_ABSOLUTE, 98500, 1e-15},
};

static void figures(void) {
  for (gsize i = 0; i < G_N_ELEMENTS(readings); i++) {
    const struct reading *r = &readings[i];
    g_autoptr(GError) error = NULL;
    double inside = NAN;
    expect(ew_quantity_parse("x", r->text, r->kind, &inside, &error), r->says, "%s",
           error ? error->message : "");
    expect_near(inside, r->want, r->part * fabs(r->want) + 1e-12 * fabs(r->want), r->says);
  }
}

static void known_figures(void **state) {
  (void)state;
  figures();
}

static void refusals(void **state) {
  (void)state;
  static const struct {
    const char *says, *text;
    enum ew_kind kind;
    const char *words;
  } rows[] = {
      {"torque is not pressure", "30 psi", EW_KIND_TORQUE, "x|'psi'|not a unit of torque|304 N·m"},
      {"energy is not torque", "30 J", EW_KIND_TORQUE, "'J'|joules measure energy"},
      {"kilojoules are no torque", "0.3 kJ", EW_KIND_TORQUE, "'kJ'|energy"},
      {"a mass is no force", "480 lb", EW_KIND_FORCE, "'lb'|unit of mass|lbf"},
      {"kilograms are no force", "48 kg", EW_KIND_FORCE, "'kg'|not a unit of force"},
      {"a force is no mass", "48 lbf", EW_KIND_MASS, "'lbf'|not a unit of mass"},
      {"gauge is not absolute", "14 psig", EW_KIND_PRESSURE_ABSOLUTE, "'psig'|gauge"},
      {"absolute is not gauge", "14 psia", EW_KIND_PRESSURE_GAUGE, "'psia'|absolute"},
      {"bar gauge is not absolute", "1 barg", EW_KIND_PRESSURE_ABSOLUTE, "'barg'|gauge"},
      {"reduced to sea level is no station pressure", "1013 QNH", EW_KIND_PRESSURE_ABSOLUTE,
       "'QNH'|sea level|pressure in the cell|barometer"},
      {"gallons that do not say which", "5 gal", EW_KIND_VOLUME, "'gal'|US gal|imp gal"},
      {"gallons an hour neither", "5 gal/h", EW_KIND_VOLUME_FLOW, "US gal/h|imp gal/h"},
      {"ounces that do not say which", "5 oz", EW_KIND_MASS, "'oz'|cc"},
      {"horsepower in full", "200 horsepower", EW_KIND_POWER, "hp|PS"},
      {"lambda is no air-fuel ratio", "0.9 lambda", EW_KIND_AIR_FUEL_RATIO, "lambda|fuel"},
      {"an air-fuel ratio is no lambda", "12.9 AFR", EW_KIND_LAMBDA, "'AFR'|name the fuel"},
      {"so with a colon", "12.9:1", EW_KIND_LAMBDA, "':1'|name the fuel"},
      {"a ratio the other way", "1:10.2", EW_KIND_NUMBER, "':10.2'|not a unit of number"},
      {"a ratio of gears is no length", "3.9:1", EW_KIND_LENGTH, "':1'|measures something else"},
      {"a mixture is no ratio of compression", "10.2 AFR", EW_KIND_NUMBER, "'AFR'|something else"},
      {"lambda is no ratio of compression", "0.9 lambda", EW_KIND_NUMBER,
       "'lambda'|something else"},
      {"hertz is no engine speed", "100 Hz", EW_KIND_ROTATIONAL_SPEED, "'Hz'"},
      {"a temperature is no difference", "20 °F", EW_KIND_TEMPERATURE_DIFFERENCE, "'°F'"},
      {"degrees of angle are no temperature", "20 deg", EW_KIND_TEMPERATURE, "'deg'|25 degC"},
      {"grams are no length", "20 g", EW_KIND_LENGTH, "'g'|86 mm"},
      {"a missing unit", "86", EW_KIND_LENGTH, "unit is missing|86 mm"},
      {"a decimal comma", "1,5 mm", EW_KIND_LENGTH, "decimal mark is a point"},
      {"words", "some mm", EW_KIND_LENGTH, "not a figure"},
      {"nothing", "", EW_KIND_LENGTH, "not a figure|86 mm"},
      {"infinity", "inf mm", EW_KIND_LENGTH, "not a figure"},
      {"out of all range", "1e308 km", EW_KIND_LENGTH, "too large"},
      {"a time since", "3 s since 1970-01-01", EW_KIND_TIME, "not a unit of time"},
      {"a logarithm", "3 lg(re 1 Pa)", EW_KIND_PRESSURE_GAUGE, "not a unit"},
      {"furlongs are known to the library", "1 bananas", EW_KIND_LENGTH, "'bananas'"},
      {"per cent of what", "5 %", EW_KIND_LENGTH, "'%'"},
      {"counts are no volts", "5 V", EW_KIND_COUNT, "'V'"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GError) error = NULL;
    double inside;
    expect(!ew_quantity_parse("x", rows[i].text, rows[i].kind, &inside, &error), rows[i].says,
           "%.6g", inside);
    expect_refused(error, rows[i].words, rows[i].says);
    expect(g_str_has_prefix(error->message, "x: "), rows[i].says, "%s", error->message);
  }
  g_autoptr(GError) error = NULL;
  struct ew_unit unit;
  assert_false(ew_unit_parse("x", "\xff\xfe", EW_KIND_LENGTH, &unit, &error));
  expect_refused(error, "UTF-8", "bytes that are no text");
}

static enum ew_kind kind_for(const struct ew_unit_spelling *s) {
  return s->kind != ANY              ? s->kind
         : strcmp(s->text, "k") == 0 ? EW_KIND_TEMPERATURE
                                     : EW_KIND_PRESSURE_ABSOLUTE;
}

static void all_spellings(void) {
  for (gsize i = 0; i < G_N_ELEMENTS(spellings); i++) {
    const struct ew_unit_spelling *s = &spellings[i];
    g_autoptr(GError) error = NULL;
    struct ew_unit unit = {0}, recognised = {0};
    expect(ew_unit_parse("x", s->text, kind_for(s), &unit, &error), s->text, "%s",
           error ? error->message : "");
    expect(isfinite(unit.scale) && unit.scale > 0, s->text, "%g", unit.scale);
    g_autofree char *upper = g_ascii_strup(s->text, -1);
    if (strcmp(upper, "MPA") && strcmp(upper, "MN.M"))
      expect(ew_unit_parse("x", upper, kind_for(s), &recognised, &error) &&
                 recognised.scale == unit.scale,
             s->text, "%g", recognised.scale);
    if (g_ascii_isdigit(*s->text)) /* "1/min" is no heading, but "min-1" is */
      continue;
    expect(ew_unit_recognise(s->text, &recognised), s->text, "not recognised in a heading");
    expect(s->kind == ANY || recognised.kind == s->kind, s->text, "%s",
           ew_kind_name(recognised.kind));
    for (gsize j = 0; j < i; j++)
      expect(strcmp(spellings[j].text, s->text) != 0, s->text, "stands twice");
  }
}

static void every_spelling_converts(void **state) {
  (void)state;
  all_spellings();
}

static void kinds_are_whole(void **state) {
  (void)state;
  for (int kind = 0; kind < EW_KINDS_COUNT; kind++) {
    g_auto(GStrv) examples = g_strsplit(ew_kind_examples(kind), ", ", -1);
    for (int i = 0; examples[i]; i++) {
      g_autoptr(GError) error = NULL;
      double inside;
      expect(ew_quantity_parse("x", examples[i], kind, &inside, &error), ew_kind_name(kind), "%s",
             error ? error->message : "");
    }
    for (int system = 0; system < 2; system++) {
      double shown = ew_shown(kind, system, 300), back;
      g_autofree char *text = ew_quantity_format(kind, system, 300, 9);
      g_autoptr(GError) error = NULL;
      expect(ew_quantity_parse("x", text, kind, &back, &error), text, "%s",
             error ? error->message : "");
      expect_near(back, 300, 1e-5 * 300, text);
      expect(isfinite(shown), text, "%g", shown);
    }
  }
}

/* A German locale writes 1,5: neither reading nor writing may follow it. */
static gboolean german(void) {
  if (setlocale(LC_ALL, "de_DE.UTF-8"))
    return TRUE;
  g_autofree char *folder = g_dir_make_tmp("ew-locale-XXXXXX", NULL);
  g_autofree char *place = g_build_filename(folder, "de_DE.UTF-8", NULL);
  const char *make[] = {"localedef", "-i", "de_DE", "-f", "UTF-8", place, NULL};
  g_spawn_sync(NULL, (char **)make, NULL,
               G_SPAWN_SEARCH_PATH | G_SPAWN_STDOUT_TO_DEV_NULL | G_SPAWN_STDERR_TO_DEV_NULL, NULL,
               NULL, NULL, NULL, NULL, NULL);
  g_setenv("LOCPATH", folder, TRUE);
  gboolean good = setlocale(LC_ALL, "de_DE.UTF-8") != NULL;
  const char *away[] = {"rm", "-rf", folder, NULL};
  g_spawn_sync(NULL, (char **)away, NULL, G_SPAWN_SEARCH_PATH, NULL, NULL, NULL, NULL, NULL, NULL);
  return good;
}

static void german_locale(void **state) {
  (void)state;
  if (!german())
    skip(); /* the package locales is not installed */
  g_autofree char *comma = g_strdup_printf("%.1f", 1.5);
  assert_string_equal(comma, "1,5"); /* the locale is in force */
  figures();
  all_spellings();
  g_autofree char *text = ew_quantity_format(EW_KIND_POWER, EW_UNITS_SI, 198100, 1);
  assert_string_equal(text, "198.1 kW");
  double value;
  assert_true(ew_number_parse("1.5e3", &value) && value == 1500);
  assert_true(ew_number_read("0.30000004999999999999", 22, '.', &value));
  setlocale(LC_ALL, "C");
  double want = g_ascii_strtod("0.30000004999999999999", NULL);
  assert_memory_equal(&value, &want, sizeof value);
}

/* What hangs on a tape measure. The unit library alone would read 3 3/8 in as 3 times 3/8. */
static void fractions(void **state) {
  (void)state;
  static const struct {
    const char *text;
    double want; /* inches; NaN: refused */
  } rows[] = {{"3 3/8 in", 3.375},   {"3-3/8 in", 3.375}, {"3 3/8in", 3.375},
              {"3/8 in", 0.375},     {"-1 1/2 in", -1.5}, {"-1/2 in", -0.5},
              {"0 1/16 in", 0.0625}, {"12/8 in", 1.5},    {"3 in", 3},
              {"3.375 in", 3.375},   {"3 3 in", NAN},     {"3.5 1/2 in", NAN},
              {"3 8/3 in", NAN},     {"3 1/0 in", NAN},   {"1/0 in", NAN},
              {"3 3/8/2 in", NAN},   {"3 0.01 in", NAN},  {"3 3/8.5 in", NAN},
              {"2e1 1/2 in", NAN},   {"3 - 3/8 in", NAN}, {"3 1000000000/8 in", NAN}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    double inside = NAN;
    g_autoptr(GError) error = NULL;
    gboolean good = ew_quantity_parse("bore", rows[i].text, EW_KIND_LENGTH, &inside, &error);
    expect(good == !isnan(rows[i].want), rows[i].text, "%g %s", inside,
           error ? error->message : "taken");
    if (good)
      expect_near(inside, rows[i].want * 0.0254, 1e-15, rows[i].text);
  }
  double rpm;
  assert_true(ew_quantity_parse("x", "7000 1/min", EW_KIND_ROTATIONAL_SPEED, &rpm, NULL));
  assert_true(fabs(rpm - 7000) < 1e-9);
}

/* A wire may bring any double; a unit may carry it beyond the range of a double. */
static void beyond_all_range(void **state) {
  (void)state;
  struct ew_unit bar;
  assert_true(ew_unit_parse("x", "bar", EW_KIND_PRESSURE_ABSOLUTE, &bar, NULL));
  assert_true(isnan(ew_to_inside(bar, 1e305)));
  assert_true(isnan(ew_to_inside(bar, -1e305)));
  assert_true(ew_to_inside(bar, 2) == 2e5);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(fractions),       cmocka_unit_test(known_figures),
      cmocka_unit_test(refusals),        cmocka_unit_test(every_spelling_converts),
      cmocka_unit_test(kinds_are_whole), cmocka_unit_test(german_locale),
      cmocka_unit_test(beyond_all_range)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
