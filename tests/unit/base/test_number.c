#include "base/number.h"
#include "unit.h"
#include <stdlib.h>

static void whole_texts(void **state) {
  (void)state;
  static const struct {
    const char *says, *text;
    gboolean good;
    double want;
  } rows[] = {
      {"a plain figure", "12.5", TRUE, 12.5},
      {"blanks around it", "  12.5 ", TRUE, 12.5},
      {"a sign", "-0.25", TRUE, -0.25},
      {"a plus", "+3", TRUE, 3},
      {"an exponent", "1.5e-3", TRUE, 0.0015},
      {"a large exponent", "1E6", TRUE, 1e6},
      {"no digits before the point", ".5", TRUE, 0.5},
      {"nothing after the point", "5.", TRUE, 5},
      {"an empty text is no figure", "", FALSE, 0},
      {"a blank is no figure", " ", FALSE, 0},
      {"a word is no figure", "five", FALSE, 0},
      {"not a number is no figure", "nan", FALSE, 0},
      {"infinity is no figure", "inf", FALSE, 0},
      {"hexadecimal is no figure", "0x10", FALSE, 0},
      {"a decimal comma is no figure here", "1,5", FALSE, 0},
      {"two figures are no figure", "1 2", FALSE, 0},
      {"a figure with a unit is no figure", "12 mm", FALSE, 0},
      {"a sign alone is no figure", "-", FALSE, 0},
      {"too large for a double is no figure", "1e999", FALSE, 0},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    double value = 0;
    gboolean good = ew_number_parse(rows[i].text, &value);
    expect(good == rows[i].good, rows[i].says, "%d", good);
    if (good)
      expect_near(value, rows[i].want, 0, rows[i].says);
  }
}

/* Every cell has the bits of strtod of the C library (ISO C 7.24.1.5, correctly rounded in glibc). */
static void same_bits_as_strtod(void **state) {
  (void)state;
  static const char *const odd[] = {"0",
                                    "-0",
                                    "0.1",
                                    "123456789012345678901234567890",
                                    "1e-320",
                                    "4.9e-324",
                                    "1.7e308",
                                    "9007199254740993",
                                    "0.30000004",
                                    "1e22",
                                    "1e23",
                                    "2.2250738585072011e-308",
                                    "72057594037927945",
                                    "5e-324",
                                    "179769313486231570000",
                                    "100000000000000016777215"};
  for (gsize i = 0; i < G_N_ELEMENTS(odd); i++) {
    double value, want = strtod(odd[i], NULL);
    expect(ew_number_read(odd[i], strlen(odd[i]), '.', &value), odd[i], "refused");
    expect(memcmp(&value, &want, sizeof value) == 0, odd[i], "%.17g", value);
  }
  g_autoptr(GRand) random = g_rand_new_with_seed(20261);
  for (int i = 0; i < 200000; i++) {
    char text[64], comma[64];
    int digits = g_rand_int_range(random, 0, 18);
    double any = g_rand_double_range(random, -1, 1) * pow(10, g_rand_int_range(random, -12, 13));
    g_snprintf(text, sizeof text, i % 3 ? "%.*f" : "%.*e", digits, any);
    double want = strtod(text, NULL), point = 0, mark = 0;
    gboolean good = ew_number_read(text, strlen(text), '.', &point);
    expect(good && memcmp(&point, &want, sizeof want) == 0, text, "%d %.17g", good, point);
    strcpy(comma, text);
    g_strdelimit(comma, ".", ',');
    good = ew_number_read(comma, strlen(comma), ',', &mark);
    expect(good && memcmp(&mark, &want, sizeof want) == 0, comma, "%d %.17g", good, mark);
  }
}

static void shortest_writing_reads_back(void **state) {
  (void)state;
  char buffer[EW_NUMBER_SIZE];
  assert_string_equal(ew_number_write(0.1, buffer), "0.1");
  assert_string_equal(ew_number_write(1.0 / 3, buffer), "0.3333333333333333");
  assert_string_equal(ew_number_write(NAN, buffer), "null");
  assert_string_equal(ew_number_write(-INFINITY, buffer), "null");
  g_autoptr(GRand) random = g_rand_new_with_seed(7);
  for (int i = 0; i < 100000; i++) {
    union {
      guint64 bits;
      double value;
    } any = {.bits = ((guint64)g_rand_int(random) << 32) | g_rand_int(random)};
    if (!isfinite(any.value))
      continue;
    double back = g_ascii_strtod(ew_number_write(any.value, buffer), NULL);
    expect(back == any.value, buffer, "%.17g", back);
    expect(strlen(buffer) < EW_NUMBER_SIZE, buffer, "%zu", strlen(buffer));
  }
}

/* The way for figures of few decimals writes what the C library's %.15g writes. */
static void few_decimals_are_written_as_the_library_does(void **state) {
  (void)state;
  char buffer[EW_NUMBER_SIZE], other[EW_NUMBER_SIZE];
  static const double edges[] = {1e-4,      1.2e-4,   0.99999,  0.000099999,  999999999.99999,
                                 1e9 + 0.5, -0.00015, 12.50001, 123456.78901, 0.30000000000000004,
                                 5e-324,    -7.25};
  g_autoptr(GRand) random = g_rand_new_with_seed(11);
  for (int i = 0; i < 300000; i++) {
    int decimals = g_rand_int_range(random, 0, 8), size = g_rand_int_range(random, 1, 10);
    double value = i < (int)G_N_ELEMENTS(edges)
                       ? edges[i]
                       : (g_rand_boolean(random) ? -1 : 1) *
                             rint(g_rand_double_range(random, 0, pow(10, size))) /
                             pow(10, decimals);
    if (value == floor(value))
      continue;
    for (int digits = 15; digits <= 17; digits++) {
      char format[8];
      g_snprintf(format, sizeof format, "%%.%dg", digits);
      g_ascii_formatd(other, sizeof other, format, value);
      if (g_ascii_strtod(other, NULL) == value)
        break;
    }
    expect(strcmp(ew_number_write(value, buffer), other) == 0, other, "%s", buffer);
  }
}

/* GUM (JCGM 100:2008) 7.2.6: at most two significant digits of the uncertainty. */
static void rounding_to_what_it_deserves(void **state) {
  (void)state;
  static const struct {
    double value, uncertainty;
    const char *want;
  } rows[] = {
      {266.3, 3.1, "266 ± 3"},
      {266.3, 1.6, "266 ± 2"},
      {266.34, 0.16, "266.34 ± 0.16"},
      {266.34, 0.4, "266.3 ± 0.4"},
      {1.0432, 0.0028, "1.043 ± 0.003"},
      {-0.01, 0.3, "0.0 ± 0.3"},
      {198123, 2400, "198000 ± 2000"},
      {9.97, 0.97, "10.0 ± 1.0"},
      {12, NAN, "12.0 (uncertainty not known)"},
      {NAN, 1, "-"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autofree char *text = ew_number_with_uncertainty(rows[i].value, rows[i].uncertainty);
    expect(strcmp(text, rows[i].want) == 0, rows[i].want, "%s", text);
  }
}

static void fixed_and_thousands(void **state) {
  (void)state;
  char buffer[EW_NUMBER_SIZE];
  assert_string_equal(ew_number_fixed(-0.04, 1, buffer), "0.0");
  assert_string_equal(ew_number_fixed(1234.5678, 2, buffer), "1234.57");
  assert_string_equal(ew_number_fixed(1254, -2, buffer), "1300");
  assert_string_equal(ew_number_fixed(NAN, 2, buffer), "-");
  static const struct {
    double value;
    const char *want;
  } rows[] = {{0, "0"},           {999, "999"},        {4500, "4,500"},
              {1e6, "1,000,000"}, {-12345, "-12,345"}, {999.6, "1,000"}};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autofree char *text = ew_number_thousands(rows[i].value);
    assert_string_equal(text, rows[i].want);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(whole_texts),
                                     cmocka_unit_test(same_bits_as_strtod),
                                     cmocka_unit_test(shortest_writing_reads_back),
                                     cmocka_unit_test(rounding_to_what_it_deserves),
                                     cmocka_unit_test(few_decimals_are_written_as_the_library_does),
                                     cmocka_unit_test(fixed_and_thousands)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
