/* Reading goes by the marks: where both are there the last one is the decimal mark; where one is there once and three figures
 * follow, it can be either, and is refused rather than guessed. */
#include "job/decimal.h"
#include "base/error.h"
#include "base/language.h"
#include <string.h>

#define DECIMALS   4
#define MOST       (G_GINT64_CONSTANT(1000000000) * EW_DECIMAL_ONE)
#define WHOLE_MOST 16 /* letters before the mark that are read at all: below what 64 bits hold */

static gboolean only_figures(const char *text) {
  return text[strspn(text, "0123456789")] == 0;
}

/* "1,234,567": groups of three behind one to three. */
static gboolean is_grouped(const char *text, char mark) {
  const char marks[] = {mark, 0};
  g_auto(GStrv) parts = g_strsplit(text, marks, -1);
  gboolean good = parts[0] && *parts[0] && strlen(parts[0]) <= 3 && only_figures(parts[0]);
  for (int i = 1; good && parts[i]; i++)
    good = strlen(parts[i]) == 3 && only_figures(parts[i]);
  return good;
}

/* Where is the decimal mark? NULL: there is none. *grouped: the mark between thousands, 0 for none. */
static enum ew_decimal_fault find_mark(const char *text, const char **mark, char *grouped) {
  const char *point = strrchr(text, '.'), *comma = strrchr(text, ',');
  const char *last = point > comma ? point : comma;
  *mark = last;
  *grouped = 0;
  if (!last)
    return EW_DECIMAL_FINE;
  gboolean once = strchr(text, *last) == last, both = point && comma;
  if (both) {
    *grouped = *last == '.' ? ',' : '.';
    return once ? EW_DECIMAL_FINE : EW_DECIMAL_NOT_A_NUMBER;
  }
  if (!once) {
    *mark = NULL;
    *grouped = *last;
    return EW_DECIMAL_FINE;
  }
  gsize before = (gsize)(last - text);
  gboolean two_ways = strlen(last + 1) == 3 && before >= 1 && before <= 3 && text[0] != '0';
  return two_ways ? EW_DECIMAL_TWO_WAYS : EW_DECIMAL_FINE;
}

/* The part before the decimal mark, without marks between thousands; FALSE when it is not such a number. */
static gboolean whole_of(const char *text, char grouped, gint64 *value) {
  if (grouped && strchr(text, grouped) && !is_grouped(text, grouped))
    return FALSE;
  *value = 0;
  for (const char *c = text; *c; c++) {
    if (*c == grouped)
      continue;
    if (!g_ascii_isdigit(*c))
      return FALSE;
    *value = *value * 10 + (*c - '0');
  }
  return *text != 0;
}

static enum ew_decimal_fault read_unsigned(char *text, gint64 *value) {
  const char *mark;
  char grouped;
  if (strlen(text) > 2 * WHOLE_MOST)
    return text[strspn(text, "0123456789.,")] ? EW_DECIMAL_NOT_A_NUMBER : EW_DECIMAL_TOO_LARGE;
  if (!*text || text[strspn(text, "0123456789.,")])
    return EW_DECIMAL_NOT_A_NUMBER;
  enum ew_decimal_fault fault = find_mark(text, &mark, &grouped);
  const char *behind = mark ? mark + 1 : "";
  g_autofree char *before = mark ? g_strndup(text, (gsize)(mark - text)) : g_strdup(text);
  gint64 whole = 0, part = 0;
  if (fault != EW_DECIMAL_FINE)
    return fault;
  if (strlen(before) > WHOLE_MOST)
    return EW_DECIMAL_TOO_LARGE;
  if (!whole_of(*before || !*behind ? before : "0", grouped, &whole) || !only_figures(behind) ||
      (mark && !*behind))
    return EW_DECIMAL_NOT_A_NUMBER;
  for (int i = 0; i < DECIMALS; i++)
    part = part * 10 + (*behind ? *behind++ - '0' : 0);
  if (behind[strspn(behind, "0")])
    return EW_DECIMAL_TOO_FINE;
  if (whole >= MOST / EW_DECIMAL_ONE)
    return EW_DECIMAL_TOO_LARGE;
  *value = whole * EW_DECIMAL_ONE + part;
  return EW_DECIMAL_FINE;
}

enum ew_decimal_fault ew_decimal_read(const char *text, gint64 *value) {
  g_autofree char *plain = g_strstrip(g_strdup(text ? text : ""));
  gboolean minus = g_str_has_prefix(plain, "-") || g_str_has_prefix(plain, "\xe2\x88\x92");
  char *figures = plain + (!minus ? *plain == '+' : *plain == '-' ? 1 : 3);
  *value = 0;
  enum ew_decimal_fault fault = read_unsigned(figures, value);
  if (minus)
    *value = -*value;
  return fault;
}

gboolean ew_decimal_refuse(enum ew_decimal_fault fault, const char *where, const char *what,
                           const char *text, GError **error) {
  switch (fault) {
  case EW_DECIMAL_NOT_A_NUMBER:
    return ew_refuse(error, "%s: %s '%.40s' is not a number; write figures alone, such as 12.50",
                     where, what, text);
  case EW_DECIMAL_TWO_WAYS:
    return ew_refuse(error,
                     "%s: %s '%.40s' can be read in two ways; write 1234 for one thousand two "
                     "hundred and thirty-four, 1.23 or 1.2340 for a little more than one",
                     where, what, text);
  case EW_DECIMAL_TOO_FINE:
    return ew_refuse(error, "%s: %s '%.40s' has more than four decimals; round it", where, what,
                     text);
  case EW_DECIMAL_TOO_LARGE:
    return ew_refuse(error, "%s: %s '%.40s' is too large; give less than 1,000,000,000", where,
                     what, text);
  case EW_DECIMAL_FINE: break;
  }
  g_assert_not_reached();
}

gint64 ew_decimal_times(gint64 price, gint64 quantity) {
  __extension__ typedef __int128 wide;
  const wide product = (wide)price * quantity, half = (wide)EW_DECIMAL_ONE * EW_DECIMAL_CENT / 2;
  const wide cents =
      (product < 0 ? product - half : product + half) / ((wide)EW_DECIMAL_ONE * EW_DECIMAL_CENT);
  return (gint64)cents * EW_DECIMAL_CENT;
}

const char *ew_decimal_write(gint64 value, char buffer[EW_DECIMAL_SIZE]) {
  guint64 plain = value < 0 ? -(guint64)value : (guint64)value;
  g_snprintf(buffer, EW_DECIMAL_SIZE, "%s%" G_GUINT64_FORMAT ".%04u", value < 0 ? "-" : "",
             plain / EW_DECIMAL_ONE, (guint)(plain % EW_DECIMAL_ONE));
  return buffer;
}

/* With at least so many decimals, and none that say nothing beyond them. */
static char *show(gint64 value, gsize least) {
  char buffer[EW_DECIMAL_SIZE];
  const char *figures = ew_decimal_write(value, buffer);
  const char *point = strchr(figures, '.');
  gsize whole = (gsize)(point - figures), decimals = DECIMALS;
  while (decimals > least && point[decimals] == '0')
    decimals--;
  GString *text = g_string_new(NULL);
  for (gsize i = 0; i < whole; i++) {
    gsize left = whole - i;
    if (i && left % 3 == 0 && g_ascii_isdigit(figures[i - 1]))
      g_string_append(text, ew_language_thousands());
    g_string_append_c(text, figures[i]);
  }
  if (decimals) {
    g_string_append_c(text, ew_language_decimal());
    g_string_append_len(text, point + 1, (gssize)decimals);
  }
  return g_string_free(text, FALSE);
}

char *ew_money_show(gint64 value) {
  return show(value, 2);
}
char *ew_count_show(gint64 value) {
  return show(value, 0);
}
