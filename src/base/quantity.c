/* A figure with its unit, from text and to text: "3 3/8 in", "985 hPa". Figures have a point and no marks between thousands,
 * whatever the locale; a second figure is a fraction or a refusal, never a product. */
#include "base/units.h"
#include "base/error.h"
#include "base/language.h"
#include "base/number.h"
#include <math.h>
#include <string.h>

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

/* "4½ in" is "4 1/2 in"; as it is where there is no such sign. Takes the text. */
static char *spelled_out(char *text) {
  static const char *const signs[][2] = {{"½", "1/2"}, {"¼", "1/4"}, {"¾", "3/4"}, {"⅛", "1/8"},
                                         {"⅜", "3/8"}, {"⅝", "5/8"}, {"⅞", "7/8"}};
  g_autofree char *given = text;
  for (gsize i = 0; i < G_N_ELEMENTS(signs); i++) {
    const char *at = strstr(given, signs[i][0]);
    if (at) {
      g_autofree char *before = g_strchomp(g_strndup(given, (gsize)(at - given)));
      return g_strdup_printf("%s%s%s%s", before, *before ? " " : "", signs[i][1],
                             at + strlen(signs[i][0]));
    }
  }
  return g_steal_pointer(&given);
}

gboolean ew_quantity_parse(const char *field, const char *given, enum ew_kind kind, double *inside,
                           GError **error) {
  g_autofree char *text = spelled_out(g_strstrip(g_strdup(given)));
  for (char *minus; (minus = strstr(text, "−"));) { /* U+2212 */
    *minus = '-';
    memmove(minus + 1, minus + 3, strlen(minus + 3) + 1);
  }
  const char *end = end_of_figure(text);
  g_autofree char *figure = g_strndup(text, (gsize)(end - text));
  end += strspn(end, " \t\n\f\r");
  double value;
  gboolean good = ew_number_parse(figure, &value);
  if (!good && !strchr(text, ','))
    return ew_refuse(error, "%s: '%.64s' is not a figure with a unit; write for example %s", field,
                     text, ew_kind_examples(kind));
  if (!good || *end == ',')
    return ew_refuse(error,
                     "%s: '%.64s' is not a figure: the decimal mark is a point, and thousands are "
                     "not marked; write for example %s",
                     field, text, ew_kind_examples(kind));
  if (!take_fraction(figure, &end, &value))
    return ew_refuse(error,
                     "%s: '%.64s' has two figures; write one, or a fraction such as 3 3/8 in",
                     field, text);
  struct ew_unit unit;
  if (!ew_unit_parse(field, end, kind, &unit, error))
    return FALSE;
  *inside = ew_to_inside(unit, value);
  return isfinite(*inside)
             ? TRUE
             : ew_refuse(error, "%s: '%.64s' is too large to be a figure", field, text);
}

enum ew_unit_system ew_units_usual(enum ew_kind kind, enum ew_unit_system system, double inside) {
  gboolean metric = /* below nothing: oil below its mark */
      (kind == EW_KIND_VOLUME && inside < 1e-3) || (kind == EW_KIND_MASS && fabs(inside) < 5);
  return metric ? EW_UNITS_SI : system;
}

char *ew_quantity_format(enum ew_kind kind, enum ew_unit_system system, double inside,
                         int decimals) {
  char buffer[EW_NUMBER_SIZE];
  const char *unit = ew_kind_shown(kind, system);
  if (!isfinite(inside))
    return g_strdup("-");
  return g_strdup_printf("%s%s%s",
                         ew_number_shown(ew_shown(kind, system, inside), decimals, buffer),
                         ew_unit_space(unit), unit);
}
