/* Order of the look-up, which decides what a spelling means:
 *   1. our table of trade spellings, on the whole trimmed text;
 *   2. a list of spellings that udunits2 would take for something else, refused;
 *   3. udunits2;
 *   4. the kind: of one dimension there are several, and they do not mix.
 * udunits2 2.2.28 is not safe between threads (one mutex), and reads figures by the locale: it is
 * called in the C locale. */
#include "base/units.h"
#include "base/error.h"
#include "base/number.h"
#include <locale.h>
#include <math.h>
#include <string.h>
#include <udunits2.h>

static const struct kind_facts {
  const char *id, *si, *suffix, *shown, *us, *examples;
} kinds[] = {
#define X(name, si, suffix, shown, us, examples) {#name, si, suffix, shown, us, examples},
    EW_KINDS(X)
#undef X
};
_Static_assert(G_N_ELEMENTS(kinds) == EW_KINDS_COUNT, "one row a kind");

#define ANY EW_KINDS_COUNT /* the spelling fixes the dimension, not the kind */

/* What the trade writes, what it means to udunits2, and the kind when the spelling fixes it. */
static const struct spelling {
  const char *text, *meaning;
  enum ew_kind kind;
} spellings[] = {
    {"rpm", "0.1047197551196597746 rad/s", EW_KIND_ROTATIONAL_SPEED},
    {"1/min", "0.1047197551196597746 rad/s", EW_KIND_ROTATIONAL_SPEED},
    {"min-1", "0.1047197551196597746 rad/s", EW_KIND_ROTATIONAL_SPEED},
    {"min^-1", "0.1047197551196597746 rad/s", EW_KIND_ROTATIONAL_SPEED},
    {"r/min", "0.1047197551196597746 rad/s", EW_KIND_ROTATIONAL_SPEED},
    {"rev/min", "0.1047197551196597746 rad/s", EW_KIND_ROTATIONAL_SPEED},
    {"u/min", "0.1047197551196597746 rad/s", EW_KIND_ROTATIONAL_SPEED},
    {"krpm", "104.7197551196597746 rad/s", EW_KIND_ROTATIONAL_SPEED},
    {"rev/s", "6.283185307179586477 rad/s", EW_KIND_ROTATIONAL_SPEED},
    {"rad/s", "rad/s", EW_KIND_ROTATIONAL_SPEED},
    {"rpm/s", "0.1047197551196597746 rad/s2", EW_KIND_ROTATIONAL_ACCELERATION},
    {"rad/s2", "rad/s2", EW_KIND_ROTATIONAL_ACCELERATION},
    {"nm", "N.m", EW_KIND_TORQUE}, /* nobody in this trade measures nanometres */
    {"n·m", "N.m", EW_KIND_TORQUE},
    {"n-m", "N.m", EW_KIND_TORQUE},
    {"n*m", "N.m", EW_KIND_TORQUE},
    {"n m", "N.m", EW_KIND_TORQUE},
    {"n.m", "N.m", EW_KIND_TORQUE},
    {"knm", "kN.m", EW_KIND_TORQUE},
    {"lb-ft", "ft.lbf", EW_KIND_TORQUE},
    {"lbft", "ft.lbf", EW_KIND_TORQUE},
    {"lb·ft", "ft.lbf", EW_KIND_TORQUE},
    {"lb.ft", "ft.lbf", EW_KIND_TORQUE},
    {"lb ft", "ft.lbf", EW_KIND_TORQUE},
    {"lbs-ft", "ft.lbf", EW_KIND_TORQUE},
    {"lbf-ft", "ft.lbf", EW_KIND_TORQUE},
    {"lbf.ft", "ft.lbf", EW_KIND_TORQUE},
    {"lbf ft", "ft.lbf", EW_KIND_TORQUE},
    {"ft-lb", "ft.lbf", EW_KIND_TORQUE},
    {"ft-lbs", "ft.lbf", EW_KIND_TORQUE},
    {"ft·lb", "ft.lbf", EW_KIND_TORQUE},
    {"ft.lb", "ft.lbf", EW_KIND_TORQUE},
    {"ft lb", "ft.lbf", EW_KIND_TORQUE},
    {"ftlb", "ft.lbf", EW_KIND_TORQUE},
    {"ft-lbf", "ft.lbf", EW_KIND_TORQUE},
    {"ft·lbf", "ft.lbf", EW_KIND_TORQUE},
    {"in-lb", "in.lbf", EW_KIND_TORQUE},
    {"lb-in", "in.lbf", EW_KIND_TORQUE},
    {"kgf·m", "kgf.m", EW_KIND_TORQUE},
    {"kgm", "kgf.m", EW_KIND_TORQUE},
    {"n·m/rad", "N.m/rad", EW_KIND_TORSIONAL_STIFFNESS},
    {"nm/rad", "N.m/rad", EW_KIND_TORSIONAL_STIFFNESS},
    {"n.m/rad", "N.m/rad", EW_KIND_TORSIONAL_STIFFNESS},
    {"n·m/deg", "N.m/arcdeg", EW_KIND_TORSIONAL_STIFFNESS},
    {"n·m/h", "N.m/h", EW_KIND_TORQUE_RATE},
    {"nm/h", "N.m/h", EW_KIND_TORQUE_RATE},
    {"hp", "550 ft.lbf/s", EW_KIND_POWER},
    {"bhp", "550 ft.lbf/s", EW_KIND_POWER},
    {"ps", "75 kgf.m/s", EW_KIND_POWER},
    {"cv", "75 kgf.m/s", EW_KIND_POWER},
    {"pk", "75 kgf.m/s", EW_KIND_POWER},
    {"psi", "lbf/in2", ANY},
    {"psig", "lbf/in2", EW_KIND_PRESSURE_GAUGE},
    {"psia", "lbf/in2", EW_KIND_PRESSURE_ABSOLUTE},
    {"psid", "lbf/in2", EW_KIND_PRESSURE_DIFFERENCE},
    {"barg", "bar", EW_KIND_PRESSURE_GAUGE},
    {"bar(g)", "bar", EW_KIND_PRESSURE_GAUGE},
    {"bar g", "bar", EW_KIND_PRESSURE_GAUGE},
    {"bara", "bar", EW_KIND_PRESSURE_ABSOLUTE},
    {"bar(a)", "bar", EW_KIND_PRESSURE_ABSOLUTE},
    {"bar abs", "bar", EW_KIND_PRESSURE_ABSOLUTE},
    {"kpag", "kPa", EW_KIND_PRESSURE_GAUGE},
    {"kpa(g)", "kPa", EW_KIND_PRESSURE_GAUGE},
    {"kpaa", "kPa", EW_KIND_PRESSURE_ABSOLUTE},
    {"kpa(a)", "kPa", EW_KIND_PRESSURE_ABSOLUTE},
    {"kpa abs", "kPa", EW_KIND_PRESSURE_ABSOLUTE},
    {"inhg", "3386.38864034 Pa", ANY}, /* 13595.1 kg/m3 x 9.80665 m/s2 x 0.0254 m */
    {"in hg", "3386.38864034 Pa", ANY},
    {"in.hg", "3386.38864034 Pa", ANY},
    {"\"hg", "3386.38864034 Pa", ANY},
    {"mmhg", "133.322387415 Pa", ANY},
    {"inh2o", "249.08891 Pa", EW_KIND_PRESSURE_DIFFERENCE}, /* water at 4 °C */
    {"in h2o", "249.08891 Pa", EW_KIND_PRESSURE_DIFFERENCE},
    {"mbar", "mbar", ANY},
    {"thou", "0.001 in", EW_KIND_LENGTH},
    {"mil", "0.001 in", EW_KIND_LENGTH},
    {"in", "in", EW_KIND_LENGTH},
    {"\"", "in", EW_KIND_LENGTH},
    {"cc", "cm3", EW_KIND_VOLUME},
    {"ccm", "cm3", EW_KIND_VOLUME},
    {"cid", "in3", EW_KIND_VOLUME},
    {"ci", "in3", EW_KIND_VOLUME},
    {"cu in", "in3", EW_KIND_VOLUME},
    {"l", "L", EW_KIND_VOLUME},
    {"us gal", "231 in3", EW_KIND_VOLUME},
    {"gal us", "231 in3", EW_KIND_VOLUME},
    {"gal(us)", "231 in3", EW_KIND_VOLUME},
    {"imp gal", "4.54609 L", EW_KIND_VOLUME},
    {"gal imp", "4.54609 L", EW_KIND_VOLUME},
    {"gal(imp)", "4.54609 L", EW_KIND_VOLUME},
    {"uk gal", "4.54609 L", EW_KIND_VOLUME},
    {"us gal/h", "231 in3/h", EW_KIND_VOLUME_FLOW},
    {"us gal/min", "231 in3/min", EW_KIND_VOLUME_FLOW},
    {"imp gal/h", "4.54609 L/h", EW_KIND_VOLUME_FLOW},
    {"cfm", "ft3/min", EW_KIND_VOLUME_FLOW},
    {"l/min", "L/min", EW_KIND_VOLUME_FLOW},
    {"lpm", "L/min", EW_KIND_VOLUME_FLOW},
    {"l/s", "L/s", EW_KIND_VOLUME_FLOW},
    {"l/h", "L/h", EW_KIND_VOLUME_FLOW},
    {"cc/min", "cm3/min", EW_KIND_VOLUME_FLOW},
    {"lb/hr", "lb/h", EW_KIND_MASS_FLOW},
    {"lbs/hr", "lb/h", EW_KIND_MASS_FLOW},
    {"lb/h", "lb/h", EW_KIND_MASS_FLOW},
    {"lb/min", "lb/min", EW_KIND_MASS_FLOW},
    {"pph", "lb/h", EW_KIND_MASS_FLOW},
    {"kg/hr", "kg/h", EW_KIND_MASS_FLOW},
    {"lb/hp-hr", "lb/(h.(550 ft.lbf/s))", EW_KIND_SPECIFIC_FUEL},
    {"lb/hp-h", "lb/(h.(550 ft.lbf/s))", EW_KIND_SPECIFIC_FUEL},
    {"lb/hp/hr", "lb/(h.(550 ft.lbf/s))", EW_KIND_SPECIFIC_FUEL},
    {"g/kwh", "g/(kW.h)", EW_KIND_SPECIFIC_FUEL},
    {"g/kw-h", "g/(kW.h)", EW_KIND_SPECIFIC_FUEL},
    {"kwh", "kW.h", EW_KIND_ENERGY},
    {"btu", "1055.05585262 J", EW_KIND_ENERGY},
    {"btu/lb", "2326 J/kg", EW_KIND_SPECIFIC_ENERGY},
    {"mj/kg", "MJ/kg", EW_KIND_SPECIFIC_ENERGY},
    {"lb-ft2", "lb.ft2", EW_KIND_INERTIA},
    {"lb·ft2", "lb.ft2", EW_KIND_INERTIA},
    {"kg·m2", "kg.m2", EW_KIND_INERTIA},
    {"kg·m²", "kg.m2", EW_KIND_INERTIA},
    {"kgm2", "kg.m2", EW_KIND_INERTIA},
    {"lb/in", "lbf/in", EW_KIND_STIFFNESS},
    {"lbf/in", "lbf/in", EW_KIND_STIFFNESS},
    {"n/mm", "N/mm", EW_KIND_STIFFNESS},
    {"lbf", "lbf", EW_KIND_FORCE},
    {"lb", "lb", EW_KIND_MASS},
    {"lbs", "lb", EW_KIND_MASS},
    {"lbm", "lb", EW_KIND_MASS},
    {"deg", "arcdeg", EW_KIND_ANGLE},
    {"°", "arcdeg", EW_KIND_ANGLE},
    {"degree", "arcdeg", EW_KIND_ANGLE},
    {"degrees", "arcdeg", EW_KIND_ANGLE},
    {"°ca", "arcdeg", EW_KIND_ANGLE},
    {"deg ca", "arcdeg", EW_KIND_ANGLE},
    {"btdc", "arcdeg", EW_KIND_ANGLE},
    {"°btdc", "arcdeg", EW_KIND_ANGLE},
    {"deg btdc", "arcdeg", EW_KIND_ANGLE},
    {"rad", "rad", EW_KIND_ANGLE},
    {"degc", "degC", EW_KIND_TEMPERATURE},
    {"deg c", "degC", EW_KIND_TEMPERATURE},
    {"°c", "degC", EW_KIND_TEMPERATURE},
    {"ºc", "degC", EW_KIND_TEMPERATURE},
    {"c", "degC", EW_KIND_TEMPERATURE},
    {"celsius", "degC", EW_KIND_TEMPERATURE},
    {"degf", "degF", EW_KIND_TEMPERATURE},
    {"deg f", "degF", EW_KIND_TEMPERATURE},
    {"°f", "degF", EW_KIND_TEMPERATURE},
    {"f", "degF", EW_KIND_TEMPERATURE},
    {"fahrenheit", "degF", EW_KIND_TEMPERATURE},
    {"k", "K", ANY},
    {"delta°f", "degR", EW_KIND_TEMPERATURE_DIFFERENCE},
    {"deltaf", "degR", EW_KIND_TEMPERATURE_DIFFERENCE},
    {"deltac", "K", EW_KIND_TEMPERATURE_DIFFERENCE},
    {"%", "0.01", EW_KIND_RATIO},
    {"pct", "0.01", EW_KIND_RATIO},
    {"percent", "0.01", EW_KIND_RATIO},
    {"%rh", "0.01", EW_KIND_RATIO},
    {"lambda", "1", EW_KIND_LAMBDA},
    {"la", "1", EW_KIND_LAMBDA},
    {"λ", "1", EW_KIND_LAMBDA},
    {"afr", "1", EW_KIND_AIR_FUEL_RATIO},
    {":1", "1", EW_KIND_AIR_FUEL_RATIO},
    {"a/f", "1", EW_KIND_AIR_FUEL_RATIO},
    {"mph", "mi/h", EW_KIND_SPEED},
    {"kph", "km/h", EW_KIND_SPEED},
    {"km/h", "km/h", EW_KIND_SPEED},
    {"ft/min", "ft/min", EW_KIND_SPEED},
    {"sec", "s", EW_KIND_TIME},
    {"secs", "s", EW_KIND_TIME},
    {"seconds", "s", EW_KIND_TIME},
    {"msec", "ms", EW_KIND_TIME},
    {"hr", "h", EW_KIND_TIME},
    {"hrs", "h", EW_KIND_TIME},
    {"volts", "V", EW_KIND_VOLTAGE},
    {"counts", "1", EW_KIND_COUNT},
    {"count", "1", EW_KIND_COUNT},
};

/* Spellings with more than one meaning, and those that udunits2 takes for something surprising. */
static const struct trap {
  const char *text, *advice;
} traps[] = {
    {"gal", "say which gallon: \"US gal\" or \"imp gal\""},
    {"gallon", "say which gallon: \"US gal\" or \"imp gal\""},
    {"gallons", "say which gallon: \"US gal\" or \"imp gal\""},
    {"gal/h", "say which gallon: \"US gal/h\" or \"imp gal/h\""},
    {"gph", "say which gallon: \"US gal/h\" or \"imp gal/h\""},
    {"gpm", "say which gallon: \"US gal/min\""},
    {"oz", "say \"g\" for a mass or \"cc\" for a volume"},
    {"ton", "say \"kg\""},
    {"horsepower", "say \"hp\" (550 ft·lbf/s) or \"PS\" (75 kgf·m/s)"},
    {"qnh",
     "a reading reduced to sea level is no station pressure: read the barometer in the cell"},
    {"slp",
     "a reading reduced to sea level is no station pressure: read the barometer in the cell"},
};

const char *ew_kind_name(enum ew_kind kind) {
  static char *names[EW_KINDS_COUNT];
  static gsize once;
  if (g_once_init_enter(&once)) {
    for (int i = 0; i < EW_KINDS_COUNT; i++) {
      names[i] = g_ascii_strdown(kinds[i].id, -1);
      g_strdelimit(names[i], "_", ' ');
    }
    g_once_init_leave(&once, 1);
  }
  return names[kind];
}

const char *ew_kind_si(enum ew_kind kind) {
  return kinds[kind].si;
}
const char *ew_kind_suffix(enum ew_kind kind) {
  return kinds[kind].suffix;
}
const char *ew_kind_examples(enum ew_kind kind) {
  return kinds[kind].examples;
}
const char *ew_kind_shown(enum ew_kind kind, enum ew_unit_system system) {
  return system == EW_UNITS_US ? kinds[kind].us : kinds[kind].shown;
}

static GMutex library_lock;
static ut_system *library;

static ut_unit *library_parse(const char *text) {
  if (!library) {
    ut_set_error_message_handler(ut_ignore);
    library = ut_read_xml(NULL);
    if (!library)
      g_error(
          "the units database of udunits2 cannot be read: install the package libudunits2-data");
  }
  return ut_parse(library, text, UT_UTF8);
}

/* scale and offset from `text` to `si`, by udunits2; FALSE when there is no such conversion. */
static gboolean library_convert(const char *text, const char *si, double *scale, double *offset) {
  g_mutex_lock(&library_lock);
  static locale_t plain;
  if (!plain)
    plain = newlocale(LC_ALL_MASK, "C", NULL);
  locale_t usual = uselocale(plain);
  ut_unit *from = library_parse(text), *to = library_parse(si);
  gboolean good = from && to && ut_are_convertible(from, to);
  if (good) {
    cv_converter *converter = ut_get_converter(from, to);
    good = converter != NULL;
    if (good) {
      *offset = cv_convert_double(converter, 0);
      *scale = cv_convert_double(converter, 1) - *offset;
      good = isfinite(*scale) && isfinite(*offset) && *scale != 0;
    }
    cv_free(converter);
  }
  ut_free(from);
  ut_free(to);
  uselocale(usual);
  g_mutex_unlock(&library_lock);
  return good;
}

static const char *library_name_of_inside(enum ew_kind kind) {
  if (kind == EW_KIND_ROTATIONAL_SPEED)
    return "0.1047197551196597746 rad/s";
  if (kind == EW_KIND_ROTATIONAL_ACCELERATION)
    return "0.1047197551196597746 rad/s2";
  return kinds[kind].si;
}

static const struct spelling *find_spelling(const char *lower) {
  static GHashTable *index;
  static gsize once;
  if (g_once_init_enter(&once)) {
    index = g_hash_table_new(g_str_hash, g_str_equal);
    for (gsize i = 0; i < G_N_ELEMENTS(spellings); i++)
      g_hash_table_insert(index, (gpointer)spellings[i].text, (gpointer)&spellings[i]);
    g_once_init_leave(&once, 1);
  }
  return g_hash_table_lookup(index, lower);
}

static gboolean is_pressure(enum ew_kind kind) {
  return kind == EW_KIND_PRESSURE_ABSOLUTE || kind == EW_KIND_PRESSURE_GAUGE ||
         kind == EW_KIND_PRESSURE_DIFFERENCE || kind == EW_KIND_MEAN_EFFECTIVE_PRESSURE;
}

/* May a spelling that means `given` stand for a figure of kind `want`? */
static gboolean kinds_agree(enum ew_kind given, enum ew_kind want) {
  if (given == want || given == ANY)
    return TRUE;
  if (given == EW_KIND_TORQUE && want == EW_KIND_ENERGY)
    return TRUE; /* ft-lbf is a unit of work as well */
  if (given == EW_KIND_PRESSURE_DIFFERENCE && is_pressure(want))
    return want == EW_KIND_PRESSURE_GAUGE;
  if (given == EW_KIND_RATIO)
    return want == EW_KIND_NUMBER;
  if (given == EW_KIND_MASS)
    return FALSE;
  return given == EW_KIND_COUNT && want == EW_KIND_NUMBER;
}

static gboolean refuse_unit(const char *field, const char *text, enum ew_kind want, const char *why,
                            GError **error) {
  return ew_refuse(error, "%s: '%.64s' is no unit of %s%s%s; write for example %s", field, text,
                   ew_kind_name(want), *why ? ": " : "", why, ew_kind_examples(want));
}

static const char *why_kinds_differ(enum ew_kind given, enum ew_kind want) {
  if (given == EW_KIND_PRESSURE_GAUGE && want == EW_KIND_PRESSURE_ABSOLUTE)
    return "it is a gauge pressure, which counts from the air around it";
  if (given == EW_KIND_PRESSURE_ABSOLUTE)
    return "it is an absolute pressure, which counts from nothing";
  if (given == EW_KIND_AIR_FUEL_RATIO)
    return "an air-fuel ratio becomes lambda only through the fuel's stoichiometric ratio: name "
           "the fuel";
  if (given == EW_KIND_LAMBDA)
    return "lambda becomes an air-fuel ratio only through the fuel: name the fuel";
  if (given == EW_KIND_MASS && want == EW_KIND_FORCE)
    return "it is a mass; a force is in N or lbf";
  return "it measures something else";
}

static gboolean without_unit(enum ew_kind kind) {
  return strcmp(kinds[kind].si, "1") == 0;
}

/* udunits2 accepts time stamps, logarithms and offsets that no figure here can mean. */
static gboolean plain_unit_text(const char *text) {
  return strlen(text) <= 64 && !strpbrk(text, "@\n") && !strstr(text, "since") &&
         !strstr(text, "lg(") && !strstr(text, "ln(") && !strstr(text, "lb(") &&
         !strstr(text, " from ") && !strstr(text, " after ") && !strstr(text, " ref ");
}

gboolean ew_unit_parse(const char *field, const char *given, enum ew_kind want,
                       struct ew_unit *unit, GError **error) {
  g_autofree char *text = g_strstrip(g_strdup(given));
  if (!g_utf8_validate(text, -1, NULL))
    return ew_refuse(error, "%s: the unit is not readable text (UTF-8); write for example %s",
                     field, ew_kind_examples(want));
  if (!*text) {
    if (!without_unit(want))
      return ew_refuse(error, "%s: the unit is missing; write for example %s", field,
                       ew_kind_examples(want));
    *unit = (struct ew_unit){want, 1, 0};
    return TRUE;
  }
  g_autofree char *lower = g_ascii_strdown(text, -1);
  for (gsize i = 0; i < G_N_ELEMENTS(traps); i++)
    if (strcmp(lower, traps[i].text) == 0)
      return refuse_unit(field, text, want, traps[i].advice, error);
  const struct spelling *known = find_spelling(lower);
  if (strcmp(text, "mN.m") == 0 || strcmp(text, "MPa") == 0 || strcmp(text, "mPa") == 0)
    known = NULL; /* the case of the prefix matters */
  if (known && want == EW_KIND_FORCE && known->kind == EW_KIND_MASS)
    return refuse_unit(field, text, want, why_kinds_differ(EW_KIND_MASS, want), error);
  if (known && !kinds_agree(known->kind, want))
    return refuse_unit(field, text, want, why_kinds_differ(known->kind, want), error);
  unit->kind = want;
  const char *meaning = known ? known->meaning : text;
  if (!known && !plain_unit_text(text))
    return refuse_unit(field, text, want, "", error);
  if (!known && want == EW_KIND_TORQUE && strchr("Jjk", *text) && strchr(text, 'J'))
    return refuse_unit(field, text, want, "joules are energy", error);
  if (!known && without_unit(want) && want != EW_KIND_RATIO && want != EW_KIND_NUMBER &&
      strcmp(text, "1") != 0)
    return refuse_unit(field, text, want, "", error);
  if (!known && (want == EW_KIND_ROTATIONAL_SPEED || want == EW_KIND_ROTATIONAL_ACCELERATION))
    return refuse_unit(field, text, want, "", error);
  if (known && strcmp(lower, "k") == 0 && want != EW_KIND_TEMPERATURE &&
      want != EW_KIND_TEMPERATURE_DIFFERENCE)
    return refuse_unit(field, text, want, "", error);
  if (!library_convert(meaning, library_name_of_inside(want), &unit->scale, &unit->offset))
    return refuse_unit(field, text, want, "", error);
  if (unit->offset != 0 && want != EW_KIND_TEMPERATURE)
    return refuse_unit(field, text, want, "it counts from a zero of its own", error);
  return TRUE;
}

gboolean ew_unit_recognise(const char *given, struct ew_unit *unit) {
  g_autofree char *text = g_strstrip(g_strdup(given));
  if (!*text || !g_utf8_validate(text, -1, NULL) || g_ascii_isdigit(*text))
    return FALSE;
  g_autofree char *lower = g_ascii_strdown(text, -1);
  const struct spelling *known = find_spelling(lower);
  if (known && known->kind != ANY)
    return ew_unit_parse("", text, known->kind, unit, NULL);
  for (int kind = EW_KIND_LENGTH; kind < EW_KINDS_COUNT; kind++)
    if (!without_unit(kind) && ew_unit_parse("", text, kind, unit, NULL))
      return TRUE;
  return FALSE;
}

/* Where the figure ends and its unit begins. */
static const char *end_of_figure(const char *text) {
  const char *c = text;
  if (*c == '+' || *c == '-')
    c++;
  while (g_ascii_isdigit(*c) || *c == '.')
    c++;
  if ((*c == 'e' || *c == 'E') &&
      (g_ascii_isdigit(c[1]) || ((c[1] == '+' || c[1] == '-') && g_ascii_isdigit(c[2]))))
    for (c += 2; g_ascii_isdigit(*c);)
      c++;
  return c;
}

static gboolean whole_number(const char **text, double *value) {
  gsize digits = strspn(*text, "0123456789");
  if (digits == 0 || digits > 6)
    return FALSE;
  *value = g_ascii_strtod(*text, NULL);
  *text += digits;
  return TRUE;
}

/* The trade's fractions: "3 3/8 in", "3-3/8 in", "3/8 in". What follows the first figure goes into `value`, and `*rest`
 * moves to the unit. The unit library would multiply: 3 times 3/8. "7000 1/min" is left to it; FALSE for any other
 * second figure. */
static gboolean take_fraction(const char *figure, const char **rest, double *value) {
  const char *c = *rest;
  double over = fabs(*value), under, whole = 0;
  gboolean plain = figure[strspn(figure, "+-0123456789")] == 0;
  if (*c != '/') {
    c += *c == '-';
    whole = over;
    if (!g_ascii_isdigit(*c))
      return TRUE;
    if (!whole_number(&c, &over))
      return FALSE;
  }
  if (*c != '/' || !g_ascii_isdigit(c[1]))
    return *c == '/' && over == 1 && **rest != '-';
  c++;
  if (!plain || !whole_number(&c, &under) || under == 0 || g_ascii_isdigit(*c) || *c == '.' ||
      *c == '/' || (c - *rest > 0 && **rest != '/' && over >= under))
    return FALSE;
  *value = copysign(whole + over / under, *value);
  *rest = c + strspn(c, " ");
  return TRUE;
}

gboolean ew_quantity_parse(const char *field, const char *given, enum ew_kind kind, double *inside,
                           GError **error) {
  g_autofree char *text = g_strstrip(g_strdup(given));
  for (char *minus; (minus = strstr(text, "−"));) { /* U+2212 */
    *minus = '-';
    memmove(minus + 1, minus + 3, strlen(minus + 3) + 1);
  }
  const char *end = end_of_figure(text);
  g_autofree char *figure = g_strndup(text, (gsize)(end - text));
  double value;
  if (!ew_number_parse(figure, &value)) {
    const char *comma = strchr(text, ',') ? " (the decimal mark is a point)" : "";
    return ew_refuse(error, "%s: '%.64s' is no figure with a unit%s; write for example %s", field,
                     text, comma, ew_kind_examples(kind));
  }
  if (*g_strchug((char *)end) == ',')
    return ew_refuse(error,
                     "%s: '%.64s' is no figure (the decimal mark is a point, and thousands have "
                     "none); write for example %s",
                     field, text, ew_kind_examples(kind));
  if (!take_fraction(figure, &end, &value))
    return ew_refuse(error,
                     "%s: '%.64s' holds two figures; write one, or a fraction such as 3 3/8 in",
                     field, text);
  struct ew_unit unit;
  if (!ew_unit_parse(field, end, kind, &unit, error))
    return FALSE;
  *inside = ew_to_inside(unit, value);
  return isfinite(*inside) ? TRUE
                           : ew_refuse(error, "%s: '%.64s' is out of all range", field, text);
}

double ew_to_inside(struct ew_unit unit, double given) {
  double inside = unit.scale * given + unit.offset;
  return isfinite(inside) ? inside : (double)NAN;
}

double ew_shown(enum ew_kind kind, enum ew_unit_system system, double inside) {
  static struct ew_unit cache[EW_KINDS_COUNT][2];
  static gsize once;
  if (g_once_init_enter(&once)) {
    for (int k = 0; k < EW_KINDS_COUNT; k++)
      for (int s = 0; s < 2; s++)
        if (!ew_unit_parse("", ew_kind_shown(k, s), k, &cache[k][s], NULL))
          g_error("the unit '%s' shown for %s is unknown", ew_kind_shown(k, s), ew_kind_name(k));
    g_once_init_leave(&once, 1);
  }
  struct ew_unit unit = cache[kind][system];
  return (inside - unit.offset) / unit.scale;
}

char *ew_quantity_format(enum ew_kind kind, enum ew_unit_system system, double inside,
                         int decimals) {
  char buffer[EW_NUMBER_SIZE];
  const char *unit = ew_kind_shown(kind, system);
  if (!isfinite(inside))
    return g_strdup("-");
  return g_strdup_printf("%s%s%s",
                         ew_number_fixed(ew_shown(kind, system, inside), decimals, buffer),
                         *unit ? " " : "", unit);
}
