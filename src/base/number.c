/* The fast path of ew_number_read: up to 15 significant digits make an integer below 2^53, and a
 * power of ten up to 10^22 is exact, so that one multiplication or division rounds once and gives
 * the bits of strtod (W. D. Clinger, How to read floating point numbers accurately, PLDI 1990).
 * Up to 19 digits over a power of ten up to 10^27 are divided exactly in 128 bits and rounded once.
 * Anything longer goes to strtod itself. */
#include "base/number.h"
#include "base/language.h"
#include "base/words.h"
#include <math.h>
#include <string.h>

static const double power_of_ten[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                      1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                      1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

gboolean ew_number_parse(const char *text, double *value) {
  while (g_ascii_isspace(*text))
    text++;
  gsize size = strlen(text);
  while (size > 0 && g_ascii_isspace(text[size - 1]))
    size--;
  return ew_number_read(text, size, '.', value);
}

static gboolean read_by_library(const char *text, gsize size, char decimal, double *value) {
  char buffer[400];
  if (size >= sizeof buffer)
    return FALSE;
  memcpy(buffer, text, size);
  buffer[size] = 0;
  if (decimal != '.')
    for (gsize i = 0; i < size; i++)
      if (buffer[i] == decimal)
        buffer[i] = '.';
  char *end;
  *value = g_ascii_strtod(buffer, &end);
  return *end == 0 && isfinite(*value);
}

__extension__ typedef unsigned __int128 wide;

/* w / 10^k, rounded to nearest, ties to even; w > 0, 0 <= k <= 27. 10^k = 5^k 2^k, and 5^27 < 2^64: with
 * both brought to the top bit, a quotient of 64 bits and whether anything remains decide the rounding. */
static double exact_ratio(guint64 w, int k) {
  static const guint64 power_of_five[] = {1u,
                                          5u,
                                          25u,
                                          125u,
                                          625u,
                                          3125u,
                                          15625u,
                                          78125u,
                                          390625u,
                                          1953125u,
                                          9765625u,
                                          48828125u,
                                          244140625u,
                                          1220703125u,
                                          6103515625u,
                                          30517578125u,
                                          152587890625u,
                                          762939453125u,
                                          3814697265625u,
                                          19073486328125u,
                                          95367431640625u,
                                          476837158203125u,
                                          2384185791015625u,
                                          11920928955078125u,
                                          59604644775390625u,
                                          298023223876953125u,
                                          1490116119384765625u,
                                          7450580596923828125u};
  g_assert(w > 0 && k >= 0 && k < (int)G_N_ELEMENTS(power_of_five));
  guint64 five = power_of_five[k];
  int up_w = __builtin_clzll(w), up_five = __builtin_clzll(five);
  guint64 top = w << up_w, divisor = five << up_five;
  int down = top >= divisor; /* keeps the quotient below 2^64 */
  wide numerator = ((wide)top << 64) >> down;
  guint64 quotient = (guint64)(numerator / divisor);
  gboolean more = (wide)quotient * divisor != numerator;
  int lost = 11 - __builtin_clzll(quotient); /* bits beyond 53 */
  g_assert(lost == 10 || lost == 11);
  guint64 kept = quotient >> lost, rest = quotient & (((guint64)1 << lost) - 1),
          half = (guint64)1 << (lost - 1);
  if (rest > half || (rest == half && (more || (kept & 1))))
    kept++;
  union { /* a power of two between 2^-200 and 1, from its bits: the product is exact */
    guint64 bits;
    double value;
  } power = {(guint64)(1023 + lost + down - 64 - up_w + up_five - k) << 52};
  return (double)kept * power.value;
}

/* Eight digits at once, their value in *value; FALSE when one of the eight bytes is not a digit (the carry-free
 * joining of neighbours after D. Lemire, Number parsing at a gigabyte per second, 2021). */
static inline gboolean eight_digits(const char *at, guint64 *value) {
  guint64 v;
  memcpy(&v, at, sizeof v);
  v = GUINT64_FROM_LE(v);
  if ((v & 0xf0f0f0f0f0f0f0f0u) != 0x3030303030303030u ||
      ((v + 0x0606060606060606u) & 0xf0f0f0f0f0f0f0f0u) != 0x3030303030303030u)
    return FALSE;
  v -= 0x3030303030303030u;
  v = v * 10 + (v >> 8);
  *value = ((v & 0x000000ff000000ffu) * (100 + (1000000ull << 32)) +
            ((v >> 16) & 0x000000ff000000ffu) * (1 + (10000ull << 32))) >>
           32;
  return TRUE;
}

gboolean ew_number_read(const char *text, gsize size, char decimal, double *value) {
  const char *at = text, *end = text + size;
  gboolean negative = FALSE;
  if (at < end && (*at == '-' || *at == '+'))
    negative = *at++ == '-';
  guint64 mantissa = 0;
  int digits = 0, seen = 0, fraction = 0;
  for (; at < end && (unsigned)(*at - '0') < 10; at++, seen++) {
    mantissa = mantissa * 10 + (guint64)(*at - '0');
    digits += mantissa != 0;
    if (digits > 18)
      break;
  }
  if (at < end && *at == decimal && digits <= 18) {
    at++;
    for (guint64 eight; mantissa && digits <= 10 && end - at >= 8 && eight_digits(at, &eight);
         at += 8)
      mantissa = mantissa * 100000000 + eight, digits += 8, seen += 8, fraction += 8;
    for (; at < end && (unsigned)(*at - '0') < 10; at++, seen++, fraction++) {
      mantissa = mantissa * 10 + (guint64)(*at - '0');
      digits += mantissa != 0;
      if (digits > 18)
        break;
    }
  }
  if (seen == 0)
    return FALSE;
  if (at == end && mantissa < ((guint64)1 << 53) && fraction <= 22) {
    double exact = (double)mantissa;
    if (fraction)
      exact /= power_of_ten[fraction];
    *value = negative ? -exact : exact;
    return TRUE;
  }
  if (at == end && mantissa > 0 && digits <= 19 && fraction <= 27) {
    *value = negative ? -exact_ratio(mantissa, fraction) : exact_ratio(mantissa, fraction);
    return TRUE;
  }
  if (at < end && !g_ascii_isdigit(*at) && *at != 'e' && *at != 'E' && *at != decimal)
    return FALSE;
  for (const char *c = at; c < end;
       c++) /* strtod knows hexadecimal, inf and nan; a table does not */
    if (!g_ascii_isdigit(*c) && *c != decimal && *c != 'e' && *c != 'E' && *c != '+' && *c != '-')
      return FALSE;
  return read_by_library(text, size, decimal, value);
}

/* A figure with few decimals, as loggers send them: n / 10^k is rounded once, so where it is the figure itself, its at most 15
 * digits are the ones that %.15g would find (15 digits are kept by a double: C17 5.2.4.2.2, DBL_DIG). FALSE: it is not one. */
static gboolean write_decimals(double value, char buffer[EW_NUMBER_SIZE]) {
  double size = fabs(value), whole = 0;
  int decimals = 0;
  if (!(size >= 1e-4 && size < 1e9)) /* %g writes exponents below */
    return FALSE;
  do
    whole = rint(size * power_of_ten[++decimals]);
  while (decimals < 5 && whole / power_of_ten[decimals] != size);
  if (whole / power_of_ten[decimals] != size)
    return FALSE;
  char *at = buffer + EW_NUMBER_SIZE - 1;
  guint64 rest = (guint64)whole;
  *at = 0;
  for (int i = 0; i < decimals || rest > 0 || i == decimals; i++, rest /= 10) {
    if (i == decimals)
      *--at = '.';
    *--at = (char)('0' + rest % 10);
  }
  if (value < 0)
    *--at = '-';
  memmove(buffer, at, (gsize)(buffer + EW_NUMBER_SIZE - at));
  return TRUE;
}

const char *ew_number_write(double value, char buffer[EW_NUMBER_SIZE]) {
  if (!isfinite(value))
    return "null";
  if (fabs(value) < 1e15 && value == floor(value) && value != 0) { /* -0 is not 0 */
    g_snprintf(buffer, EW_NUMBER_SIZE, "%" G_GINT64_FORMAT, (gint64)value);
    return buffer;
  }
  if (write_decimals(value, buffer))
    return buffer;
  for (int digits = 15; digits <= 17; digits++) {
    char format[8];
    g_snprintf(format, sizeof format, "%%.%dg", digits);
    g_ascii_formatd(buffer, EW_NUMBER_SIZE, format, value);
    if (g_ascii_strtod(buffer, NULL) == value)
      break;
  }
  return buffer;
}

const char *ew_number_fixed(double value, int decimals, char buffer[EW_NUMBER_SIZE]) {
  if (!isfinite(value)) { /* into the buffer too: callers read either */
    g_strlcpy(buffer, "-", EW_NUMBER_SIZE);
    return buffer;
  }
  char format[8];
  g_snprintf(format, sizeof format, "%%.%df", CLAMP(decimals, 0, 9));
  double unit = pow(10, -decimals);
  double rounded = decimals < 0 ? round(value / unit) * unit : value;
  if (fabs(rounded) < 0.5 * unit)
    rounded = 0; /* no "-0.0" */
  return fabs(rounded) < 1e20 ? g_ascii_formatd(buffer, EW_NUMBER_SIZE, format, rounded)
                              : g_ascii_formatd(buffer, EW_NUMBER_SIZE, "%.6g", rounded);
}

const char *ew_number_shown(double value, int decimals, char buffer[EW_NUMBER_SIZE]) {
  ew_number_fixed(value, decimals, buffer);
  char *mark = strchr(buffer, '.');
  if (mark)
    *mark = ew_language_decimal();
  return buffer;
}

/* How many decimals a value deserves whose expanded uncertainty is given: the uncertainty is
 * rounded to two figures when it begins with 1, else to one (after GUM 7.2.6). May be negative. */
static int decimals_of(double uncertainty) {
  if (!(uncertainty > 0) || !isfinite(uncertainty))
    return 0;
  int exponent = (int)floor(log10(uncertainty));
  double first = uncertainty / pow(10, exponent);
  if (first >= 9.5)
    return -(exponent + 1) + 1;
  return -exponent + (first < 1.95 ? 1 : 0);
}

char *ew_number_with_uncertainty(double value, double uncertainty) {
  char one[EW_NUMBER_SIZE], two[EW_NUMBER_SIZE];
  if (!isfinite(value))
    return g_strdup("-");
  if (!isfinite(uncertainty) || uncertainty <= 0)
    return ew_words("%s (uncertainty not known)", ew_number_shown(value, 1, one));
  int decimals = decimals_of(uncertainty);
  if (decimals == 1 && uncertainty >= 1)
    decimals = 0; /* 266 ± 2, not 266.3 ± 1.6 */
  return g_strdup_printf("%s ± %s", ew_number_shown(value, decimals, one),
                         ew_number_shown(uncertainty, decimals, two));
}

char *ew_number_thousands(double value) {
  char digits[EW_NUMBER_SIZE];
  ew_number_fixed(fabs(value), 0, digits);
  GString *text = g_string_new(value <= -0.5 ? "-" : "");
  gsize size = strlen(digits);
  for (gsize i = 0; i < size; i++) {
    if (i > 0 && (size - i) % 3 == 0)
      g_string_append(text, ew_language_thousands());
    g_string_append_c(text, digits[i]);
  }
  return g_string_free(text, FALSE);
}
