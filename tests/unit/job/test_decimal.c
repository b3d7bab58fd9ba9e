/* Money as it is typed: what is read, what can be read in two ways, what is not a number; and sums to a cent.
 * Checked against the rules of rounding by hand, and against decimal arithmetic of an outside library where there is
 * one: tests/scenario/job.py adds up the same quote with Python's decimal module. */
#include "unit.h"
#include "job/decimal.h"

static const struct {
  const char *text;
  gint64 value; /* in ten thousandths */
  enum ew_decimal_fault fault;
} rows[] = {
    {"12.50", 125000, EW_DECIMAL_FINE},
    {" 12,50 ", 125000, EW_DECIMAL_FINE},
    {"0", 0, EW_DECIMAL_FINE},
    {"-0", 0, EW_DECIMAL_FINE},
    {"+8", 80000, EW_DECIMAL_FINE},
    {"-8", -80000, EW_DECIMAL_FINE},
    {"\xe2\x88\x92"
     "8",
     -80000, EW_DECIMAL_FINE},
    {".5", 5000, EW_DECIMAL_FINE},
    {"0.125", 1250, EW_DECIMAL_FINE},
    {"9.8750", 98750, EW_DECIMAL_FINE},
    {"1,234.50", 12345000, EW_DECIMAL_FINE},
    {"1.234,50", 12345000, EW_DECIMAL_FINE},
    {"1.234.567", 12345670000, EW_DECIMAL_FINE},
    {"1,234,567.89", 12345678900, EW_DECIMAL_FINE},
    {"1.50000", 15000, EW_DECIMAL_FINE},
    {"999999999.9999", 9999999999999, EW_DECIMAL_FINE},
    {"1,234", 0, EW_DECIMAL_TWO_WAYS},
    {"1.234", 0, EW_DECIMAL_TWO_WAYS},
    {"123.456", 0, EW_DECIMAL_TWO_WAYS},
    {"1.23456", 0, EW_DECIMAL_TOO_FINE},
    {"1000000000", 0, EW_DECIMAL_TOO_LARGE},
    {"99999999999999999999", 0, EW_DECIMAL_TOO_LARGE},
    {"9999999999999999999999999999999999", 0, EW_DECIMAL_TOO_LARGE},
    {"", 0, EW_DECIMAL_NOT_A_NUMBER},
    {"-", 0, EW_DECIMAL_NOT_A_NUMBER},
    {"--8", 0, EW_DECIMAL_NOT_A_NUMBER},
    {"5.", 0, EW_DECIMAL_NOT_A_NUMBER},
    {".", 0, EW_DECIMAL_NOT_A_NUMBER},
    {"12.50 EUR", 0, EW_DECIMAL_NOT_A_NUMBER},
    {"on request", 0, EW_DECIMAL_NOT_A_NUMBER},
    {"1e3", 0, EW_DECIMAL_NOT_A_NUMBER},
    {"nan", 0, EW_DECIMAL_NOT_A_NUMBER},
    {"inf", 0, EW_DECIMAL_NOT_A_NUMBER},
    {"0x10", 0, EW_DECIMAL_NOT_A_NUMBER},
    {"1,23.45", 0, EW_DECIMAL_NOT_A_NUMBER},
    {"1.2,3.4", 0, EW_DECIMAL_NOT_A_NUMBER},
    {"12,34,567", 0, EW_DECIMAL_NOT_A_NUMBER},
    {"1,234.567,8", 0, EW_DECIMAL_NOT_A_NUMBER},
};

static void reads_what_is_typed(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    gint64 value;
    enum ew_decimal_fault fault = ew_decimal_read(rows[i].text, &value);
    expect(fault == rows[i].fault, rows[i].text, "fault %d, not %d", fault, rows[i].fault);
    expect(fault != EW_DECIMAL_FINE || value == rows[i].value, rows[i].text, "%" G_GINT64_FORMAT,
           value);
  }
  gint64 value;
  assert_int_equal(ew_decimal_read(NULL, &value), EW_DECIMAL_NOT_A_NUMBER);
}

static void what_is_written_reads_back(void **state) {
  (void)state;
  static const gint64 values[] = {
      0, 1, -1, 9999, 10000, 12345, -125000, 9999999999999, -9999999999999};
  for (gsize i = 0; i < G_N_ELEMENTS(values); i++) {
    char text[EW_DECIMAL_SIZE];
    gint64 back;
    expect(ew_decimal_read(ew_decimal_write(values[i], text), &back) == EW_DECIMAL_FINE &&
               back == values[i],
           text, "%" G_GINT64_FORMAT, back);
  }
}

static void sums_to_a_cent(void **state) {
  (void)state;
  static const struct {
    const char *says;
    gint64 price, quantity, sum;
  } sums[] = {{"8 at 14.75", 147500, 80000, 1180000},
              {"half a cent goes up", 50, 10000, 100},
              {"and down below zero", 50, -10000, -100},
              {"less than half a cent is nothing", 49, 10000, 0},
              {"4.5 l at 9.875: 44.4375", 98750, 45000, 444400},
              {"a third of an hour", 780000, 3333, 260000},
              {"the largest of both", G_GINT64_CONSTANT(100000000000), 1000000000,
               G_GINT64_CONSTANT(10000000000000000)}};
  for (gsize i = 0; i < G_N_ELEMENTS(sums); i++) {
    gint64 sum = ew_decimal_times(sums[i].price, sums[i].quantity);
    expect(sum == sums[i].sum, sums[i].says, "%" G_GINT64_FORMAT, sum);
  }
}

static void is_shown_as_people_write(void **state) {
  (void)state;
  static const struct {
    gint64 value;
    const char *money, *count;
  } shown[] = {{0, "0.00", "0"},
               {12345000, "1,234.50", "1,234.5"},
               {-12345000, "-1,234.50", "-1,234.5"},
               {98750, "9.875", "9.875"},
               {1234567800, "123,456.78", "123,456.78"},
               {-1000000, "-100.00", "-100"}};
  for (gsize i = 0; i < G_N_ELEMENTS(shown); i++) {
    g_autofree char *money = ew_money_show(shown[i].value), *count = ew_count_show(shown[i].value);
    assert_string_equal(money, shown[i].money);
    assert_string_equal(count, shown[i].count);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(reads_what_is_typed), cmocka_unit_test(what_is_written_reads_back),
      cmocka_unit_test(sums_to_a_cent), cmocka_unit_test(is_shown_as_people_write)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
