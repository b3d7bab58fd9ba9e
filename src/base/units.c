/* Order of the look-up, which decides what a spelling means:
 *   1. our table of trade spellings, on the whole trimmed text;
 *   2. a list of spellings that udunits2 would take for something else, refused;
 *   3. udunits2;
 *   4. the kind: of one dimension there are several, and they do not mix.
 * udunits2 2.2.28 is not safe between threads (one mutex), and reads figures by the locale: it is
 * called in the C locale. */
#include "base/units.h"
#include "base/error.h"
#include "base/language.h"
#include "base/unit_spellings.h"
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
  g_assert(kind < EW_KINDS_COUNT);
  return names[kind];
}

static const char *const titles[] = {
    EW_TEXT("number"),
    EW_TEXT("ratio"),
    EW_TEXT("length"),
    EW_TEXT("area"),
    EW_TEXT("volume"),
    EW_TEXT("mass"),
    EW_TEXT("time"),
    EW_TEXT("angle"),
    EW_TEXT("rotational speed"),
    EW_TEXT("rotational acceleration"),
    EW_TEXT("linear speed"),
    EW_TEXT("force"),
    EW_TEXT("torque"),
    EW_TEXT("energy"),
    EW_TEXT("power"),
    EW_TEXT("absolute pressure"),
    EW_TEXT("gauge pressure"),
    EW_TEXT("pressure difference"),
    EW_TEXT("mean effective pressure"),
    EW_TEXT("temperature"),
    EW_TEXT("temperature difference"),
    EW_TEXT("mass flow"),
    EW_TEXT("volume flow"),
    EW_TEXT("density"),
    EW_TEXT("specific fuel consumption"),
    EW_TEXT("specific energy"),
    EW_TEXT("moment of inertia"),
    EW_TEXT("stiffness"),
    EW_TEXT("torsional stiffness"),
    EW_TEXT("lambda"),
    EW_TEXT("air-fuel ratio"),
    EW_TEXT("frequency"),
    EW_TEXT("voltage"),
    EW_TEXT("rate of torque"),
    EW_TEXT("count"),
};
_Static_assert(G_N_ELEMENTS(titles) == EW_KINDS_COUNT, "one title a kind");

const char *ew_kind_title(enum ew_kind kind) {
  g_assert(kind < EW_KINDS_COUNT);
  return ew_tr(titles[kind]);
}

const char *ew_kind_si(enum ew_kind kind) {
  g_assert(kind < EW_KINDS_COUNT);
  return kinds[kind].si;
}
const char *ew_kind_suffix(enum ew_kind kind) {
  g_assert(kind < EW_KINDS_COUNT);
  return kinds[kind].suffix;
}
const char *ew_kind_examples(enum ew_kind kind) {
  g_assert(kind < EW_KINDS_COUNT);
  return kinds[kind].examples;
}

/* As the table has it, for reading back. */
static const char *unit_of(enum ew_kind kind, enum ew_unit_system system) {
  g_assert(kind < EW_KINDS_COUNT);
  return system == EW_UNITS_US ? kinds[kind].us : kinds[kind].shown;
}

/* What another country writes must be read as a unit, too (unit_spellings.c). */
const char *ew_kind_shown(enum ew_kind kind, enum ew_unit_system system) {
  const char *unit = unit_of(kind, system);
  if (strcmp(unit, "rpm") == 0)
    return ew_tr_in("unit", "rpm");
  if (strcmp(unit, "rpm/s") == 0)
    return ew_tr_in("unit", "rpm/s");
  return strcmp(unit, "deg") == 0 ? ew_tr_in("unit", "deg") : unit;
}

const char *ew_unit_space(const char *unit) {
  return !*unit || strcmp(unit, "°") == 0 ? "" : " ";
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

static const char *library_name_of_inside(enum ew_kind kind) {
  if (kind == EW_KIND_ROTATIONAL_SPEED)
    return "0.1047197551196597746 rad/s";
  if (kind == EW_KIND_ROTATIONAL_ACCELERATION)
    return "0.1047197551196597746 rad/s2";
  return kinds[kind].si;
}

/* With the lock held. The text asked for last is kept as it was parsed: whoever tries one text against kind after kind
 * (ew_unit_recognise) pays for one parse and not for thirty. */
static ut_unit *library_given(const char *text) {
  static char *last;
  static ut_unit *parsed;
  if (!last || strcmp(last, text) != 0) {
    ut_free(parsed);
    g_free(last);
    last = g_strdup(text);
    parsed = library_parse(text);
  }
  return parsed;
}

/* With the lock held: the inside unit of a kind, parsed once a process. */
static ut_unit *library_inside(enum ew_kind kind) {
  g_assert(kind < EW_KINDS_COUNT);
  static ut_unit *parsed[EW_KINDS_COUNT];
  if (!parsed[kind])
    parsed[kind] = library_parse(library_name_of_inside(kind));
  return parsed[kind];
}

/* What a text meant for a kind. A shop writes few units, and asks for them with every record that it reads: the first
 * REMEMBERED that were understood are kept, with the lock held. */
#define REMEMBERED 512
static GHashTable *remembered[EW_KINDS_COUNT]; /* text -> struct ew_unit */
static guint remembered_count;

static const struct ew_unit *recall(const char *text, enum ew_kind kind) {
  g_assert(kind < EW_KINDS_COUNT);
  return remembered[kind] ? g_hash_table_lookup(remembered[kind], text) : NULL;
}

static void remember(const char *text, enum ew_kind kind, double scale, double offset) {
  g_assert(kind < EW_KINDS_COUNT);
  if (remembered_count >= REMEMBERED)
    return;
  if (!remembered[kind])
    remembered[kind] = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
  struct ew_unit *unit = g_new(struct ew_unit, 1);
  *unit = (struct ew_unit){kind, scale, offset};
  g_assert(scale != 0);
  remembered_count += g_hash_table_insert(remembered[kind], g_strdup(text), unit);
}

/* With the lock held, by udunits2, in the C locale. */
static gboolean library_ask(const char *text, enum ew_kind kind, double *scale, double *offset) {
  static locale_t plain;
  if (!plain)
    plain = newlocale(LC_ALL_MASK, "C", NULL);
  locale_t usual = uselocale(plain);
  ut_unit *from = library_given(text), *to = library_inside(kind);
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
  uselocale(usual);
  return good;
}

/* scale and offset from `text` to the inside unit of a kind; FALSE when there is no such conversion. The inside unit itself needs
 * no library, whose database takes ten milliseconds to read. */
static gboolean library_convert(const char *text, enum ew_kind kind, double *scale,
                                double *offset) {
  if (strcmp(text, library_name_of_inside(kind)) == 0) {
    *scale = 1;
    *offset = 0;
    return TRUE;
  }
  g_mutex_lock(&library_lock);
  const struct ew_unit *known = recall(text, kind);
  gboolean good = known || library_ask(text, kind, scale, offset);
  if (known) {
    *scale = known->scale;
    *offset = known->offset;
  } else if (good)
    remember(text, kind, *scale, *offset);
  g_mutex_unlock(&library_lock);
  return good;
}

static gboolean is_pressure(enum ew_kind kind) {
  return kind == EW_KIND_PRESSURE_ABSOLUTE || kind == EW_KIND_PRESSURE_GAUGE ||
         kind == EW_KIND_PRESSURE_DIFFERENCE || kind == EW_KIND_MEAN_EFFECTIVE_PRESSURE;
}

/* May a spelling that means `given` stand for a figure of kind `want`? */
static gboolean kinds_agree(enum ew_kind given, enum ew_kind want) {
  if (given == want || given == EW_SPELLING_ANY_KIND)
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
  if (!why)
    return ew_refuse(error, "%s: '%.64s' is not a unit of %s; write for example %s", field, text,
                     ew_kind_title(want), ew_kind_examples(want));
  return ew_refuse(error, "%s: '%.64s' is not a unit of %s: %s; write for example %s", field, text,
                   ew_kind_title(want), ew_tr(why), ew_kind_examples(want));
}

static const char *why_kinds_differ(enum ew_kind given, enum ew_kind want) {
  if (given == EW_KIND_PRESSURE_GAUGE && want == EW_KIND_PRESSURE_ABSOLUTE)
    return EW_TEXT("it is a gauge pressure, measured from the air around it");
  if (given == EW_KIND_PRESSURE_ABSOLUTE)
    return EW_TEXT("it is an absolute pressure, measured from vacuum");
  if (given == EW_KIND_AIR_FUEL_RATIO && want == EW_KIND_LAMBDA)
    return EW_TEXT("turning an air-fuel ratio into lambda takes the fuel's stoichiometric ratio: "
                   "name the fuel");
  if (given == EW_KIND_LAMBDA && want == EW_KIND_AIR_FUEL_RATIO)
    return EW_TEXT("turning lambda into an air-fuel ratio takes the fuel: name the fuel");
  if (given == EW_KIND_MASS && want == EW_KIND_FORCE)
    return EW_TEXT("it is a unit of mass; a force is in N or lbf");
  return EW_TEXT("it measures something else");
}

static gboolean without_unit(enum ew_kind kind) {
  return strcmp(kinds[kind].si, "1") == 0;
}

/* "10.2:1" and "3.9 : 1", as ratios of compression and of gears are written; beside a figure that may be a mixture ":1" says an air-fuel ratio. */
static gboolean is_to_one(const char *text, enum ew_kind want) {
  return want == EW_KIND_NUMBER && *text == ':' &&
         strcmp(text + 1 + strspn(text + 1, " "), "1") == 0;
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
  if (is_to_one(text, want)) {
    *unit = (struct ew_unit){want, 1, 0};
    return TRUE;
  }
  g_autofree char *lower = g_ascii_strdown(text, -1);
  const char *advice = ew_unit_trap(lower);
  if (advice)
    return refuse_unit(field, text, want, advice, error);
  const struct ew_unit_spelling *known = ew_unit_spelling_find(lower);
  if (strcmp(text, "mN.m") == 0 || strcmp(text, "MPa") == 0 || strcmp(text, "mPa") == 0)
    known = NULL; /* the case of the prefix matters */
  if (known && want == EW_KIND_FORCE && known->kind == EW_KIND_MASS)
    return refuse_unit(field, text, want, why_kinds_differ(EW_KIND_MASS, want), error);
  if (known && !kinds_agree(known->kind, want))
    return refuse_unit(field, text, want, why_kinds_differ(known->kind, want), error);
  unit->kind = want;
  const char *meaning = known ? known->meaning : text;
  if (!known && !plain_unit_text(text))
    return refuse_unit(field, text, want, NULL, error);
  if (!known && want == EW_KIND_TORQUE && strchr("Jjk", *text) && strchr(text, 'J'))
    return refuse_unit(field, text, want, EW_TEXT("joules measure energy"), error);
  if (!known && without_unit(want) && want != EW_KIND_RATIO && want != EW_KIND_NUMBER &&
      strcmp(text, "1") != 0)
    return refuse_unit(field, text, want, NULL, error);
  if (!known && (want == EW_KIND_ROTATIONAL_SPEED || want == EW_KIND_ROTATIONAL_ACCELERATION))
    return refuse_unit(field, text, want, NULL, error);
  if (known && strcmp(lower, "k") == 0 && want != EW_KIND_TEMPERATURE &&
      want != EW_KIND_TEMPERATURE_DIFFERENCE)
    return refuse_unit(field, text, want, NULL, error);
  if (!library_convert(meaning, want, &unit->scale, &unit->offset))
    return refuse_unit(field, text, want, NULL, error);
  if (unit->offset != 0 && want != EW_KIND_TEMPERATURE)
    return refuse_unit(field, text, want, EW_TEXT("its scale has a zero of its own"), error);
  return TRUE;
}

gboolean ew_unit_recognise(const char *given, struct ew_unit *unit) {
  g_autofree char *text = g_strstrip(g_strdup(given));
  if (!*text || !g_utf8_validate(text, -1, NULL) || g_ascii_isdigit(*text))
    return FALSE;
  g_autofree char *lower = g_ascii_strdown(text, -1);
  const struct ew_unit_spelling *known = ew_unit_spelling_find(lower);
  if (known && known->kind != EW_SPELLING_ANY_KIND)
    return ew_unit_parse("", text, known->kind, unit, NULL);
  for (int kind = EW_KIND_LENGTH; kind < EW_KINDS_COUNT; kind++)
    if (!without_unit(kind) && ew_unit_parse("", text, kind, unit, NULL))
      return TRUE;
  return FALSE;
}

double ew_to_inside(struct ew_unit unit, double given) {
  double inside = unit.scale * given + unit.offset;
  return isfinite(inside) ? inside : (double)NAN;
}

/* Each when it is first shown: most commands show few kinds. */
static struct ew_unit unit_shown(enum ew_kind kind, enum ew_unit_system system) {
  g_assert(kind < EW_KINDS_COUNT && (system == EW_UNITS_SI || system == EW_UNITS_US));
  static struct ew_unit cache[EW_KINDS_COUNT][2];
  static gsize once[EW_KINDS_COUNT][2];
  if (g_once_init_enter(&once[kind][system])) {
    if (!ew_unit_parse("", unit_of(kind, system), kind, &cache[kind][system], NULL))
      g_error("the unit '%s' shown for %s is unknown", unit_of(kind, system), ew_kind_name(kind));
    g_once_init_leave(&once[kind][system], 1);
  }
  return cache[kind][system];
}

double ew_shown(enum ew_kind kind, enum ew_unit_system system, double inside) {
  struct ew_unit unit = unit_shown(kind, system);
  return (inside - unit.offset) / unit.scale;
}
