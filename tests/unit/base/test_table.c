#include "base/table.h"
#include "unit.h"

/* What a file says, and what is understood. Names and units are apart by '|'. */
struct file {
  const char *says, *text, *names, *units;
  char delimiter, decimal;
  guint header, units_line, data;
  gsize rows;
  double first[4]; /* of the first row, as many as there are columns, up to 4 */
  const char *note;
};

#define ROWS5 "0,3000,200\n0.1,3010,201\n0.2,3020,202\n0.3,3030,203\n0.4,3040,204\n"
#define LAST                                                                                       \
  { 0, 3000, 200 }

static const struct file files[] = {
    {"commas and a header", "Time,RPM,Torque\n" ROWS5, "Time|RPM|Torque", "||", ',', '.', 1, 0, 2,
     5, LAST, NULL},
    {"no header", ROWS5, "column 1|column 2|column 3", "||", ',', '.', 0, 0, 1, 5, LAST, NULL},
    {"units in brackets", "Time [s],RPM [rpm],Torque [N·m]\n" ROWS5, "Time|RPM|Torque", "s|rpm|N·m",
     ',', '.', 1, 0, 2, 5, LAST, NULL},
    {"units in round brackets", "Time (s),RPM (rpm),Torque (lb-ft)\n" ROWS5, "Time|RPM|Torque",
     "s|rpm|lb-ft", ',', '.', 1, 0, 2, 5, LAST, NULL},
    {"units behind a slash", "Time/s,RPM/rpm,Torque/Nm\n" ROWS5, "Time|RPM|Torque", "s|rpm|Nm", ',',
     '.', 1, 0, 2, 5, LAST, NULL},
    {"units behind an underscore", "time_s,speed_rpm,torque_Nm\n" ROWS5,
     "time_s|speed_rpm|torque_Nm", "s|rpm|Nm", ',', '.', 1, 0, 2, 5, LAST, NULL},
    {"a row of units", "Time,RPM,Torque\ns,rpm,Nm\n" ROWS5, "Time|RPM|Torque", "s|rpm|Nm", ',', '.',
     1, 2, 3, 5, LAST, NULL},
    {"a row of units in brackets", "Time,RPM,Torque\n[s],[rpm],[Nm]\n" ROWS5, "Time|RPM|Torque",
     "s|rpm|Nm", ',', '.', 1, 2, 3, 5, LAST, NULL},
    {"a dash in the row of units", "Time,RPM,Lambda\ns,rpm,-\n" ROWS5, "Time|RPM|Lambda", "s|rpm|",
     ',', '.', 1, 2, 3, 5, LAST, NULL},
    {"semicolons",
     "Time;RPM;Torque\n0.5;3000;200\n1;3100;201\n",
     "Time|RPM|Torque",
     "||",
     ';',
     '.',
     1,
     0,
     2,
     2,
     {0.5, 3000, 200},
     NULL},
    {"semicolons and decimal commas",
     "Time;RPM;Torque\n0,5;3000,5;200,25\n1,0;3100;201\n",
     "Time|RPM|Torque",
     "||",
     ';',
     ',',
     1,
     0,
     2,
     2,
     {0.5, 3000.5, 200.25},
     NULL},
    {"tabs",
     "Time\tRPM\tTorque\n0.5\t3000\t200\n1\t3100\t201\n",
     "Time|RPM|Torque",
     "||",
     '\t',
     '.',
     1,
     0,
     2,
     2,
     {0.5, 3000, 200},
     NULL},
    {"tabs and decimal commas",
     "Time\tRPM\tTorque\n0,5\t3000,5\t200\n1\t3100\t201\n",
     "Time|RPM|Torque",
     "||",
     '\t',
     ',',
     1,
     0,
     2,
     2,
     {0.5, 3000.5, 200},
     NULL},
    {"bars", "Time|RPM\n0.5|3000\n1|3100\n", NULL, NULL, '|', '.', 1, 0, 2, 2, {0.5, 3000}, NULL},
    {"runs of blanks",
     "Time   RPM  Torque\n 0.50  3000   200\n10.00 13100   201\n",
     "Time|RPM|Torque",
     "||",
     ' ',
     '.',
     1,
     0,
     2,
     2,
     {0.5, 3000, 200},
     NULL},
    {"one column", "3\n4\n5\n", "column 1", "", 0, '.', 0, 0, 1, 3, {3}, NULL},
    {"preamble lines", "Logger 7, serial 12\nOperator: JB\n\nTime,RPM,Torque\n" ROWS5,
     "Time|RPM|Torque", "||", ',', '.', 4, 0, 5, 5, LAST, NULL},
    {"preamble with figures", "Session,12\nDate,2026-06-12\nTime,RPM,Torque\n" ROWS5,
     "Time|RPM|Torque", "||", ',', '.', 3, 0, 4, 5, LAST, NULL},
    {"a header behind a comment mark", "# run 7\n# Time,RPM,Torque\n#\n" ROWS5, "Time|RPM|Torque",
     "||", ',', '.', 2, 0, 4, 5, LAST, NULL},
    {"quotes with the delimiter inside",
     "\"Time\",\"Speed, engine\",\"Torque\"\n\"0\",\"3000\",\"200\"\n"
     "\"1\",\"3100\",\"201\"\n",
     "Time|Speed, engine|Torque",
     "||",
     ',',
     '.',
     1,
     0,
     2,
     2,
     {0, 3000, 200},
     NULL},
    {"CRLF",
     "Time,RPM,Torque\r\n0,3000,200\r\n1,3100,201\r\n",
     "Time|RPM|Torque",
     "||",
     ',',
     '.',
     1,
     0,
     2,
     2,
     {0, 3000, 200},
     NULL},
    {"a lone CR",
     "Time,RPM,Torque\r0,3000,200\r1,3100,201\r",
     "Time|RPM|Torque",
     "||",
     ',',
     '.',
     1,
     0,
     2,
     2,
     {0, 3000, 200},
     NULL},
    {"a byte order mark", "\xef\xbb\xbfTime,RPM,Torque\n" ROWS5, "Time|RPM|Torque", "||", ',', '.',
     1, 0, 2, 5, LAST, NULL},
    {"no end of the last line",
     "Time,RPM,Torque\n0,3000,200\n1,3100,201",
     "Time|RPM|Torque",
     "||",
     ',',
     '.',
     1,
     0,
     2,
     2,
     {0, 3000, 200},
     NULL},
    {"the last row cut off",
     "Time,RPM,Torque,Oil\n0,3000,200,4\n1,3100,201,4\n2,32",
     "Time|RPM|Torque|Oil",
     "|||",
     ',',
     '.',
     1,
     0,
     2,
     2,
     {0, 3000, 200, 4},
     "base.table-row-cut"},
    {"blank cells",
     "Time,RPM,Torque\n0,3000,\n1,,201\n2,3200,202\n",
     "Time|RPM|Torque",
     "||",
     ',',
     '.',
     1,
     0,
     2,
     3,
     {0, 3000, NAN},
     NULL},
    {"marks of missing values",
     "Time,RPM,Torque\n0,NaN,200\n1,---,201\n2,3200,#N/A\n3,3300,203\n",
     "Time|RPM|Torque",
     "||",
     ',',
     '.',
     1,
     0,
     2,
     4,
     {0, NAN, 200},
     NULL},
    {"blank lines between",
     "Time,RPM,Torque\n0,3000,200\n\n1,3100,201\n\n\n2,3200,202\n",
     "Time|RPM|Torque",
     "||",
     ',',
     '.',
     1,
     0,
     2,
     3,
     {0, 3000, 200},
     NULL},
    {"one name twice", "Time,EGT,EGT\n" ROWS5, "Time|EGT|EGT (column 3)", "||", ',', '.', 1, 0, 2,
     5, LAST, "base.table-name-twice"},
    {"a name is missing", "Time,,Torque\n" ROWS5, "Time|column 2|Torque", "||", ',', '.', 1, 0, 2,
     5, LAST, NULL},
    {"side notes",
     "Time,RPM,Torque,\n0,3000,200,start\n1,3100,201,\n2,3200,202,knock?\n3,3300,203,\n",
     "Time|RPM|Torque|column 4",
     "|||",
     ',',
     '.',
     1,
     0,
     2,
     4,
     {0, 3000, 200, NAN},
     NULL},
    {"a trailer", "Time,RPM,Torque\n" ROWS5 "End of session\n", "Time|RPM|Torque", "||", ',', '.',
     1, 0, 2, 5, LAST, "\"line\":{\"count\":7}"},
    {"a trailer with an average", "Time,RPM,Torque\n" ROWS5 "Average,,\n", "Time|RPM|Torque", "||",
     ',', '.', 1, 0, 2, 5, LAST, "base.table-lines-skipped"},
    {"a note in the middle", "Time,RPM,Torque\n" ROWS5 "here it knocked\n" ROWS5, "Time|RPM|Torque",
     "||", ',', '.', 1, 0, 2, 10, LAST, "\"text\":{\"text\":\"here it knocked\"}"},
    {"a ragged row in the middle", "Time,RPM,Torque\n" ROWS5 "0.45,3045,204,9\n" ROWS5,
     "Time|RPM|Torque", "||", ',', '.', 1, 0, 2, 11, LAST, "base.table-rows-long"},
    {"the header again in the middle", "Time,RPM,Torque\n" ROWS5 "Time,RPM,Torque\n" ROWS5,
     "Time|RPM|Torque", "||", ',', '.', 1, 0, 2, 10, LAST, "base.table-lines-skipped"},
    {"a short row",
     "Time,RPM,Torque,Oil\n0,3000,200,4\n1,3100\n2,3200,202,4\n3,3300,203,4\n",
     "Time|RPM|Torque|Oil",
     "|||",
     ',',
     '.',
     1,
     0,
     2,
     4,
     {0, 3000, 200, 4},
     "base.table-rows-short"},
    {"a control-Z of old", "Time,RPM,Torque\n" ROWS5 "\x1a", "Time|RPM|Torque", "||", ',', '.', 1,
     0, 2, 5, LAST, NULL},
    {"times of day",
     "Time,RPM\n14:00:00.0,3000\n14:00:00.5,3100\n",
     "Time|RPM",
     "|",
     ',',
     '.',
     1,
     0,
     2,
     2,
     {50400, 3000},
     NULL},
    {"ISO 8601",
     "Time,RPM\n2026-06-12T14:00:00Z,3000\n2026-06-12T14:00:01Z,3100\n",
     "Time|RPM",
     "|",
     ',',
     '.',
     1,
     0,
     2,
     2,
     {1781272800, 3000},
     NULL},
    {"day before month",
     "Time,RPM\n12/06/2026 14:00:00,3000\n13/06/2026 14:00:00,3100\n",
     "Time|RPM",
     "|",
     ',',
     '.',
     1,
     0,
     2,
     2,
     {1781272800, 3000},
     NULL},
    {"month before day, shown by a 13",
     "Time,RPM\n06/12/2026 14:00:00,3000\n06/13/2026 14:00:00,3100\n",
     "Time|RPM",
     "|",
     ',',
     '.',
     1,
     0,
     2,
     2,
     {1781272800, 3000},
     "base.table-month-first"},
    {"thousands of digits do no harm",
     "a,b\n1.0000000000000000000000000000000000000000001,2\n3,4\n",
     "a|b",
     "|",
     ',',
     '.',
     1,
     0,
     2,
     2,
     {1, 2},
     NULL},
};

static char *joined(const struct ew_table_layout *layout, gboolean units) {
  GString *text = g_string_new(NULL);
  for (guint i = 0; i < layout->columns->len; i++) {
    const struct ew_column *column = g_ptr_array_index(layout->columns, i);
    const char *word = units ? column->unit : column->name;
    g_string_append_printf(text, "%s%s", i ? "|" : "", word ? word : "");
  }
  return g_string_free(text, FALSE);
}

/* Among the facts of the notes, not their sentences. */
static gboolean noted(const struct ew_table_layout *layout, const char *fact) {
  for (guint i = 0; i < layout->notes->len; i++) {
    g_autofree char *facts = ew_message_write(g_ptr_array_index(layout->notes, i));
    if (strstr(facts, fact))
      return TRUE;
  }
  return FALSE;
}

static void check(const struct file *f, const void *bytes, gsize size, const char *encoding) {
  g_autoptr(GError) error = NULL;
  struct ew_table *t = ew_table_read_bytes(bytes, size, "file", &error);
  expect(t != NULL, f->says, "%s", error ? error->message : "");
  const struct ew_table_layout *l = t->layout;
  g_autofree char *names = joined(l, FALSE), *units = joined(l, TRUE);
  expect(!f->names || strcmp(names, f->names) == 0, f->says, "%s", names);
  expect(!f->units || strcmp(units, f->units) == 0, f->says, "%s", units);
  expect(l->delimiter == f->delimiter, f->says, "'%c'", l->delimiter);
  expect(l->decimal == f->decimal, f->says, "'%c'", l->decimal);
  expect(l->header_line == f->header, f->says, "%u", l->header_line);
  expect(l->units_line == f->units_line, f->says, "%u", l->units_line);
  expect(l->data_line == f->data, f->says, "%u", l->data_line);
  expect(t->rows == f->rows, f->says, "%zu", t->rows);
  for (guint c = 0; c < MIN(l->columns->len, 4); c++)
    expect_near(t->columns[c][0], f->first[c], 1e-12, f->says);
  expect(!f->note || noted(l, f->note), f->says, "%u notes", l->notes->len);
  expect(!encoding || strcmp(l->encoding, encoding) == 0, f->says, "%s", l->encoding);
  ew_table_free(t);
}

static void understood(void **state) {
  (void)state;
  for (gsize i = 0; i < G_N_ELEMENTS(files); i++)
    check(&files[i], files[i].text, strlen(files[i].text), NULL);
}

/* Every file again in UTF-16, both ways round, with its mark; the layout is the same. */
static void utf_16(void **state) {
  (void)state;
  static const char *const encodings[] = {"UTF-16LE", "UTF-16BE"};
  for (gsize i = 0; i < G_N_ELEMENTS(files); i++)
    for (int k = 0; k < 2; k++) {
      g_autofree char *marked = g_str_has_prefix(files[i].text, "\xef\xbb\xbf")
                                    ? g_strdup(files[i].text)
                                    : g_strconcat("\xef\xbb\xbf", files[i].text, NULL);
      gsize size;
      g_autofree char *bytes = g_convert(marked, -1, encodings[k], "UTF-8", NULL, &size, NULL);
      assert_non_null(bytes);
      check(&files[i], bytes, size, encodings[k]);
    }
}

static void latin_1(void **state) {
  (void)state;
  static const struct file degrees = {
      "Latin-1 degrees", "",  "Time|Öltemp|Drehmoment", "s|°C|N·m", ';', ',', 1, 0, 2, 2,
      {0.5, 85.5, 200},  NULL};
  const char *text = "Time [s];\xd6ltemp [\xb0"
                     "C];Drehmoment [N\xb7m]\n0,5;85,5;200\n1,0;85,6;201\n";
  check(&degrees, text, strlen(text), "Windows-1252");
}

static void refusals(void **state) {
  (void)state;
  GString *wide = g_string_new(NULL), *line = g_string_new("a,b\n1,2\n3,4\n");
  for (int i = 0; i < 20001; i++)
    g_string_append(wide, "1,");
  g_string_append(wide, "1\n1\n");
  for (int i = 0; i < 5000000; i++)
    g_string_append_c(line, '7');
  g_string_append(line, "\n1,2\n");
  const struct {
    const char *says, *bytes;
    gsize size;
    const char *words;
  } rows[] = {
      {"an empty file", "", 0, "file|empty"},
      {"blanks", " \n \n", 4, "no table"},
      {"prose", "All is well.\nThe engine runs.\n", 30, "no table"},
      {"a header alone", "Time,RPM\n", 9, "no table"},
      {"NaN everywhere", "a,b\nNaN,NaN\nNaN,NaN\n", 20, "no table"},
      {"NUL bytes", "\0\0\0\0\0\0\0\0\0\0\0\0", 12, "binary"},
      {"a zip", "PK\003\004aaaaaaaaaaaaaaa", 19, "zip"},
      {"a gzip", "\x1f\x8b\x08\0\0\0\0\0\0\0aaaa", 14, "gzip"},
      {"a PDF", "%PDF-1.4\n1 0 obj\n", 17, "PDF"},
      {"a PNG", "\x89PNG\r\n\x1a\n\0\0\0\rIHDR", 16, "picture"},
      {"a program",
       "\x7f"
       "ELF\2\1\1\0\0\0\0\0",
       12, "program"},
      {"too many columns", wide->str, wide->len, "20002 columns|20000"},
      {"a line over 4 MB", line->str, line->len, "line 4|4 MB"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GError) error = NULL;
    struct ew_table *t = ew_table_read_bytes(rows[i].bytes, rows[i].size, "file", &error);
    expect(t == NULL, rows[i].says, "%zu rows", t->rows);
    expect_refused(error, rows[i].words, rows[i].says);
  }
  g_string_free(wide, TRUE);
  g_string_free(line, TRUE);
}

/* More than one chunk of 1 MB: rows at the seams are neither lost nor torn. */
static void many_chunks(void **state) {
  (void)state;
  GString *text = g_string_new("t,x,y\n");
  gsize rows = 150000;
  for (gsize i = 0; i < rows; i++)
    g_string_append_printf(text, "%zu.25,%zu,%s\n", i, i * 7, i % 1000 == 500 ? "NaN" : "3.5");
  struct ew_table *t = ew_table_read_bytes(text->str, text->len, "file", NULL);
  assert_non_null(t);
  assert_int_equal(t->rows, rows);
  for (gsize i = 0; i < rows; i++) {
    assert_true(t->columns[0][i] == (double)i + 0.25 && t->columns[1][i] == (double)(i * 7));
    assert_true(i % 1000 == 500 ? isnan(t->columns[2][i]) : t->columns[2][i] == 3.5);
  }
  const struct ew_column *y = g_ptr_array_index(t->layout->columns, 2);
  assert_int_equal(y->missing, rows / 1000);
  assert_int_equal(y->values, rows - rows / 1000);
  ew_table_free(t);
  g_string_free(text, TRUE);
}

static gboolean stop_at_once(const struct ew_table_layout *layout, const double *values, gsize rows,
                             gpointer user, GError **error) {
  (void)layout, (void)values, (void)rows;
  ++*(int *)user;
  return ew_refuse(error, "enough");
}

static void a_sink_may_stop(void **state) {
  (void)state;
  GString *text = g_string_new("a,b\n");
  for (int i = 0; i < 200000; i++)
    g_string_append(text, "1,2\n");
  g_autoptr(GInputStream) input =
      g_memory_input_stream_new_from_data(text->str, (gssize)text->len, NULL);
  int calls = 0;
  g_autoptr(GError) error = NULL;
  assert_null(ew_table_stream(input, "file", stop_at_once, &calls, &error));
  assert_int_equal(calls, 1);
  expect_refused(error, "enough", "the sink's own error comes back");
  g_string_free(text, TRUE);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(understood),  cmocka_unit_test(utf_16),
      cmocka_unit_test(latin_1),     cmocka_unit_test(refusals),
      cmocka_unit_test(many_chunks), cmocka_unit_test(a_sink_may_stop)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
