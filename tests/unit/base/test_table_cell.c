/* Dates: Unix seconds of the rows by `date -u -d ... +%s` of GNU coreutils. */
#include "base/table_cell.h"
#include "unit.h"

static void cells(void **state) {
  (void)state;
  static const struct {
    const char *says, *text;
    char decimal;
    gboolean month_first;
    enum ew_cell_kind kind;
    double value;
    char group;
  } rows[] = {
      {"a figure", "12.5", '.', 0, EW_CELL_NUMBER, 12.5},
      {"blanks around it", " 12.5\t", '.', 0, EW_CELL_NUMBER, 12.5},
      {"quotes around it", "\"12.5\"", '.', 0, EW_CELL_NUMBER, 12.5},
      {"a decimal comma", "12,5", ',', 0, EW_CELL_NUMBER, 12.5},
      {"a point where commas are used", "12.5", ',', 0, EW_CELL_NUMBER, 12.5},
      {"an exponent", "-1.2E-03", '.', 0, EW_CELL_NUMBER, -0.0012},
      {"nothing", "", '.', 0, EW_CELL_EMPTY, NAN},
      {"blanks", "   ", '.', 0, EW_CELL_EMPTY, NAN},
      {"NaN", "NaN", '.', 0, EW_CELL_EMPTY, NAN},
      {"not available", "n/a", '.', 0, EW_CELL_EMPTY, NAN},
      {"a spreadsheet's mark", "#N/A", '.', 0, EW_CELL_EMPTY, NAN},
      {"division by nothing", "#DIV/0!", '.', 0, EW_CELL_EMPTY, NAN},
      {"a dash", "-", '.', 0, EW_CELL_EMPTY, NAN},
      {"stars", "****", '.', 0, EW_CELL_EMPTY, NAN},
      {"null", "null", '.', 0, EW_CELL_EMPTY, NAN},
      {"infinity is no reading", "inf", '.', 0, EW_CELL_EMPTY, NAN},
      {"a time of day", "14:03:22", '.', 0, EW_CELL_CLOCK, 50602},
      {"before noon", "09:12:10 AM", '.', 0, EW_CELL_CLOCK, 33130},
      {"after noon", "1:20:05 pm", '.', 0, EW_CELL_CLOCK, 48005},
      {"noon", "12:00:00 PM", '.', 0, EW_CELL_CLOCK, 43200},
      {"midnight", "12:00:00 AM", '.', 0, EW_CELL_CLOCK, 0},
      {"an hour of 24 before noon is none", "14:03:22 AM", '.', 0, EW_CELL_TEXT, NAN},
      {"with a fraction", "14:03:22.5", '.', 0, EW_CELL_CLOCK, 50602.5},
      {"with a comma", "14:03:22,25", ',', 0, EW_CELL_CLOCK, 50602.25},
      {"with a colon for the fraction", "14:03:22:125", '.', 0, EW_CELL_CLOCK, 50602.125},
      {"minutes and seconds", "12:34.5", '.', 0, EW_CELL_CLOCK, 754.5},
      {"hours and minutes", "14:03", '.', 0, EW_CELL_CLOCK, 50580},
      {"61 minutes are no time", "14:61:00", '.', 0, EW_CELL_TEXT, NAN},
      {"ISO 8601", "2026-06-12T14:03:22Z", '.', 0, EW_CELL_DATE, 1781273002},
      {"ISO 8601 with a fraction", "2026-06-12T14:03:22.250Z", '.', 0, EW_CELL_DATE, 1781273002.25},
      {"ISO 8601 with a zone", "2026-06-12T16:03:22+02:00", '.', 0, EW_CELL_DATE, 1781273002},
      {"a zone without a colon", "2026-06-12T09:03:22-0500", '.', 0, EW_CELL_DATE, 1781273002},
      {"a blank for the T", "2026-06-12 14:03:22", '.', 0, EW_CELL_DATE, 1781273002},
      {"the day alone", "2026-06-12", '.', 0, EW_CELL_DATE, 1781222400},
      {"day first", "12/06/2026 14:03:22", '.', 0, EW_CELL_DATE, 1781273002},
      {"month first", "06/12/2026 14:03:22", '.', 1, EW_CELL_DATE, 1781273002},
      {"points between", "12.06.2026", '.', 0, EW_CELL_DATE, 1781222400},
      {"a year of two digits", "12/06/26", '.', 0, EW_CELL_DATE, 1781222400},
      {"a leap day", "2024-02-29", '.', 0, EW_CELL_DATE, 1709164800},
      {"before 1970", "1969-12-31", '.', 0, EW_CELL_DATE, -86400},
      {"month 13", "2026-13-01", '.', 0, EW_CELL_TEXT, NAN},
      {"a word", "idle", '.', 0, EW_CELL_TEXT, NAN},
      {"a figure and its unit", "12 V", '.', 0, EW_CELL_TEXT, NAN},
      {"hexadecimal", "0x1F", '.', 0, EW_CELL_TEXT, NAN},
      {"two figures", "1 2", '.', 0, EW_CELL_TEXT, NAN},
      {"thousands points and a comma", "1.234,5", ',', 0, EW_CELL_NUMBER, 1234.5},
      {"thousands commas and a point", "-12,345.5", '.', 0, EW_CELL_NUMBER, -12345.5},
      {"the marks the other way round", "1,234.5", ',', 0, EW_CELL_TEXT, NAN},
      {"two marks of thousands", "1.234.567", ',', 0, EW_CELL_NUMBER, 1234567},
      {"one mark may be a decimal point", "1.234", ',', 0, EW_CELL_NUMBER, 1.234},
      {"one mark in a column of thousands", "1.234", ',', 0, EW_CELL_NUMBER, 1234, '.'},
      {"one comma is no figure by itself", "1,234", '.', 0, EW_CELL_TEXT, NAN},
      {"one comma in a column of thousands", "1,234", '.', 0, EW_CELL_NUMBER, 1234, ','},
      {"a group of two", "1.23", ',', 0, EW_CELL_TEXT, NAN, '.'},
      {"a group of four", "1.2345", ',', 0, EW_CELL_TEXT, NAN, '.'},
      {"a nought before the mark", "0.123", ',', 0, EW_CELL_TEXT, NAN, '.'},
      {"four figures before the mark", "1234.567", ',', 0, EW_CELL_TEXT, NAN, '.'},
      {"a mark at the end", "1.234.", ',', 0, EW_CELL_TEXT, NAN, '.'},
      {"an apostrophe", "1'234", '.', 0, EW_CELL_NUMBER, 1234},
      {"a blank", "1 234,5", ',', 0, EW_CELL_NUMBER, 1234.5},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    double value;
    enum ew_cell_kind kind = ew_cell_read(
        rows[i].text, strlen(rows[i].text),
        (struct ew_cell_style){rows[i].decimal, rows[i].group, rows[i].month_first}, &value);
    expect(kind == rows[i].kind, rows[i].says, "%d, %.17g", kind, value);
    expect_near(value, rows[i].value, 1e-6, rows[i].says);
  }
}

/* Only `size` bytes are read: the cell stands in the middle of a line. */
static void no_further_than_its_size(void **state) {
  (void)state;
  double value;
  assert_int_equal(ew_cell_read("123456", 3, (struct ew_cell_style){.decimal = '.'}, &value),
                   EW_CELL_NUMBER);
  assert_true(value == 123);
  assert_int_equal(ew_cell_read("1", 0, (struct ew_cell_style){.decimal = '.'}, &value),
                   EW_CELL_EMPTY);
  char *exact = g_malloc(2);
  memcpy(exact, "2:", 2); /* the sanitizer watches the end */
  (void)ew_cell_read(exact, 2, (struct ew_cell_style){.decimal = '.'}, &value);
  memcpy(exact, "\"\"", 2);
  assert_int_equal(ew_cell_read(exact, 2, (struct ew_cell_style){.decimal = '.'}, &value),
                   EW_CELL_EMPTY);
  g_free(exact);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(cells),
                                     cmocka_unit_test(no_further_than_its_size)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
