/* What one cell is, in the order: missing, number, number with marks between thousands, time of day, date, text.
 * Days by H. Hinnant's civil-day algorithm. Numbers have the bits of strtod; nothing depends on the locale. */
#include "base/table_cell.h"
#include "base/number.h"
#include <math.h>
#include <string.h>

static gboolean is_missing(const char *text, gsize size) {
  static const char *const marks[] = {"nan",  "na",  "n/a",  "#n/a", "null", "none", "-",
                                      "--",   "---", "?",    "inf",  "-inf", "+inf", "#div/0!",
                                      "-nan", "nil", "n.a.", "*",    "****"};
  if (size > 0 && (g_ascii_isdigit(*text) || (size > 1 && g_ascii_isdigit(text[1]))))
    return FALSE; /* no mark has a figure there */
  for (gsize i = 0; i < G_N_ELEMENTS(marks); i++)
    if (strlen(marks[i]) == size && g_ascii_strncasecmp(marks[i], text, size) == 0)
      return TRUE;
  return size == 0;
}

/* Up to `most` digits at *at; FALSE when there is none. */
static gboolean read_digits(const char **at, const char *end, int most, int *value, int *count) {
  const char *c = *at;
  for (*value = 0; c < end && g_ascii_isdigit(*c) && c - *at < most; c++)
    *value = *value * 10 + (*c - '0');
  *count = (int)(c - *at);
  g_assert(*count <= most && most <= 9); /* no more fit an int */
  *at = c;
  return *count > 0;
}

/* h:mm[:ss[.f]] or m:ss.f at *at; behind seconds a comma, too, whatever the mark of the other columns */
static gboolean read_clock(const char **at, const char *end, char decimal, double *seconds) {
  int hour, minute, second = 0, count;
  if (!read_digits(at, end, 3, &hour, &count) || *at == end || **at != ':')
    return FALSE;
  ++*at;
  if (!read_digits(at, end, 2, &minute, &count) || minute > 59)
    return FALSE;
  gboolean three = *at < end && **at == ':';
  if (three) {
    ++*at;
    if (!read_digits(at, end, 2, &second, &count) || second > 60)
      return FALSE;
  }
  double fraction = 0, place = 0.1;
  if (*at < end && (**at == '.' || **at == decimal || (three && strchr(":,", **at)))) {
    for (++*at; *at < end && g_ascii_isdigit(**at); ++*at, place /= 10)
      fraction += (**at - '0') * place;
    if (!three) { /* 12:34.5 is minutes and seconds */
      *seconds = hour * 60 + minute + fraction;
      return TRUE;
    }
  }
  *seconds = hour * 3600.0 + minute * 60 + second + fraction;
  return TRUE;
}

/* " AM", "pm" behind an hour of twelve; FALSE when it is of no such hour. */
static gboolean read_half_day(const char **at, const char *end, double *seconds) {
  const char *c = *at;
  while (c < end && *c == ' ')
    c++;
  if (end - c < 2 || g_ascii_tolower(c[1]) != 'm' ||
      (g_ascii_tolower(*c) != 'a' && g_ascii_tolower(*c) != 'p'))
    return TRUE;
  if (*seconds < 3600 || *seconds >= 13 * 3600)
    return FALSE;
  if (*seconds >= 12 * 3600)
    *seconds -= 12 * 3600;
  if (g_ascii_tolower(*c) == 'p')
    *seconds += 12 * 3600;
  *at = c + 2;
  return TRUE;
}

/* Days since 1970-01-01 in the Gregorian calendar (H. Hinnant's civil-day algorithm). */
static double days_of(int year, int month, int day) {
  g_assert(month >= 1 && month <= 12 && day >= 1 && day <= 31);
  year -= month <= 2;
  int era = (year >= 0 ? year : year - 399) / 400, of_era = year - era * 400;
  int of_year = (153 * (month + (month > 2 ? -3 : 9)) + 2) / 5 + day - 1;
  return era * 146097.0 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719468;
}

static gboolean read_zone(const char **at, const char *end, double *seconds) {
  *seconds = 0;
  if (*at < end && (**at == 'Z' || **at == 'z')) {
    ++*at;
    return TRUE;
  }
  if (*at < end && (**at == '+' || **at == '-')) {
    double sign = **at == '-' ? 1 : -1;
    int hour, minute = 0, count;
    ++*at;
    if (!read_digits(at, end, 2, &hour, &count))
      return FALSE;
    if (*at < end && **at == ':')
      ++*at;
    read_digits(at, end, 2, &minute, &count);
    *seconds = sign * (hour * 3600 + minute * 60);
  }
  return TRUE;
}

static gboolean read_date(const char *at, const char *end, char decimal, gboolean month_first,
                          double *value) {
  int a, b, c, count, third;
  if (!read_digits(&at, end, 4, &a, &count) || at == end || !strchr("-/.", *at))
    return FALSE;
  gboolean year_first = count == 4;
  char mark = *at++;
  if (!read_digits(&at, end, 2, &b, &third) || at == end || *at++ != mark ||
      !read_digits(&at, end, 4, &c, &third))
    return FALSE;
  int year = year_first ? a : third == 4 ? c : 2000 + c;
  int month = year_first ? b : month_first ? a : b;
  int day = year_first ? c : month_first ? b : a;
  if (month < 1 || month > 12 || day < 1 || day > 31)
    return FALSE;
  double clock = 0, zone = 0;
  if (at < end && (*at == 'T' || *at == ' ' || *at == '_')) {
    at++;
    if (!read_clock(&at, end, decimal, &clock) || !read_half_day(&at, end, &clock) ||
        !read_zone(&at, end, &zone))
      return FALSE;
  }
  *value = days_of(year, month, day) * 86400 + clock + zone;
  return at == end;
}

/* The mark between thousands at *at, in ASCII; *size bytes. 0 when there is none. */
static char group_mark(const char *at, const char *end, gsize *size) {
  static const struct {
    const char *bytes;
    char mark;
  } marks[] = {{".", '.'},
               {",", ','},
               {"'", '\''},
               {" ", ' '},
               {"\xc2\xa0", ' '},
               {"\xe2\x80\xaf", ' '}, /* no break, narrow */
               {"\xe2\x80\x89", ' '},
               {"\xe2\x80\x99", '\''},
               {"\xa0", ' '}};
  for (gsize i = 0; i < G_N_ELEMENTS(marks); i++) {
    *size = strlen(marks[i].bytes);
    if ((gsize)(end - at) > *size && memcmp(at, marks[i].bytes, *size) == 0)
      return marks[i].mark;
  }
  return 0;
}

/* "1.234,5": one to three digits, then groups of three with one mark between, then perhaps decimals. A single
 * group behind the other decimal mark and no decimals is taken only when style.group is that mark. */
static gboolean read_grouped(const char *at, const char *end, struct ew_cell_style style,
                             double *value) {
  char digits[64], mark = 0;
  gsize length = 0, groups = 0, size;
  if (at < end && (*at == '-' || *at == '+'))
    digits[length++] = *at++;
  const char *first = at;
  while (at < end && g_ascii_isdigit(*at) && at - first < 4)
    digits[length++] = *at++;
  if (at == first || at - first > 3 || *first == '0')
    return FALSE;
  for (char here; at < end && length < 40 && (here = group_mark(at, end, &size)) != 0; groups++) {
    if (here == style.decimal || (mark && here != mark))
      break;
    mark = here;
    at += size;
    if (end - at < 3 || !g_ascii_isdigit(at[0]) || !g_ascii_isdigit(at[1]) ||
        !g_ascii_isdigit(at[2]))
      return FALSE;
    memcpy(digits + length, at, 3);
    length += 3;
    at += 3;
  }
  gboolean decimals = at < end && *at == style.decimal;
  if (groups == 0 || (at < end && !decimals) ||
      (groups == 1 && !decimals && strchr(".,", mark) && mark != style.group) ||
      (gsize)(end - at) >= sizeof digits - length)
    return FALSE;
  g_assert(length + (gsize)(end - at) < sizeof digits);
  memcpy(digits + length, at, (gsize)(end - at));
  return ew_number_read(digits, length + (gsize)(end - at), style.decimal, value);
}

enum ew_cell_kind ew_cell_read(const char *text, gsize size, struct ew_cell_style style,
                               double *value) {
  while (size > 0 && g_ascii_isspace(*text))
    text++, size--;
  while (size > 0 && g_ascii_isspace(text[size - 1]))
    size--;
  if (size >= 2 && *text == '"' && text[size - 1] == '"')
    return ew_cell_read(text + 1, size - 2, style, value);
  *value = NAN;
  if (is_missing(text, size))
    return EW_CELL_EMPTY;
  if (ew_number_read(text, size, style.decimal, value))
    return EW_CELL_NUMBER;
  if (style.decimal == ',' && style.group != '.' && ew_number_read(text, size, '.', value))
    return EW_CELL_NUMBER;
  const char *at = text, *end = text + size;
  if (read_grouped(text, end, style, value))
    return EW_CELL_NUMBER;
  if (size <= 40 && read_clock(&at, end, style.decimal, value) && read_half_day(&at, end, value) &&
      at == end)
    return EW_CELL_CLOCK;
  if (size <= 40 && read_date(text, end, style.decimal, style.month_first, value))
    return EW_CELL_DATE;
  *value = NAN;
  return EW_CELL_TEXT;
}
