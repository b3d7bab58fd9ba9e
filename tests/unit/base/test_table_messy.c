/* Files as loggers and spreadsheets write them: thousands marks, decimal commas between commas, units that are
 * none, line ends of the oldest kind, streams that fail part-way. */
#include "base/table.h"
#include "unit.h"

/* Values row by row, blanks between; "-" for a missing one. Units apart by '|'. */
struct file {
  const char *says, *text, *values, *units, *note;
};

static const struct file files[] = {
    {"thousands points before a decimal comma",
     "t;rpm;Nm\n0,1;998,5;200,5\n0,2;1.234,5;201\n0,3;12.345,25;202\n",
     "0.1 998.5 200.5 0.2 1234.5 201 0.3 12345.25 202", "||", NULL},
    {"thousands points without decimals, in a file of decimal commas",
     "t;rpm;Nm\n0,1;998;200,5\n0,2;1.234;201,5\n", "0.1 998 200.5 0.2 1234 201.5", "||",
     "base.table-read-as-thousands"},
    {"thousands points in every row of a column", "t;rpm;Nm\n0,1;1.998;200,5\n0,2;2.234;201,5\n",
     "0.1 1998 200.5 0.2 2234 201.5", "||",
     "\"cell\":{\"text\":\"1.998\"},\"figure\":{\"text\":\"1998\"}"},
    {"a column with decimal points in a file of decimal commas is mixed, not thousands",
     "t;lambda;Nm\n0,1;0.881;200,5\n0,2;1.002;201,5\n", "0.1 0.881 200.5 0.2 1.002 201.5", "||",
     NULL},
    {"thousands commas in a file of decimal points", "t;rpm;Nm\n0.1;998;200.5\n0.2;1,234;201.5\n",
     "0.1 998 200.5 0.2 1234 201.5", "||", "base.table-read-as-thousands"},
    {"thousands commas in quotes between commas",
     "t,rpm,Nm\n0.1,\"998.5\",200.5\n0.2,\"1,234.5\",201.5\n0.3,\"2,345\",202.5\n",
     "0.1 998.5 200.5 0.2 1234.5 201.5 0.3 2345 202.5", "||", NULL},
    {"thousands commas and nothing else to tell by", "t;rpm;Nm\n1;998;200\n2;1,234;201\n",
     "1 998 200 2 1234 201", "||", "base.table-read-as-thousands"},
    {"three decimals behind a comma, and nothing to tell by, stay decimals",
     "t;afr;Nm\n1;12,345;200\n2;12,401;201\n", "1 12.345 200 2 12.401 201", "||",
     "\"cell\":{\"text\":\"12,345\"},\"figure\":{\"text\":\"12.345\"}"},
    {"millions", "n;x\n1;1.234.567\n2;2.345.678\n", "1 1234567 2 2345678", "|", NULL},
    {"apostrophes and blanks between thousands",
     "t;rpm;Nm\n0.1;1'234.5;1 200\n0.2;2’345.5;1\xc2\xa0"
     "201\n0.3;3345.5;1\xe2\x80\xaf"
     "202\n",
     "0.1 1234.5 1200 0.2 2345.5 1201 0.3 3345.5 1202", "||", NULL},
    {"quoted decimal commas between commas",
     "\"t\",\"rpm\",\"Nm\"\n\"0,1\",\"2008,0\",\"200,5\"\n\"0,2\",\"2018,0\",\"201\"\n",
     "0.1 2008 200.5 0.2 2018 201", "||", NULL},
    {"quoted decimal commas and thousands points between commas",
     "\"t\",\"rpm\"\n\"0,1\",\"998,0\"\n\"0,2\",\"1.018,5\"\n", "0.1 998 0.2 1018.5", "|", NULL},
    {"a unit that says there is none",
     "Time [s];Lambda [-];Mix (–);Ratio [n/a]\n1;0.88;2;3\n2;0.89;2;3\n", "1 0.88 2 3 2 0.89 2 3",
     "s|||", NULL},
    {"dashes in brackets in a row of units",
     "Time;RPM;Lambda\n[s];[rpm];[-]\n1;3000;0.88\n2;3100;0.89\n", "1 3000 0.88 2 3100 0.89",
     "s|rpm|", NULL},
    {"a row of units that says how a clock is written",
     "Time;RPM;Lambda\nh:m:s;U/min;-\n0:00:01;3000;0.88\n0:00:02;3100;0.89\n",
     "1 3000 0.88 2 3100 0.89", "h:m:s|U/min|", NULL},
    {"nothing but a clock in the row of units",
     "Time;A;B\nhh:mm:ss.fff;-;-\n0:00:01;3;8\n0:00:02;4;9\n", "1 3 8 2 4 9", "hh:mm:ss.fff||",
     NULL},
    {"separators behind the last cell", "t;rpm;\n0,1;2000;\n0,2;2010;\n", "0.1 2000 - 0.2 2010 -",
     "||", NULL},
    {"carriage returns doubled", "t,rpm\r\r\n0.1,2000\r\r\n0.2,2010\r\r\n", "0.1 2000 0.2 2010",
     "|", NULL},
};

static void same(const struct file *f, const char *how, const void *bytes, gsize size) {
  g_autoptr(GError) error = NULL;
  g_autofree char *says = g_strdup_printf("%s (%s)", f->says, how);
  struct ew_table *t = ew_table_read_bytes(bytes, size, "file", &error);
  expect(t != NULL, says, "%s", error ? error->message : "");
  g_auto(GStrv) want = g_strsplit(f->values, " ", -1), units = g_strsplit(f->units, "|", -1);
  guint columns = t->layout->columns->len;
  expect(g_strv_length(units) == columns, says, "%u columns", columns);
  expect(g_strv_length(want) == columns * t->rows, says, "%zu rows", t->rows);
  for (guint i = 0; want[i]; i++) {
    double got = t->columns[i % columns][i / columns];
    expect(strcmp(want[i], "-") == 0 ? isnan(got) : got == g_ascii_strtod(want[i], NULL), says,
           "cell %u: %.17g, wanted %s", i + 1, got, want[i]);
  }
  gboolean noted = f->note == NULL;
  for (guint c = 0; c < columns; c++) {
    const struct ew_column *column = g_ptr_array_index(t->layout->columns, c);
    expect(strcmp(column->unit ? column->unit : "", units[c]) == 0, says, "unit '%s'",
           column->unit);
  }
  for (guint i = 0; i < t->layout->notes->len && !noted; i++) {
    g_autofree char *facts = ew_message_write(g_ptr_array_index(t->layout->notes, i));
    noted = strstr(facts, f->note) != NULL;
  }
  expect(noted, says, "no note of '%s'", f->note);
  ew_table_free(t);
}

/* Each file as it is, and as the same text is written elsewhere: what it says is the same. */
static void understood(void **state) {
  (void)state;
  static const char *const encodings[] = {"UTF-16LE", "UTF-16BE"};
  for (gsize i = 0; i < G_N_ELEMENTS(files); i++) {
    const char *text = files[i].text;
    same(&files[i], "UTF-8", text, strlen(text));
    g_autofree char *marked = g_strconcat("\xef\xbb\xbf", text, NULL);
    same(&files[i], "with a byte order mark", marked, strlen(marked));
    for (int k = 0; k < 2; k++) {
      gsize size;
      g_autofree char *bytes = g_convert(marked, -1, encodings[k], "UTF-8", NULL, &size, NULL);
      same(&files[i], encodings[k], bytes, size);
    }
    if (!strchr(text, '\r')) {
      g_autofree char *old = g_strdelimit(g_strdup(text), "\n", '\r');
      same(&files[i], "lone CR", old, strlen(old));
    }
  }
}

/* Line ends of the oldest kind, in a file of many chunks; and a preamble with others. */
static void lone_cr_over_many_chunks(void **state) {
  (void)state;
  static const char *const heads[] = {"t,rpm\r", "Logger 7\nserial 9\nt,rpm\r"};
  for (gsize k = 0; k < G_N_ELEMENTS(heads); k++) {
    g_autoptr(GString) text = g_string_new(heads[k]);
    gsize rows = 90000;
    for (gsize i = 0; i < rows; i++)
      g_string_append_printf(text, "%zu.5,%zu\r", i, i * 7);
    g_autoptr(GError) error = NULL;
    struct ew_table *t = ew_table_read_bytes(text->str, text->len, "file", &error);
    expect(t != NULL, heads[k], "%s", error ? error->message : "");
    assert_int_equal(t->rows, rows);
    for (gsize i = 0; i < rows; i++)
      assert_true(t->columns[0][i] == (double)i + 0.5 && t->columns[1][i] == (double)(i * 7));
    ew_table_free(t);
  }
}

/* A stream that fails after `left` bytes. */
typedef struct {
  GInputStream parent;
  GInputStream *inner;
  gsize left;
} FailingStream;
typedef struct {
  GInputStreamClass parent;
} FailingStreamClass;
static GType failing_stream_get_type(void);
G_DEFINE_TYPE(FailingStream, failing_stream, G_TYPE_INPUT_STREAM)

static gssize failing_read(GInputStream *stream, void *buffer, gsize count, GCancellable *cancel,
                           GError **error) {
  FailingStream *self = (FailingStream *)(void *)stream;
  if (self->left == 0) {
    g_set_error(error, G_IO_ERROR, G_IO_ERROR_FAILED, "the disk gave an error");
    return -1;
  }
  gssize got = g_input_stream_read(self->inner, buffer, MIN(count, self->left), cancel, error);
  self->left -= (gsize)MAX(got, 0);
  return got;
}

static void failing_stream_class_init(FailingStreamClass *class) {
  G_INPUT_STREAM_CLASS(class)->read_fn = failing_read;
}
static void failing_stream_init(FailingStream *self) {
  self->left = 0;
}

static gboolean take_all(const struct ew_table_layout *layout, const double *values, gsize rows,
                         gpointer user, GError **error) {
  (void)layout, (void)values, (void)error;
  *(gsize *)user += rows;
  return TRUE;
}

/* A read error is never the end of the file, wherever it comes and however the text is encoded. */
static void read_errors(void **state) {
  (void)state;
  g_autoptr(GString) text = g_string_new("t,rpm\n");
  for (int i = 0; i < 60000; i++)
    g_string_append_printf(text, "%d,3000\n", i);
  static const char *const encodings[] = {"UTF-8", "UTF-16LE", "UTF-16BE"};
  for (gsize k = 0; k < G_N_ELEMENTS(encodings); k++) {
    gsize size;
    g_autofree char *bytes = g_convert(text->str, -1, encodings[k], "UTF-8", NULL, &size, NULL);
    const gsize lefts[] = {0, 1, 7, 3000, 262144, 262145, 300000, size - 1};
    for (gsize i = 0; i < G_N_ELEMENTS(lefts); i++) {
      FailingStream *stream = g_object_new(failing_stream_get_type(), NULL);
      stream->inner = g_memory_input_stream_new_from_data(bytes, (gssize)size, NULL);
      stream->left = lefts[i];
      gsize rows = 0;
      g_autoptr(GError) error = NULL;
      struct ew_table_layout *layout =
          ew_table_stream(G_INPUT_STREAM(stream), "file", take_all, &rows, &error);
      g_autofree char *says = g_strdup_printf("%s, an error after %zu", encodings[k], lefts[i]);
      expect(layout == NULL, says, "%zu rows", rows);
      expect_refused(error, "file|the disk gave an error", says);
      g_object_unref(stream->inner);
      g_object_unref(stream);
    }
  }
}

/* A file that ends inside a character: what was whole is read, and it is said. */
static void a_torn_character(void **state) {
  (void)state;
  gsize size;
  g_autofree char *bytes =
      g_convert("t,rpm\n1,3000\n2,3100\n3,3200\n", -1, "UTF-16LE", "UTF-8", NULL, &size, NULL);
  struct ew_table *t = ew_table_read_bytes(bytes, size - 1, "file", NULL);
  assert_non_null(t);
  assert_int_equal(t->rows, 3);
  assert_string_equal(ew_message_id(g_ptr_array_index(t->layout->notes, 0)), "base.table-end-torn");
  ew_table_free(t);
}

/* The layout alone is the layout of the whole reading, however the file is encoded. */
static void the_look_is_the_layout(void **state) {
  (void)state;
  const char *text = "\xef\xbb\xbfTime [s];Öl [°C];Lambda [-]\n0,1;85,5;0,88\n0,2;85,6;0,89\n";
  static const char *const encodings[] = {"UTF-8", "UTF-16LE", "UTF-16BE"};
  for (gsize k = 0; k < G_N_ELEMENTS(encodings); k++)
    for (int cr = 0; cr < 2; cr++) {
      g_autofree char *written = g_strdup(text);
      if (cr)
        g_strdelimit(written, "\n", '\r');
      gsize size;
      g_autofree char *bytes = g_convert(written, -1, encodings[k], "UTF-8", NULL, &size, NULL);
      struct ew_table_layout *l = ew_table_look(bytes, size, "file", NULL);
      expect(l != NULL && l->columns->len == 3, encodings[k], "%u", cr);
      const struct ew_column *first = g_ptr_array_index(l->columns, 0),
                             *second = g_ptr_array_index(l->columns, 1);
      expect(strcmp(first->name, "Time") == 0, encodings[k], "'%s'", first->name);
      expect(strcmp(second->name, "Öl") == 0, encodings[k], "'%s'", second->name);
      ew_table_layout_free(l);
    }
}

/* What is written for people to read is no recording. */
static void documents(void **state) {
  (void)state;
  static const struct {
    const char *says, *text, *words;
  } rows[] = {
      {"an engine file", "# mine\nname: twin\nbore: 86 mm\nstroke: 86 mm\ncylinders: 2\n", "YAML"},
      {"a channel map", "channels:\n  torque: { column: Load, unit: Nm }\n", "YAML"},
      {"an answer in JSON", "{\"rows\": 3, \"time\": [1, 2, 3]}\n", "JSON"},
      {"readings in JSON", "[\n{\"rpm\": 3000, \"t\": 1},\n{\"rpm\": 3010, \"t\": 2}\n]\n", "JSON"},
  };
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
    g_autoptr(GError) error = NULL;
    struct ew_table *t = ew_table_read_bytes(rows[i].text, strlen(rows[i].text), "file", &error);
    expect(t == NULL, rows[i].says, "%zu rows", t->rows);
    expect_refused(error, rows[i].words, rows[i].says);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(understood),
                                     cmocka_unit_test(lone_cr_over_many_chunks),
                                     cmocka_unit_test(read_errors),
                                     cmocka_unit_test(a_torn_character),
                                     cmocka_unit_test(the_look_is_the_layout),
                                     cmocka_unit_test(documents)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
