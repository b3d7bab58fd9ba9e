/* Public tables as they were published (data/PROVENANCE.md): each is read whole. The numbers of rows were
 * counted in the files. */
#include "processed.h"

static gsize lines_that_begin_with_a_digit(const char *name) {
  g_auto(GStrv) lines = data_lines(name);
  gsize count = 0;
  for (int i = 0; lines[i]; i++)
    count += g_ascii_isdigit(*g_strchug(lines[i]));
  return count;
}

static struct ew_processed *table(const char *name) {
  g_autofree char *text = data_text(name);
  return processed_as_observed(text, NULL);
}

static void rows(void **state) {
  (void)state;
  static const struct {
    const char *name;
    gsize rows, columns;
  } files[] = {
      {"ugly-tables/vmm-tab-decimal-comma.txt", 532, 9},
      {"ugly-tables/knmi-westdorpe-hourly-head.txt", 8986, 5},
      {"ethanol-single-cylinder/ethanol.csv", 88, 3},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(files); i++) {
    struct ew_processed *processed = table(files[i].name);
    assert_int_equal(processed->series->rows, files[i].rows);
    assert_int_equal(processed->series->rows, lines_that_begin_with_a_digit(files[i].name));
    assert_int_equal(processed->series->channels_count, files[i].columns);
    assert_int_equal(processed->curves->len, 0); /* no engine speed: and says so */
    assert_non_null(processed->why_none);
    ew_processed_free(processed);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(rows)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
